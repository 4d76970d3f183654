//! The keys of the view of ports and timing.

use super::table::always;
use super::{Binding, Scene};
use crate::action::Action;
use crate::input::Key;

const PORTS: &[Scene] = &[Scene::Ports];

/// The table.
pub const TABLE: &[Binding] = &[always(
    Action::RestartTiming,
    &[Key::char('z')],
    "zero figures",
    "Set the figures of lateness to zero and count afresh.",
    PORTS,
)];
