//! A ramp that is being drawn: its two values and its shape, heard while they are set.
//!
//! However much is tried, it is one step of undo; what is cancelled is none.

use super::{Effect, Overlay, Screen};
use crate::action::{Move, Side, Vertical};
use crate::input::{Code, Key};
use crate::lane::InLane;
use crate::sheet::Sheet;
use chaconne_engine::Command;
use chaconne_song::{
    Commit, Control, Curve, NoteRef, Picked, Ramp, ReviseError, Shape, SharedPass, U14,
};
use chaconne_time::{Span, Tick};
use std::collections::BTreeMap;

/// What can be set about a ramp.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RampField {
    /// The value at the start.
    First,
    /// The value at the end.
    Last,
    /// How it gets from one to the other.
    Shape,
}

impl RampField {
    /// All of them, in the order on the screen.
    pub const ALL: [RampField; 3] = [RampField::First, RampField::Last, RampField::Shape];

    /// Its name on the screen.
    pub fn name(self) -> &'static str {
        match self {
            RampField::First => "start",
            RampField::Last => "end",
            RampField::Shape => "shape",
        }
    }

    /// What it does, in one sentence.
    pub fn sentence(self) -> &'static str {
        match self {
            RampField::First => {
                "The value at the start: type it, or change it with left and right."
            }
            RampField::Last => "The value at the end: type it, or change it with left and right.",
            RampField::Shape => {
                "How the value gets there: straight; slow start, first slowly and then fast; slow end, first fast and \
                 then slowly; step, all at once at the end."
            }
        }
    }
}

/// What a ramp is drawn over, as it was before.
#[derive(Debug, Clone)]
enum Over {
    /// The velocities of notes, and where each starts on the axis.
    Notes(Picked, BTreeMap<NoteRef, Tick>),
    /// A controller of a pass.
    Curve(SharedPass, Curve),
}

/// The ramp.
#[derive(Debug, Clone)]
pub struct RampPick {
    /// What is in the lane.
    pub shows: InLane,
    /// The ramp; a controller's is counted from the start of its pass.
    pub ramp: Ramp,
    /// The setting under the cursor.
    pub field: RampField,
    /// Its start and its end in words, as bar, beat and tick.
    pub places: (String, String),
    /// The other sections in which it is heard.
    pub also: String,
    /// How many notes it changes, if it is about notes.
    pub notes: Option<usize>,
    /// What is typed of a value.
    typed: String,
    axis: Span,
    over: Over,
}

impl PartialEq for RampPick {
    fn eq(&self, other: &RampPick) -> bool {
        (self.shows, self.ramp, self.field) == (other.shows, other.ramp, other.field)
    }
}

impl Eq for RampPick {}

impl RampPick {
    /// A ramp over the velocities of notes, whose starts are given. `span` is its start and its end on the
    /// axis, `values` are those that the first and the last note have.
    pub fn of_notes(
        notes: Picked,
        starts: BTreeMap<NoteRef, Tick>,
        span: Span,
        (first, last): (U14, U14),
    ) -> RampPick {
        let count = Some(notes.len());
        let ramp = Ramp { from: span.from, to: span.to, first, last, shape: Shape::Straight };
        RampPick::new(InLane::Velocity, ramp, span, Over::Notes(notes, starts), count)
    }

    /// A ramp over a controller of a pass, between two ticks of the pass. `values` are those that it has
    /// there, `axis` is where they are on the axis.
    pub fn of_curve(
        shows: InLane,
        (pass, curve): (SharedPass, Curve),
        span: Span,
        (first, last): (U14, U14),
        axis: Span,
    ) -> RampPick {
        // A program in between two others means nothing.
        let steps = curve.control == Control::Program;
        let shape = if steps { Shape::Step } else { Shape::Straight };
        let ramp = Ramp { from: span.from, to: span.to, first, last, shape };
        RampPick::new(shows, ramp, axis, Over::Curve(pass, curve), None)
    }

    fn new(shows: InLane, ramp: Ramp, axis: Span, over: Over, notes: Option<usize>) -> RampPick {
        let places = (String::new(), String::new());
        let (field, also, typed) = (RampField::First, String::new(), String::new());
        RampPick { shows, ramp, field, places, also, notes, typed, axis, over }
    }

    /// The same with another value at the end, so that it leads somewhere: the way that was asked for, else up,
    /// or down where there is no room above. Ends that plainly differ stay as they are.
    pub fn aimed(mut self, way: Option<Vertical>) -> RampPick {
        let (shows, ramp) = (self.shows, &mut self.ramp);
        let (first, last) = (i32::from(ramp.first.get()), i32::from(ramp.last.get()));
        let (lowest, highest) = (i32::from(shows.lowest()), i32::from(shows.highest()));
        // A quarter of the way; half of that is still plainly heard.
        let by = (highest + 1) / 4;
        let leads = match way {
            Some(Vertical::Up) => last - first >= by / 2,
            Some(Vertical::Down) => first - last >= by / 2,
            None => (last - first).abs() >= by / 2,
        };
        if leads || ramp.shape == Shape::Step {
            return self;
        }
        let falls = match way {
            Some(way) => way == Vertical::Down,
            None => highest - first < by / 2,
        };
        let end = (if falls { first - by } else { first + by }).clamp(lowest, highest);
        ramp.last = u16::try_from(end).ok().and_then(U14::new).unwrap_or(ramp.last);
        self
    }

