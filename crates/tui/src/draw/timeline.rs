//! The time axis of the views: where the section's ticks fall on the screen, with the ruler, the
//! playhead and rows of marks. All views share it, so that a bar keeps its place from one to the next.

mod marks;
mod over;
mod playhead;
mod ruler;

use super::{Frame, Pen, Sight, head};
use crate::axis::{Bars, Grain, Level, SIXTEENTH, Scale};
use crate::desk::DeskState;
use crate::key_names::Naming;
use crate::keys_play::fingered;
use crate::screen::{Screen, View};
use crate::sheet::Sheet;
use crate::text;
use chaconne_engine::{Route, Walk, is_heard};
use chaconne_song::{Section, Track};
use chaconne_time::Tick;
use std::sync::Arc;

pub(super) use marks::{held_on, marks, track_style, unfinished};
pub(super) use ruler::bar_lines;

/// With this many extra columns for the name there is room for the number, too.
const NUMBERED: u16 = 4;

/// From this width on, heads are beside the marks.
const BESIDE: u16 = 104;

/// What a wide screen has room for in heads beside the marks, besides what is always there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Heads {
    /// How many more columns the feel has: enough for all of it, or none.
    pub feel: u16,
    /// The columns of volume and pan; none if there is no room.
    pub levels: u16,
}

impl Heads {
    /// More columns for the whole feel.
    const FEEL: u16 = 15;
    /// Volume and pan as numbers.
    const NUMBERS: u16 = 11;
    /// The same with a bar for the volume.
    const BARS: u16 = 21;

    /// The heads with so many columns to spare: first the feel, then the levels.
    fn of(spare: u16) -> Heads {
        if spare < Self::FEEL {
            return Heads::default();
        }
        let levels = match spare - Self::FEEL {
            Self::BARS.. => Self::BARS,
            Self::NUMBERS.. => Self::NUMBERS,
            _ => 0,
        };
        Heads { feel: Self::FEEL, levels }
    }

    /// The columns that marks leave to the heads on a screen of this width, before they are spread.
    fn kept(width: u16) -> u16 {
        if width < 140 { Self::FEEL } else { Self::FEEL + Self::NUMBERS }
    }

    /// All of them.
    pub fn columns(self) -> u16 {
        self.feel + self.levels
    }
}

/// Where a track's head is, relative to its marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Side by side, with everything in the head.
    Beside,
    /// The head above the marks.
    Above,
    /// Side by side, with a short name and letters in the head.
    Bare,
    /// Side by side, with the name of a key in the head.
    Key,
}

impl Shape {
    /// The column at which the axis starts.
    fn left(self) -> u16 {
        match self {
            Shape::Beside => 34,
            Shape::Above => 0,
            Shape::Bare => 13,
            Shape::Key => 11,
        }
    }

    /// The rows a track takes.
    pub fn rows(self) -> u16 {
        match self {
            Shape::Above => 2,
            Shape::Beside | Shape::Bare | Shape::Key => 1,
        }
    }
}

/// What every row along the axis needs to be drawn.
pub(super) struct Stage<'a> {
    pub sight: &'a Sight<'a>,
    pub section: &'a Section,
    pub shape: Shape,
    pub scale: Arc<Scale>,
    /// The column of the first bar line.
    pub left: u16,
    /// How much wider than usual the names are.
    pub extra: u16,
    /// The columns between the names and the marks.
    pub heads: Heads,
    /// Whether the title has a row.
    titled: bool,
    /// How many rounds of the section are on the axis before the one that plays.
    turn: u64,
}

