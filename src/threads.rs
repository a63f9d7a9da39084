//! Work on several threads, told as it is done or in its order. Ground for every room that works on two things at once.
//!
//! Whoever is one of several at work calls no further threads ([`both`]): a machine's cores are shared out once, at
//! the outermost place. No answer depends on how many threads there are.

use rayon::{ThreadPool, ThreadPoolBuilder};
use std::cell::Cell;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Condvar, LazyLock, Mutex, MutexGuard, mpsc};
use std::thread::Builder;

/// Work in its order is begun no further than this ahead of what was told last: so many answers are held at most.
const MOST_AHEAD: usize = 256;

thread_local! {
    /// Whether this thread is one of several at work.
    static ONE_OF_SEVERAL: Cell<bool> = const { Cell::new(false) };
}

/// As many threads as this machine runs at the same time; 1 where it does not tell.
pub fn usual() -> usize {
    std::thread::available_parallelism().map_or(1, |n| n.get())
}

/// The threads that halves of work are handed to; none where the machine gives none.
static POOL: LazyLock<Option<ThreadPool>> =
    LazyLock::new(|| ThreadPoolBuilder::new().num_threads(usual()).build().ok());

/// What both give: at the same time where a thread is free, or one after the other, and so where this thread is one of
/// several at work already. Threads are called quickest from within [`together`].
pub fn both<A: Send, B: Send>(first: impl FnOnce() -> A + Send, second: impl FnOnce() -> B + Send) -> (A, B) {
    shared_out(POOL.as_ref().filter(|_| !ONE_OF_SEVERAL.get()), first, second)
}

fn shared_out<A: Send, B: Send>(
    pool: Option<&ThreadPool>,
    first: impl FnOnce() -> A + Send,
    second: impl FnOnce() -> B + Send,
) -> (A, B) {
    match pool {
        Some(pool) => pool.join(first, second),
        None => (first(), second()),
    }
}

/// What `of` makes of the first half of the items and, at the same time ([`both`]), of the second, one behind the other.
pub fn halves<I: Sync, T: Send>(items: &[I], of: impl Fn(&[I]) -> Vec<T> + Sync) -> Vec<T> {
    let (some, rest) = items.split_at(items.len() / 2);
    let (mut made, others) = both(|| of(some), || of(rest));
    made.extend(others);
    made
}

/// Does work that is done by [`both`] in many places, on a thread that those it calls know.
pub fn together<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    both(work, || ()).0
}

/// Does `one` with every item on `threads` threads and hands each answer with its item's number to `tell` on this thread,
/// as they are done. Items are taken one by one, when a thread is free.
///
/// # Errors
/// The first that `tell` has; no item is begun after it.
pub fn as_done<I: Send, T: Send, E>(
    items: impl Iterator<Item = I> + Send,
    threads: usize,
    one: impl Fn(usize, I) -> T + Sync,
    mut tell: impl FnMut(usize, T) -> Result<(), E>,
) -> Result<(), E> {
    let items = Mutex::new(items.enumerate());
    let stopped = AtomicBool::new(false);
    let (done, answers) = mpsc::channel();
    let work = |done: mpsc::Sender<(usize, T)>| {
        ONE_OF_SEVERAL.set(true);
        while !stopped.load(Ordering::SeqCst) {
            let Some((number, item)) = locked(&items).next() else { break };
            if done.send((number, one(number, item))).is_err() {
                break;
            }
        }
    };
    std::thread::scope(|scope| {
        let begun = (0..threads.max(1)).map_while(|_| {
            let done = done.clone();
            Builder::new().spawn_scoped(scope, || work(done)).ok()
        });
        let begun = begun.count();
        drop(done);
        // A machine that gives no thread is worked on with this one.
        while begun == 0
            && let Some((number, item)) = locked(&items).next()
        {
            tell(number, one(number, item))?;
        }
        for (number, answer) in answers {
            if let Err(e) = tell(number, answer) {
                stopped.store(true, Ordering::SeqCst);
                return Err(e);
            }
        }
        Ok(())
    })
}

