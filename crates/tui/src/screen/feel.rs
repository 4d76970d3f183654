//! The feel of a track, heard while it is set: grid, pull, reach, swing, rolls.
//!
//! However much is tried, it is one step of undo; what is cancelled is none.

use super::{Awaited, Effect, Overlay, Screen};
use crate::action::{Move, Side};
use chaconne_engine::Command;
use chaconne_song::{Commit, Edit, Feel, Label, Swing, Track, TrackEdit, TrackId};
use chaconne_time::NoteValue;

/// A setting of the feel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FeelField {
    /// The grid, or none: as played.
    Grid,
    /// How far notes go to the grid.
    Pull,
    /// How near they must be.
    Reach,
    /// Where every second grid step starts.
    Swing,
    /// Whether rolls keep together.
    Rolls,
}

impl FeelField {
    /// All of them, in the order on the screen.
    pub const ALL: [FeelField; 5] =
        [FeelField::Grid, FeelField::Pull, FeelField::Reach, FeelField::Swing, FeelField::Rolls];

    /// Its name on the screen.
    pub fn name(self) -> &'static str {
        match self {
            FeelField::Grid => "grid",
            FeelField::Pull => "pull",
            FeelField::Reach => "reach",
            FeelField::Swing => "swing",
            FeelField::Rolls => "rolls",
        }
    }

    /// What it does, in one sentence.
    pub fn sentence(self) -> &'static str {
        match self {
            FeelField::Grid => "The grid that notes are pulled to; swing delays its off-beats.",
            FeelField::Pull => "How far notes go to the grid: 100 % is all the way.",
            FeelField::Reach => "How near notes must be to go there: 100 % moves them all.",
            FeelField::Swing => "Where the off-beats fall: 50 % straight, 67 % triplet.",
            FeelField::Rolls => "Whether fast strokes of one drum move together.",
        }
    }
}

/// How much one press changes a percentage.
const STEP: u8 = 5;
/// The same for swing, in hundredths of a percent.
const SWING_STEP: u16 = 100;

/// The feel being set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FeelPick {
    /// Whose feel.
    pub track: TrackId,
    /// The setting under the cursor.
    pub field: FeelField,
    /// The feel as it is heard now.
    pub feel: Feel,
    /// The feel before.
    before: Feel,
    /// Whether another feel has been heard.
    tried: bool,
}

impl FeelPick {
    /// Opens at what the track has.
    pub fn new(track: &Track) -> FeelPick {
        let feel = track.feel;
        FeelPick { track: track.id, field: FeelField::Grid, feel, before: feel, tried: false }
    }

    /// Plays the track with a feel.
    fn set(&mut self, feel: Feel, out: &mut Vec<Effect>) {
        if feel == self.feel {
            return;
        }
        self.feel = feel;
        // Always all of it, so that the steps join whatever they change.
        let edits = [
            TrackEdit::Grid(feel.grid),
            TrackEdit::Pull(feel.pull),
            TrackEdit::Reach(feel.reach),
            TrackEdit::Swing(feel.swing),
            TrackEdit::Rolls(feel.rolls),
        ];
        let edits = edits.into_iter().map(|edit| Edit::Track(self.track, edit)).collect();
        let commit = Commit::new(Label::Feel, edits);
        // The first starts a step of undo, the others belong to it.
        let is_first = !std::mem::replace(&mut self.tried, true);
        let command = if is_first { Command::Edit(commit) } else { Command::EditOn(commit) };
        out.push(Effect::Command(command));
    }

    pub(super) fn go(&mut self, to: Move) {
        let at = FeelField::ALL.iter().position(|&field| field == self.field).unwrap_or(0);
        let last = FeelField::ALL.len() - 1;
        let next = match to {
            Move::Up | Move::Left => at.saturating_sub(1),
            Move::Down | Move::Right => (at + 1).min(last),
            Move::PageUp | Move::First => 0,
            Move::PageDown | Move::Last => last,
        };
        self.field = FeelField::ALL[next];
    }

    /// Changes the setting under the cursor by a step.
    pub(super) fn adjust(&mut self, side: Side, out: &mut Vec<Effect>) {
        let feel = self.feel;
        let percent = |value: u8| match side {
            Side::Left => value.saturating_sub(STEP),
            Side::Right => (value + STEP).min(100),
        };
        let changed = match self.field {
            FeelField::Grid => Feel { grid: beside(feel.grid, side), ..feel },
            FeelField::Pull => Feel { pull: percent(feel.pull), ..feel },
            FeelField::Reach => Feel { reach: percent(feel.reach), ..feel },
            FeelField::Swing => Feel { swing: swung(feel.swing, side), ..feel },
            FeelField::Rolls => Feel { rolls: side == Side::Right, ..feel },
        };
        self.set(changed, out);
    }

    /// Gives the track back the feel it had, if another was tried.
    pub(super) fn put_back(&mut self, out: &mut Vec<Effect>) {
        self.set(self.before, out);
    }
}

/// The next finer grid, or the next coarser one. Playing as played comes before them all.
fn beside(grid: Option<NoteValue>, side: Side) -> Option<NoteValue> {
    let at = grid.and_then(|grid| NoteValue::grids().position(|known| known == grid));
    let last = NoteValue::grids().count() - 1;
    let next = match (side, at) {
        (Side::Left, at) => at?.checked_sub(1)?,
        (Side::Right, None) => 0,
        (Side::Right, Some(at)) => (at + 1).min(last),
    };
    NoteValue::grids().nth(next)
}

/// A swing one step away, as far as swing goes. A step leads to a whole percent.
fn swung(swing: Swing, side: Side) -> Swing {
    let now = swing.hundredths();
    let next = match side {
        Side::Left => (now - 1) / SWING_STEP * SWING_STEP,
        Side::Right => (now / SWING_STEP + 1) * SWING_STEP,
    };
    Swing::from_hundredths(next).unwrap_or(swing)
}

impl Screen {
    pub(super) fn confirm_feel(&mut self) {
        let Some(Overlay::Feel(pick)) = self.overlays.close() else { return };
        // What it is at is heard already.
        if let Some(grid) = pick.feel.grid {
            self.last_grids.insert(pick.track, grid);
        }
        self.awaited = Some(Awaited::Feel(pick.track));
    }

    /// Changes the field of a form, or the setting of a feel, under the cursor.
    pub(super) fn adjust(&mut self, side: Side, out: &mut Vec<Effect>) {
        match self.overlays.top_mut() {
            Some(Overlay::Form(form)) => form.adjust(side),
            Some(Overlay::Feel(pick)) => pick.adjust(side, out),
            Some(Overlay::Ramp(pick)) => pick.adjust(side, out),
            _ => {}
        }
    }
}
