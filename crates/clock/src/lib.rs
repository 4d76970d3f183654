//! The scheduler without its thread: what goes to which port at which moment.
//!
//! In: [`Order`](chaconne_engine::Order)s from the engine, what is played on the inputs, and the
//! time. Out: MIDI at its due time, to a [`Sink`], and counts of how well that went. The crate
//! knows nothing of songs: an order says what sounds when, in ticks. It reads no clock and starts
//! no thread, so that a day of playing is tested in a second.
//!
//! # What the engine must keep to
//!
//! * A voice's press is ordered before its lift; within one tick either may come first.
//! * `Revise`, then a `Keep` for each voice that continues, then the new epoch's cues, then
//!   `Settle`: a press that was played before the revision arrived is kept by its own cue, which
//!   must come before `Settle`.
//! * While the transport is stopped, messages go as `Now`; a cue would also be sent at once.
//! * When a port's [`PortState`] turns `Open` again, its settings are sent again.
//!
//! # The parts
//!
//! * [`Machine`]: the queue, the epochs, the key book, and what waits for each port.
//! * [`Meter`], [`Stats`]: the counts.
//! * [`Pacer`]: when to wake for a deadline.
//! * [`Follower`]: follows another device's clock and smooths it.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod follow;
mod key_book;
mod machine;
mod meter;
mod pacer;
mod port_state;
mod touch;
mod urgency;

pub use follow::Follower;
pub use key_book::Sounding;
pub use machine::{Limits, Machine, Sent, Service, Sink};
pub use meter::{LATE, Meter, PortHealth, Spread, Stats};
pub use pacer::{Pacer, Spin};
pub use port_state::PortState;
pub use touch::{ThruEvent, Touch};
pub use urgency::Urgency;
