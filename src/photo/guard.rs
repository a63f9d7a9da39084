//! A decoder's panic is caught and becomes a refusal: files are foreign, and so are the decoders.

use std::cell::Cell;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Once;

thread_local! { static GUARDED: Cell<bool> = const { Cell::new(false) }; }

/// Runs `work`; a panic inside becomes `Err(())` and prints nothing.
pub(super) fn quietly<T>(work: impl FnOnce() -> T) -> Result<T, ()> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let usual = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            if !GUARDED.get() {
                usual(info);
            }
        }));
    });
    GUARDED.set(true);
    let result = catch_unwind(AssertUnwindSafe(work));
    GUARDED.set(false);
    result.map_err(|_| ())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_in_the_decoder_is_an_error_and_later_panics_are_still_panics() {
        assert_eq!(quietly(|| -> u8 { panic!("inside") }), Err(()));
        assert_eq!(quietly(|| 7), Ok(7));
        assert!(!GUARDED.get());
    }
}
