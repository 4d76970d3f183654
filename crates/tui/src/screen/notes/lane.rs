//! The lane under the notes: what is changed in it.
//!
//! It shows the velocities of all notes shown, or a controller as it is heard from the layers shown. What is
//! done there is done to the layer that is heard at the cursor, else to one that holds the controller, else
//! to that of the note under the cursor or the chosen one.

use super::super::{Effect, Overlay, RampPick, Screen};
use crate::action::{NoteAction, Side};
use crate::desk::DeskState;
use crate::lane::{InLane, LaneBar, LaneCurves, LayerCurve, span_with_points};
use crate::sheet::Sheet;
use chaconne_engine::rest_of;
use chaconne_song::{Curve, NoteRef, Picked, ReviseError, SharedPass, U14};
use chaconne_time::{Span, Tick};
use std::collections::{BTreeMap, BTreeSet};

/// What to say about a note where a point is meant.
const OF_NOTES: &str = "A velocity belongs to its note: {arrow-up} and {arrow-down} change it.";

/// What to say about a ramp that would end where it begins.
fn begins_here(sheet: &Sheet, at: Tick) -> String {
    let place = sheet.place_of(at);
    format!("The ramp begins here, at {place}: go to its end and press {{range}} there.")
}

impl Screen {
    pub(super) fn act_on_lane(
        &mut self,
        action: NoteAction,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        match action {
            NoteAction::Draw => self.add_point(state, out),
            NoteAction::Delete => self.delete_points(state, out),
            NoteAction::Range => self.begin_or_end_ramp(state, out),
            _ => {}
        }
    }

    /// The controller in the lane, and the pass it is in; `None` if the lane shows something else or there
    /// is no layer.
    pub fn curve_in_lane(&self, state: &DeskState) -> Option<(SharedPass, Curve)> {
        self.curve_in_lane_at(self.notes.at, state)
    }

    fn curve_in_lane_at(&self, at: Tick, state: &DeskState) -> Option<(SharedPass, Curve)> {
        let sheet = self.notes.sheet.as_ref()?;
        let mark = self.mark_at(at, state).unwrap_or(Span::new(at, at + Tick(1)));
        let silent = sheet.silent(&state.status.solo_passes);
        let curves =
            LaneCurves::of(sheet, self.notes.lane, mark, (sheet.base(state.status.round), &silent));
        let here = curves.at(mark).map(|(of, _)| of).or_else(|| {
            let sounds = |of: &&LayerCurve| !silent.contains(&of.layer.pass.id);
            curves.layers.iter().find(sounds).or(curves.layers.first())
        });
        if let Some(of) = here {
            return Some((of.layer.pass.clone(), of.curve));
        }
        let pass = self.target(state)?;
        let curve = self.notes.lane.curve(&pass, sheet.track.channel)?;
        Some((pass, curve))
    }

    /// Raises the value at the cursor by so many steps, or lowers it.
    pub(super) fn raise_in_lane(&mut self, steps: i32, state: &DeskState, out: &mut Vec<Effect>) {
        let by = steps * self.notes.lane.step();
        if self.notes.lane == InLane::Velocity {
            let here = self.lane_mark(state).map(|mark| self.notes_in(mark, state));
            let made = self.picked_of(&here.unwrap_or_default()).louder(by);
            return self.revise(made, out);
        }
        let Some((pass, curve)) = self.curve_in_lane(state) else { return self.say_no_layer() };
        let at = self.cursor_in(&pass, state);
        let made = match span_with_points(&pass, curve, self.span_in(&pass, state)) {
            Some(span) => curve.shift(&pass, span, by),
            None => {
                let value = i32::from(self.value_in(&pass, curve, at).get()) + by;
                let value = value.clamp(0, i32::from(self.notes.lane.highest()));
                let value = u16::try_from(value).ok().and_then(U14::new).unwrap_or_default();
                curve.set(&pass, at, value)
            }
        };
        self.revise(made, out);
    }

    /// Adds a point at the cursor that leaves the value as it is.
    fn add_point(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        if self.notes.lane == InLane::Velocity {
            return self.say_with_keys(OF_NOTES);
        }
        let Some((pass, curve)) = self.curve_in_lane(state) else { return self.say_no_layer() };
        if span_with_points(&pass, curve, self.span_in(&pass, state)).is_some() {
            return self.say_with_keys(
                "There is a point here already: {arrow-up} and {arrow-down} change it.",
            );
        }
        let at = self.cursor_in(&pass, state);
        let value = self.value_in(&pass, curve, at);
        self.revise(curve.set(&pass, at, value), out);
    }

