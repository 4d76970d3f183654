//! The real-time half: scheduler, ports, through-play, statistics.
//!
//! In: [`Order`](chaconne_engine::Order)s from the engine, what is played on the inputs, and
//! ports to send to. Out: MIDI at its due time, and counts of how well that went. The crate knows
//! nothing of songs: an order says what sounds when, in ticks.
//!
//! # How the parts are joined
//!
//! ```no_run
//! use chaconne_clock::{InputEvent, PortSpec, Setup, now, open_input, open_output, start};
//!
//! let out = open_output(&"bytes:wires/synth".parse::<PortSpec>()?)?;
//! let mut running = start(vec![out], Setup { inputs: 1, ..Setup::default() })?;
//!
//! // Each input has a Thru, which lives on the input's own thread. Its target is the armed
//! // track's port and channel, turned from anywhere.
//! let mut thru = running.thrus.remove(0);
//! let target = thru.target();
//! target.set(Some((chaconne_engine::PortIx(0), None)));
//! let input = open_input(&"bytes:wires/keys".parse()?, move |stamp, event| match event {
//!     InputEvent::Message(message) => thru.play(stamp, message),
//!     InputEvent::SysEx(_) => {}
//!     InputEvent::Lost => thru.lost(stamp),
//! })?;
//!
//! let at = chaconne_time::Tick(0);
//! let tempo = chaconne_time::Tempo::DEFAULT;
//! running.orders.send(chaconne_engine::Order::Roll { at, ns: now(), tempo, song: 0 }).ok();
//! println!("{} notes sounding", running.scheduler.stats().sounding);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
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
//! * [`start`] → [`Running`]: the [`Scheduler`]'s thread, its [`Orders`], a [`Thru`] an input.
//! * [`Switch`]: silence from any thread, past every queue. [`Monitor`], [`Stats`]: the counts.
//! * [`DinLine`](din::DinLine): a serial MIDI line as a model, for pacing and forecasts.
//! * [`Follower`]: another's clock, evened out.
//! * [`open_output`], [`open_input`], [`list_ports`], [`list_jack_ports`]: ports by [`PortSpec`].

pub mod din;
mod follow;
pub mod machine;
mod meter;
mod monotonic;
mod orders;
mod outputs;
mod pacer;
mod porter;
mod ports;
mod scheduler;
mod sounding;
mod spares;
mod switch;
mod thru;
mod timecode;
mod urgency;
pub mod wire;
mod worker;

pub use follow::Follower;
pub use machine::{Limits, Machine, Sent, Sink};
pub use meter::{LATE, Meter, PortHealth, Spread, Stats};
pub use monotonic::now;
pub use orders::Orders;
pub use pacer::Spin;
pub use ports::{
    Captured, Handed, Input, InputEvent, JackGuest, JackPorts, LastWord, MemoryPort, Output,
    PortError, PortList, PortSpec, PortState, Rest, Sending, Wire, WireKeeper, WireNews, aloud,
    jack_guest, list_jack_ports, list_ports, open_input, open_output, quietly,
};
pub use scheduler::{Monitor, Running, Scheduler, Setup, WireSetup, start};
pub use switch::Switch;
pub use thru::{Thru, ThruEvent, ThruTarget, Touch};
pub use urgency::{Role, Urgency, hurry};