/// [`as_done`], told in the order of the items; a bounded number of answers is held until their turn.
///
/// # Errors
/// As [`as_done`].
pub fn in_order<I: Send, T: Send, E>(
    items: impl Iterator<Item = I> + Send,
    threads: usize,
    one: impl Fn(usize, I) -> T + Sync,
    mut tell: impl FnMut(usize, T) -> Result<(), E>,
) -> Result<(), E> {
    // The number whose turn it is; after a problem nobody's.
    let (turn, moved) = (Mutex::new(0_usize), Condvar::new());
    let near = |number: usize, item: I| {
        let waited = moved.wait_while(locked(&turn), |turn| number >= turn.saturating_add(MOST_AHEAD));
        let ended = *waited.unwrap_or_else(|poison| poison.into_inner()) == usize::MAX;
        (!ended).then(|| one(number, item))
    };
    let mut held = BTreeMap::new();
    let mut next = 0;
    as_done(items, threads, near, |number, answer| {
        held.insert(number, answer);
        while let Some(answer) = held.remove(&next).flatten() {
            let told = tell(next, answer);
            next += 1;
            *locked(&turn) = if told.is_ok() { next } else { usize::MAX };
            moved.notify_all();
            told?;
        }
        Ok(())
    })
}

/// What a thread that panicked held is still whole here: nothing is half done under these locks.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(|poison| poison.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::AtomicUsize;
    use std::time::Duration;

    #[test]
    fn every_item_is_done_once_and_told_in_order() {
        for threads in [0, 1, 2, 5, 40] {
            let (mut told, mut any) = (Vec::new(), Vec::new());
            let uneven = |number: usize, item: usize| {
                std::thread::sleep(Duration::from_micros((item * 7919 % 13) as u64 * 20));
                (number, item * item)
            };
            in_order(3..90, threads, uneven, |number, answer| {
                told.push((number, answer));
                Ok::<(), ()>(())
            })
            .unwrap();
            assert_eq!(told, (0..87).map(|n| (n, (n, (n + 3) * (n + 3)))).collect::<Vec<_>>());
            as_done(3..90, threads, uneven, |number, answer| {
                any.push((number, answer));
                Ok::<(), ()>(())
            })
            .unwrap();
            any.sort_unstable();
            assert_eq!(any, told);
        }
    }

    #[test]
    fn nobody_runs_far_ahead_of_a_slow_one_and_a_problem_ends_it() {
        let begun = AtomicUsize::new(0);
        let slow_first = |number: usize, _: usize| {
            begun.fetch_add(1, Ordering::SeqCst);
            if number == 0 {
                std::thread::sleep(Duration::from_millis(60));
            }
            number
        };
        let mut ahead = None;
        let ended = in_order(0..100_000, 3, slow_first, |number, _| {
            ahead.get_or_insert(begun.load(Ordering::SeqCst));
            if number == 500 { Err("enough") } else { Ok(()) }
        });
        assert_eq!(ended, Err("enough"));
        assert!(ahead.is_some_and(|ahead| ahead <= MOST_AHEAD + 1), "{ahead:?}");
        assert!(begun.into_inner() <= 501 + MOST_AHEAD + 3);
    }

    #[test]
    fn one_of_several_starts_no_further_thread() {
        let here = || std::thread::current().id();
        let told = as_done(
            0..4,
            2,
            |_, _| (here(), together(|| both(here, || both(here, here)))),
            |_, (own, (first, (second, third)))| {
                assert_eq!([first, second, third], [own; 3]);
                Ok::<(), ()>(())
            },
        );
        told.unwrap();
        // Elsewhere they may be several, and never are those from which they were called.
        let (first, (second, third)) = both(here, || both(here, here));
        assert!([first, second, third].iter().all(|&thread| thread != here()));
    }

    #[test]
    fn halves_come_one_behind_the_other() {
        for count in [0, 1, 2, 7] {
            let items: Vec<usize> = (0..count).collect();
            let twice = halves(&items, |items| items.iter().flat_map(|&k| [k, k + 100]).collect());
            assert_eq!(twice, (0..count).flat_map(|k| [k, k + 100]).collect::<Vec<_>>());
        }
    }

    #[test]
    fn a_machine_that_gives_no_thread_does_one_half_after_the_other() {
        let here = || std::thread::current().id();
        assert_eq!(shared_out(None, here, here), (here(), here()));
    }

    #[test]
    fn both_are_done_and_a_panic_of_either_is_passed_on() {
        let sum = |from: u64, to: u64| (from..to).sum::<u64>();
        assert_eq!(together(|| both(|| sum(0, 1000), || sum(1000, 2000))), (499_500, 1_499_500));
        let gone =
            |which: bool| std::panic::catch_unwind(|| both(|| assert!(which, "one"), || assert!(!which, "other")));
        assert!(gone(true).is_err() && gone(false).is_err());
    }
}
