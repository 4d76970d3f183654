//! A port for tests: it records what is sent, and can be set to full or lost.

use crate::monotonic::now;
use chaconne_clock::Sent;
use chaconne_time::Ns;
use std::sync::{Arc, Mutex, PoisonError};

/// One message that was sent.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sending {
    /// When it was due.
    pub due: Ns,
    /// When it was sent.
    pub at: Ns,
    /// The whole message, status byte first.
    pub bytes: Vec<u8>,
}

#[derive(Debug, Default)]
struct State {
    sendings: Vec<Sending>,
    answer: Option<Sent>,
}

/// The test's end of a memory port. It locks and allocates, so it is for tests only.
#[derive(Debug, Clone, Default)]
pub struct MemoryPort(Arc<Mutex<State>>);

impl MemoryPort {
    fn state(&self) -> std::sync::MutexGuard<'_, State> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Everything sent so far.
    pub fn sendings(&self) -> Vec<Sending> {
        self.state().sendings.clone()
    }

    /// Everything sent since the last call.
    pub fn take(&self) -> Vec<Sending> {
        std::mem::take(&mut self.state().sendings)
    }

    /// From now on the port answers [`Sent::Full`] or [`Sent::Lost`]; [`Sent::Done`] makes it
    /// accept messages again. (The scheduler keeps treating a lost port as lost.)
    pub fn answer(&self, answer: Sent) {
        self.state().answer = Some(answer);
    }

    pub(crate) fn send(&self, due: Ns, bytes: &[u8]) -> Sent {
        let mut state = self.state();
        let answer = state.answer.unwrap_or(Sent::Done);
        if answer == Sent::Done {
            state.sendings.push(Sending { due, at: now(), bytes: bytes.to_vec() });
        }
        answer
    }
}
