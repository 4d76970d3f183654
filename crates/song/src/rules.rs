//! The rules that a song must keep. Edits and the reader of the song's text use the same ones, so
//! every song that edits can make can be written and read again.
//!
//! In: values, and the song or pass that sets their limits. Out: nothing, or one fragment of a
//! sentence that says what is wrong and what would be right; callers add the place.

use crate::{
    Chord, ChordKeys, Control, Feel, GivenGroove, Groove, Human, Lane, LaneId, Lean, Note, NoteId,
    Pass, Placed, Point, Shape, Song, StepAt, Stroke, SysEx, Track, U7,
};
use chaconne_time::{Metre, MetreMap, Span, TempoMap, TempoPoint, Tick, pulse};

/// A lane ends at most this many pass lengths after the pass's start.
const LANE_LENGTHS: i64 = 1000;

/// What is wrong with a value, and the accepted range.
pub(crate) type Broken = String;

/// The longest that a pass can be in any metre: 999 bars of 64 whole notes.
pub(crate) const LONGEST_PASS: Tick =
    Tick(MetreMap::MAX_BARS as i64 * 64 * 4 * chaconne_time::TICKS_PER_QUARTER);

/// Checks that `value` is in `low..=high`.
pub(crate) fn within(what: &str, value: i64, low: i64, high: i64) -> Result<(), Broken> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(format!("{what} {value} is outside {low} to {high}"))
}

/// Checks the id of a track, groove, pass or note.
pub(crate) fn id(id: u32) -> Result<(), Broken> {
    within("id", i64::from(id), 1, i64::from(Song::LAST_ID))
}

/// Checks a percentage.
pub(crate) fn percent(what: &str, value: u8) -> Result<(), Broken> {
    within(what, i64::from(value), 0, 100)
}

/// Checks a feel, except whether the song has its groove.
pub(crate) fn feel(feel: &Feel) -> Result<(), Broken> {
    percent("pull", feel.pull)?;
    percent("reach", feel.reach)?;
    feel.groove.as_ref().map_or(Ok(()), given)?;
    human(&feel.human)
}

/// Checks how much of a groove is given.
pub(crate) fn given(given: &GivenGroove) -> Result<(), Broken> {
    let most = i64::from(GivenGroove::MOST);
    within("timing", i64::from(given.timing), 0, most)?;
    within("loudness", i64::from(given.loudness), 0, most)
}

/// Checks human variation.
pub(crate) fn human(human: &Human) -> Result<(), Broken> {
    percent("timing", human.timing)?;
    percent("loudness", human.loudness)?;
    within("seed", i64::from(human.seed), 0, i64::from(Human::LAST_SEED))
}

/// Checks a groove.
pub(crate) fn groove(groove: &Groove) -> Result<(), Broken> {
    id(groove.id.0)?;
    within("bars", i64::from(groove.bars), 1, i64::from(Groove::MAX_BARS))?;
    groove.steps.iter().try_for_each(|(at, lean)| {
        step_at(groove, *at)?;
        step(groove, lean)
    })
}

/// Checks that a groove can have this step.
pub(crate) fn step_at(groove: &Groove, at: StepAt) -> Result<(), Broken> {
    within("bar", i64::from(at.bar), 1, i64::from(groove.bars))?;
    within("step", i64::from(at.step), 1, i64::from(Groove::LAST_STEP))
}

/// Checks how a step of a groove leans. A stroke that is further from it belongs to the next step.
pub(crate) fn step(groove: &Groove, lean: &Lean) -> Result<(), Broken> {
    let furthest = groove.furthest().0;
    within("timing", lean.timing.0, -furthest, furthest)?;
    within("timing_spread", lean.timing_spread.0, 0, 2 * furthest)?;
    let loudest = i64::from(Groove::LOUDEST);
    within("loudness", i64::from(lean.loudness), 0, loudest)?;
    within("loudness_spread", i64::from(lean.loudness_spread), 0, loudest)
}

/// Checks the length that a track asks for in new passes.
pub(crate) fn asked_length(length: Tick) -> Result<(), Broken> {
    within("pass_length", length.0, 1, LONGEST_PASS.0)
}

/// Checks the inversion of chord keys.
pub(crate) fn inversion(nth: u8) -> Result<(), Broken> {
    within("inversion", i64::from(nth), 0, i64::from(ChordKeys::LAST_INVERSION))
}

/// Checks a track's settings.
pub(crate) fn track(track: &Track) -> Result<(), Broken> {
    id(track.id.0)?;
    feel(&track.feel)?;
    inversion(track.chord_keys.inversion)?;
    track.pass_length.map_or(Ok(()), asked_length)
}

/// The first tick past the most bars a section can have.
fn bars_end(metre: &MetreMap) -> Tick {
    metre.bar_start(i64::from(MetreMap::MAX_BARS) + 1)
}

/// A position as bar.beat.tick, or in ticks if it is too far away to have a sensible bar.
fn shown(metre: &MetreMap, at: Tick) -> String {
    if at.0.abs() > 2 * LONGEST_PASS.0 {
        return format!("tick {}", at.0);
    }
    metre.place(at).to_string()
}

