//! The rows of the view of the levels. Its arrows choose the track, as in the loop.

use super::Need;
use super::rows::{DELETE, LEFT, RIGHT, with};
use super::{Binding, Scene};
use crate::action::Action::{self, Level};
use crate::action::{LevelAction, Side, Vertical};
use crate::input::Key;

const LEVELS: &[Scene] = &[Scene::Levels];

const VOLUME: &str = "Turn the volume of the track down or up. While you record the track, the change is recorded as a move that goes round with the pass; otherwise the song keeps it as its level.";
const PAN: &str = "Pan the track to the left or right. While you record the track, the change is recorded as a move; otherwise the song keeps it.";

const fn row(
    action: Action,
    keys: &'static [Key],
    label: &'static str,
    sentence: &'static str,
) -> Binding {
    with(Need::Track, action, keys, label, sentence, LEVELS)
}

/// The table.
pub const TABLE: &[Binding] = &[
    row(Level(LevelAction::Volume(Vertical::Down)), LEFT, "volume", VOLUME),
    row(Level(LevelAction::Volume(Vertical::Up)), RIGHT, "volume", VOLUME),
    row(Level(LevelAction::Pan(Side::Left)), &[Key::char(',')], "pan", PAN),
    row(Level(LevelAction::Pan(Side::Right)), &[Key::char('.')], "pan", PAN),
    row(
        Level(LevelAction::Clear),
        DELETE,
        "clear",
        "Clear the track's volume and pan: the instrument keeps its own.",
    )
    .shown("Del"),
];
