//! Bounded work: one photograph is decoded or measured at a time, so many wait, and the rest are told to come again.

use super::trouble::Trouble;
use axum::http::StatusCode;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::Builder;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, oneshot};

/// Seats, and a bench before them that holds so many who wait.
#[derive(Clone)]
pub struct Seats {
    free: Arc<Semaphore>,
    waiting: Arc<AtomicUsize>,
    bench: usize,
}

/// A seat; it is free again when this is dropped.
pub struct Seat(#[expect(dead_code, reason = "held for its drop")] OwnedSemaphorePermit);

/// One who waits; gone from the bench when this is dropped, whatever became of the request.
struct Waiting(Arc<AtomicUsize>);

impl Drop for Waiting {
    fn drop(&mut self) {
        self.0.fetch_sub(1, Ordering::SeqCst);
    }
}

impl Seats {
    /// So many `seats`, and a bench for so many more.
    pub fn new(seats: usize, bench: usize) -> Self {
        Self { free: Arc::new(Semaphore::new(seats)), waiting: Arc::default(), bench }
    }

    /// A seat, once one is free.
    ///
    /// # Errors
    /// [`Trouble::busy`] where the bench is full.
    pub async fn take(&self) -> Result<Seat, Trouble> {
        if let Ok(permit) = Arc::clone(&self.free).try_acquire_owned() {
            return Ok(Seat(permit));
        }
        let before = self.waiting.fetch_add(1, Ordering::SeqCst);
        let _waiting = Waiting(Arc::clone(&self.waiting));
        if before >= self.bench {
            return Err(Trouble::busy());
        }
        Arc::clone(&self.free).acquire_owned().await.map(Seat).map_err(|_| Trouble::busy())
    }

    /// Runs `work` in a seat on a thread of its own. The seat stays taken until the work is done, even where nobody waits
    /// for its answer any more.
    ///
    /// # Errors
    /// [`Trouble::busy`] where the bench is full; a trouble of the server where the machine gives no thread, or the work
    /// panics.
    pub async fn run<T: Send + 'static>(&self, work: impl FnOnce() -> T + Send + 'static) -> Result<T, Trouble> {
        self.run_on(Builder::new(), work).await
    }

    async fn run_on<T: Send + 'static>(
        &self,
        thread: Builder,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, Trouble> {
        let seat = self.take().await?;
        let (tell, told) = oneshot::channel();
        let begun = thread.spawn(move || {
            // Dropped after the seat, also where the work panics: who is told finds the seat free.
            let tell = tell;
            let done = {
                let _seat = seat;
                work()
            };
            // Nobody may wait for it any more.
            let _ = tell.send(done);
        });
        if let Err(e) = begun {
            return Err(Trouble::new(
                StatusCode::SERVICE_UNAVAILABLE,
                format!("this machine gives no thread to measure on: {e}"),
                "close other programs, or allow this one more processes, and send the photograph again",
            ));
        }
        told.await.map_err(|_| {
            Trouble::new(
                StatusCode::INTERNAL_SERVER_ERROR,
                "the measurement of this photograph broke off",
                "send another photograph; please report this one",
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn one_works_one_waits_and_the_third_is_told_to_come_again() {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
        runtime.block_on(async {
            let seats = Seats::new(1, 1);
            let first = seats.take().await.ok().unwrap();
            let waits = tokio::spawn({
                let seats = seats.clone();
                async move { seats.take().await.is_ok() }
            });
            tokio::time::sleep(Duration::from_millis(20)).await;
            assert_eq!(seats.take().await.err().unwrap().status, StatusCode::SERVICE_UNAVAILABLE);
            drop(first);
            assert!(waits.await.unwrap());
            // The bench is empty again, and so is the seat.
            assert_eq!(seats.waiting.load(Ordering::SeqCst), 0);
            assert!(seats.take().await.is_ok());
        });
    }

    #[test]
    fn work_that_breaks_off_frees_its_seat() {
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(async {
            let seats = Seats::new(1, 0);
            let broken: Result<(), Trouble> = seats.run(|| panic!("on purpose")).await;
            assert_eq!(broken.unwrap_err().status, StatusCode::INTERNAL_SERVER_ERROR);
            assert_eq!(seats.run(|| 7).await.unwrap(), 7);
        });
    }

    #[test]
    fn a_thread_that_is_not_given_is_told_and_frees_the_seat() {
        let runtime = tokio::runtime::Builder::new_current_thread().build().unwrap();
        runtime.block_on(async {
            let seats = Seats::new(1, 0);
            // No machine has room for such a stack.
            let refused = seats.run_on(Builder::new().stack_size(1 << 60), || 7).await.unwrap_err();
            assert_eq!(refused.status, StatusCode::SERVICE_UNAVAILABLE);
            assert!(refused.detail.contains("no thread"), "{}", refused.detail);
            assert_eq!(seats.run(|| 7).await.unwrap(), 7);
        });
    }
}
