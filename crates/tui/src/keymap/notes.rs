//! The rows of the view of the notes, and of the two lists that open over it.

use super::table::{
    DELETE, DOWN, END, ESC, HOME, LEFT, RIGHT, UP, always, moves, with, with_track,
};
use super::{Binding, Need, Scene};
use crate::action::Action::{Move, Note};
use crate::action::{
    Arrows, Move as To, NoteAction as N, NoteList, Operation, Picking, Side, Vertical,
};
use crate::input::{Code, Key};

const NOTES: &[Scene] = &[Scene::Notes];
const EDITS: &[Scene] = &[Scene::NoteEdits];
const SELECTS: &[Scene] = &[Scene::NoteSelects];

const CURSOR: &str =
    "Move the cursor by a mark or a row; after m, h or H change the notes instead.";
const STEP: &str = "Go to the previous or next note; after m or h, change the notes by a tick.";
const OCTAVE: &str = "Move the cursor an octave up or, with Shift, down; after m, move the notes.";
const MENU: &str = "Move to another row, or change the number in it.";

/// A row that changes notes.
const fn edit(
    action: N,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
) -> Binding {
    with(Need::AnyLayer, Note(action), keys, label, sentence, NOTES)
}

/// A row of the list of operations.
const fn operation(
    operation: Operation,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
) -> Binding {
    always(Note(N::Do(operation)), keys, label, sentence, EDITS)
}

/// A row of the list of selections.
const fn picking(
    picking: Picking,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
) -> Binding {
    always(Note(N::Pick(picking)), keys, label, sentence, SELECTS)
}

