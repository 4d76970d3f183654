//! A way out that is made elsewhere, such as an instrument of this program itself.

use chaconne_clock::Sent;
use chaconne_time::Ns;
use std::fmt::Debug;
use std::time::Duration;

/// What an output hands its messages to. It is called on the scheduler thread, so nothing here
/// may allocate, free, lock, log or wait; it is dropped on a thread that may.
pub trait Link: Debug + Send {
    /// Takes one whole MIDI message that is to be heard at `due`, in nanoseconds on
    /// [`now`](crate::now)'s clock; what is due in the past, at once. [`Sent::Full`] where it takes
    /// nothing now: the same message comes again later. [`Sent::Lost`] where nobody takes it up any
    /// more: the output waits for another wire then.
    fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent;

    /// How long before it is heard a message must be handed over, in nanoseconds. Read once.
    fn ahead(&self) -> Ns;

    /// Whether all that was handed over has been taken up.
    fn is_drained(&self) -> bool;

    /// How long the last of it goes on after that, in which it must not be dropped.
    fn drain(&self) -> Duration;
}

/// What looks after a wire's far end. It is asked twenty times a second, on a thread that may wait
/// a little; while it does, no other port is looked after.
pub trait LinkKeeper: Debug + Send {
    /// What has changed, for a scheduler to which the output is open or not.
    fn look(&mut self, is_open: bool) -> Option<LinkNews>;
}

/// What there is to tell the scheduler of a wire.
#[derive(Debug)]
pub enum LinkNews {
    /// Nobody is at the other end any more.
    Gone,
    /// Here is one that has somebody at its other end.
    Opened(Box<dyn Link>),
}
