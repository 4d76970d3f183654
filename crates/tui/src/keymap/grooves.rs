//! The rows about grooves: taking one and showing them in the views, and those of their box.

use super::rows::{
    DELETE, DOWN, END, ENTER, HOME, LEFT, PAGE_DOWN, PAGE_UP, RIGHT, UP, always, moves, with,
};
use super::{Binding, Need, Scene};
use crate::action::Action::{Confirm, Groove};
use crate::action::{GrooveAction, Move as To};
use crate::input::Key;

const PLAYED: &[Scene] = &[Scene::Loop, Scene::Layers, Scene::Notes];
const VIEWS: &[Scene] =
    &[Scene::Loop, Scene::Layers, Scene::Notes, Scene::Levels, Scene::SongForm, Scene::Ports];
const GROOVES: &[Scene] = &[Scene::Grooves];

const TAKE: &str = "Take the timing and loudness of the chosen layer, of the notes shown or, in the loop, of the whole \
    track as a groove, which can be given to others.";
const PICK: &str = "Move to another groove.";
const BAR: &str = "Show the previous or next bar of the groove.";

/// The table.
pub const TABLE: &[Binding] = &[
    with(Need::AnyLayer, Groove(GrooveAction::Take), &[Key::char('N')], "new groove", TAKE, PLAYED),
    with(
        Need::Groove,
        Groove(GrooveAction::Show),
        &[Key::char('P')],
        "grooves",
        "Show the grooves of the song as curves over the bar, and give one to the chosen track.",
        VIEWS,
    ),
    always(
        Confirm,
        ENTER,
        "give",
        "Give the groove to the chosen track, all of it; {feel} then sets how much.",
        GROOVES,
    ),
    always(Groove(GrooveAction::Name), &[Key::char('e')], "rename", "Rename the groove.", GROOVES),
    always(
        Groove(GrooveAction::Remove),
        DELETE,
        "remove",
        "Remove the groove, unless it is given to a track or layer; undo brings it back.",
        GROOVES,
    )
    .shown("Del"),
    moves(To::Up, UP, "choose", PICK, GROOVES),
    moves(To::Down, DOWN, "choose", PICK, GROOVES),
    moves(To::PageUp, PAGE_UP, "choose", PICK, GROOVES),
    moves(To::PageDown, PAGE_DOWN, "choose", PICK, GROOVES),
    moves(To::First, HOME, "choose", PICK, GROOVES),
    moves(To::Last, END, "choose", PICK, GROOVES),
    always(crate::action::Action::Move(To::Left), LEFT, "bar", BAR, GROOVES),
    always(crate::action::Action::Move(To::Right), RIGHT, "bar", BAR, GROOVES),
];