    fn delete_points(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        if self.notes.lane == InLane::Velocity {
            return self.say_with_keys(OF_NOTES);
        }
        let Some((pass, curve)) = self.curve_in_lane(state) else { return self.say_no_layer() };
        let span = span_with_points(&pass, curve, self.span_in(&pass, state));
        let made = span.map(|span| curve.remove(&pass, span));
        self.revise(made.unwrap_or(Err(ReviseError::NoPoint)), out);
    }

    fn say_no_layer(&mut self) {
        self.say_with_keys(
            "This track has no layer here to hold a controller: {record} records one, {draw} draws a \
             note.",
        );
    }

    /// To the next point or the one before; in the velocities, note.
    pub(super) fn step_in_lane(&mut self, side: Side, state: &DeskState) {
        if self.curve_in_lane(state).is_none() {
            return self.step_to_note(side, state);
        }
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let (whole, base) = (Span::new(Tick::ZERO, sheet.length()), sheet.base(state.status.round));
        let silent = sheet.silent(&state.status.solo_passes);
        let curves = LaneCurves::of(&sheet, self.notes.lane, whole, (base, &silent));
        let all = curves.points();
        let (at, mut places) = (self.notes.at, all.iter().copied());
        let next = match side {
            Side::Left => places.rfind(|place| *place < at),
            Side::Right => places.find(|place| *place > at),
        };
        match next {
            Some(place) => self.put_cursor(place, self.notes.key, state),
            None if all.is_empty() => {
                self.say_with_keys("There are no points here: {draw} adds one.")
            }
            None if side == Side::Left => self.say("This is the first point."),
            None => self.say("This is the last point."),
        }
    }

    /// Marks where a ramp begins; then, where it ends, asks for the rest and lets it be heard.
    fn begin_or_end_ramp(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(mark) = self.lane_mark(state) else { return };
        let Some(from) = self.notes.ramp_from else {
            (self.notes.ramp_from, self.notes.ramp_way) = (Some(mark.from), None);
            return self.say_where_the_ramp_begins();
        };
        let (from, to) = (from.min(mark.from), from.max(mark.from));
        let made = match self.notes.lane {
            InLane::Velocity => self.velocity_ramp(from, to, state),
            _ => self.controller_ramp(from, to, state),
        };
        match made {
            Ok(pick) => {
                self.notes.ramp_from = None;
                let mut pick = pick.aimed(self.notes.ramp_way.take());
                pick.hear(out);
                self.overlays.open(Overlay::Ramp(Box::new(pick)));
            }
            Err(why) => self.say_with_keys(&why),
        }
    }

    /// Says where the ramp begins that is being drawn, wherever the cursor is by now.
    pub(super) fn say_where_the_ramp_begins(&mut self) {
        let places = self.notes.sheet.as_ref().zip(self.notes.ramp_from);
        let Some(place) = places.map(|(sheet, from)| sheet.place_of(from)) else { return };
        self.say_with_keys(&format!(
            "The ramp begins at {place}: go to its end and press {{range}} again."
        ));
    }

    fn velocity_ramp(&self, from: Tick, to: Tick, state: &DeskState) -> Result<RampPick, String> {
        let Some(sheet) = &self.notes.sheet else { return Err(String::new()) };
        let end = self.mark_at(to, state).map_or(to + Tick(1), |mark| mark.to);
        let names = self.notes_in(Span::new(from, end), state);
        let early = self.notes_scale(state).map_or(Tick::ZERO, |scale| scale.early());
        let span = Span::new(from - early, end - early);
        let all = sheet.candidates_in(span, sheet.base(state.status.round));
        let mut inside: Vec<_> = all.iter().filter(|of| names.contains(&of.note)).collect();
        inside.sort_by_key(|of| (of.start, of.key));
        let (Some(first), Some(last)) = (inside.first(), inside.last()) else {
            return Err("There is no note between the start of the ramp and here.".to_string());
        };
        if to <= from {
            return Err(begins_here(sheet, from));
        }
        let values = (first.velocity.into(), last.velocity.into());
        // A note that goes round several times has the velocity of its first time.
        let mut starts: BTreeMap<NoteRef, Tick> = BTreeMap::new();
        for of in &inside {
            starts.entry(of.note).or_insert(of.start);
        }
        let picked = self.picked_of(&names);
        Ok(RampPick::of_notes(picked, starts, Span::new(from, to), values)
            .placed(sheet, self.also(state)))
    }

