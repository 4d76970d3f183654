//! The keys of the view of ports and timing.

use super::rows::always;
use super::{Binding, Scene};
use crate::action::Action;
use crate::input::Key;

const PORTS: &[Scene] = &[Scene::Ports];

/// The table.
pub const TABLE: &[Binding] = &[always(
    Action::RestartTiming,
    &[Key::char('z')],
    "reset figures",
    "Reset the lateness figures and start counting again.",
    PORTS,
)];
