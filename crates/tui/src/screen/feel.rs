//! The feel of a track, or of a layer in its place, heard while it is set: quantise, groove, human variation.
//!
//! However much is tried, it is one step of undo; what is cancelled is none.

mod fields;
mod typed;
mod words;

use super::{Awaited, Effect, Overlay, Screen};
use crate::action::{Move, Side, Vertical};
use crate::input::Key;
use chaconne_engine::Command;
use chaconne_song::{
    Commit, Edit, Feel, GivenGroove, GrooveId, Label, Pass, PassEdit, PassId, Song, Track,
    TrackEdit, TrackId,
};

pub use fields::FeelField;
use fields::{percent, swing_sentence};
pub(super) use words::feel_words;

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
    /// How much of a groove it is given or would be given: timing and loudness, in percent.
    pub depths: (u8, u8),
    /// The grooves to choose from, with their names.
    grooves: Vec<(GrooveId, String)>,
    /// The feel before, and whether it was its own.
    before: (Feel, bool),
    /// Whether another feel has been heard.
    tried: bool,
    /// What is typed of a value.
    typed: String,
}

impl FeelPick {
    /// Opens at what the track has.
    pub fn new(track: &Track, song: &Song) -> FeelPick {
        FeelPick::opened(Of::Track, track.id, track.feel, song)
    }

    /// Opens at what a layer of a track has.
    pub fn of_layer(pass: &Pass, track: &Track, song: &Song) -> FeelPick {
        let feel = pass.feel.unwrap_or(track.feel);
        let of = Of::Layer(pass.id, track.feel);
        let own = pass.feel.is_some();
        FeelPick { own, before: (feel, own), ..FeelPick::opened(of, track.id, feel, song) }
    }

    fn opened(of: Of, track: TrackId, feel: Feel, song: &Song) -> FeelPick {
        let depths = feel.groove.map_or((100, 100), |given| (given.timing, given.loudness));
        FeelPick {
            of,
            track,
            field: FeelField::Grid,
            feel,
            own: true,
            depths,
            grooves: song.grooves.iter().map(|groove| (groove.id, groove.name.clone())).collect(),
            before: (feel, true),
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

    /// The name of the groove that is given; `None` if none is.
    pub fn groove_name(&self) -> Option<&str> {
        let given = self.feel.groove?.groove;
        let known = self.grooves.iter().find(|(id, _)| *id == given);
        Some(known.map_or("", |(_, name)| name))
    }

    /// What the setting under the cursor does, in a sentence or two; if it does nothing now, why. In braces are
    /// the ids of actions.
    pub fn sentence(&self) -> String {
        match (self.field, self.feel.grid) {
            (field, _) if field.idle(&self.feel).is_some() => {
                field.idle(&self.feel).unwrap_or_default().to_string()
            }
            (FeelField::Swing, Some(grid)) => swing_sentence(grid),
            (FeelField::Groove, _) if self.grooves.is_empty() => {
                "There are no grooves yet: {take-groove} in the layers takes one.".to_string()
            }
            (field, _) => field.sentence().to_string(),
        }
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

    /// Plays it with a groove, as much of it as was set last, or with none.
    fn give(&mut self, groove: Option<GrooveId>, out: &mut Vec<Effect>) {
        let (timing, loudness) = self.depths;
        let groove = groove.map(|groove| GivenGroove { groove, timing, loudness });
        self.set(Feel { groove, ..self.feel }, true, out);
    }

    /// Plays it with so much of its groove: timing and loudness.
    fn give_so_much(&mut self, depths: (u8, u8), out: &mut Vec<Effect>) {
        self.depths = depths;
        if let Some(given) = self.feel.groove {
            self.give(Some(given.groove), out);
        }
    }

    /// Gives it the next groove or the one before. None comes before them all.
    fn give_beside(&mut self, side: Side, out: &mut Vec<Effect>) {
        let given = self.feel.groove.map(|given| given.groove);
        let at = given.and_then(|given| self.grooves.iter().position(|(id, _)| *id == given));
        let next = match (side, at) {
            (Side::Left, at) => at.and_then(|at| at.checked_sub(1)),
            (Side::Right, None) => Some(0),
            (Side::Right, Some(at)) => Some((at + 1).min(self.grooves.len().saturating_sub(1))),
        };
        let next = next.and_then(|next| self.grooves.get(next)).map(|(id, _)| *id);
        if next != given {
            self.give(next, out);
        }
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
        let (timing, loudness) = self.depths;
        let much = |value: u8| percent(value, side, GivenGroove::MOST);
        match self.field {
            FeelField::Whose => self.turn_own(side == Side::Right, out),
            FeelField::Groove => self.give_beside(side, out),
            FeelField::Timing => self.give_so_much((much(timing), loudness), out),
            FeelField::Loudness => self.give_so_much((timing, much(loudness)), out),
            field => {
                let changed = field.stepped(self.feel, side);
                if changed != self.feel {
                    self.set(changed, true, out);
                }
            }
        }
    }

    /// Gives the layer a feel of its own, which begins as that of its track, or none.
    fn turn_own(&mut self, own: bool, out: &mut Vec<Effect>) {
        let Of::Layer(_, of_track) = self.of else { return };
        if own != self.own {
            self.set(of_track, own, out);
            if let Some(given) = of_track.groove {
                self.depths = (given.timing, given.loudness);
            }
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
        TrackEdit::Groove(feel.groove),
        TrackEdit::Human(feel.human),
    ];
    edits.into_iter().map(|edit| Edit::Track(track, edit)).collect()
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
