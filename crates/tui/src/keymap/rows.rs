//! How rows of the tables are written, and the keys that several of them share.

use super::{Binding, Need, Scene};
use crate::action::Action::{self, Move};
use crate::action::Move as To;
use crate::input::{Code, Key};

pub(super) const UP: &[Key] = &[Key::new(Code::Up)];
pub(super) const DOWN: &[Key] = &[Key::new(Code::Down)];
pub(super) const LEFT: &[Key] = &[Key::new(Code::Left)];
pub(super) const RIGHT: &[Key] = &[Key::new(Code::Right)];
pub(super) const PAGE_UP: &[Key] = &[Key::new(Code::PageUp)];
pub(super) const PAGE_DOWN: &[Key] = &[Key::new(Code::PageDown)];
pub(super) const HOME: &[Key] = &[Key::new(Code::Home)];
pub(super) const END: &[Key] = &[Key::new(Code::End)];
pub(super) const DELETE: &[Key] = &[Key::new(Code::Delete)];
/// Undo where letters do something; the second key undoes in piano mode, too.
pub(super) const UNDO_KEYS: &[Key] = &[Key::char('u'), Key::new(Code::Backspace)];
/// Redo where letters do something; the second key redoes in piano mode, too.
pub(super) const REDO_KEYS: &[Key] = &[Key::char('U'), Key::ctrl('y')];
pub(super) const ENTER: &[Key] = &[Key::new(Code::Enter)];
pub(super) const ESC: &[Key] = &[Key::new(Code::Esc)];
pub(super) const SPACE: &[Key] = &[Key::char(' ')];
/// The key of the finder where letters type or play something.
pub(super) const FIND: Key = Key::new(Code::F(9));

/// A row that always applies.
pub(super) const fn always(
    action: Action,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
    scenes: &'static [Scene],
) -> Binding {
    Binding::new(action, keys, label, sentence, scenes, Need::Nothing)
}

/// A row that needs a track.
pub(super) const fn with_track(
    action: Action,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
    scenes: &'static [Scene],
) -> Binding {
    Binding::new(action, keys, label, sentence, scenes, Need::Track)
}

/// A row that needs something.
pub(super) const fn with(
    need: Need,
    action: Action,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
    scenes: &'static [Scene],
) -> Binding {
    Binding::new(action, keys, label, sentence, scenes, need)
}

/// A row for moving among choices or lines.
pub(super) const fn moves(
    to: To,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
    scenes: &'static [Scene],
) -> Binding {
    always(Move(to), keys, label, sentence, scenes).shown("arrows")
}
