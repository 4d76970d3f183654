//! The notes of a layer, or of all layers of a track: where the cursor is, which notes are selected, and
//! what the arrows do.
//!
//! The cursor is a place: a tick on the axis and a key. If it is on a note it stays on that note,
//! wherever the note is moved. What is done is done to the selected notes, or else to the note under the
//! cursor. `change` makes the edits, `menu` holds the two lists of operations; `lane` is about the lane
//! under the notes, and `lanes` about the list of what it can show.

mod change;
mod lane;
mod lanes;
mod menu;

use super::Screen;
use crate::action::{Arrows, Move, Side, Vertical};
use crate::axis::{SIXTEENTH, Scale};
use crate::desk::DeskState;
use crate::draw::{loop_fit, note_rows};
use crate::keymap::Need;
use crate::lane::InLane;
use crate::sheet::{Lying, Sheet};
use crate::view_rows::window;
use chaconne_song::{Choice, Clip, NoteRef, Stroke, TrackId, U7, choose, drum_name};
use chaconne_time::{Span, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

pub use lanes::LanePick;
pub use menu::{NoteMenu, Numbers};

/// Where the view of the notes is.
#[derive(Debug, Clone, Default)]
pub struct NotesView {
    /// What is drawn and found; `None` before the view is opened, or without a track.
    pub sheet: Option<Arc<Sheet>>,
    /// Where the cursor is on the axis.
    pub at: Tick,
    /// The row of the cursor.
    pub key: U7,
    /// The note under the cursor.
    pub on: Option<NoteRef>,
    /// The selected notes; if there are none, the one under the cursor counts.
    pub selected: BTreeSet<NoteRef>,
    /// The corner from which a range is selected to the cursor.
    pub corner: Option<(Tick, U7)>,
    /// What the lane under the notes shows.
    pub lane: InLane,
    /// Where a ramp begins that is being drawn.
    pub ramp_from: Option<Tick>,
    /// Which way it goes, if that was asked for.
    pub ramp_way: Option<Vertical>,
    /// What the arrows do.
    pub arrows: Arrows,
    /// Whether all layers of the track are shown, or one.
    pub all_layers: bool,
    /// Whether the rows are not those that it begins with: on drum tracks, and on pitched tracks.
    turned: [bool; 2],
    /// The first row shown.
    pub top: usize,
    /// The size of the screen for which that was chosen.
    size: (u16, u16),
    /// Numbers of the operations.
    pub numbers: Numbers,
    /// The velocity of a drawn note: that of the last note under the cursor.
    velocity: Option<U7>,
    /// What was copied.
    clip: Clip,
    /// How much later than its mark the first note of that lies; negative if earlier.
    off_mark: Tick,
    /// Whose notes the cursor was on.
    track: Option<TrackId>,
    /// Goes up when the selection changes.
    pub marked: u64,
    /// What the selected notes have in common; `None` if there are none.
    pub summary: Option<Summary>,
}

/// What selected notes have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Summary {
    /// How many there are.
    pub count: usize,
    /// The lowest and the highest key.
    pub keys: (U7, U7),
    /// The lowest and the highest velocity.
    pub velocities: (U7, U7),
}

impl Summary {
    fn of(strokes: &[Stroke]) -> Option<Summary> {
        let range =
            |of: fn(&Stroke) -> U7| strokes.iter().map(of).min().zip(strokes.iter().map(of).max());
        let (keys, velocities) = (range(|stroke| stroke.key)?, range(|stroke| stroke.velocity)?);
        Some(Summary { count: strokes.len(), keys, velocities })
    }
}

impl NotesView {
    /// Whether every key has a row, or only those with notes.
    pub fn shows_every_key(&self, pitched: bool) -> bool {
        // Pitched tracks begin with every key, drum tracks with the drums that are played.
        self.turned[usize::from(pitched)] != pitched
    }

    /// The keys that have a row where there is room for so many, the highest first.
    pub fn rows(&self, room: usize) -> Vec<U7> {
        let mut rows = self.least_rows();
        if self.sheet.as_ref().is_some_and(|sheet| !sheet.track.pitched) {
            fill_up(&mut rows, room);
        }
        rows.into_iter().rev().collect()
    }

