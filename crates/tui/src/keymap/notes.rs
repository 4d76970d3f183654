//! The rows of the view of the notes, and of the two lists that open over it.

use super::layers::{ARRANGE, LAYER_FEEL};
use super::rows::{DELETE, DOWN, END, ESC, HOME, LEFT, RIGHT, UP, always, moves, with};
use super::{Binding, Need, Scene};
use crate::action::Action::{Layer, Move, Note};
use crate::action::{
    Arrows, LayerAction, Move as To, NoteAction as N, NoteList, Operation, Picking, Side, Vertical,
};
use crate::input::{Code, Key};

const NOTES: &[Scene] = &[Scene::Notes];
const EDITS: &[Scene] = &[Scene::NoteEdits];
const SELECTS: &[Scene] = &[Scene::NoteSelects];
const LANES: &[Scene] = &[Scene::Lanes];
const RAMP: &[Scene] = &[Scene::Ramp];

const ESC_OR_ENTER: &[Key] = &[Key::new(Code::Esc), Key::new(Code::Enter)];

const CURSOR: &str = "Move the cursor by a mark or a row.";
const SHIFT: &str = "Move the notes earlier or later by a mark.";
const PITCH: &str =
    "Move the notes up or down a semitone; on a drum track, to the drum of the next key.";
const LENGTH: &str = "Make the notes shorter or longer by a mark.";
const VELOCITY: &str = "Make the notes louder or softer by 1.";
const VELOCITY_TEN: &str = "Make the notes softer or louder by 10.";
const ALONG: &str = "Move along the lane by a mark.";
const VALUE: &str = "Raise or lower the value at the cursor by a step: the velocity of the notes that \
    begin there, or a point of the controller, which is added if there is none.";
const VALUE_TEN: &str = "Raise or, with Shift, lower the value at the cursor by ten steps.";
const STEP: &str = "Go to the previous or next note.";
const STEP_SHIFT: &str = "Move the notes earlier or later by a tick.";
const STEP_LENGTH: &str = "Make the notes shorter or longer by a tick.";
const STEP_POINT: &str = "Go to the previous or next point or, in the velocities, note.";
const OCTAVE: &str = "Move the cursor an octave up or, with Shift, down.";
const OCTAVE_NOTES: &str = "Move the notes an octave up or, with Shift, down.";
const DONE: &str = "Give the arrows back to the cursor.";
const MENU: &str = "Move to another row, or change the number in it.";
const LANE_ENDS: &str = "Show the first or the last entry of the list.";
const LANE: &str = "Move to another entry, which the lane shows at once.";
const FIELD: &str = "Move between the value at the start, the value at the end, and the shape.";
const TEN: &str = "Raise or lower the value by ten steps.";

const CURSOR_NEED: Need = Need::Arrows(Arrows::Cursor);
const MOVE_NEED: Need = Need::Arrows(Arrows::Move);
const LENGTH_NEED: Need = Need::Arrows(Arrows::Length);
const VELOCITY_NEED: Need = Need::Arrows(Arrows::Velocity);
const LANE_NEED: Need = Need::Arrows(Arrows::Lane);

/// A row for what a key does while the arrows do this or that.
const fn while_arrows(
    need: Need,
    action: N,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
) -> Binding {
    with(need, Note(action), keys, label, sentence, NOTES)
}