/// Checks that a tempo point and its ramp are within the 999 bars that a section can have. It may
/// be past the section's last bar, so that a section can be made shorter and longer again.
pub(crate) fn tempo_point(metre: &MetreMap, point: &TempoPoint) -> Result<(), Broken> {
    let last = pulse::tick_of(point.tempi.len().max(1) as i64 - 1);
    let end = bars_end(metre);
    if point.at < Tick::ZERO || point.at >= end || last >= end - point.at {
        return Err(format!(
            "the tempo at {} is outside 1.1.0 to the end of bar {}",
            shown(metre, point.at),
            MetreMap::MAX_BARS
        ));
    }
    Ok(())
}

/// Checks all tempo points of a section.
pub(crate) fn tempo(metre: &MetreMap, tempo: &TempoMap) -> Result<(), Broken> {
    tempo.points().iter().try_for_each(|point| tempo_point(metre, point))
}

/// Checks that a chord or a fermata is within the 999 bars that a section can have. It may be past the section's
/// last bar.
pub(crate) fn placed(metre: &MetreMap, what: &str, at: Tick) -> Result<(), Broken> {
    if (Tick::ZERO..bars_end(metre)).contains(&at) {
        return Ok(());
    }
    Err(format!(
        "the {what} at {} is outside 1.1.0 to the end of bar {}",
        shown(metre, at),
        MetreMap::MAX_BARS
    ))
}

/// Checks that a chord or a fermata comes after the one before it.
pub(crate) fn follows(
    metre: &MetreMap,
    what: &str,
    before: Option<Tick>,
    at: Tick,
) -> Result<(), Broken> {
    match before.filter(|&before| before >= at) {
        None => Ok(()),
        Some(before) => Err(format!(
            "the {what} at {} must come after the one at {}",
            shown(metre, at),
            shown(metre, before)
        )),
    }
}

/// Checks all fermatas of a section.
pub(crate) fn fermatas(metre: &MetreMap, fermatas: &[Tick]) -> Result<(), Broken> {
    in_order(metre, "fermata", fermatas.iter().copied())
}

/// Checks all chords of a section.
pub(crate) fn chords(metre: &MetreMap, chords: &[Chord]) -> Result<(), Broken> {
    in_order(metre, "chord", chords.iter().map(|chord| chord.at))
}

fn in_order(
    metre: &MetreMap,
    what: &str,
    places: impl Iterator<Item = Tick>,
) -> Result<(), Broken> {
    let mut before = None;
    for at in places {
        placed(metre, what, at)?;
        follows(metre, what, before, at)?;
        before = Some(at);
    }
    Ok(())
}

/// The limits that a pass sets for its content: its length, in a section's metre.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Frame<'a> {
    metre: &'a MetreMap,
    length: Tick,
}

impl<'a> Frame<'a> {
    /// The frame of a pass. Its length must be a whole number of beats, 1 beat to 999 bars.
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

    /// Checks where a note or message starts: less than a pass length early, and before the end.
    pub(crate) fn start(self, what: &str, at: Tick) -> Result<(), Broken> {
        if -self.length < at && at < self.length {
            return Ok(());
        }
        Err(format!(
            "{what} at {} is outside its pass, which allows {} to {}",
            shown(self.metre, at),
            shown(self.metre, Tick(1) - self.length),
            shown(self.metre, self.length - Tick(1))
        ))
    }

    /// The longest that a note can be: as long as the pass.
    pub(crate) fn longest(self) -> Tick {
        self.length
    }

    /// Checks the length of a note: at least 1 tick, at most the length of the pass.
    pub(crate) fn note_length(self, length: Tick) -> Result<(), Broken> {
        within("length", length.0, 1, self.length.0)
    }

    /// Checks a stroke.
    pub(crate) fn stroke(self, stroke: &Stroke) -> Result<(), Broken> {
        self.start("a note", stroke.start)?;
        self.note_length(stroke.length)?;
        self.velocity(stroke.velocity)
    }

    /// Checks a velocity. 0 is not allowed, because MIDI takes a note-on with velocity 0 for a
    /// release.
    pub(crate) fn velocity(self, velocity: U7) -> Result<(), Broken> {
        within("velocity", i64::from(velocity.get()), 1, 127)
    }

    /// Checks what edits have changed about a note.
    fn placed(self, placed: &Placed) -> Result<(), Broken> {
        placed.start.map_or(Ok(()), |start| self.start("a note", start))?;
        placed.length.map_or(Ok(()), |length| self.note_length(length))?;
        placed.velocity.map_or(Ok(()), |velocity| self.velocity(velocity))
    }

    /// Checks a note, as played and as placed.
    pub(crate) fn note(self, note: &Note) -> Result<(), Broken> {
        id(note.id.0)?;
        self.stroke(&note.played)?;
        self.placed(&note.placed)
    }

