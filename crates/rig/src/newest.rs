//! Reads from the disk on request, each time on a thread of its own: a disk that does not answer holds
//! up nobody.
//!
//! In: a number, how to read, and what to do with what was read. Out: the answer to the newest
//! request. An older one that is still being read then does nothing more.

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;

/// The most requests that are read at a time; only a disk that does not answer brings it to that.
const MOST: usize = 8;

/// The answer to a request.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answer<T> {
    /// The number of the request.
    pub number: u64,
    /// What came of it, or one sentence on why nothing did.
    pub result: Result<T, String>,
}

/// Requests of one kind. Dropping it waits for none of them.
#[derive(Debug)]
pub(crate) struct Newest<T>(Arc<Mutex<Requests<T>>>);

#[derive(Debug)]
struct Requests<T> {
    newest: u64,
    /// How many are being read.
    running: usize,
    answer: Option<Arc<Answer<T>>>,
}

impl<T> Clone for Newest<T> {
    fn clone(&self) -> Newest<T> {
        Newest(Arc::clone(&self.0))
    }
}

impl<T> Default for Newest<T> {
    fn default() -> Newest<T> {
        Newest(Arc::new(Mutex::new(Requests { newest: 0, running: 0, answer: None })))
    }
}

impl<T: Send + Sync + 'static> Newest<T> {
    /// Reads, and hands what was read to `apply`, unless a newer request has come in the meantime.
    pub fn ask<R>(
        &self,
        number: u64,
        read: impl FnOnce() -> Result<R, String> + Send + 'static,
        apply: impl FnOnce(R) -> Result<T, String> + Send + 'static,
    ) {
        let mut requests = self.lock();
        requests.newest = number;
        if requests.running >= MOST {
            let waits = "the disk does not answer: earlier requests are still being read";
            return requests.answer(number, Err(waits.into()));
        }
        let all = self.clone();
        let run = move || {
            let read = read();
            // The lock is not held: what is done with it may take as long as it likes.
            let is_newest = all.lock().newest == number;
            let result = is_newest.then(|| read.and_then(apply));
            let mut requests = all.lock();
            requests.running -= 1;
            if let Some(result) = result {
                requests.answer(number, result);
            }
        };
        match thread::Builder::new().name("read".to_string()).spawn(run) {
            Ok(_) => requests.running += 1,
            Err(error) => {
                requests.answer(number, Err(format!("no thread could be started: {error}")));
            }
        }
    }

    /// The latest answer.
    pub fn answer(&self) -> Option<Arc<Answer<T>>> {
        self.lock().answer.clone()
    }

    fn lock(&self) -> MutexGuard<'_, Requests<T>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl<T> Requests<T> {
    /// Answers a request, unless a newer one has come.
    fn answer(&mut self, number: u64, result: Result<T, String>) {
        if self.newest == number {
            self.answer = Some(Arc::new(Answer { number, result }));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::mpsc::{Sender, channel};
    use std::time::{Duration, Instant};

    /// Asks for a number from a disk that answers when the sender is used or dropped.
    fn ask_slow(requests: &Newest<u64>, number: u64) -> Sender<()> {
        let (disk, answers) = channel();
        let read = move || {
            _ = answers.recv();
            Ok(number)
        };
        requests.ask(number, read, Ok);
        disk
    }

    fn wait(requests: &Newest<u64>, until: impl Fn(&Requests<u64>) -> bool) {
        let start = Instant::now();
        while !until(&requests.lock()) {
            assert!(start.elapsed() < Duration::from_secs(20), "no answer");
            thread::sleep(Duration::from_millis(1));
        }
    }

    fn answered(requests: &Newest<u64>) -> Option<(u64, Result<u64, String>)> {
        requests.answer().map(|answer| (answer.number, answer.result.clone()))
    }

    #[test]
    fn the_newest_request_is_answered_even_if_an_older_one_is_late() {
        let requests = Newest::default();
        let first = ask_slow(&requests, 1);
        assert_eq!(answered(&requests), None, "asking does not wait");
        drop(ask_slow(&requests, 2));
        wait(&requests, |requests| requests.running == 1);
        assert_eq!(answered(&requests), Some((2, Ok(2))));
        drop(first);
        wait(&requests, |requests| requests.running == 0);
        assert_eq!(answered(&requests), Some((2, Ok(2))), "a late answer is dropped");
    }

    #[test]
    fn what_an_older_request_has_read_is_not_applied() {
        let requests = Newest::default();
        let ((disk, answers), (applied, seen)) = (channel::<()>(), channel());
        let read = move || Ok(_ = answers.recv());
        requests.ask(1, read, move |()| {
            _ = applied.send(());
            Ok(1)
        });
        drop(ask_slow(&requests, 2));
        drop(disk);
        wait(&requests, |requests| requests.running == 0);
        assert!(seen.try_recv().is_err(), "the older one changed something");
    }

    #[test]
    fn a_disk_that_never_answers_does_not_collect_threads() {
        let requests = Newest::default();
        let disks: Vec<_> = (0..MOST as u64).map(|number| ask_slow(&requests, number)).collect();
        drop(ask_slow(&requests, 100));
        assert!(matches!(answered(&requests), Some((100, Err(why))) if why.contains("disk")));
        drop(disks);
        wait(&requests, |requests| requests.running == 0);
        drop(ask_slow(&requests, 101));
        wait(&requests, |requests| requests.running == 0);
        assert_eq!(answered(&requests), Some((101, Ok(101))));
    }
}
