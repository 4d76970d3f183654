//! The document: what a song is, how it is changed, and its text.
//!
//! In: edits. Out: the changed song and the exact inverse of each edit. The song knows no port,
//! no screen, no time of day and no disk; its text is read from a string and written to one.
//!
//! * [`Song`], [`Section`], [`Layer`], [`Track`], [`Pass`], [`Note`], [`Lane`]: the model.
//! * [`Form`]: the order of sections, as it is typed. [`Chord`]: a chord in a section's chart.
//! * [`Groove`]: timing and loudness taken from a performance, to be given to others.
//! * [`Feel`], [`Levels`]: settings that are applied when the song is performed.
//! * [`Edit`]: every possible change, with its inverse.
//! * [`Commit`], [`Label`], [`History`]: edits made together, and the steps of undo and redo.
//! * [`split_section`], [`set_form`], [`set_ramp`] and their like: operations on sections, form, key and tempo.
//! * [`Picked`], [`choose`]: operations on notes, and choosing notes, for any front end.
//! * [`text`]: the song as text, both ways.
//! * [`program_name`], [`find_program`]: the General MIDI names of programs; [`drum_name`]: of drums.
//! * [`U7`], [`U14`], [`Channel`], [`KeySignature`], [`Transpose`]: types that allow only legal
//!   values.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod arrange;
mod chord;
mod chord_keys;
mod commit;
mod compass;
mod edit;
mod feel;
mod form;
mod groove;
mod history;
mod label_words;
mod lane;
mod note;
mod pairing;
mod pass;
mod percussion;
mod program;
mod revise;
mod rules;
mod section;
mod select;
mod signature;
mod song;
pub mod text;
mod track;
mod transpose;

pub use arrange::{
    ArrangeError, Beside, NewSection, Part, Speed, add_section, change_speed, copy_section, double,
    fermatas_text, fill_bars, halve, join_sections, layer_out_of_beats, lift_bars, move_section,
    own_layers, remove_ramp, remove_section, rename_section, set_bars, set_fermata, set_form,
    set_key, set_metre, set_metres, set_ramp, set_tempo, set_tempo_at, set_transpose,
    split_section, stretch_tempi, vary_section,
};
pub use chaconne_midi::{Channel, Control, RangeError, U7, U14};
pub use chord::{Chord, ChordError, ChordKind, ChordSymbol, NoteName};
pub use chord_keys::{ChordKeys, KeysPlay, OwnChord, OwnChordError, Stack, WordError};
pub use commit::{Commit, Label};
pub use compass::{Compass, CompassError};
pub use edit::{
    Edit, EditError, GrooveEdit, Laid, PassEdit, Placement, PointId, Release, SectionEdit,
    TrackEdit,
};
pub use feel::{Feel, FeelError, GivenGroove, Human, ROLL_NANOS, Swing, is_roll};
pub use form::{Ending, Form, FormEntry, FormError, FormGroup, FormPart, read_form};
pub use groove::{GivenTo, Groove, Lean, StepAt};
pub use history::{History, Step};
pub use lane::{Lane, LaneId, Point, Shape, SysEx, at_rest};
pub use note::{Note, Placed, Stroke};
pub use pairing::{Paired, Pairing};
pub use pass::{Content, Notes, Pass, SharedPass};
pub use percussion::{drum_name, short_drum_name};
pub use program::{find_program, program_name};
pub use revise::{
    Around, Clip, Curve, Cut, Mirror, NoteRef, Pasted, Picked, Ramp, ReviseError, SplitOff,
    merge_layers, replace_chords,
};
pub use section::{Layer, Letter, LetterError, Section};
pub use select::{Candidate, Choice, choose};
pub use signature::{KeySignature, KeySignatureError};
pub use song::{Ids, Song};
pub use track::{Levels, Track};
pub use transpose::{Transpose, transposed};

/// Identifies a track. Undo and redo keep it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TrackId(pub u32);

/// Identifies a pass. Undo and redo keep it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PassId(pub u32);

/// Identifies a groove. Undo and redo keep it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct GrooveId(pub u32);

/// Identifies a note within its pass. Undo and redo keep it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteId(pub u32);