impl Stage<'_> {
    /// Whether there is room for the tracks' numbers.
    pub fn is_numbered(&self) -> bool {
        self.shape != Shape::Bare || self.extra >= NUMBERED
    }

    /// Where the playhead is on the axis.
    pub fn playhead(&self) -> Tick {
        self.sight.state.status.in_section + self.section.length() * self.turn as i64
    }

    /// Where the music begins after the count-in, on the axis.
    pub fn beginning(&self) -> Tick {
        self.sight.state.status.begins + self.section.length() * self.turn as i64
    }

    /// The number of the bar that plays, on the axis.
    pub fn bar_now(&self) -> i64 {
        let bars = i64::from(self.section.metre.bars());
        self.sight.state.status.place.bar + bars * self.turn as i64
    }

    /// How the keys of a track are named.
    pub fn naming(&self, track: &Track) -> Naming {
        Naming::of(&self.sight.state.status.song, self.section, track)
    }

    /// Whether a track is muted, or not among those soloed.
    pub fn is_silent(&self, track: &Track) -> bool {
        !is_heard(track.id, track.mute, &self.sight.state.status.solo_tracks)
    }
}

/// The axis of the section shown, for the rows of a view; `None` if there is no section.
pub(super) fn stage<'a>(pen: &Pen, sight: &'a Sight<'a>, frame: &Frame) -> Option<Stage<'a>> {
    let status = &sight.state.status;
    Some(stage_of(pen, sight, frame, status.song.section(status.section)?))
}

/// The axis of a section, as wide as if it were the section shown.
pub(super) fn stage_of<'a>(
    pen: &Pen,
    sight: &'a Sight<'a>,
    frame: &Frame,
    section: &'a Section,
) -> Stage<'a> {
    let Fit { shape, scale, .. } = fit(section, (pen.width(), frame), sight.state, sight.screen);
    // An empty column on the left, if the marks above leave one.
    let air = u16::from(shape == Shape::Above && scale.columns() + 2 <= pen.width());
    // The names get the columns that the marks leave.
    let spare = pen.width().saturating_sub(shape.left() + scale.columns() + 1);
    let heads = if shape == Shape::Beside { Heads::of(spare) } else { Heads::default() };
    let extra = match shape {
        Shape::Above | Shape::Key => 0,
        Shape::Beside | Shape::Bare => (spare - heads.columns()).min(16),
    };
    let left = shape.left() + air + extra + heads.columns();
    let titled = frame.head.title.is_some();
    let turn = sheet(sight.screen, section);
    let turn = turn.map_or(0, |sheet| sheet.turn(sight.state.status.round));
    Stage { sight, section, shape, scale: Arc::new(scale), left, extra, heads, titled, turn }
}

/// Draws only the ruler, in any row.
pub(super) fn ruler(pen: &mut Pen, stage: &Stage, row: u16, heads: &[(u16, &str)]) {
    ruler::draw(pen, stage, row, heads);
}

/// Draws what is over the bars about time, into a row above a ruler.
pub(super) fn over(pen: &mut Pen, stage: &Stage, row: u16) {
    over::draw(pen, stage, row, 0..0);
}

/// Draws the ruler, and over it the playhead and what is there about time. `heads` are the captions over what is left of the marks, each with
/// its column.
pub(super) fn draw(pen: &mut Pen, stage: &Stage, frame: &Frame, heads: &[(u16, &str)]) {
    ruler::draw(pen, stage, frame.body.ruler, heads);
    if let Some(row) = frame.body.playhead {
        over::draw(pen, stage, row, playhead::taken(pen, stage));
        playhead::draw(pen, stage, row);
        keys_played(pen, stage, row);
    }
}

/// Left of the playhead on a narrow screen, whose head has no room for it: the chord that is played or, if there is
/// none, what keys play.
fn keys_played(pen: &mut Pen, stage: &Stage, row: u16) {
    if pen.width() >= head::NARROW || stage.shape == Shape::Above {
        return;
    }
    let palette = pen.palette;
    let plays =
        || fingered(&stage.sight.state.status).map(|plays| (plays.to_string(), palette.strong()));
    if let Some((words, style)) =
        head::chord(stage.sight).filter(|(name, _)| name != "-").or_else(plays)
    {
        let room = usize::from(stage.left.saturating_sub(2));
        pen.put(1, row, &text::clip(&words, room, palette.signs.cut), style);
    }
}

/// The layout of the section on the screen.
#[derive(Debug, Clone)]
pub struct Fit {
    shape: Shape,
    /// Time in columns.
    pub scale: Scale,
    /// The level without zoom: the finest with which the section fits, if one does.
    pub level: Level,
}

