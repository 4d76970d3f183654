//! The rows about the list of tracks, in the views that show it, and about the song as a whole.

use super::rows::{always, with_track};
use super::{Binding, Scene};
use crate::action::Action::{EditSong, Track};
use crate::action::{TrackAction, Vertical};
use crate::input::Key;

const LISTS: &[Scene] = &[Scene::Loop, Scene::Levels];
const LOOP: &[Scene] = &[Scene::Loop];
const VIEWS: &[Scene] =
    &[Scene::Loop, Scene::Layers, Scene::Notes, Scene::Levels, Scene::SongForm, Scene::Ports];

const SHIFT: &str = "Move the chosen track up or down in the list.";

/// The table.
pub const TABLE: &[Binding] = &[
    with_track(
        Track(TrackAction::Edit),
        &[Key::char('e')],
        "edit track",
        "Change the name, the kind, the channel and the port of the chosen track.",
        LISTS,
    ),
    with_track(Track(TrackAction::Shift(Vertical::Up)), &[Key::char(',')], "shift", SHIFT, LOOP),
    with_track(Track(TrackAction::Shift(Vertical::Down)), &[Key::char('.')], "shift", SHIFT, LOOP),
    with_track(
        Track(TrackAction::Remove),
        &[Key::char('X')],
        "remove track",
        "Remove the chosen track with all its layers; undo brings it back.",
        LISTS,
    ),
    always(
        EditSong,
        &[Key::char('E')],
        "edit song",
        "Change the title and the key of the song, and transpose it.",
        VIEWS,
    ),
];
