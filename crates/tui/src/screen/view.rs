//! The views: what fills the body of the screen. One of them is shown, and each keeps its place while
//! another is.

use super::Screen;
use crate::action::Side;
use crate::keymap::Scene;

/// What fills the body of the screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum View {
    /// All tracks along a time axis.
    #[default]
    Loop,
    /// The stack of one track's layers.
    Layers,
    /// The notes of a layer, pitch by time.
    Notes,
    /// Volume and pan of every track.
    Levels,
    /// The song's sections, and the form that they make.
    Form,
    /// The ports and how well the clock keeps time.
    Ports,
}

impl View {
    /// Every view, in the order in which one key goes from each to the next.
    pub const ALL: [View; 6] =
        [View::Loop, View::Layers, View::Notes, View::Levels, View::Form, View::Ports];

    /// Its name on the screen.
    pub fn name(self) -> &'static str {
        match self {
            View::Loop => "loop",
            View::Layers => "layers",
            View::Notes => "notes",
            View::Levels => "levels",
            View::Form => "form",
            View::Ports => "ports",
        }
    }

    /// The scene that gets the keys while nothing is open over it.
    pub fn scene(self) -> Scene {
        match self {
            View::Loop => Scene::Loop,
            View::Layers => Scene::Layers,
            View::Notes => Scene::Notes,
            View::Levels => Scene::Levels,
            View::Form => Scene::SongForm,
            View::Ports => Scene::Ports,
        }
    }

    /// The view beside it; the last and the first are neighbours.
    fn beside(self, side: Side) -> View {
        let count = View::ALL.len();
        let at = View::ALL.iter().position(|&view| view == self).unwrap_or(0);
        let step = if side == Side::Left { count - 1 } else { 1 };
        View::ALL[(at + step) % count]
    }
}

impl Screen {
    /// Shows another view. The notes give the arrows back to their cursor, so that their keys mean the same
    /// whenever the view is shown again.
    pub(super) fn go_to(&mut self, view: View) {
        if view != View::Notes {
            self.notes.leave();
        }
        self.view = view;
    }

    /// Shows the view beside the one shown.
    pub(super) fn go_beside(&mut self, side: Side) {
        self.go_to(self.view.beside(side));
    }
}
