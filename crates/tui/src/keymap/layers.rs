//! The rows of the view of the layers.

use super::Need;
use super::rows::{DELETE, DOWN, END, HOME, PAGE_DOWN, PAGE_UP, UP, always, with, with_track};
use super::table::CHOOSE;
use super::{Binding, Scene};
use crate::action::Action::{Choose, Layer, Move};
use crate::action::{LayerAction, Move as To, Vertical};
use crate::input::Key;

const LAYERS: &[Scene] = &[Scene::Layers];

const CURSOR: &str = "Move to the layer above or below.";
const ENDS: &str = "Move to the top or bottom layer.";
const SHIFT: &str = "Move the layer up or down in the stack: a layer that replaces others silences \
    those below it.";

/// What sets the feel of a layer, here and in the notes.
pub(super) const LAYER_FEEL: &str =
    "Give the layer a feel of its own, by ear, or make it follow its track again.";

/// What arranges a layer, here and in the notes.
pub(super) const ARRANGE: &str = "Arrange the layer, or all layers of the track here: another length, double, halve, \
    half time, double time, or the section's own.";

/// The table.
pub const TABLE: &[Binding] = &[
    always(Move(To::Up), UP, "layer", CURSOR, LAYERS),
    always(Move(To::Down), DOWN, "layer", CURSOR, LAYERS),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Mute),
        &[Key::char('m')],
        "mute",
        "Mute or unmute the layer. A mute is part of the song.",
        LAYERS,
    ),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Solo),
        &[Key::char('s')],
        "solo",
        "Solo the layer within its track, or end the solo. Not part of the song.",
        LAYERS,
    ),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Remove),
        DELETE,
        "remove",
        "Remove the layer; undo brings it back.",
        LAYERS,
    )
    .shown("Del"),
    with_track(Choose(Vertical::Up), PAGE_UP, "track", CHOOSE, LAYERS),
    with_track(Choose(Vertical::Down), PAGE_DOWN, "track", CHOOSE, LAYERS),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Arrange),
        &[Key::char('A')],
        "arrange",
        ARRANGE,
        LAYERS,
    ),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Feel),
        &[Key::char('V')],
        "layer feel",
        LAYER_FEEL,
        LAYERS,
    ),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Shift(Vertical::Up)),
        &[Key::char(',')],
        "move",
        SHIFT,
        LAYERS,
    ),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Shift(Vertical::Down)),
        &[Key::char('.')],
        "move",
        SHIFT,
        LAYERS,
    ),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Own),
        &[Key::char('o')],
        "own",
        "Make the layer this section's own, so that changes no longer reach the other sections \
            that share it.",
        LAYERS,
    ),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Merge),
        &[Key::char('b')],
        "merge",
        "Merge the layer with the one below it: they become one layer that sounds as both did. Undo \
            separates them again.",
        LAYERS,
    ),
    with(
        Need::AnyLayer,
        Layer(LayerAction::Name),
        &[Key::char('e')],
        "name",
        "Name the layer, such as hats or fill.",
        LAYERS,
    ),
    always(Move(To::First), HOME, "top/bottom", ENDS, LAYERS),
    always(Move(To::Last), END, "top/bottom", ENDS, LAYERS),
];
