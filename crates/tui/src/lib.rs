//! The screen: [`DeskState`] in, commands out.
//!
//! In: a [`Desk`], which reports how things stand and takes requests; a terminal. Out: requests
//! to the desk, and how the screen ended. It knows no port, no file and no thread; the screen
//! follows the music and never leads it. Where a key press becomes a command: `screen::keys` decides
//! who gets the key, `keymap` which action it asks for, `screen::act` what that does.
//!
//! Whoever starts it calls [`install_panic_hook`] first, with what silences the instruments; then
//! [`run`], with [`Options::from_environment`] and what the flags say. A thread that handles
//! signals sends its note-offs, makes [`Desk::quit_requested`] true, and may call
//! [`restore_terminal`] before it ends the process for good.

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

mod action;
mod axis;
mod cells;
mod chords;
mod desk;
mod draw;
#[cfg(feature = "driven")]
pub mod driven;
mod form;
mod glance;
mod groove_curve;
mod input;
mod key_names;
mod keymap;
mod keys_play;
mod lane;
mod manual;
mod numbers;
mod options;
mod output;
mod palette;
mod piano;
mod picture;
mod run;
mod screen;
mod sheet;
mod sounds;
mod start;
mod terminal;
#[cfg(test)]
mod testing;
mod text;
mod time_marks;
mod view_rows;

pub use desk::{
    Desk, DeskState, Direction, Disk, EntryKind, Export, ExportKind, ExportOutcome, ExportRun,
    ExportSpec, FileEntry, Folder, FolderAnswer, Health, Kit, Kits, Lateness, LevelStep, LiveKey,
    NewSong, OwnSave, PortFacts, PortLine, PortState, SongAnswer, SongRead, SongRequest, SoundLine,
    Timing,
};
pub use keymap::{Keymap, KeysError, keys_listing};
pub use manual::keys_markdown;
pub use options::{Colours, Glyphs, Keyboard, Options, refusal};
pub use run::{Ended, run};
pub use screen::is_shown_whole;
pub use start::Start;
pub use terminal::{find_terminal, install_panic_hook, restore_terminal};
