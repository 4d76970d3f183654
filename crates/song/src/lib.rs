//! The document: what a song is, how it is changed, and its text.
//!
//! In: edits. Out: the changed song and the exact inverse of each edit. The song knows no port,
//! no screen, no wall time and no disk; reading and writing its text is from string to string.
//!
//! * [`Song`], [`Section`], [`Track`], [`Pass`], [`Note`], [`Lane`]: the model.
//! * [`Feel`], [`Levels`]: settings that are applied when the song is performed.
//! * [`Edit`]: every change there is, with its inverse.
//! * [`text`]: the song as text, both ways.
//! * [`program_name`], [`find_program`]: what a program is called.
//! * [`U7`], [`U14`], [`Channel`], [`KeySignature`]: legal values by type.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod edit;
mod feel;
mod lane;
mod note;
mod pairing;
mod pass;
mod program;
mod rules;
mod section;
mod signature;
mod song;
pub mod text;
mod track;

pub use chaconne_midi::{Channel, Control, RangeError, U7, U14};
pub use edit::{Edit, EditError};
pub use feel::{Feel, FeelError, Swing};
pub use lane::{Lane, Point, SysEx};
pub use note::{Note, Stroke};
pub use pairing::{Paired, Pairing};
pub use pass::{Pass, SharedPass};
pub use program::{find_program, program_name};
pub use section::{Letter, LetterError, Section};
pub use signature::{KeySignature, KeySignatureError};
pub use song::{Ids, Song};
pub use track::{Levels, Track};

/// Names a track for as long as the song lives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TrackId(pub u32);

/// Names a pass for as long as the song lives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PassId(pub u32);

/// Names a note for as long as the song lives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteId(pub u32);
