//! The feel of a track, or of a layer in its place, heard while it is set: grid, pull, reach, swing, rolls.
//!
//! However much is tried, it is one step of undo; what is cancelled is none.

use super::{Awaited, Effect, Overlay, Screen};
use crate::action::{Move, Side, Vertical};
use crate::input::{Code, Key};
use crate::numbers::short_value;
use chaconne_engine::Command;
use chaconne_song::{
    Commit, Edit, Feel, Label, Pass, PassEdit, PassId, Swing, Track, TrackEdit, TrackId,
};
use chaconne_time::{NoteKind, NoteValue};

/// A setting of the feel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FeelField {
    /// Whether a layer has a feel of its own.
    Whose,
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
    const ALL: [FeelField; 6] = [
        FeelField::Whose,
        FeelField::Grid,
        FeelField::Pull,
        FeelField::Reach,
        FeelField::Swing,
        FeelField::Rolls,
    ];

    /// Its name on the screen.
    pub fn name(self) -> &'static str {
        match self {
            FeelField::Whose => "feel",
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
            FeelField::Whose => "Whether the layer has a feel of its own.",
            FeelField::Grid => "Notes move to this grid. It can be typed: 1/8, 1/8t, 1/8d.",
            FeelField::Pull => "How far notes move to the grid: 100 % is all the way.",
            FeelField::Reach => "How near notes must be to move: 100 % moves them all.",
            FeelField::Swing => "Delays every second step: 50 % is even, 67 % is triplets.",
            FeelField::Rolls => "Flams and rolls move as one.",
        }
    }
}

/// How much one press changes a percentage.
const STEP: u8 = 5;
/// The same for swing, in hundredths of a percent.
const SWING_STEP: u16 = 100;

/// Whose feel it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Of {
    /// That of a track.
    Track,
    /// That of a layer, with what it has if it has none of its own: that of its track.
    Layer(PassId, Feel),
}

/// The feel being set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FeelPick {
    of: Of,
    /// The track, or that of the layer.
    pub track: TrackId,
    /// The setting under the cursor.
    pub field: FeelField,
    /// The feel as it is heard now.
    pub feel: Feel,
    /// Whether it is one of its own: always, for a track.
    pub own: bool,
    /// The same two before.
    before: (Feel, bool),
    /// Whether another feel has been heard.
    tried: bool,
    /// What is typed of a value.
    typed: String,
}

impl FeelPick {
    /// Opens at what the track has.
    pub fn new(track: &Track) -> FeelPick {
        FeelPick::opened(Of::Track, track.id, track.feel, true)
    }

    /// Opens at what a layer of a track has.
    pub fn of_layer(pass: &Pass, track: &Track) -> FeelPick {
        let feel = pass.feel.unwrap_or(track.feel);
        FeelPick::opened(Of::Layer(pass.id, track.feel), track.id, feel, pass.feel.is_some())
    }

    fn opened(of: Of, track: TrackId, feel: Feel, own: bool) -> FeelPick {
        let field = FeelField::Grid;
        FeelPick {
            of,
            track,
            field,
            feel,
            own,
            before: (feel, own),
            tried: false,
            typed: String::new(),
        }
    }

    /// Whether it is the feel of a layer.
    pub fn is_of_layer(&self) -> bool {
        matches!(self.of, Of::Layer(..))
    }