    /// The keys that have a row however little room there is.
    pub fn least_rows(&self) -> BTreeSet<U7> {
        let Some(sheet) = &self.sheet else { return BTreeSet::new() };
        let mut rows: BTreeSet<U7> = match self.shows_every_key(sheet.track.pitched) {
            true => (0..128).filter_map(U7::new).collect(),
            false => sheet.keys().collect(),
        };
        if rows.is_empty() {
            // Nothing is played yet: every drum of General MIDI, to draw on.
            rows.extend(drums());
        }
        rows.insert(self.key);
        rows
    }

    /// The first of `room` rows with which the keys in use are in the middle, or else the cursor.
    fn first_top(&self, sheet: &Sheet, room: usize) -> usize {
        let rows = self.rows(room);
        let row = |key: Option<U7>| rows.iter().position(|row| Some(*row) == key);
        let (low, high) = (row(sheet.keys().next()), row(sheet.keys().last()));
        let cursor = row(Some(self.key)).unwrap_or(rows.len() / 2);
        let middle = low.zip(high).map_or(cursor, |(low, high)| (low + high) / 2);
        middle.saturating_sub(room / 2)
    }

    /// Gives the arrows back to the cursor if they move or change notes: those of another track are in sight now.
    fn let_go(&mut self) {
        if matches!(self.arrows, Arrows::Move | Arrows::Length | Arrows::Velocity) {
            self.arrows = Arrows::Cursor;
        }
    }

    /// Gives the arrows back to the cursor, and drops what was begun with them.
    pub(super) fn leave(&mut self) {
        self.arrows = Arrows::Cursor;
        (self.corner, self.ramp_from) = (None, None);
    }

    fn clear_selection(&mut self) {
        self.selected.clear();
        self.note_selection();
    }

    /// Notes that other notes are selected, or that those selected have changed.
    fn note_selection(&mut self) {
        self.marked += 1;
        let sheet = self.sheet.as_ref().filter(|_| !self.selected.is_empty());
        let strokes = sheet.map(|sheet| sheet.strokes(|name| self.selected.contains(name)));
        self.summary = strokes.and_then(|strokes| Summary::of(&strokes));
    }

    /// The mark of the cursor, if it is on the page: that in which its note is drawn, which may begin a little
    /// early, else that which holds its tick.
    pub fn mark(&self, scale: &Scale, base: Tick) -> Option<usize> {
        let sheet = self.sheet.as_ref();
        let lying = sheet.zip(self.on).and_then(|(sheet, on)| sheet.nearest(on, self.at, base));
        let on = lying.map(|lying| lying.on).filter(|on| *on.max(&Tick::ZERO) == self.at);
        on.and_then(|on| scale.mark_of(on + scale.early())).or_else(|| scale.mark_of(self.at))
    }

    /// The notes that an operation is about.
    pub fn meant(&self) -> BTreeSet<NoteRef> {
        match self.selected.is_empty() {
            true => self.on.into_iter().collect(),
            false => self.selected.clone(),
        }
    }
}

/// Adds drums to the rows of those that are played, the nearest keys first, as far as there is room.
fn fill_up(rows: &mut BTreeSet<U7>, room: usize) {
    let played: Vec<u8> = rows.iter().map(|key| key.get()).collect();
    let away = |key: &U7| played.iter().map(|used| used.abs_diff(key.get())).min();
    let mut more: Vec<U7> = drums().filter(|key| !rows.contains(key)).collect();
    more.sort_by_key(|key| (away(key), *key));
    let spare = room.saturating_sub(rows.len());
    rows.extend(more.into_iter().take(spare));
}

/// The keys to which General MIDI gives a drum.
fn drums() -> impl Iterator<Item = U7> {
    (0..128).filter_map(U7::new).filter(|key| drum_name(*key).is_some())
}

