//! The wiring: the threads, what runs on each, and the queues between them.
//!
//! In: a song, ports by name, and requests. Out: music on the ports, snapshots of the state, song
//! files, Standard MIDI Files and WAV files. All decisions about music are the engine's.
//!
//! ```text
//! input threads ─ stamp ─┬─► through-play ────────────────────► scheduler ─► ports
//!                        └─► queue ─► engine thread ─ orders ──►    ▲
//! whoever drives it ──── requests ──►      │ │                      │
//!        ▲                                 │ └─ songs ─► disk thread│
//!        └────────── snapshots ◄───────────┘   signal thread ─ switch
//! ```
//!
//! * [`Rig`]: the one handle for a front end, on the real clock.
//! * [`lay`], [`LiveLay`]: play a take into the recorder, on a simulated or the real clock.
//! * [`load`], [`write_whole`]: files, replaced whole or not at all; [`Guard`], [`may_write`]: which
//!   files may be replaced.
//! * [`Rescuer`]: a copy of unsaved changes when the program is interrupted.
//! * [`Signals`]: silence first, then an orderly shutdown.
//! * [`forecast`]: how late a song's notes would be on serial MIDI cables.
//! * [`Timing`], [`Loopback`]: how well this machine keeps time, and how long a round trip through a
//!   cable takes.
//! * [`bounce`]: exports a song as WAV files.
//! * [`RoundCount`]: counts the rounds of a route.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod bounce;
mod browse;
mod count;
mod disk;
mod engine_thread;
mod export;
mod exports;
mod fingering;
mod fingerprint;
mod first_start;
mod folders;
mod following;
mod hearing;
mod keys;
mod lay;
mod live;
mod newest;
mod ports;
mod predict;
mod recent;
mod replace;
mod rescue;
mod rig;
#[cfg_attr(unix, path = "signals_unix.rs")]
#[cfg_attr(not(unix), path = "signals_plain.rs")]
mod signals;
mod snapshot;
mod songs;
mod sound;
mod state_folder;
mod store;
mod tap;
#[cfg(test)]
mod testing;
mod timing;
mod track_files;

pub use bounce::{BounceNews, BounceProgress, Bounced, HowToBounce, bounce};
pub use browse::{SongFile, SongFolder};
pub use chaconne_engine::OnLoss;
pub use chaconne_ports::{
    EDGES, JackPorts, PortError, PortList, PortSpec, PortState, Spin, Spread, Stats, Switch,
    Urgency, list_jack_ports, list_ports, now,
};
pub use chaconne_sound::bounce::Bits;
pub use count::{RoundCount, RoundStart, tick_of_bar};
pub use export::{Extent, HowOften, export_midi, export_midi_tracks, remarks};
pub use exports::{ExportKind, ExportOrder, ExportReport, Exported};
pub use fingerprint::Fingerprint;
pub use first_start::FirstStart;
pub use folders::FolderReport;
pub use lay::{HowToLay, Laid, LayError, find_track, lay};
pub use live::LiveLay;
pub use newest::Answer;
pub use ports::{Direction, In, Out, PortReport, raw_devices};
pub use predict::{Cables, Forecast, HEARD, LateNote, Outlook, forecast};
pub use recent::RecentSongs;
pub use replace::{Guard, Kind, Refusal, Replace, WriteError, may_write};
pub use rescue::{RescueCopy, Rescued, Rescuer, rescue_copy, write_copy};
pub use rig::{Rig, RigConfig, hush};
pub use signals::{Caught, Leave, Signals};
pub use snapshot::{Disk, Snapshot, SoundReport, Summary};
pub use songs::{SongRead, SongRequest};
pub use store::{LoadError, MOST_BYTES, load, read_limited, save_guarded, write_whole};
pub use tap::{TapControl, Tapped};
pub use timing::{
    EVEN, Figures, Loopback, LoopbackRun, Measured, RoundTrips, Timing, TimingRun, Trips, Verdict,
};
