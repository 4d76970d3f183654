//! The scheduler without its thread: it decides which message goes to which port, and when.
//!
//! In: [`Order`](chaconne_engine::Order)s from the engine, notes and controllers played on the
//! inputs, and the time. Out: MIDI at its due time, to a [`Sink`], and counts of how punctual it
//! was. The crate knows nothing of songs: an order says in ticks what sounds when. It reads no clock
//! and starts no thread, so a test can play a whole day in a second.
//!
//! # Rules for the engine
//!
//! * It orders a voice's press before its lift; within one tick they may be in either order.
//! * To change what a slot plays, it sends `Revise`, then a `Keep` for each voice that continues,
//!   then the new epoch's cues, then `Settle`. If a press was played before the revision arrived, its
//!   own cue keeps it, so that cue must come before `Settle`.
//! * While the transport is stopped, it sends messages as `Now`; a cue would also be sent at once.
//! * When a port's [`PortState`] becomes `Open` again, it sends the port's settings again.
//!
//! # The parts
//!
//! * [`Machine`]: the queue, the epochs, the key book, and the backlog of each port.
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
pub use meter::{EDGES, LATE, Meter, PortHealth, Spread, Stats};
pub use pacer::{Pacer, Spin};
pub use port_state::PortState;
pub use touch::{ThruEvent, Touch};
pub use urgency::Urgency;