    /// Checks a span: not empty, and from at most a pass length early to `end` at the latest.
    fn span(self, what: &str, span: Span, end: Tick) -> Result<(), Broken> {
        if -self.length <= span.from && span.from < span.to && span.to <= end {
            return Ok(());
        }
        Err(format!(
            "{what} from {} to {} must end after it starts, and stay within {} to {}",
            shown(self.metre, span.from),
            shown(self.metre, span.to),
            shown(self.metre, -self.length),
            shown(self.metre, end)
        ))
    }

    /// Checks where a pass covers the ones below it: at most up to its own end.
    pub(crate) fn cover_span(self, span: Span) -> Result<(), Broken> {
        self.span("a cover", span, self.length)
    }

    /// Checks all covers of a pass.
    pub(crate) fn covers(self, covers: &[Span]) -> Result<(), Broken> {
        let mut before = None;
        for &cover in covers {
            self.cover_span(cover)?;
            self.apart(before, cover)?;
            before = Some(cover);
        }
        Ok(())
    }

    /// Checks that a cover starts after the one before it ends.
    pub(crate) fn apart(self, before: Option<Span>, span: Span) -> Result<(), Broken> {
        match before.filter(|before| before.to > span.from) {
            None => Ok(()),
            Some(before) => Err(format!(
                "the cover at {} starts before the end of the one before it, at {}",
                shown(self.metre, span.from),
                shown(self.metre, before.to)
            )),
        }
    }

    /// Whether the start of a span is in range. If the span is still wrong, its end is at fault.
    pub(crate) fn start_fits(self, span: Span) -> bool {
        -self.length <= span.from && span.from < self.lane_end()
    }

    /// The latest tick at which a lane may end.
    fn lane_end(self) -> Tick {
        (self.length * LANE_LENGTHS).min(LONGEST_PASS * 2)
    }

    /// Checks where a lane owns its controller. A gesture may continue for many rounds.
    pub(crate) fn lane_span(self, span: Span) -> Result<(), Broken> {
        self.span("a lane", span, self.lane_end())
    }

    /// Checks that a point is inside its lane's span, and not before the point listed before it.
    pub(crate) fn point_at(self, span: Span, before: Option<Tick>, at: Tick) -> Result<(), Broken> {
        if !span.contains(at) {
            return Err(format!(
                "a point at {} is outside its lane, which runs from {} to {}",
                shown(self.metre, at),
                shown(self.metre, span.from),
                shown(self.metre, span.to - Tick(1))
            ));
        }
        match before.filter(|&before| before > at) {
            None => Ok(()),
            Some(before) => Err(format!(
                "the point at {} is listed after the one at {}; points must be in time order",
                shown(self.metre, at),
                shown(self.metre, before)
            )),
        }
    }

    /// Checks a lane with its points.
    pub(crate) fn lane(self, lane: &Lane) -> Result<(), Broken> {
        control(lane.control)?;
        self.lane_span(lane.span)?;
        if lane.points.is_empty() {
            return Err("a lane has no points; it needs at least one".into());
        }
        self.points(lane.control, lane.span, &lane.points)
    }

    /// Checks the points of a lane with this control and span.
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

    /// Checks a system-exclusive message.
    pub(crate) fn message(self, message: &SysEx) -> Result<(), Broken> {
        self.start("a message", message.at)?;
        sysex_bytes(&message.bytes)
    }
}

/// Checks the value and the shape of a point.
pub(crate) fn point_value(control: Control, point: &Point) -> Result<(), Broken> {
    let highest = i64::from(control.highest());
    within("value", i64::from(point.value.get()), 0, highest)?;
    shape(control, point.shape)
}

/// Checks the shape of a point. A program can only step: a program in between means nothing.
pub(crate) fn shape(control: Control, shape: Shape) -> Result<(), Broken> {
    if control == Control::Program && shape != Shape::Step {
        let word = shape.word();
        return Err(format!("a program cannot have the shape '{word}', only 'step'"));
    }
    Ok(())
}

/// Checks the control of a lane. Control changes 120 to 127 are mode messages, not controllers.
pub(crate) fn control(control: Control) -> Result<(), Broken> {
    match control {
        Control::Change(number) => within("control change", i64::from(number.get()), 0, 119),
        _ => Ok(()),
    }
}

/// Checks that a system-exclusive message is complete.
pub(crate) fn sysex_bytes(bytes: &[u8]) -> Result<(), Broken> {
    if SysEx::is_whole(bytes) {
        return Ok(());
    }
    let most = SysEx::LONGEST;
    Err(format!(
        "a message of {} bytes must be F0, then bytes 00 to 7F, then F7, at most {most} in all",
        bytes.len()
    ))
}

/// Checks a whole pass in a section's metre, except for what depends on the song: whether its track
/// exists and its id is free.
pub(crate) fn pass(metre: &MetreMap, pass: &Pass) -> Result<(), Broken> {
    id(pass.id.0)?;
    pass.feel.iter().try_for_each(feel)?;
    content(Frame::new(metre, pass.length)?, pass)
}

/// Checks the content of a pass.
pub(crate) fn content(frame: Frame<'_>, pass: &Pass) -> Result<(), Broken> {
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
        Some(pair) => Err(format!(
            "two lanes of {} start at the same tick; move one of them",
            pair[0].control
        )),
    }
}

#[cfg(test)]
mod tests;
