//! What fits into a song: the rules that edits and the song's text both keep, so that every
//! song an edit can make can be written and read again.
//!
//! In: values and what they must fit into. Out: nothing, or one fragment that says what is
//! wrong and what would be right; callers add where.

use crate::{
    Chord, Control, Feel, Lane, LaneId, Note, NoteId, Pass, Placed, Point, Shape, Song, Stroke,
    SysEx, Track, U7,
};
use chaconne_time::{Metre, MetreMap, Span, TempoMap, TempoPoint, Tick, pulse};

/// How many pass lengths after the pass's start a lane ends at most.
const LANE_LENGTHS: i64 = 1000;

/// A rule that was broken, and the accepted range.
pub(crate) type Broken = String;

/// The longest a pass can be in any metre: 999 bars of 64 whole notes.
pub(crate) const LONGEST_PASS: Tick =
    Tick(MetreMap::MAX_BARS as i64 * 64 * 4 * chaconne_time::TICKS_PER_QUARTER);

/// `value` lies in `low..=high`.
pub(crate) fn within(what: &str, value: i64, low: i64, high: i64) -> Result<(), Broken> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(format!("{what} {value} is outside {low} to {high}"))
}

/// The id of a track, pass or note.
pub(crate) fn id(id: u32) -> Result<(), Broken> {
    within("id", i64::from(id), 1, i64::from(Song::LAST_ID))
}

/// A percentage.
pub(crate) fn percent(what: &str, value: u8) -> Result<(), Broken> {
    within(what, i64::from(value), 0, 100)
}

/// A feel's pull and reach; the rest fits by type.
pub(crate) fn feel(feel: &Feel) -> Result<(), Broken> {
    percent("pull", feel.pull)?;
    percent("reach", feel.reach)
}

/// The length a track asks for in new passes.
pub(crate) fn asked_length(length: Tick) -> Result<(), Broken> {
    within("pass_length", length.0, 1, LONGEST_PASS.0)
}

/// A track's settings.
pub(crate) fn track(track: &Track) -> Result<(), Broken> {
    id(track.id.0)?;
    feel(&track.feel)?;
    track.pass_length.map_or(Ok(()), asked_length)
}

/// The first tick past the most bars a section can have.
fn bars_end(metre: &MetreMap) -> Tick {
    metre.bar_start(i64::from(MetreMap::MAX_BARS) + 1)
}

/// A position as people read it.
fn told(metre: &MetreMap, at: Tick) -> String {
    if at.0.abs() > 2 * LONGEST_PASS.0 {
        return format!("tick {}", at.0);
    }
    metre.place(at).to_string()
}

/// A tempo point: in the bars a section can have, with its ramp. It may lie past the section's
/// last bar, so that a section can be made shorter and longer again.
pub(crate) fn tempo_point(metre: &MetreMap, point: &TempoPoint) -> Result<(), Broken> {
    let last = pulse::tick_of(point.tempi.len().max(1) as i64 - 1);
    let end = bars_end(metre);
    if point.at < Tick::ZERO || point.at >= end || last >= end - point.at {
        return Err(format!(
            "the tempo at {} is outside 1.1.0 to the end of bar {}",
            told(metre, point.at),
            MetreMap::MAX_BARS
        ));
    }
    Ok(())
}

/// All tempo points of a section.
pub(crate) fn tempo(metre: &MetreMap, tempo: &TempoMap) -> Result<(), Broken> {
    tempo.points().iter().try_for_each(|point| tempo_point(metre, point))
}

/// Where a chord may begin: in the bars a section can have. It may lie past the section's last.
pub(crate) fn chord_at(metre: &MetreMap, at: Tick) -> Result<(), Broken> {
    if (Tick::ZERO..bars_end(metre)).contains(&at) {
        return Ok(());
    }
    Err(format!(
        "the chord at {} is outside 1.1.0 to the end of bar {}",
        told(metre, at),
        MetreMap::MAX_BARS
    ))
}

/// A chord must be after the one before it.
pub(crate) fn chord_follows(
    metre: &MetreMap,
    before: Option<Tick>,
    at: Tick,
) -> Result<(), Broken> {
    match before.filter(|&before| before >= at) {
        None => Ok(()),
        Some(before) => Err(format!(
            "the chord at {} must come after the one at {}",
            told(metre, at),
            told(metre, before)
        )),
    }
}

/// The chord chart of a section.
pub(crate) fn chords(metre: &MetreMap, chords: &[Chord]) -> Result<(), Broken> {
    let mut before = None;
    for chord in chords {
        chord_at(metre, chord.at)?;
        chord_follows(metre, before, chord.at)?;
        before = Some(chord.at);
    }
    Ok(())
}