    fn controller_ramp(&self, from: Tick, to: Tick, state: &DeskState) -> Result<RampPick, String> {
        let (Some(sheet), Some((pass, curve))) =
            (&self.notes.sheet, self.curve_in_lane_at(from, state))
        else {
            return Err("This track has no layer here to hold a controller.".to_string());
        };
        if to <= from {
            return Err(begins_here(sheet, from));
        }
        let base = sheet.base(state.status.round);
        let (cycle, start) = (from + base).cycle(pass.length);
        let (other, end) = (to + base).cycle(pass.length);
        if cycle != other {
            return Err(
                "The layer starts again between here and the start of the ramp.".to_string()
            );
        }
        let values = (self.value_in(&pass, curve, start), self.value_in(&pass, curve, end));
        let axis = Span::new(from, to);
        Ok(RampPick::of_curve(self.notes.lane, (pass, curve), Span::new(start, end), values, axis)
            .placed(sheet, self.also(state)))
    }

    /// The value that a controller has at a tick of a pass.
    fn value_in(&self, pass: &SharedPass, curve: Curve, at: Tick) -> U14 {
        let sheet = self.notes.sheet.as_ref();
        let layer = sheet.and_then(|sheet| sheet.layers.iter().find(|of| of.pass.id == pass.id));
        let value = layer.and_then(|layer| layer.curves.value_at(curve, at));
        value.unwrap_or_else(|| rest_of(curve.control))
    }

    /// The mark of the cursor; a single tick if the cursor is on a point inside a mark.
    fn lane_mark(&self, state: &DeskState) -> Option<Span> {
        self.cursor_mark(state)
    }

    fn mark_at(&self, at: Tick, state: &DeskState) -> Option<Span> {
        let scale = self.notes_scale(state)?;
        let mark = scale.marks[scale.mark_of(at)?];
        Some(Span::new(mark.start, mark.end))
    }

    /// The mark of the cursor, in a pass.
    fn span_in(&self, pass: &SharedPass, state: &DeskState) -> Span {
        let mark =
            self.lane_mark(state).unwrap_or(Span::new(self.notes.at, self.notes.at + Tick(1)));
        let from = self.cursor_in(pass, state) - (self.notes.at - mark.from);
        Span::new(from, from + mark.length())
    }

    /// The notes that start in a span of the axis: of those selected, if any are.
    fn notes_in(&self, span: Span, state: &DeskState) -> BTreeSet<NoteRef> {
        let Some(sheet) = &self.notes.sheet else { return BTreeSet::new() };
        let early = self.notes_scale(state).map_or(Tick::ZERO, |scale| scale.early());
        let span = Span::new(span.from - early, span.to - early);
        let all = sheet.candidates_in(span, sheet.base(state.status.round));
        let selected = &self.notes.selected;
        let wanted = |name: &NoteRef| selected.is_empty() || selected.contains(name);
        all.into_iter().map(|of| of.note).filter(wanted).collect()
    }

    fn picked_of(&self, names: &BTreeSet<NoteRef>) -> Picked {
        let Some(sheet) = &self.notes.sheet else { return Picked::default() };
        Picked::new(sheet.layers.iter().map(|layer| &layer.pass), names)
    }

    /// The other sections in which what is changed is heard, too.
    pub fn also(&self, state: &DeskState) -> String {
        let Some(sheet) = &self.notes.sheet else { return String::new() };
        let song = &state.status.song;
        let here = sheet.section.letter;
        let shares = |letter| {
            let section = song.section(letter);
            let has = |pass| section.is_some_and(|section| section.layer(pass).is_some());
            letter != here && sheet.layers.iter().any(|layer| has(layer.pass.id))
        };
        let letters = song.sections.iter().map(|section| section.letter);
        let letters: Vec<String> =
            letters.filter(|letter| shares(*letter)).map(|letter| letter.to_string()).collect();
        letters.join(" ")
    }

    /// What the lane says about the cursor: the value there; `None` if there is none.
    pub fn lane_value(&self, bars: &[Option<LaneBar>], state: &DeskState) -> Option<U14> {
        let scale = self.notes_scale(state)?;
        if self.notes.lane == InLane::Velocity {
            let sheet = self.notes.sheet.as_ref()?;
            let on = self.notes.on.filter(|_| self.notes.arrows != crate::action::Arrows::Lane);
            if let Some((_, note)) = on.and_then(|name| sheet.note(name)) {
                return Some(note.stroke().velocity.into());
            }
        }
        bars.get(self.mark_of_cursor(&scale, state)?)?.map(|bar| bar.value)
    }
}
