//! The rows of the box for what keys play. Letters on the two rows of the piano sound there, so only keys off those
//! rows do something.

use super::rows::{DELETE, DOWN, ENTER, PAGE_DOWN, PAGE_UP, SPACE, UP, always, with};
use super::scenes::KEYS_BOX;
use super::table::{LENGTH, REDO, UNDO};
use super::{Binding, Need};
use crate::action::Action::*;
use crate::action::{KeysAction, Move as To, Vertical};
use crate::input::{Code, Key};

const SETTING: &str =
    "Move to another setting. Letters and inputs sound: you hear each change with the next key.";
const OCTAVE: &str =
    "Move the two rows of letters down or up an octave, and the chosen key with them.";

/// The table.
pub const TABLE: &[Binding] = &[
    always(Move(To::Up), UP, "setting", SETTING, KEYS_BOX),
    always(Move(To::Down), DOWN, "setting", SETTING, KEYS_BOX),
    always(
        Confirm,
        ENTER,
        "set chord",
        "Type the chord that the chosen key is to play, such as Am7; an empty field gives back the chord in the key.",
        KEYS_BOX,
    ),
    always(
        Keys(KeysAction::PickUp),
        &[Key::char('c')],
        "pick up",
        "Pick up the chord that you just played: the key that you strike next gets it.",
        KEYS_BOX,
    ),
    always(
        Keys(KeysAction::Strike),
        &[Key::char('n')],
        "choose key",
        "Choose a key by striking it, on any input; a letter of the piano chooses its key at once.",
        KEYS_BOX,
    ),
    always(
        Keys(KeysAction::Reset),
        DELETE,
        "reset chord",
        "Take the chord of its own from the chosen key: it plays its chord in the key again.",
        KEYS_BOX,
    ),
    always(Octave(Vertical::Down), PAGE_DOWN, "octave", OCTAVE, KEYS_BOX),
    always(Octave(Vertical::Up), PAGE_UP, "octave", OCTAVE, KEYS_BOX),
    with(
        Need::Stopped,
        PlayOrStop,
        SPACE,
        "play",
        "Loop the section shown, to hear the chords with it.",
        KEYS_BOX,
    ),
    with(Need::Moving, PlayOrStop, SPACE, "stop", "Stop the loop (while playing).", KEYS_BOX),
    with(Need::Undo, Undo, &[Key::new(Code::Backspace)], "undo", UNDO, KEYS_BOX),
    with(Need::Redo, Redo, &[Key::ctrl('y')], "redo", REDO, KEYS_BOX),
    always(NextLength, &[Key::char('x')], "note length", LENGTH, KEYS_BOX),
    always(
        Cancel,
        &[Key::new(Code::Esc), Key::ctrl('k')],
        "close",
        "Close the box, or drop a chord that is picked up. What is set stays.",
        KEYS_BOX,
    )
    .shown("Esc"),
];
