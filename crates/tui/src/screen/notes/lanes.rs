//! The list of what the lane under the notes can show: the velocities, the controllers that the layer
//! holds, those that could be added, and nothing.
//!
//! What the cursor is on is shown at once. Typing letters goes to the entry of that name, and a number chooses the
//! controller of that number.

use super::super::{Overlay, Screen};
use crate::action::Move;
use crate::desk::DeskState;
use crate::draw::LANE_LIST_ROWS;
use crate::input::{Code, Key};
use crate::lane::{COMMON, InLane};
use chaconne_song::{Channel, Control, Curve, SharedPass, U7};
use std::collections::BTreeSet;

/// An entry of the list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LaneEntry {
    /// What the lane shows.
    pub shows: InLane,
    /// How many points the layer has of it; `None` if it has none, or it is no controller.
    pub points: Option<usize>,
}

/// The open list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LanePick {
    /// The entries.
    pub entries: Vec<LaneEntry>,
    /// The one that the cursor is on.
    pub at: usize,
    /// The digits or the letters typed so far.
    pub typed: String,
    before: InLane,
}

impl LanePick {
    /// The list for layers, at what the lane shows.
    fn new(passes: &[SharedPass], shows: InLane) -> LanePick {
        let held: BTreeSet<Curve> = passes.iter().flat_map(|pass| Curve::all_of(pass)).collect();
        let curves: Vec<Curve> = held.into_iter().collect();
        let several =
            |control: Control| curves.iter().filter(|curve| curve.control == control).count() > 1;
        let held = curves.iter().map(|curve| {
            let channel: Option<Channel> = several(curve.control).then_some(curve.channel);
            let lanes = passes.iter().flat_map(|pass| pass.lanes());
            let own =
                lanes.filter(|lane| lane.control == curve.control && lane.channel == curve.channel);
            let points = own.map(|lane| lane.points.len()).sum();
            LaneEntry { shows: InLane::Control(curve.control, channel), points: Some(points) }
        });
        let entry = |shows| LaneEntry { shows, points: None };
        let mut entries: Vec<LaneEntry> =
            std::iter::once(entry(InLane::Velocity)).chain(held).collect();
        let is_held = |control: &Control| curves.iter().any(|curve| curve.control == *control);
        let common = COMMON.into_iter().filter(|control| !is_held(control));
        entries.extend(common.map(|control| entry(InLane::Control(control, None))));
        entries.push(entry(InLane::Nothing));
        let mut pick = LanePick { entries, at: 0, typed: String::new(), before: shows };
        pick.at = pick.place_of(shows);
        pick
    }

    /// Where an entry is; it is added if it is new.
    fn place_of(&mut self, shows: InLane) -> usize {
        let known = self.entries.iter().position(|entry| match (entry.shows, shows) {
            (InLane::Control(one, _), InLane::Control(other, None)) => one == other,
            (one, other) => one == other,
        });
        known.unwrap_or_else(|| {
            let last = self.entries.len() - 1;
            self.entries.insert(last, LaneEntry { shows, points: None });
            last
        })
    }

    /// What the cursor is on.
    pub fn shows(&self) -> InLane {
        self.entries.get(self.at).map_or(InLane::Velocity, |entry| entry.shows)
    }

    /// Moves the cursor; down from the last entry is the first. `rows` are those of a column.
    fn go(&mut self, to: Move, rows: usize) {
        let last = self.entries.len() - 1;
        self.typed.clear();
        self.at = match to {
            Move::Up => self.at.checked_sub(1).unwrap_or(last),
            Move::Down if self.at == last => 0,
            Move::Down => self.at + 1,
            Move::Left | Move::PageUp => self.at.saturating_sub(rows),
            Move::Right | Move::PageDown => (self.at + rows).min(last),
            Move::First => 0,
            Move::Last => last,
        };
    }

    /// A digit of a controller's number. A number that is too high begins anew.
    fn type_digit(&mut self, digit: char) {
        self.typed.push(digit);
        let number = |typed: &str| typed.parse::<u8>().ok().filter(|number| *number <= 119);
        if number(&self.typed).is_none() {
            self.typed = digit.to_string();
        }
        if let Some(number) = number(&self.typed).and_then(U7::new) {
            self.at = self.place_of(InLane::Control(Control::Change(number), None));
        }
    }
}

impl LanePick {
    /// A letter of a name. Where no name goes on with it, it begins anew with the next name; so does the same
    /// letter again.
    fn type_letter(&mut self, letter: char) {
        let alone = letter.to_string();
        let longer = match self.typed.chars().all(char::is_alphabetic) {
            true => format!("{}{letter}", self.typed),
            false => alone.clone(),
        };
        let from = if longer == alone { self.at + 1 } else { self.at };
        let found = self.named(from, &longer).map(|at| (at, longer));
        let found = found.or_else(|| self.named(self.at + 1, &alone).map(|at| (at, alone)));
        if let Some((at, typed)) = found {
            (self.at, self.typed) = (at, typed);
        }
    }

    /// The first entry, from one on and around, whose name has a word that begins so.
    fn named(&self, from: usize, begins: &str) -> Option<usize> {
        let count = self.entries.len();
        let is_named = |&at: &usize| {
            let name = self.entries[at].shows.long_name().to_lowercase();
            name.starts_with(begins) || name.split(' ').any(|word| word.starts_with(begins))
        };
        (0..count).map(|step| (from + step) % count).find(is_named)
    }
}

impl Screen {
    pub(super) fn open_lanes(&mut self, state: &DeskState) {
        let shown = self.notes.sheet.iter().flat_map(|sheet| &sheet.layers);
        let passes: Vec<SharedPass> = match self.notes.all_layers {
            true => shown.map(|layer| layer.pass.clone()).collect(),
            false => self.target(state).into_iter().collect(),
        };
        let pick = LanePick::new(&passes, self.notes.lane);
        self.overlays.open(Overlay::Lanes(pick));
    }

    pub(in super::super) fn move_in_lanes(&mut self, to: Move) {
        if let Some(Overlay::Lanes(pick)) = self.overlays.top_mut() {
            pick.go(to, LANE_LIST_ROWS);
            self.show_in_lane();
        }
    }

    pub(in super::super) fn type_in_lanes(&mut self, key: &Key) {
        let (Code::Char(c), false) = (key.code, key.ctrl || key.alt) else { return };
        let Some(Overlay::Lanes(pick)) = self.overlays.top_mut() else { return };
        match c {
            '0'..='9' => pick.type_digit(c),
            'a'..='z' => pick.type_letter(c),
            _ => return,
        }
        self.show_in_lane();
    }

    fn show_in_lane(&mut self) {
        if let Some(Overlay::Lanes(pick)) = self.overlays.top() {
            self.set_lane(pick.shows());
        }
    }

    fn set_lane(&mut self, shows: InLane) {
        self.notes.lane = shows;
        if shows == InLane::Nothing && self.notes.arrows == crate::action::Arrows::Lane {
            self.notes.arrows = crate::action::Arrows::Cursor;
        }
        self.keep_cursor_in_sight();
    }

    /// Keeps what the lane shows.
    pub(in super::super) fn confirm_lanes(&mut self) {
        self.overlays.close();
        if self.notes.lane == InLane::Nothing {
            self.notes.ramp_from = None;
        }
        // A ramp that was begun goes on, in what the lane shows now.
        self.say_where_the_ramp_begins();
    }

    /// Shows in the lane what was there before.
    pub(in super::super) fn put_lane_back(&mut self, pick: &LanePick) {
        self.set_lane(pick.before);
    }
}
