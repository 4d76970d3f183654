//! Where the rows of the tables apply: sets of scenes that several rows share.

use super::Scene;

pub(super) const LOOP: &[Scene] = &[Scene::Loop];
pub(super) const PIANO: &[Scene] = &[Scene::Piano];
/// Every view.
pub(super) const VIEWS: &[Scene] =
    &[Scene::Loop, Scene::Layers, Scene::Notes, Scene::Levels, Scene::SongForm, Scene::Ports];
/// Every view whose time axis is that of the section shown.
pub(super) const ALONG: &[Scene] = &[Scene::Loop, Scene::Layers];
/// Every view but that of the form, whose Enter goes to a section and whose f plays from an entry.
pub(super) const NOT_FORM: &[Scene] =
    &[Scene::Loop, Scene::Layers, Scene::Notes, Scene::Levels, Scene::Ports];
/// Where the arrows do not choose tracks; the layers have rows of their own.
pub(super) const DETAIL: &[Scene] = &[Scene::Notes, Scene::SongForm, Scene::Piano];
/// Every view, with the piano or without.
pub(super) const ANY_VIEW: &[Scene] = &[
    Scene::Loop,
    Scene::Layers,
    Scene::Notes,
    Scene::Levels,
    Scene::SongForm,
    Scene::Ports,
    Scene::Piano,
];
pub(super) const FORM: &[Scene] = &[Scene::Form];
/// Where a value is changed with the arrows.
pub(super) const VALUES: &[Scene] = &[Scene::Form, Scene::Feel, Scene::Ramp, Scene::KeysBox];
/// Boxes of settings, whose cursor the arrows move.
pub(super) const SETTINGS: &[Scene] = &[Scene::Feel, Scene::Ramp, Scene::KeysBox];
/// Where the arrows choose a track.
pub(super) const LISTS: &[Scene] = &[Scene::Loop, Scene::Levels, Scene::Ports];
pub(super) const LEAVE: &[Scene] = &[Scene::Leave];
pub(super) const REPLACE: &[Scene] = &[Scene::Replace, Scene::Changed];
pub(super) const CHANGED: &[Scene] = &[Scene::Changed];
pub(super) const COMPARISON: &[Scene] = &[Scene::Comparison];
pub(super) const RESCUE: &[Scene] = &[Scene::Rescue];
pub(super) const EXPORTING: &[Scene] = &[Scene::Exporting];
pub(super) const FEEL: &[Scene] = &[Scene::Feel];
pub(super) const KEY_BOX: &[Scene] = &[Scene::KeyBox];
pub(super) const KEYS_BOX: &[Scene] = &[Scene::KeysBox];
pub(super) const SECTIONS: &[Scene] = &[Scene::Sections];
pub(super) const SOUNDS: &[Scene] = &[Scene::Sounds];
pub(super) const FINDER: &[Scene] = &[Scene::Finder];
pub(super) const FILES: &[Scene] = &[Scene::Files];
pub(super) const HELP: &[Scene] = &[Scene::Help];
pub(super) const HELP_SEARCH: &[Scene] = &[Scene::HelpSearch];
pub(super) const TOUR: &[Scene] = &[Scene::Tour];
/// Where the tour can be started: every view, and the help, which closes then.
pub(super) const TOUR_OFFERED: &[Scene] = &[
    Scene::Loop,
    Scene::Layers,
    Scene::Notes,
    Scene::Levels,
    Scene::SongForm,
    Scene::Ports,
    Scene::Piano,
    Scene::Help,
];
/// Lists at the foot of a view, in which something is chosen.
pub(super) const MENUS: &[Scene] =
    &[Scene::SectionEdits, Scene::NoteEdits, Scene::NoteSelects, Scene::Lanes];
/// Where Escape goes back.
pub(super) const BACK: &[Scene] = &[
    Scene::Form,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::SectionEdits,
    Scene::KeyBox,
    Scene::Grooves,
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
    Scene::Files,
    Scene::Leave,
    Scene::Replace,
    Scene::Changed,
    Scene::Comparison,
    Scene::Exporting,
    Scene::Rescue,
];
/// Boxes in which a question mark types nothing.
pub(super) const BOXES: &[Scene] = &[
    Scene::SectionEdits,
    Scene::KeyBox,
    Scene::KeysBox,
    Scene::Grooves,
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::Leave,
    Scene::Replace,
    Scene::Changed,
    Scene::Comparison,
    Scene::Exporting,
    Scene::Rescue,
];
/// Boxes in which it types itself.
pub(super) const TEXT: &[Scene] = &[Scene::Form, Scene::Finder, Scene::Files];
/// Wherever a letter types nothing.
pub(super) const NO_TEXT: &[Scene] = &[
    Scene::Loop,
    Scene::Layers,
    Scene::Notes,
    Scene::SectionEdits,
    Scene::KeyBox,
    Scene::KeysBox,
    Scene::Grooves,
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
    Scene::Levels,
    Scene::SongForm,
    Scene::Ports,
    Scene::Piano,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::Leave,
    Scene::Replace,
    Scene::Changed,
    Scene::Comparison,
    Scene::Exporting,
    Scene::Rescue,
    Scene::Help,
];
pub(super) const EVERYWHERE: &[Scene] = &[
    Scene::Loop,
    Scene::Layers,
    Scene::Notes,
    Scene::SectionEdits,
    Scene::KeyBox,
    Scene::KeysBox,
    Scene::Grooves,
    Scene::NoteEdits,
    Scene::NoteSelects,
    Scene::Lanes,
    Scene::Ramp,
    Scene::Levels,
    Scene::SongForm,
    Scene::Ports,
    Scene::Piano,
    Scene::Form,
    Scene::Feel,
    Scene::Sections,
    Scene::Sounds,
    Scene::Finder,
    Scene::Files,
    Scene::Leave,
    Scene::Replace,
    Scene::Changed,
    Scene::Comparison,
    Scene::Exporting,
    Scene::Rescue,
    Scene::Help,
    Scene::HelpSearch,
];
