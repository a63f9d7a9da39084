//! Bytes → photograph, by every decoder: no panic, and no more memory than the limits allow.
#![no_main]

use libfuzzer_sys::fuzz_target;
use seamstep::photo::{self, Limits};
use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering::Relaxed};

/// Small limits, so that a decoder that overlooks them is seen at once.
const LIMITS: Limits = Limits { file_bytes: 1 << 20, pixels: 1_000_000, side_px: 4_000, least_side_px: 1 };
/// The most that decoding may hold at one time: 64 bytes to a pixel, the same to a byte of the file, and 16 MB.
const MOST_BYTES: usize = (64 * LIMITS.pixels as usize) + (16 << 20);
const MOST_TIMES_FILE: usize = 64;

static HELD: AtomicUsize = AtomicUsize::new(0);
static MOST_HELD: AtomicUsize = AtomicUsize::new(0);

/// The system's allocator, which counts what is held.
struct Counted;

fn more(bytes: usize) {
    let held = HELD.fetch_add(bytes, Relaxed) + bytes;
    MOST_HELD.fetch_max(held, Relaxed);
}

// SAFETY: every call is handed on to the system's allocator as it came.
unsafe impl GlobalAlloc for Counted {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        more(layout.size());
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        more(layout.size());
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        HELD.fetch_sub(layout.size(), Relaxed);
        unsafe { System.dealloc(at, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counted = Counted;

fuzz_target!(|bytes: &[u8]| {
    let before = HELD.load(Relaxed);
    MOST_HELD.store(before, Relaxed);
    let read = photo::from_bytes("a photograph".into(), bytes, &LIMITS);
    let most = MOST_HELD.load(Relaxed) - before;
    assert!(most <= MOST_BYTES + MOST_TIMES_FILE * bytes.len(), "{most} bytes were held for {} bytes", bytes.len());
    match read {
        Ok(photo) => {
            let pixels = u64::from(photo.width_px()) * u64::from(photo.height_px());
            assert!(pixels <= LIMITS.pixels && photo.width_px().max(photo.height_px()) <= LIMITS.side_px);
        }
        Err(problem) => assert!(!problem.to_string().is_empty() && problem.help().len() > 10, "{problem}"),
    }
});
