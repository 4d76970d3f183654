//! Moving along the time axis and zooming: which part of the music is visible.

use super::Screen;
use crate::action::{Detail, Side};
use crate::axis::{Grain, Level};
use crate::desk::DeskState;
use crate::draw::loop_fit;
use chaconne_engine::Transport;
use chaconne_time::Tick;

impl Screen {
    /// Keeps the position of the transport visible, once it moves; in the count-in, the one that it leads to.
    pub(super) fn follow_position(&mut self, state: &DeskState) {
        let status = &state.status;
        let counts_in = status.transport == Transport::CountingIn;
        let moved = self.axis.follow(if counts_in { status.begins } else { status.in_section });
        if counts_in && !std::mem::replace(&mut self.seen.counts_in, counts_in) {
            // A page turned to while stopped need not have that bar.
            self.axis.turn_to(status.begins);
        }
        self.seen.counts_in = counts_in;
        self.version += u64::from(moved && !state.is_playing());
    }

    /// Makes the marks finer or coarser, as far as that changes anything.
    pub(super) fn zoom(&mut self, detail: Detail, state: &DeskState) {
        let Some(fit) = loop_fit(state, self) else { return };
        let level = self.axis.level(fit.level);
        let wanted = match detail {
            Detail::Finer if level == Level::FINEST => {
                return self.say("One mark is one tick: there is nothing finer.");
            }
            Detail::Finer => level.step(-1),
            Detail::Coarser if fit.scale.is_whole() && is_coarsest(fit.scale.grain) => {
                return self.say("All the bars are already showing.");
            }
            Detail::Coarser => level.step(1),
        };
        self.axis.zoom_to(wanted, fit.level);
    }

    /// Turns to the page of bars before or after.
    pub(super) fn turn_page(&mut self, side: Side, state: &DeskState) {
        let Some(fit) = loop_fit(state, self) else { return };
        let scale = fit.scale;
        match side {
            _ if scale.is_whole() => self.say("All the bars are already showing."),
            Side::Left if scale.start() == Tick::ZERO => self.say("This is the first page."),
            Side::Left => self.axis.turn_to(scale.start() - Tick(1)),
            Side::Right if scale.end() >= scale.length => self.say("This is the last page."),
            Side::Right => self.axis.turn_to(scale.end()),
        }
    }
}

/// Whether a mark stands for whole bars: coarser marks would only hide them.
fn is_coarsest(grain: Grain) -> bool {
    matches!(grain, Grain::Bars(_))
}