/// A row of an arrow.
const fn arrow(
    need: Need,
    to: To,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
) -> Binding {
    while_arrows(need, N::Arrow(to), keys, label, sentence)
}

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
    arrow(CURSOR_NEED, To::Up, UP, "cursor", CURSOR).shown("arrows"),
    arrow(CURSOR_NEED, To::Down, DOWN, "cursor", CURSOR).shown("arrows"),
    arrow(CURSOR_NEED, To::Left, LEFT, "cursor", CURSOR).shown("arrows"),
    arrow(CURSOR_NEED, To::Right, RIGHT, "cursor", CURSOR).shown("arrows"),
    arrow(MOVE_NEED, To::Left, LEFT, "time", SHIFT),
    arrow(MOVE_NEED, To::Right, RIGHT, "time", SHIFT),
    arrow(MOVE_NEED, To::Up, UP, "pitch", PITCH),
    arrow(MOVE_NEED, To::Down, DOWN, "pitch", PITCH),
    arrow(LENGTH_NEED, To::Left, LEFT, "length", LENGTH),
    arrow(LENGTH_NEED, To::Right, RIGHT, "length", LENGTH),
    arrow(VELOCITY_NEED, To::Up, UP, "velocity", VELOCITY),
    arrow(VELOCITY_NEED, To::Down, DOWN, "velocity", VELOCITY),
    arrow(VELOCITY_NEED, To::Left, LEFT, "by ten", VELOCITY_TEN),
    arrow(VELOCITY_NEED, To::Right, RIGHT, "by ten", VELOCITY_TEN),
    arrow(LANE_NEED, To::Left, LEFT, "cursor", ALONG),
    arrow(LANE_NEED, To::Right, RIGHT, "cursor", ALONG),
    arrow(LANE_NEED, To::Up, UP, "value", VALUE),
    arrow(LANE_NEED, To::Down, DOWN, "value", VALUE),
    while_arrows(VELOCITY_NEED, N::Step(Side::Left), &[Key::char(',')], "note", STEP),
    while_arrows(VELOCITY_NEED, N::Step(Side::Right), &[Key::char('.')], "note", STEP),
    while_arrows(MOVE_NEED, N::Step(Side::Left), &[Key::char(',')], "by tick", STEP_SHIFT),
    while_arrows(MOVE_NEED, N::Step(Side::Right), &[Key::char('.')], "by tick", STEP_SHIFT),
    while_arrows(MOVE_NEED, N::Octave(Vertical::Up), &[Key::char('o')], "octave", OCTAVE_NOTES),
    while_arrows(MOVE_NEED, N::Octave(Vertical::Down), &[Key::char('O')], "octave", OCTAVE_NOTES),
    while_arrows(LENGTH_NEED, N::Step(Side::Left), &[Key::char(',')], "by tick", STEP_LENGTH),
    while_arrows(LENGTH_NEED, N::Step(Side::Right), &[Key::char('.')], "by tick", STEP_LENGTH),
    with(
        Need::Grid,
        Note(N::Draw),
        &[Key::char('d'), Key::new(Code::Insert)],
        "draw",
        "Draw a note at the cursor, a mark long and as loud as the last note you were on.",
        NOTES,
    )
    .shown("d"),
    with(
        Need::Grid,
        Note(N::Delete),
        DELETE,
        "delete",
        "Delete the selected notes, or the one under the cursor; undo brings them back.",
        NOTES,
    )
    .shown("Del"),
    while_arrows(CURSOR_NEED, N::Step(Side::Left), &[Key::char(',')], "note", STEP),
    while_arrows(CURSOR_NEED, N::Step(Side::Right), &[Key::char('.')], "note", STEP),
    while_arrows(LANE_NEED, N::Step(Side::Left), &[Key::char(',')], "point", STEP_POINT),
    while_arrows(LANE_NEED, N::Step(Side::Right), &[Key::char('.')], "point", STEP_POINT),
    while_arrows(LANE_NEED, N::Octave(Vertical::Up), &[Key::char('o')], "by ten", VALUE_TEN),
    while_arrows(LANE_NEED, N::Octave(Vertical::Down), &[Key::char('O')], "by ten", VALUE_TEN),
    while_arrows(
        LANE_NEED,
        N::Range,
        &[Key::char('x')],
        "ramp",
        "Begin a ramp here; x again where it ends asks for its values and its shape.",
    ),
    while_arrows(
        LANE_NEED,
        N::Draw,
        &[Key::char('d'), Key::new(Code::Insert)],
        "point",
        "Add a point at the cursor with the value that the controller has there.",
    )
    .shown("d"),
    while_arrows(
        LANE_NEED,
        N::Delete,
        DELETE,
        "delete",
        "Delete the points in this mark; undo brings them back.",
    )
    .shown("Del"),
    while_arrows(MOVE_NEED, N::Release, ESC_OR_ENTER, "done", DONE).shown("Esc"),
    while_arrows(LENGTH_NEED, N::Release, ESC_OR_ENTER, "done", DONE).shown("Esc"),
    while_arrows(VELOCITY_NEED, N::Release, ESC_OR_ENTER, "done", DONE).shown("Esc"),
    while_arrows(
        LANE_NEED,
        N::Release,
        ESC,
        "done",
        "Drop the start of a ramp, or give the arrows back to the cursor.",
    ),
    edit(
        N::Arrows(Arrows::Move),
        &[Key::char('m')],
        "move",
        "Let the arrows move the notes in time and pitch; {move-notes} again, or {deselect}, ends that.",
    ),
    edit(
        N::Arrows(Arrows::Length),
        &[Key::char('h')],
        "length",
        "Let the arrows make the notes longer or shorter; {note-length} again, or {deselect}, ends that.",
    ),
    edit(
        N::Arrows(Arrows::Velocity),
        &[Key::char('H')],
        "velocity",
        "Let the arrows change the velocity of the notes; {note-velocity} again, or {deselect}, ends that.",
    ),
    edit(
        N::Arrows(Arrows::Lane),
        &[Key::char('b')],
        "lane",
        "Put the arrows into the lane under the notes, which shows the velocities or a controller; \
            {lane} again, or {deselect}, ends that.",
    ),
    edit(
        N::ChooseLane,
        &[Key::char('B')],
        "controller",
        "Choose what the lane shows: the velocities, a controller, or nothing.",
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
    with(
        Need::Grid,
        Note(N::Range),
        &[Key::char('x')],
        "range",
        "Select from here to wherever the cursor goes, in time and pitch; {range} again ends that.",
        NOTES,
    ),
    while_arrows(
        CURSOR_NEED,
        N::Release,
        ESC,
        "deselect",
        "End the range that is being selected or, pressed again, select nothing.",
    ),
    while_arrows(CURSOR_NEED, N::Octave(Vertical::Up), &[Key::char('o')], "octave", OCTAVE),
    while_arrows(CURSOR_NEED, N::Octave(Vertical::Down), &[Key::char('O')], "octave", OCTAVE),
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
        "Give every key a row, or only those that have notes; a drum track shows more drums where there is room.",
    ),
    with(Need::AnyLayer, Layer(LayerAction::Arrange), &[Key::char('A')], "arrange", ARRANGE, NOTES),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Feel),
        &[Key::char('V')],
        "layer feel",
        LAYER_FEEL,
        NOTES,
    ),
    always(Move(To::First), HOME, "start", "Move to the start.", NOTES),
    always(Move(To::Last), END, "end", "Move to the end.", NOTES),
    operation(Operation::Copy, &[Key::char('c')], "copy", "Copy the notes."),
    operation(Operation::Cut, &[Key::char('x')], "cut", "Copy the notes and delete them."),
    operation(
        Operation::Paste,
        &[Key::char('v')],
        "paste",
        "Paste what was copied at the cursor: the first note lies as early or late in its mark as it did, and keys \
            stay as they are.",
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
        "Transpose the notes by the semitones in this row; on a drum track they become other drums.",
    ),
    operation(Operation::Reverse, &[Key::char('b')], "backwards", "Reverse the notes in time."),
    operation(
        Operation::Invert,
        &[Key::char('i')],
        "upside down",
        "Turn the notes upside down: the lowest and the highest change places.",
    ),
    operation(
        Operation::InvertFirst,
        &[Key::char('f')],
        "around first",
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
        "delete",
        "Delete every nth of the notes, counted in time.",
    ),
    operation(
        Operation::SplitOff,
        &[Key::char('l')],
        "new layer",
        "Move the notes into a layer of their own, right above theirs: {layer-feel} then gives it a feel of \
            its own.",
    ),
    operation(
        Operation::AsPlayed,
        &[Key::char('p')],
        "as played",
        "Restore the notes exactly as you played them.",
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
    moves(To::Up, UP, "choose", LANE, LANES),
    moves(To::Down, DOWN, "choose", LANE, LANES),
    moves(To::Left, LEFT, "choose", LANE, LANES),
    moves(To::Right, RIGHT, "choose", LANE, LANES),
    always(Move(To::Down), &[Key::char('B')], "next", "Show the next entry of the list.", LANES),
    always(Move(To::First), HOME, "first/last", LANE_ENDS, LANES),
    always(Move(To::Last), END, "first/last", LANE_ENDS, LANES),
    always(Move(To::Up), UP, "setting", FIELD, RAMP),
    always(Move(To::Down), DOWN, "setting", FIELD, RAMP),
    always(Move(To::PageUp), &[Key::new(Code::PageUp)], "by ten", TEN, RAMP),
    always(Move(To::PageDown), &[Key::new(Code::PageDown)], "by ten", TEN, RAMP),
    moves(To::Up, UP, "choose", MENU, SELECTS),
    moves(To::Down, DOWN, "choose", MENU, SELECTS),
    moves(To::Left, LEFT, "choose", MENU, SELECTS),
    moves(To::Right, RIGHT, "choose", MENU, SELECTS),
];
