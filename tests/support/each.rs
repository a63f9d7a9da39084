//! Many scenes on every core, answered in their order.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

/// The answers of `one` for 0..count, in this order; the next number goes to whichever core is free.
pub fn each<T: Send>(count: u64, one: impl Fn(u64) -> T + Sync) -> Vec<T> {
    let (next, all) = (AtomicU64::new(0), Mutex::new(Vec::new()));
    let workers = std::thread::available_parallelism().map_or(2, |n| n.get());
    std::thread::scope(|scope| {
        for _ in 0..workers {
            scope.spawn(|| {
                loop {
                    let k = next.fetch_add(1, Ordering::SeqCst);
                    if k >= count {
                        break;
                    }
                    let answer = one(k);
                    all.lock().expect("no scene failed").push((k, answer));
                }
            });
        }
    });
    let mut all = all.into_inner().expect("no scene failed");
    all.sort_by_key(|(k, _)| *k);
    all.into_iter().map(|(_, answer)| answer).collect()
}