impl Screen {
    /// Keeps the sheet of the notes up to date, and the cursor on its note.
    pub(super) fn follow_notes(&mut self, state: &DeskState) {
        if self.view != super::View::Notes {
            return;
        }
        let stack = self.stack(state);
        let section = state.status.song.section(state.status.section);
        let (Some(stack), Some(section)) = (stack, section) else {
            self.notes.sheet = None;
            return;
        };
        let only = self.layers.chosen(&stack).filter(|_| !self.notes.all_layers);
        self.follow_size_of_notes();
        let known = self.notes.sheet.as_ref();
        if known.is_some_and(|sheet| sheet.is_of(&stack, only, section)) {
            return;
        }
        let sheet = Arc::new(Sheet::new(&stack, only, section));
        let room = note_rows(self);
        let notes = &mut self.notes;
        notes.at = notes.at.min(sheet.length() - Tick(1)).max(Tick::ZERO);
        notes.sheet = Some(sheet.clone());
        let known_track = notes.track.replace(stack.track.id);
        if known_track != Some(stack.track.id) {
            notes.on = None;
            notes.let_go();
            (notes.corner, notes.ramp_from) = (None, None);
            let is_opened = known_track.is_none();
            self.settle_cursor(&sheet, is_opened, room, state);
        }
        let notes = &mut self.notes;
        if !notes.selected.is_empty() {
            let there: BTreeSet<NoteRef> = sheet.names().collect();
            notes.selected.retain(|name| there.contains(name));
            notes.note_selection();
        }
        let base = sheet.base(state.status.round);
        // In the lane the cursor is on a place, not on a note.
        let on = notes.on.filter(|_| notes.arrows != Arrows::Lane);
        match on.and_then(|name| sheet.nearest(name, notes.at, base)) {
            Some(lying) => {
                notes.at = lying.on.max(Tick::ZERO);
                notes.key = lying.note.stroke().key;
            }
            None => self.find_under_cursor(state),
        }
        self.keep_cursor_in_sight();
        self.version += 1;
    }

    /// On a screen of another size, puts the keys in use into the middle again.
    fn follow_size_of_notes(&mut self) {
        let Some(sheet) = self.notes.sheet.clone() else { return };
        if std::mem::replace(&mut self.notes.size, self.size) != self.size {
            self.notes.top = self.notes.first_top(&sheet, note_rows(self));
            self.keep_cursor_in_sight();
            self.version += 1;
        }
    }

    /// Puts the cursor somewhere in the notes of another track: at first on the first note, then at the start of
    /// the mark where it was.
    fn settle_cursor(
        &mut self,
        sheet: &Arc<Sheet>,
        is_opened: bool,
        room: usize,
        state: &DeskState,
    ) {
        let base = sheet.base(state.status.round);
        let whole = Span::new(-SIXTEENTH, sheet.length());
        let first =
            |from: Tick| sheet.neighbour(Side::Right, whole, base, |lying| lying.on >= from);
        let mark = self.cursor_mark(state).map_or(self.notes.at, |mark| mark.from);
        // What is early in the mark counts as in it.
        let early = self.notes_scale(state).map_or(Tick::ZERO, |scale| scale.early());
        let opened = first(Tick::MIN);
        let next = first(mark - early).or(opened);
        let (at, lying) = match opened {
            Some(lying) if is_opened => (lying.on.max(Tick::ZERO), Some(lying)),
            _ => (mark, next),
        };
        let usual = || super::octaves::usual_key(&sheet.track);
        let notes = &mut self.notes;
        notes.at = at;
        notes.key = lying.map_or_else(usual, |lying| lying.note.stroke().key);
        notes.top = notes.first_top(sheet, room);
    }

    /// The scale of the view, for the place where the cursor is.
    fn notes_scale(&self, state: &DeskState) -> Option<Scale> {
        loop_fit(state, self).map(|fit| fit.scale)
    }

    /// The mark of the cursor: its first tick and the one after its last.
    fn cursor_mark(&self, state: &DeskState) -> Option<Span> {
        let scale = self.notes_scale(state)?;
        let mark = scale.marks[self.mark_of_cursor(&scale, state)?];
        Some(Span::new(mark.start, mark.end))
    }

    fn mark_of_cursor(&self, scale: &Scale, state: &DeskState) -> Option<usize> {
        let sheet = self.notes.sheet.as_ref();
        let base = sheet.map_or(Tick::ZERO, |sheet| sheet.base(state.status.round));
        self.notes.mark(scale, base)
    }

    /// Looks which note is under the cursor: one that starts in its mark, else one that sounds there.
    fn find_under_cursor(&mut self, state: &DeskState) {
        self.notes.on = self.under(state, self.notes.at, self.notes.key);
        let sheet = self.notes.sheet.as_ref();
        let note = sheet.and_then(|sheet| sheet.note(self.notes.on?)).map(|(_, note)| *note);
        self.notes.velocity = note.map(|note| note.stroke().velocity).or(self.notes.velocity);
    }