    /// The settings, in the order on the screen.
    pub fn fields(&self) -> &'static [FeelField] {
        if self.is_of_layer() { &FeelField::ALL } else { &FeelField::ALL[1..] }
    }

    /// What the setting under the cursor does, in a sentence or two; if it does nothing now, why.
    pub fn sentence(&self) -> String {
        let sentence = match (self.field, self.feel.grid) {
            (FeelField::Whose | FeelField::Grid, _) => self.field.sentence(),
            (_, None) => "No effect as played: choose a grid first.",
            (FeelField::Swing, Some(grid)) => return swing_sentence(grid),
            (field, Some(_)) => field.sentence(),
        };
        sentence.to_string()
    }

    /// Plays the track or the layer with a feel.
    fn set(&mut self, feel: Feel, own: bool, out: &mut Vec<Effect>) {
        if (feel, own) == (self.feel, self.own) {
            return;
        }
        (self.feel, self.own) = (feel, own);
        let commit = match self.of {
            Of::Track => Commit::new(Label::Feel, edits_of_track(self.track, feel)),
            Of::Layer(pass, _) => Commit::of(Edit::Pass(pass, PassEdit::Feel(own.then_some(feel)))),
        };
        // The first starts a step of undo, the others belong to it.
        let is_first = !std::mem::replace(&mut self.tried, true);
        let command = if is_first { Command::Edit(commit) } else { Command::EditOn(commit) };
        out.push(Effect::Command(command));
    }

    pub(super) fn go(&mut self, to: Move) {
        let fields = self.fields();
        let at = fields.iter().position(|&field| field == self.field).unwrap_or(0);
        let last = fields.len() - 1;
        let next = match to {
            Move::Up | Move::Left => at.saturating_sub(1),
            Move::Down | Move::Right => (at + 1).min(last),
            Move::PageUp | Move::First => 0,
            Move::PageDown | Move::Last => last,
        };
        self.field = fields[next];
        self.typed.clear();
    }

    /// To the setting below or above, from the last to the first.
    pub(super) fn step(&mut self, way: Vertical) {
        let fields = self.fields();
        let at = fields.iter().position(|&field| field == self.field).unwrap_or(0);
        self.field = fields[way.around(at, fields.len())];
        self.typed.clear();
    }

    /// Changes the setting under the cursor by a step.
    pub(super) fn adjust(&mut self, side: Side, out: &mut Vec<Effect>) {
        self.typed.clear();
        let feel = self.feel;
        let percent = |value: u8| match side {
            Side::Left => value.saturating_sub(STEP),
            Side::Right => (value + STEP).min(100),
        };
        let changed = match self.field {
            FeelField::Whose => return self.turn_own(side == Side::Right, out),
            FeelField::Grid => Feel { grid: beside(feel.grid, side), ..feel },
            FeelField::Pull => Feel { pull: percent(feel.pull), ..feel },
            FeelField::Reach => Feel { reach: percent(feel.reach), ..feel },
            FeelField::Swing => Feel { swing: swung(feel.swing, side), ..feel },
            FeelField::Rolls => Feel { rolls: side == Side::Right, ..feel },
        };
        if changed != feel {
            self.set(changed, true, out);
        }
    }

    /// What is typed of a value and is none yet.
    pub fn half_typed(&self) -> Option<&str> {
        let is_half = !self.typed.is_empty() && self.with_typed(&self.typed).is_none();
        is_half.then_some(self.typed.as_str())
    }

    /// Types a value: a grid, with t for triplet and d for dotted, or a percentage. What can't become a
    /// value begins anew.
    fn type_key(&mut self, key: &Key, out: &mut Vec<Effect>) {
        match key.code {
            Code::Backspace => drop(self.typed.pop()),
            Code::Char(c) => {
                // A dot is the sign of a dotted note.
                let dot = c == '.' && self.field == FeelField::Grid;
                let c = if dot { 'd' } else { c.to_ascii_lowercase() };
                let longer = format!("{}{c}", self.typed);
                self.typed = if self.may_become(&longer) { longer } else { c.to_string() };
                if !self.may_become(&self.typed) {
                    self.typed.clear();
                }
            }
            _ => return,
        }
        if let Some(feel) = self.with_typed(&self.typed) {
            self.set(feel, true, out);
        }
    }

    /// The feel with a value of the setting under the cursor as it was typed; `None` if it is none.
    fn with_typed(&self, typed: &str) -> Option<Feel> {
        let feel = self.feel;
        let percent = || typed.parse::<u8>().ok().filter(|&value| value <= 100);
        Some(match self.field {
            FeelField::Whose | FeelField::Rolls => return None,
            FeelField::Grid => {
                let mut grids = NoteValue::grids();
                let grid =
                    grids.find(|&grid| typed_names(grid).iter().any(|name| name == typed))?;
                Feel { grid: Some(grid), ..feel }
            }
            FeelField::Pull => Feel { pull: percent()?, ..feel },
            FeelField::Reach => Feel { reach: percent()?, ..feel },
            FeelField::Swing => Feel { swing: typed.trim_end_matches('.').parse().ok()?, ..feel },
        })
    }

    /// Whether what was typed is a value of the setting under the cursor or the start of one.
    fn may_become(&self, typed: &str) -> bool {
        let is_start = |name: &String| name.starts_with(typed);
        match self.field {
            FeelField::Grid => {
                NoteValue::grids().any(|grid| typed_names(grid).iter().any(is_start))
            }
            FeelField::Swing => {
                matches!(typed, "5" | "6" | "7") || self.with_typed(typed).is_some()
            }
            _ => self.with_typed(typed).is_some(),
        }
    }

    /// Gives the layer a feel of its own, which begins as that of its track, or none.
    fn turn_own(&mut self, own: bool, out: &mut Vec<Effect>) {
        let Of::Layer(_, of_track) = self.of else { return };
        if own != self.own {
            self.set(of_track, own, out);
        }
    }

    /// Brings back the feel as it was, if another was tried.
    pub(super) fn put_back(&mut self, out: &mut Vec<Effect>) {
        let (feel, own) = self.before;
        self.set(feel, own, out);
    }
}

