//! The scheduler without its thread: what goes to which port at which moment.
//!
//! In: [`Order`](chaconne_engine::Order)s from the engine, what is played on the inputs, and the
//! moment. Out: MIDI at its due time, to a [`Sink`], and counts of how well that went. The crate
//! knows nothing of songs: an order says what sounds when, in ticks. It reads no clock and starts
//! no thread, so that a day of playing is tested in a second.
//!
//! # What the engine must keep to
//!
//! * A voice's press is handed over before its lift, but for one tick, where either may be first.
//! * `Revise`, then a `Keep` for each voice that goes on, then the new epoch's cues, then
//!   `Settle`: a press that was played before the revision came is kept by its own cue, which
//!   must come before `Settle`.
//! * What is to be sent while nothing rolls goes as `Now`; a cue would be sent at once, too.
//! * When a port's [`PortState`] turns `Open` again, its settings are sent anew.
//!
//! # The parts
//!
//! * [`Machine`]: the queue, the epochs, the key book, and what waits for each port.
//! * [`Meter`], [`Stats`]: the counts.
//! * [`Pacer`]: when to wake for a deadline.
//! * [`Follower`]: another's clock, evened out.

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