    fn under(&self, state: &DeskState, at: Tick, key: U7) -> Option<NoteRef> {
        let sheet = self.notes.sheet.clone()?;
        let scale = self.notes_scale(state)?;
        let mark = scale.marks[scale.mark_of(at)?];
        let base = sheet.base(state.status.round);
        let drawn = Span::new(mark.start - scale.early(), mark.end - scale.early());
        // One that begins right here may be drawn in the mark after this.
        let exact = Span::new(at, at + Tick(1));
        let starts = sheet.starting(key, exact, base).next();
        let starts = starts.or_else(|| sheet.starting(key, drawn, base).next());
        let starts = starts.map(|lying| lying.name());
        // Where the cell shows that a note goes on.
        let held = Span::new(mark.start + scale.early(), drawn.to);
        let sounds = || sheet.touching(key, held, base).map(|lying| lying.name()).next();
        starts.or_else(sounds)
    }

    pub(super) fn move_in_notes(&mut self, to: Move, state: &DeskState) {
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let Some(scale) = self.notes_scale(state) else { return };
        let Some(mark) = self.mark_of_cursor(&scale, state).map(|at| scale.marks[at]) else {
            return;
        };
        let rows = self.notes.rows(note_rows(self));
        let row = rows.iter().position(|key| *key == self.notes.key).unwrap_or(0);
        let last = sheet.length() - Tick(1);
        let (mut at, mut key) = (self.notes.at, self.notes.key);
        match to {
            Move::Left => at = if at > mark.start { mark.start } else { mark.start - Tick(1) },
            Move::Right => at = mark.end,
            Move::First => at = Tick::ZERO,
            Move::Last => at = last,
            Move::Up => key = rows[row.saturating_sub(1)],
            Move::Down => key = rows[(row + 1).min(rows.len() - 1)],
            Move::PageUp => key = U7::new(key.get() + 12).unwrap_or(key),
            Move::PageDown => key = key.get().checked_sub(12).and_then(U7::new).unwrap_or(key),
        }
        self.put_cursor(at.clamp(Tick::ZERO, last), key, state);
        if matches!(to, Move::Left | Move::Last) && at != mark.start {
            // To the start of the mark before, which may be on another page.
            if let Some(mark) = self.cursor_mark(state) {
                self.put_cursor(mark.from, key, state);
            }
        }
    }

    /// Puts the cursor somewhere, and takes the range along that is being selected.
    fn put_cursor(&mut self, at: Tick, key: U7, state: &DeskState) {
        (self.notes.at, self.notes.key) = (at, key);
        self.find_under_cursor(state);
        self.extend_range(state);
        self.keep_cursor_in_sight();
    }

    /// To the next note or the one before, of any key.
    pub(super) fn step_to_note(&mut self, side: Side, state: &DeskState) {
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let base = sheet.base(state.status.round);
        let (at, key, on) = (self.notes.at, self.notes.key, self.notes.on);
        let place =
            |lying: &Lying| (lying.on.max(Tick::ZERO), lying.note.stroke().key, Some(lying.name()));
        // The note under the cursor may have begun before the cursor.
        let start = on.and_then(|name| sheet.nearest(name, at, base)).map(|lying| place(&lying));
        let here = start.unwrap_or((at, key, None));
        // What is early at the top is the top's, and not drawn once more at the end.
        let early = self.notes_scale(state).map_or(Tick::ZERO, |scale| scale.early());
        let span = match side {
            Side::Left => Span::new(-early, here.0 + Tick(1)),
            Side::Right => Span::new(-early, sheet.length() - early),
        };
        let next = sheet.neighbour(side, span, base, |lying| match side {
            Side::Left => place(lying) < here,
            Side::Right => place(lying) > here,
        });
        match next {
            Some(lying) => {
                let (at, key, on) = place(&lying);
                self.put_cursor(at.min(sheet.length() - Tick(1)), key, state);
                self.notes.on = on;
            }
            None if sheet.of == 0 => self.say_with_keys(Need::AnyLayer.missing()),
            None if sheet.count() == 0 => {
                self.say_with_keys("There are no notes here: {draw} draws one.")
            }
            None if side == Side::Left => self.say("This is the first note."),
            None => self.say("This is the last note."),
        }
    }

    /// Moves the cursor an octave.
    pub(super) fn step_octave(&mut self, way: Vertical, state: &DeskState) {
        self.move_in_notes(if way == Vertical::Up { Move::PageUp } else { Move::PageDown }, state);
    }

    /// Starts to select a range from the cursor, or ends that.
    pub(super) fn select_range(&mut self, state: &DeskState) {
        self.notes.corner = match self.notes.corner {
            Some(_) => None,
            None => Some((self.notes.at, self.notes.key)),
        };
        self.extend_range(state);
    }

