//! A way out that is made elsewhere, such as an instrument of this program itself.

use crate::machine::Sent;
use chaconne_time::Ns;
use std::time::Duration;

/// What an output hands its messages to. It is called on the scheduler thread, so nothing here
/// may allocate, free, lock, log or wait; it is dropped on a thread that may.
pub trait Wire: Send {
    /// Takes one whole MIDI message that is to be heard at `due`, in nanoseconds on
    /// [`now`](crate::now)'s clock; what is due in the past, at once. [`Sent::Full`] where it takes
    /// nothing now: the same message comes again later.
    fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent;

    /// How long before it is heard a message must be handed over, in nanoseconds. Read once.
    fn ahead(&self) -> Ns;

    /// Whether all that was handed over has been taken up.
    fn is_drained(&self) -> bool;

    /// How long the last of it goes on after that, in which it must not be dropped.
    fn drain(&self) -> Duration;
}
