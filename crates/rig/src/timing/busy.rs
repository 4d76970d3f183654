//! The song for measuring: sixteen parts of sixteenths at 240, each shifted a little from the
//! others, so that nearly every note has a deadline of its own; four of them move a controller.

use chaconne_engine::{Entry, Route, View, perform};
use chaconne_song::{
    Channel, Control, Lane, Letter, Note, NoteId, Pass, PassId, Point, Section, Song, Stroke,
    Track, TrackId, U7, U14,
};
use chaconne_time::pulse::TICKS_PER_PULSE;
use chaconne_time::{Metre, MetreMap, Span, Tempo, Tick, TimeError};
use std::collections::BTreeSet;
use std::sync::Arc;

/// How many parts, one per channel.
const PARTS: u32 = 16;
/// The length of the bar: four quarters, which last a second at 240.
const BAR: Tick = Tick(3840);
/// Microseconds per quarter note, at 240 per minute.
const QUARTER: u32 = 250_000;
/// 24 clock pulses to the quarter, four quarters a second.
pub(super) const PULSES_PER_SECOND: usize = 96;
/// A sixteenth note, in ticks.
const SIXTEENTH: i64 = 240;

/// The song: one bar that loops.
pub(super) fn song() -> Result<Song, TimeError> {
    let metre = MetreMap::new(1, Metre::common())?;
    let tempo = Tempo::from_micros(QUARTER)?;
    let mut song = Song::new("timing", Section::new(Letter::A, metre, tempo));
    for part in 0..PARTS {
        let track = Track {
            channel: Channel::from_number(part as u8 + 1),
            ..Track::pitched(TrackId(part + 1), &format!("Part {}", part + 1))
        };
        song.tracks.push(Arc::new(track));
        song.lay(Letter::A, pass(part));
    }
    Ok(song)
}

/// The route that plays it for this many seconds.
pub(super) fn route(seconds: u32) -> Route {
    let until = Tick(BAR.0 * i64::from(seconds));
    Route { entries: vec![Entry { section: Letter::A, at: Tick::ZERO, until, cut: false }] }
}

/// How many distinct deadlines it has in a second, clock pulses included.
pub(super) fn deadlines(song: &Song) -> u32 {
    // The second bar, because the first also holds the settings.
    let span = Span::new(BAR, Tick(2 * BAR.0));
    let performance = perform(song, &route(3), span, View::Corrected);
    let due = performance.events.iter().map(|event| event.at).filter(|at| span.contains(*at));
    let pulses = (0..PULSES_PER_SECOND as i64).map(|pulse| BAR + Tick(pulse * TICKS_PER_PULSE));
    due.chain(pulses).collect::<BTreeSet<Tick>>().len() as u32
}

/// A part: its notes come 13 ticks (3.4 ms) after those of the part before, and end within the bar.
fn pass(part: u32) -> Pass {
    let id = 100 + part * 100;
    let mut pass = Pass::empty(PassId(id), TrackId(part + 1), BAR);
    let channel = Channel::from_number(part as u8 + 1).unwrap_or_default();
    let behind = i64::from(part) * 13;
    for number in 0..16 {
        let played = Stroke {
            start: Tick(i64::from(number) * SIXTEENTH + behind),
            length: Tick(20 + i64::from(part)),
            key: U7::low_bits(36 + part as u8 * 3 + number as u8 % 12),
            velocity: U7::low_bits(40 + number as u8),
            release: U7::CENTRE,
        };
        pass.notes_mut().notes.push(Note {
            id: NoteId(id + 1 + number),
            channel,
            played,
            placed: Default::default(),
        });
    }
    if part.is_multiple_of(4) {
        pass.notes_mut().lanes.push(moves(channel, behind));
    }
    pass
}

/// A controller that moves 32 times per bar.
fn moves(channel: Channel, behind: i64) -> Lane {
    let value = |number: i64| U14::new(64 + (number * 7 % 60) as u16).unwrap_or_default();
    let point = |number| Point::step(Tick(number * 120 + 5 + behind / 13), value(number));
    let control = Control::Change(U7::low_bits(74));
    let span = Span::new(Tick::ZERO, BAR);
    Lane { channel, control, span, points: (0..32).map(point).collect() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_engine::{Message, Wire};

    #[test]
    fn a_bar_is_a_second_of_256_notes_that_all_end_in_it() {
        let song = song().unwrap();
        assert_eq!(chaconne_song::text::read(&chaconne_song::text::write(&song)).unwrap(), song);
        let span = Span::new(Tick::ZERO, BAR);
        let events = perform(&song, &route(1), span, View::Corrected).events;
        let count = |of: fn(&Message) -> bool| {
            let is = |wire: &Wire| matches!(wire, Wire::Message(message) if of(message));
            events.iter().filter(|event| is(&event.wire)).count()
        };
        assert_eq!(count(|message| matches!(message, Message::NoteOn { .. })), 256);
        assert_eq!(count(|message| matches!(message, Message::NoteOff { .. })), 256);
        assert!(count(|message| matches!(message, Message::Change { .. })) >= 128);
        assert!(events.iter().all(|event| event.at < BAR));
        // 60 s over 240 quarters, times four.
        assert_eq!(
            chaconne_time::Timeline::new(Tick::ZERO, 0, tempo(&song)).ns_at(BAR),
            1_000_000_000
        );
    }

    fn tempo(song: &Song) -> Tempo {
        song.sections[0].tempo.first()
    }

    #[test]
    fn most_notes_and_releases_are_deadlines_of_their_own() {
        let deadlines = deadlines(&song().unwrap());
        assert!((400..=800).contains(&deadlines), "{deadlines}");
    }
}