/// The range that a pass has for its content: its length, in a section's metre.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame<'a> {
    metre: &'a MetreMap,
    length: Tick,
}

impl<'a> Frame<'a> {
    /// The frame of a pass; its length must be a whole number of beats, 1 beat to 999 bars.
    pub(crate) fn new(metre: &'a MetreMap, length: Tick) -> Result<Frame<'a>, Broken> {
        if length < Tick(1) || length > bars_end(metre) {
            let most = MetreMap::MAX_BARS;
            return Err(format!("a pass of {} ticks is outside 1 beat to {most} bars", length.0));
        }
        let end = metre.place(length);
        if end.tick != 0 {
            let metre: &Metre = metre.metre_of(end.bar);
            return Err(format!(
                "a pass of {} ticks is not a whole number of beats in {metre}",
                length.0
            ));
        }
        Ok(Frame { metre, length })
    }

    /// Where a note or message starts: less than a pass length early, and before the end.
    pub(crate) fn start(self, what: &str, at: Tick) -> Result<(), Broken> {
        if -self.length < at && at < self.length {
            return Ok(());
        }
        Err(format!(
            "{what} at {} is outside its pass, which takes {} to {}",
            told(self.metre, at),
            told(self.metre, Tick(1) - self.length),
            told(self.metre, self.length - Tick(1))
        ))
    }

    /// The longest a note can be: the pass.
    pub(crate) fn longest(self) -> Tick {
        self.length
    }

    /// How long a note is: at least a tick, at most the pass.
    pub(crate) fn note_length(self, length: Tick) -> Result<(), Broken> {
        within("length", length.0, 1, self.length.0)
    }

    /// A stroke.
    pub(crate) fn stroke(self, stroke: &Stroke) -> Result<(), Broken> {
        self.start("a note", stroke.start)?;
        self.note_length(stroke.length)?;
        self.velocity(stroke.velocity)
    }

    /// How hard a key was struck: 0 would be a release.
    pub(crate) fn velocity(self, velocity: U7) -> Result<(), Broken> {
        within("velocity", i64::from(velocity.get()), 1, 127)
    }

    /// What an edit has changed about a note.
    fn placed(self, placed: &Placed) -> Result<(), Broken> {
        placed.start.map_or(Ok(()), |start| self.start("a note", start))?;
        placed.length.map_or(Ok(()), |length| self.note_length(length))?;
        placed.velocity.map_or(Ok(()), |velocity| self.velocity(velocity))
    }

    /// A note: as played, and as placed.
    pub(crate) fn note(self, note: &Note) -> Result<(), Broken> {
        id(note.id.0)?;
        self.stroke(&note.played)?;
        self.placed(&note.placed)
    }

    /// A span from at most a pass length early up to `end`.
    fn span(self, what: &str, span: Span, end: Tick) -> Result<(), Broken> {
        if -self.length <= span.from && span.from < span.to && span.to <= end {
            return Ok(());
        }
        Err(format!(
            "{what} from {} to {} does not go forward inside {} to {}",
            told(self.metre, span.from),
            told(self.metre, span.to),
            told(self.metre, -self.length),
            told(self.metre, end)
        ))
    }

    /// Where a pass covers the ones under it: up to its end.
    pub(crate) fn cover_span(self, span: Span) -> Result<(), Broken> {
        self.span("a cover", span, self.length)
    }

    /// All covers of a pass.
    pub(crate) fn covers(self, covers: &[Span]) -> Result<(), Broken> {
        let mut before = None;
        for &cover in covers {
            self.cover_span(cover)?;
            self.apart(before, cover)?;
            before = Some(cover);
        }
        Ok(())
    }

    /// Covers are in order and do not overlap.
    pub(crate) fn apart(self, before: Option<Span>, span: Span) -> Result<(), Broken> {
        match before.filter(|before| before.to > span.from) {
            None => Ok(()),
            Some(before) => Err(format!(
                "a cover at {} starts before the one in front of it has ended, at {}",
                told(self.metre, span.from),
                told(self.metre, before.to)
            )),
        }
    }

    /// Whether a span starts where it may; if it does and is wrong, its end is.
    pub(crate) fn starts_well(self, span: Span) -> bool {
        -self.length <= span.from && span.from < self.lane_end()
    }

    /// Where a lane ends at most.
    fn lane_end(self) -> Tick {
        (self.length * LANE_LENGTHS).min(LONGEST_PASS * 2)
    }

    /// Where a lane owns its controller: a gesture may go on for many rounds.
    pub(crate) fn lane_span(self, span: Span) -> Result<(), Broken> {
        self.span("a lane", span, self.lane_end())
    }

    /// A move of a lane: inside its span, not before the one in front of it.
    pub(crate) fn point_at(self, span: Span, before: Option<Tick>, at: Tick) -> Result<(), Broken> {
        if !span.contains(at) {
            return Err(format!(
                "a point at {} is outside its lane, which takes {} to {}",
                told(self.metre, at),
                told(self.metre, span.from),
                told(self.metre, span.to - Tick(1))
            ));
        }
        match before.filter(|&before| before > at) {
            None => Ok(()),
            Some(before) => Err(format!(
                "the point at {} is after the one at {}; points must be in order of time",
                told(self.metre, at),
                told(self.metre, before)
            )),
        }
    }

    /// A lane, with its points.
    pub(crate) fn lane(self, lane: &Lane) -> Result<(), Broken> {
        control(lane.control)?;
        self.lane_span(lane.span)?;
        if lane.points.is_empty() {
            return Err("a lane has no points; it needs at least one".into());
        }
        self.points(lane.control, lane.span, &lane.points)
    }

    /// Points of a lane of this control and span.
    pub(crate) fn points(
        self,
        control: Control,
        span: Span,
        points: &[Point],
    ) -> Result<(), Broken> {
        let mut before = None;
        for point in points {
            self.point_at(span, before, point.at)?;
            point_value(control, point)?;
            before = Some(point.at);
        }
        Ok(())
    }

    /// A system-exclusive message.
    pub(crate) fn message(self, message: &SysEx) -> Result<(), Broken> {
        self.start("a message", message.at)?;
        sysex_bytes(&message.bytes)
    }
}

/// The value of a point, and how it goes on: programs do not glide.
pub(crate) fn point_value(control: Control, point: &Point) -> Result<(), Broken> {
    let highest = i64::from(control.highest());
    within("value", i64::from(point.value.get()), 0, highest)?;
    shape(control, point.shape)
}

/// How a controller may go on from a point.
pub(crate) fn shape(control: Control, shape: Shape) -> Result<(), Broken> {
    if control == Control::Program && shape != Shape::Step {
        let word = shape.word();
        return Err(format!("shape '{word}' does not suit a program, which can only step"));
    }
    Ok(())
}

/// What a lane moves: control changes end at 119, mode messages are no lanes.
pub(crate) fn control(control: Control) -> Result<(), Broken> {
    match control {
        Control::Change(number) => within("control change", i64::from(number.get()), 0, 119),
        _ => Ok(()),
    }
}

/// A system-exclusive message is whole.
pub(crate) fn sysex_bytes(bytes: &[u8]) -> Result<(), Broken> {
    if SysEx::is_whole(bytes) {
        return Ok(());
    }
    let most = SysEx::LONGEST;
    Err(format!("a message of {} bytes is not F0, bytes 00 to 7F, F7, {most} at most", bytes.len()))
}

/// A whole pass in a section's metre. Its track and the uniqueness of its id are the song's.
pub(crate) fn pass(metre: &MetreMap, pass: &Pass) -> Result<(), Broken> {
    id(pass.id.0)?;
    pass.feel.iter().try_for_each(feel)?;
    inside(Frame::new(metre, pass.length)?, pass)
}

/// The content of a pass, checked against a length.
pub(crate) fn inside(frame: Frame<'_>, pass: &Pass) -> Result<(), Broken> {
    frame.covers(&pass.covers)?;
    pass.notes().iter().try_for_each(|note| frame.note(note))?;
    pass.lanes().iter().try_for_each(|lane| frame.lane(lane))?;
    pass.sysex().iter().try_for_each(|message| frame.message(message))?;
    one_id_each(pass.notes())?;
    one_lane_each(pass.lanes())
}

fn one_id_each(notes: &[Note]) -> Result<(), Broken> {
    let mut ids: Vec<NoteId> = notes.iter().map(|note| note.id).collect();
    ids.sort_unstable();
    match ids.windows(2).find(|pair| pair[0] == pair[1]) {
        None => Ok(()),
        Some(pair) => Err(format!("two notes have the id {}; each needs its own", pair[0].0)),
    }
}

fn one_lane_each(lanes: &[Lane]) -> Result<(), Broken> {
    let mut ids: Vec<LaneId> = lanes.iter().map(Lane::id).collect();
    ids.sort_unstable();
    match ids.windows(2).find(|pair| pair[0] == pair[1]) {
        None => Ok(()),
        Some(pair) => Err(format!("two lanes of {} start at one place", pair[0].control)),
    }
}
