//! An output provided by the caller, such as the program's own instrument.

use chaconne_clock::Sent;
use chaconne_time::Ns;
use std::fmt::Debug;
use std::time::Duration;

/// The receiver of an output's messages. It is called on the scheduler thread, so nothing here may
/// allocate, free, lock, log or wait; it is dropped on a thread that may.
pub trait Link: Debug + Send {
    /// Accepts one whole MIDI message to be heard at `due`, in nanoseconds on [`now`](crate::now)'s
    /// clock, or at once if that has passed. Returns [`Sent::Full`] if it accepts nothing now; the
    /// same message is sent again later. Returns [`Sent::Lost`] if its far end is gone; the output
    /// then waits for another link.
    fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent;

    /// How early a message must be handed over, in nanoseconds before it is heard. Read once.
    fn ahead(&self) -> Ns;

    /// Whether everything handed over has been received.
    fn is_drained(&self) -> bool;

    /// How long after that the last message may still need; the link must not be dropped before.
    fn drain(&self) -> Duration;
}

/// Watches a link's far end. It is called twenty times a second, on a thread that may wait a little;
/// while it does, no other port is watched.
pub trait LinkKeeper: Debug + Send {
    /// What has changed, if the scheduler believes that the output is open or not.
    fn look(&mut self, is_open: bool) -> Option<LinkNews>;
}

/// A change of a link.
#[derive(Debug)]
pub enum LinkNews {
    /// Its far end is gone.
    Gone,
    /// A new link that is connected.
    Opened(Box<dyn Link>),
}
