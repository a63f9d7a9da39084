//! Many photographs on several threads, answered in their order.

use crate::problem::Problem;
use crate::threads;

/// The answers of `one` for 0..count, in this order; the next number goes to whichever thread is free.
///
/// # Errors
/// The problem of the lowest number that has one; numbers that were not begun by then are left out.
pub fn each<T: Send>(
    count: usize,
    threads: usize,
    progress: impl Fn(usize) + Sync,
    one: impl Fn(usize) -> Result<T, Problem> + Sync,
) -> Result<Vec<T>, Problem> {
    let mut all = Vec::with_capacity(count);
    threads::in_order(
        0..count,
        threads.min(count),
        |_, number| one(number),
        |_, answer| {
            all.push(answer?);
            progress(all.len());
            Ok::<(), Problem>(())
        },
    )?;
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicUsize, Ordering};

    #[test]
    fn answers_come_in_order_whatever_the_threads() {
        for threads in [1, 2, 5, 40] {
            let told = AtomicUsize::new(0);
            let answers = each(23, threads, |_| _ = told.fetch_add(1, Ordering::SeqCst), |k| Ok(k * k)).unwrap();
            assert_eq!(answers, (0..23).map(|k| k * k).collect::<Vec<_>>());
            assert_eq!(told.into_inner(), 23);
        }
    }

    #[test]
    fn the_first_problem_is_told() {
        let one = |k: usize| if k >= 4 { Err(Problem::usage(format!("{k}"), "")) } else { Ok(k) };
        assert_eq!(each(50, 3, |_| (), one).unwrap_err().to_string(), "4");
    }
}