/// What sets the feel of a track: always all of it, so that the steps join whatever they change.
fn edits_of_track(track: TrackId, feel: Feel) -> Vec<Edit> {
    let edits = [
        TrackEdit::Grid(feel.grid),
        TrackEdit::Pull(feel.pull),
        TrackEdit::Reach(feel.reach),
        TrackEdit::Swing(feel.swing),
        TrackEdit::Rolls(feel.rolls),
    ];
    edits.into_iter().map(|edit| Edit::Track(track, edit)).collect()
}

/// How a grid may be typed: `1/8t`, or without the one.
fn typed_names(grid: NoteValue) -> [String; 2] {
    let name = short_value(grid);
    [name[2..].to_string(), name]
}

/// The next grid, or the one before. Playing as played comes before them all.
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

/// What swing delays, and what stays: eighths do not swing on a grid of sixteenths.
fn swing_sentence(grid: NoteValue) -> String {
    let straight = grid.kind() == NoteKind::Straight;
    let coarser = grid.division().checked_div(2).filter(|&division| straight && division > 1);
    match coarser {
        Some(coarser) => {
            format!("Delays every second {grid}; 1/{coarser} notes stay where they are.")
        }
        None => format!("Delays every second {grid}: 50 % is even."),
    }
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
        self.awaited = Some(match pick.of {
            Of::Layer(pass, _) => Awaited::LayerFeel(pass),
            Of::Track => {
                if let Some(grid) = pick.feel.grid {
                    self.last_grids.insert(pick.track, grid);
                }
                Awaited::Feel(pick.track)
            }
        });
    }

    pub(super) fn type_in_feel(&mut self, key: &Key, out: &mut Vec<Effect>) {
        if let Some(Overlay::Feel(pick)) = self.overlays.top_mut() {
            pick.type_key(key, out);
        }
    }

    /// Changes the field of a form, or the setting of a feel, under the cursor.
    pub(super) fn adjust(&mut self, side: Side, out: &mut Vec<Effect>) {
        match self.overlays.top_mut() {
            Some(Overlay::Form(form)) => form.adjust(side),
            Some(Overlay::Feel(pick)) => pick.adjust(side, out),
            Some(Overlay::Ramp(pick)) => pick.adjust(side, out),
            Some(Overlay::Keys(_)) => self.adjust_in_keys_box(side, out),
            _ => {}
        }
    }
}
