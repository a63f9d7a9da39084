//! Many photographs on several threads, answered in their order.

use crate::problem::Problem;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

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
    let (next, done) = (AtomicUsize::new(0), AtomicUsize::new(0));
    let all: Mutex<Vec<(usize, Result<T, Problem>)>> = Mutex::new(Vec::with_capacity(count));
    let work = || {
        loop {
            let k = next.fetch_add(1, Ordering::SeqCst);
            if k >= count {
                break;
            }
            let answer = one(k);
            if answer.is_err() {
                next.store(count, Ordering::SeqCst);
            }
            progress(done.fetch_add(1, Ordering::SeqCst) + 1);
            all.lock().unwrap_or_else(|poison| poison.into_inner()).push((k, answer));
        }
    };
    std::thread::scope(|scope| {
        for _ in 1..threads.min(count) {
            scope.spawn(work);
        }
        work();
    });
    let mut all = all.into_inner().unwrap_or_else(|poison| poison.into_inner());
    all.sort_by_key(|(k, _)| *k);
    all.into_iter().map(|(_, answer)| answer).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

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
