//! The loop-layering engine, without a thread, a clock or a port.
//!
//! In: a [`Song`](chaconne_song::Song), [`Command`]s and played [`Message`]s, each with the
//! moment it arrived. Out: [`Order`]s to a scheduler, a [`Status`] for the front end, and the
//! changed song. [`perform`] is the one function that turns a song into timed events: what is
//! heard, exported, listed and checked all comes out of it.
//!
//! * [`perform`], [`Route`], [`View`]: a song as events.
//! * [`Walk`]: the sections, rounds, bars, beats and tempi along a route.
//! * [`Engine`]: the recorder and the transport, on whatever clock the caller has.
//! * [`Ledger`]: who holds which key, and what must be sent for it.
//! * [`Command`], [`Status`]: how any front end talks to the engine.
//!
//! `assemble` decides on which side of a seam a note belongs, `controls` which layer moves a
//! controller, and `away` whether the pedal that player and song share is down. Only
//! `engine::commit` changes the song.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod arrange;
mod assemble;
mod away;
mod bake;
mod capture;
mod command;
mod controls;
mod cue;
mod curves;
mod duration;
mod engine;
mod feel;
mod gestures;
mod groove;
mod hand;
mod heard;
mod human;
mod key_change;
mod lead;
mod ledger;
mod notes;
mod occurrences;
mod perform;
mod performer;
mod plan;
mod reshape;
mod route;
mod sent;
mod status;
#[cfg(test)]
mod testing;
mod walk;

pub use arrange::Arrange;
pub use away::Hand;
pub use chaconne_midi::{
    Bytes, Gathered, MachineControl, Message, Parameters, Wire, moves, time_code,
};
pub use command::{Click, Command, Mode, Rounds, Setting, When};
pub use cue::{Action, Address, Cue, Order, PortIx, Slot, Voice};
pub use curves::{Curves, rest_of};
pub use duration::{Stretch, fit_tempo, form_in_time};
pub use engine::{ClickSound, Config, Engine, Ground, Input, LiveTarget, Refused};
pub use feel::{Felt, felt, half_step, quantise_words};
pub use groove::{HowToTake, bar_given, groove_bar, groove_loudness, groove_timing, take_groove};
pub use hand::{ByHand, HandStep};
pub use heard::is_heard;
pub use key_change::{KeyOf, NewKey};
pub use lead::{Follow, Lead, Line, OnLoss};
pub use ledger::{Ledger, Releases};
pub use notes::{HeardNote, heard_notes};
pub use perform::{Event, Performance, perform};
pub use reshape::Reshape;
pub use route::{CutShort, Entry, Route, View};
pub use status::{Followed, KeyChange, LeaderClock, Status, Transport, Turn, Waits};
pub use walk::{Bar, Beat, Counts, Landmark, Position, Round, TempoStep, Visit, Walk};