    /// The same, with words for its places and for the other sections in which it is heard.
    pub fn placed(self, sheet: &Sheet, also: String) -> RampPick {
        let place = |at| sheet.place_of(at).to_string();
        RampPick { places: (place(self.axis.from), place(self.axis.to)), also, ..self }
    }

    fn commit(&self) -> Result<Commit, ReviseError> {
        match &self.over {
            Over::Notes(notes, starts) => notes.ramp(&self.ramp, |name| starts.get(&name).copied()),
            Over::Curve(pass, curve) => curve.ramp(pass, &self.ramp),
        }
    }

    /// Lets it be heard in place of what was tried before.
    pub(super) fn hear(&mut self, out: &mut Vec<Effect>) {
        if let Ok(commit) = self.commit() {
            out.push(Effect::Command(Command::Try(commit)));
        }
    }

    fn value_mut(&mut self) -> Option<&mut U14> {
        match self.field {
            RampField::First => Some(&mut self.ramp.first),
            RampField::Last => Some(&mut self.ramp.last),
            RampField::Shape => None,
        }
    }

    /// Moves to another setting, or changes the value by ten steps.
    pub(super) fn go(&mut self, to: Move, out: &mut Vec<Effect>) {
        let at = RampField::ALL.iter().position(|&field| field == self.field).unwrap_or(0);
        let last = RampField::ALL.len() - 1;
        let next = match to {
            Move::PageUp => return self.raise(10, out),
            Move::PageDown => return self.raise(-10, out),
            Move::Up | Move::Left => at.saturating_sub(1),
            Move::Down | Move::Right => (at + 1).min(last),
            Move::First => 0,
            Move::Last => last,
        };
        self.field = RampField::ALL[next];
        self.typed.clear();
    }

    /// To the setting below or above, from the last to the first. What is typed then is a new value.
    pub(super) fn step(&mut self, way: Vertical) {
        let at = RampField::ALL.iter().position(|&field| field == self.field).unwrap_or(0);
        self.field = RampField::ALL[way.around(at, RampField::ALL.len())];
        self.typed.clear();
    }

    /// Changes the setting under the cursor by a step.
    pub(super) fn adjust(&mut self, side: Side, out: &mut Vec<Effect>) {
        if self.field != RampField::Shape {
            return self.raise(if side == Side::Left { -1 } else { 1 }, out);
        }
        if matches!(self.over, Over::Curve(_, Curve { control: Control::Program, .. })) {
            return;
        }
        let at = Shape::ALL.iter().position(|&shape| shape == self.ramp.shape).unwrap_or(0);
        let next = match side {
            Side::Left => at.saturating_sub(1),
            Side::Right => (at + 1).min(Shape::ALL.len() - 1),
        };
        if next != at {
            self.ramp.shape = Shape::ALL[next];
            self.hear(out);
        }
    }

    fn raise(&mut self, steps: i32, out: &mut Vec<Effect>) {
        let shows = self.shows;
        self.typed.clear();
        let Some(value) = self.value_mut() else { return };
        let said = shows.said(shows.value(*value) + steps * shows.step());
        if said != *value {
            *value = said;
            self.hear(out);
        }
    }

    /// Types a value: digits, after a minus for one below the middle. A value that is too high begins
    /// anew.
    fn type_key(&mut self, key: &Key, out: &mut Vec<Effect>) {
        let (shows, typed) = (self.shows, &mut self.typed);
        match key.code {
            Code::Backspace => drop(typed.pop()),
            Code::Char('-') => *typed = "-".to_string(),
            Code::Char(digit) if digit.is_ascii_digit() => {
                typed.push(digit);
                let fits = |typed: &str| {
                    let number = typed.parse::<i32>().ok();
                    number.is_some_and(|number| shows.value(shows.said(number)) == number)
                };
                // A first digit may be the start of more: 1 of 100.
                if !fits(typed) && typed.trim_start_matches('-').len() > 1 {
                    *typed = digit.to_string();
                }
            }
            _ => return,
        }
        let number = self.typed.parse::<i32>().ok();
        let Some((number, value)) = number.zip(self.value_mut()) else { return };
        let said = shows.said(number);
        if said != *value {
            *value = said;
            self.hear(out);
        }
    }
}

impl Screen {
    pub(super) fn type_in_ramp(&mut self, key: &Key, out: &mut Vec<Effect>) {
        if let Some(Overlay::Ramp(pick)) = self.overlays.top_mut() {
            pick.type_key(key, out);
        }
    }

    /// Keeps what is heard.
    pub(super) fn confirm_ramp(&mut self, out: &mut Vec<Effect>) {
        self.overlays.close();
        out.push(Effect::Command(Command::EndTry { keep: true }));
    }
}