/// The layout of the section on a screen of this size; `None` if there is no section.
pub fn loop_fit(state: &DeskState, screen: &Screen) -> Option<Fit> {
    let section = state.status.song.section(state.status.section)?;
    let frame = Frame::of(screen);
    Some(fit(section, (screen.size.0, &frame), state, screen))
}

/// The ticks by which the playhead moves: a mark, and a sixteenth at the most.
pub fn playhead_step(state: &DeskState, screen: &Screen) -> Tick {
    match loop_fit(state, screen).map(|fit| fit.scale.grain) {
        Some(Grain::Ticks(ticks)) => SIXTEENTH.min(Tick(ticks)),
        Some(Grain::Bars(_)) | None => SIXTEENTH,
    }
}

/// The notes that the screen shows of a section, if it shows notes.
fn sheet<'a>(screen: &'a Screen, section: &Section) -> Option<&'a Sheet> {
    let sheet = screen.notes.sheet.as_deref().filter(|_| screen.view == View::Notes);
    sheet.filter(|sheet| sheet.section.letter == section.letter)
}

fn fit(
    section: &Section,
    (width, frame): (u16, &Frame),
    state: &DeskState,
    screen: &Screen,
) -> Fit {
    let bare = width < 60 || frame.body.rows.len() < 6;
    let by_key = screen.view == View::Notes;
    // Whatever the section holds, a screen of one size has one layout.
    let shape = match (by_key, bare) {
        (false, true) => Shape::Bare,
        (_, false) if width >= BESIDE => Shape::Beside,
        (true, _) => Shape::Key,
        (false, false) => Shape::Above,
    };
    // One time through, along the same route that is heard and exported; more if the notes of a longer
    // pass are shown.
    let length = sheet(screen, section).map_or(section.length(), Sheet::length);
    let route = Route::open(section.letter);
    let walk = Walk::along(&state.status.song, &route).bars(Tick::ZERO);
    let bars = Bars::along(walk.take_while(|bar| bar.start < length));
    let room = width.saturating_sub(shape.left());
    let level = fitting(&bars, room);
    let drawn = screen.axis.level(level);
    let beat = section.metre.first().beat();
    // A page of notes stays where the cursor is, so it need not last.
    let turns = state.is_playing() && !by_key;
    let drawn = if turns { calm_level(drawn, room, beat) } else { drawn };
    let kept = match shape {
        Shape::Beside => Heads::kept(width),
        Shape::Above => 1,
        Shape::Bare | Shape::Key => 0,
    };
    let spread = Scale::spread(&bars, drawn.grain(), room - kept);
    if let Some(scale) = spread.or_else(|| Scale::whole(&bars, drawn.grain(), room)) {
        return Fit { shape, scale, level };
    }
    let in_sight = if by_key { screen.notes.at } else { screen.axis.in_sight() };
    let scale = Scale::page(&bars, drawn.grain(), room, in_sight);
    Fit { shape, scale, level }
}

/// The finest level, from sixteenths to quarters, with which all bars fit; if none does, sixteenths or
/// as much coarser as it takes for each bar to fit by itself.
fn fitting(bars: &Bars, room: u16) -> Level {
    let fits = |level: &Level| bars.columns(level.grain()) <= i64::from(room);
    let whole = Level::SIXTEENTH.up_to(Level::QUARTER).find(fits);
    let one_by_one = |level: &Level| bars.fit_one_by_one(level.grain(), room);
    whole.or_else(|| Level::SIXTEENTH.and_up().find(one_by_one)).unwrap_or(Level::SIXTEENTH)
}

/// While the song plays a page lasts at least a beat, so that the eye can follow.
fn calm_level(level: Level, columns: u16, beat: Tick) -> Level {
    let lasts = |level: &Level| match level.grain() {
        Grain::Ticks(ticks) => ticks * i64::from(columns) >= beat.0,
        Grain::Bars(_) => true,
    };
    level.and_up().find(lasts).unwrap_or(level)
}