    /// Selects what lies between the corner and the cursor.
    fn extend_range(&mut self, state: &DeskState) {
        let Some((at, key)) = self.notes.corner else { return };
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let Some(scale) = self.notes_scale(state) else { return };
        let cursor = self.mark_of_cursor(&scale, state);
        let here = cursor.map_or(self.notes.at, |mark| self.notes.at.max(scale.marks[mark].start));
        let (from, to) = (at.min(here), at.max(here));
        let start = scale.mark_of(from).map_or(from, |mark| scale.marks[mark].start);
        let end = scale.mark_of(to).map_or(to + Tick(1), |mark| scale.marks[mark].end);
        let span = Span::new(start - scale.early(), end - scale.early());
        let (low, high) = (key.min(self.notes.key), key.max(self.notes.key));
        let all = sheet.candidates_in(span, sheet.base(state.status.round));
        self.notes.selected = choose(Choice::Between(span, low, high), &all);
        self.notes.note_selection();
    }

    /// Selects all notes that start in a span.
    fn select_span(&mut self, span: Span, state: &DeskState) {
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let all = sheet.candidates_in(span, sheet.base(state.status.round));
        self.select(choose(Choice::All, &all));
    }

    /// Goes back by one: from a ramp that is being drawn to the lane, from other arrows to the cursor,
    /// from a range to what is selected, from that to nothing selected.
    pub(super) fn release_notes(&mut self) {
        if self.notes.ramp_from.take().is_some() {
            return;
        }
        if self.notes.arrows != Arrows::Cursor {
            self.notes.arrows = Arrows::Cursor;
        } else if self.notes.corner.take().is_none() {
            self.notes.clear_selection();
        }
    }

    /// Shows one layer, or all of the track.
    pub(super) fn turn_layers(&mut self, state: &DeskState) {
        self.notes.all_layers = !self.notes.all_layers;
        self.notes.corner = None;
        self.follow_notes(state);
    }

    /// Shows every key, or only those with notes.
    pub(super) fn turn_keys(&mut self) {
        let Some(sheet) = &self.notes.sheet else { return };
        let sheet = sheet.clone();
        let kind = usize::from(sheet.track.pitched);
        self.notes.turned[kind] = !self.notes.turned[kind];
        let room = note_rows(self);
        self.notes.top = self.notes.first_top(&sheet, room);
        self.keep_cursor_in_sight();
    }

    /// Lets the arrows do something else; the same again gives them back to the cursor.
    pub(super) fn turn_arrows(&mut self, arrows: Arrows) {
        let same = self.notes.arrows == arrows;
        self.set_arrows(if same { Arrows::Cursor } else { arrows });
    }

    /// Lets the arrows do something.
    pub(super) fn set_arrows(&mut self, arrows: Arrows) {
        self.notes.arrows = arrows;
        self.notes.ramp_from = None;
        if self.notes.arrows == Arrows::Lane {
            // What is selected stays selected while the cursor moves along the lane.
            self.notes.corner = None;
            if self.notes.lane == InLane::Nothing {
                self.notes.lane = InLane::Velocity;
            }
        }
        // The lane may take rows from the keys.
        self.keep_cursor_in_sight();
    }

    /// Scrolls as far as the cursor needs.
    fn keep_cursor_in_sight(&mut self) {
        let rows = self.notes.rows(note_rows(self));
        let at = rows.iter().position(|key| *key == self.notes.key).unwrap_or(0);
        let room = note_rows(self);
        self.notes.top = window(self.notes.top, at, rows.len(), room);
    }

    /// Selects by a rule: among the selected notes if there are several and `within`, else among all.
    fn choose_notes(&mut self, choice: Choice, within: bool, state: &DeskState) {
        let Some(sheet) = self.notes.sheet.clone() else { return };
        let mut all = sheet.candidates(sheet.base(state.status.round));
        if within && self.notes.selected.len() > 1 {
            all.retain(|candidate| self.notes.selected.contains(&candidate.note));
        }
        self.select(choose(choice, &all));
    }

    fn select(&mut self, notes: BTreeSet<NoteRef>) {
        if notes.is_empty() {
            self.say("No notes match.");
        }
        self.notes.selected = notes;
        self.notes.corner = None;
        self.notes.note_selection();
    }
}