/// The table.
pub const TABLE: &[Binding] = &[
    moves(To::Up, UP, "cursor", CURSOR, NOTES),
    moves(To::Down, DOWN, "cursor", CURSOR, NOTES),
    moves(To::Left, LEFT, "cursor", CURSOR, NOTES),
    moves(To::Right, RIGHT, "cursor", CURSOR, NOTES),
    edit(N::Step(Side::Left), &[Key::char(',')], "note", STEP),
    edit(N::Step(Side::Right), &[Key::char('.')], "note", STEP),
    with_track(
        Note(N::Draw),
        &[Key::char('d'), Key::new(Code::Insert)],
        "draw",
        "Draw a note at the cursor, a mark long and as hard as the last note you were on.",
        NOTES,
    )
    .shown("d"),
    edit(
        N::Delete,
        DELETE,
        "delete",
        "Delete the selected notes, or the one under the cursor; undo brings them back.",
    )
    .shown("Del"),
    edit(
        N::Arrows(Arrows::Move),
        &[Key::char('m')],
        "move",
        "Let the arrows move the notes by a mark or a semitone; m again, or Esc, ends that.",
    ),
    edit(
        N::Arrows(Arrows::Hold),
        &[Key::char('h')],
        "hold",
        "Let the arrows make the notes longer or shorter by a mark; h again, or Esc, ends that.",
    ),
    edit(
        N::Arrows(Arrows::Force),
        &[Key::char('H')],
        "harder",
        "Let the arrows change how hard the notes are struck: up and down by 1, left and right by \
            10; H again, or Esc, ends that.",
    ),
    edit(
        N::Open(NoteList::Edit),
        &[Key::char('e')],
        "edit",
        "Open the list of what else can be done: copy, paste, reverse, split and more.",
    ),
    edit(
        N::Open(NoteList::Select),
        &[Key::char('s')],
        "select",
        "Open the list of ways to select notes.",
    ),
    edit(
        N::Range,
        &[Key::char('x')],
        "stretch",
        "Select from here to wherever the cursor goes, in time and pitch; x again ends that.",
    ),
    always(
        Note(N::Release),
        ESC,
        "let go",
        "Give the arrows back to the cursor, stop stretching, or select nothing.",
        NOTES,
    ),
    edit(N::Octave(Vertical::Up), &[Key::char('o')], "octave", OCTAVE),
    edit(N::Octave(Vertical::Down), &[Key::char('O')], "octave", OCTAVE),
    edit(
        N::Layers,
        &[Key::char('y')],
        "all layers",
        "Show and change all layers of the track, or only the one chosen in the view of the layers.",
    ),
    edit(
        N::Keys,
        &[Key::char('z')],
        "all keys",
        "Give every key a row, or only those that have notes.",
    ),
    always(Move(To::First), HOME, "start", "Move to the start.", NOTES),
    always(Move(To::Last), END, "end", "Move to the end.", NOTES),
    operation(Operation::Copy, &[Key::char('c')], "copy", "Copy the notes."),
    operation(Operation::Cut, &[Key::char('x')], "cut", "Copy the notes and delete them."),
    operation(
        Operation::Paste,
        &[Key::char('v')],
        "paste",
        "Paste what was copied: the first note begins at the cursor, and keys stay as they are.",
    ),
    operation(
        Operation::Repeat,
        &[Key::char('r')],
        "repeat",
        "Paste the notes right after themselves: several at the next beat, one in the next mark.",
    ),
    operation(
        Operation::Transpose,
        &[Key::char('t')],
        "transpose",
        "Transpose the notes by the semitones in this row.",
    ),
    operation(Operation::Reverse, &[Key::char('b')], "backwards", "Reverse the notes in time."),
    operation(
        Operation::Invert,
        &[Key::char('i')],
        "invert",
        "Turn the notes upside down: the lowest and the highest change places.",
    ),
    operation(
        Operation::InvertFirst,
        &[Key::char('f')],
        "invert first",
        "Turn the notes upside down around the first of them.",
    ),
    operation(
        Operation::Split,
        &[Key::char('s')],
        "split",
        "Split the notes that sound at the cursor in two.",
    ),
    operation(
        Operation::Join,
        &[Key::char('j')],
        "join",
        "Join the notes of each pitch into one, or a single note with the next of its pitch.",
    ),
    operation(
        Operation::Thin,
        &[Key::char('n')],
        "thin",
        "Delete every nth of the notes, counted in time.",
    ),
    operation(
        Operation::AsPlayed,
        &[Key::char('p')],
        "as played",
        "Put the notes back where they were played, in every respect.",
    ),
    picking(Picking::All, &[Key::char('a')], "all", "Select all notes."),
    picking(Picking::None, &[Key::char('n')], "none", "Select nothing."),
    picking(Picking::Others, &[Key::char('o')], "others", "Select those that are not selected."),
    picking(
        Picking::Pitch,
        &[Key::char('p')],
        "pitch",
        "Select the notes in the row of the cursor.",
    ),
    picking(Picking::Bar, &[Key::char('b')], "bar", "Select the notes of this bar."),
    picking(Picking::Beat, &[Key::char('t')], "beat", "Select the notes of this beat."),
    picking(
        Picking::Every,
        &[Key::char('e')],
        "every",
        "Of the selected notes, or else of all, select the first and then every nth.",
    ),
    picking(
        Picking::Louder,
        &[Key::char('l')],
        "louder",
        "Of the selected notes, or else of all, select those that are louder than this.",
    ),
    picking(
        Picking::Softer,
        &[Key::char('s')],
        "softer",
        "Of the selected notes, or else of all, select those that are softer than this.",
    ),
    moves(To::Up, UP, "choose", MENU, EDITS),
    moves(To::Down, DOWN, "choose", MENU, EDITS),
    moves(To::Left, LEFT, "choose", MENU, EDITS),
    moves(To::Right, RIGHT, "choose", MENU, EDITS),
    moves(To::Up, UP, "choose", MENU, SELECTS),
    moves(To::Down, DOWN, "choose", MENU, SELECTS),
    moves(To::Left, LEFT, "choose", MENU, SELECTS),
    moves(To::Right, RIGHT, "choose", MENU, SELECTS),
];
