//! Threads and devices: the scheduler's thread, and the ports that MIDI goes to and comes from.
//!
//! In: [`Order`](chaconne_engine::Order)s, what is played on the inputs, and ports to send to. Out:
//! MIDI at its due time. [`chaconne_clock`] decides what is sent when; this crate provides the
//! clock it reads, the thread it runs on and the devices it reaches.
//!
//! # How the parts connect
//!
//! ```no_run
//! use chaconne_midi::Wire;
//! use chaconne_ports::{InputEvent, PortSpec, Setup, now, open_input, open_output, start};
//!
//! let out = open_output(&"bytes:wires/synth".parse::<PortSpec>()?)?;
//! let mut running = start(vec![out], Setup { inputs: 1, ..Setup::default() })?;
//!
//! // Each input has a Thru, which lives on the input's own thread. Its target is the armed
//! // track's port and channel; any thread can set it.
//! let mut thru = running.thrus.remove(0);
//! let target = thru.target();
//! target.set(Some((chaconne_engine::PortIx(0), None)));
//! let input = open_input(&"bytes:wires/keys".parse()?, move |stamp, event| match event {
//!     InputEvent::Heard(Wire::Message(message)) => thru.play(stamp, message),
//!     InputEvent::Heard(Wire::SysEx(_)) => {}
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
//! # Overview
//!
//! * [`start`] → [`Running`]: the [`Scheduler`]'s thread, its [`Orders`], and a [`Thru`] per input.
//! * [`Switch`]: silence from any thread, past every queue. [`Monitor`], [`Stats`]: the counts.
//! * [`open_output`], [`open_input`], [`list_ports`], [`list_jack_ports`]: ports by [`PortSpec`].
//!
//! # The ports
//!
//! | kind | spec | output | input |
//! | --- | --- | --- | --- |
//! | system MIDI | `midi:NAME` | sent whole, at once; reconnected by its name | stamped in the callback |
//! | JACK | `jack:NAME` | placed at its frame; reports full, lost and reconnected | stamped by its frame |
//! | raw bytes | `bytes:PATH` | never blocks; reports full, lost and reconnected | own thread |
//! | sound | `sound` | provided by the caller, see [`Link`]; reports lost and reconnected | (no input) |
//! | memory | (tests) | recorded; full and lost on request | – |
//! | none | `none` | counted, goes nowhere | receives nothing |
//!
//! Any output can be watched for measuring: see [`Output::watched`].

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod bytes;
mod connection;
mod feed;
mod input;
mod jack;
mod link;
mod memory;
mod midi;
mod monotonic;
mod names;
mod orders;
mod output;
mod outputs;
mod porter;
mod quiet;
#[cfg_attr(unix, path = "reader_unix.rs")]
#[cfg_attr(not(unix), path = "reader_plain.rs")]
mod reader;
mod scheduler;
mod spares;
mod spec;
#[cfg_attr(unix, path = "stream_unix.rs")]
#[cfg_attr(not(unix), path = "stream_plain.rs")]
mod stream;
mod switch;
mod thru;
mod urgency;
mod watch;
mod worker;

pub use chaconne_clock::{EDGES, PortHealth, PortState, Sent, Spin, Spread, Stats, Urgency};
/// The events of an input; in this crate [`Input`] is the port itself.
pub use chaconne_engine::Input as InputEvent;
pub use input::{Input, open_input};
pub use jack::{JackGuest, JackPorts, Rest, ShutdownNotice, jack_guest, list_jack_ports};
pub use link::{Link, LinkKeeper, LinkNews};
pub use memory::{MemoryPort, Sending};
pub use midi::list_ports;
pub use monotonic::now;
pub use orders::Orders;
pub use output::{Output, open_output};
pub use quiet::{quietly, restore_stderr};
pub use scheduler::{Monitor, Running, Scheduler, Setup, WireSetup, start};
pub use spec::{PortError, PortSpec};
pub use switch::Switch;
pub use thru::{Thru, ThruTarget};
pub use urgency::{Role, lower_priority, raise_priority};
pub use watch::{Captured, Handed};

/// The MIDI ports that a service offers.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PortList {
    /// The names that `--in` can use.
    pub inputs: Vec<String>,
    /// The names that `--out` can use.
    pub outputs: Vec<String>,
}
