//! The wiring: which threads there are, what runs on each, and the queues between them.
//!
//! In: a song, ports by name, and requests. Out: music on the ports, snapshots of how things
//! stand, song files, Standard MIDI Files and WAV files. No music is decided here: that is the
//! engine's.
//!
//! ```text
//! input threads ─ stamp ─┬─► through-play ────────────────────► scheduler ─► ports
//!                        └─► queue ─► engine thread ─ orders ──►    ▲
//! whoever drives it ──── requests ──►      │ │                      │
//!        ▲                                 │ └─ songs ─► disk thread│
//!        └────────── snapshots ◄───────────┘   signal thread ─ switch
//! ```
//!
//! * [`Rig`]: one handle for whoever drives it, on the real clock.
//! * [`lay`], [`LiveLay`]: a recorded take played into the recorder, on either clock.
//! * [`load`], [`write_whole`]: files, replaced whole or not at all; [`Guard`], [`may_write`]: which
//!   may be replaced.
//! * [`Rescuer`]: a copy of what was not saved, where the program cannot end as it should.
//! * [`Signals`]: silence first, then an orderly end.
//! * [`forecast`]: how late a song's notes would be on serial MIDI cables.
//! * [`Timing`], [`Loopback`]: how evenly this machine plays, and how long a cable's way out and
//!   in is.
//! * [`bounce`]: a song as WAV files.
//! * [`RoundCount`]: which round of a route is being played.

mod bounce;
mod count;
mod disk;
mod engine_thread;
mod export;
mod following;
mod hearing;
mod keys;
mod lay;
mod live;
mod ports;
mod predict;
mod replace;
mod rescue;
mod rig;
#[cfg_attr(unix, path = "signals_unix.rs")]
#[cfg_attr(not(unix), path = "signals_plain.rs")]
mod signals;
mod snapshot;
mod sound;
mod store;
mod tap;
#[cfg(test)]
mod testing;
mod timing;

pub use bounce::{BounceNews, BounceProgress, Bounced, HowToBounce, bounce};
pub use chaconne_engine::OnLoss;
pub use chaconne_ports::{
    JackPorts, PortError, PortList, PortSpec, PortState, Spin, Spread, Stats, Switch, Urgency,
    list_jack_ports, list_ports, now,
};
pub use chaconne_sound::bounce::Bits;
pub use count::{RoundCount, RoundStart, tick_of_bar};
pub use export::{Extent, export_midi};
pub use lay::{HowToLay, Laid, LayError, lay};
pub use live::LiveLay;
pub use ports::{Direction, In, Out, PortReport, raw_devices};
pub use predict::{Cables, Forecast, HEARD, LateNote, Outlook, forecast};
pub use replace::{Guard, Kind, Refusal, Replace, WriteError, may_write};
pub use rescue::{Rescued, Rescuer, rescue_copy, write_copy};
pub use rig::{Rig, RigConfig, hush};
pub use signals::{Caught, Leave, Signals};
pub use snapshot::{Disk, Snapshot, SoundReport, Summary};
pub use store::{LoadError, MOST_BYTES, load, read_limited, save_guarded, write_whole};
pub use tap::{TapControl, Tapped};
pub use timing::{
    EDGES, EVEN, Figures, Loopback, LoopbackRun, Measured, RoundTrips, Timing, TimingRun, Trips,
    Verdict,
};
