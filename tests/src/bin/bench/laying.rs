//! How long it takes to lay a take of many notes over a short loop.

use crate::measure::{line, median, ms};
use crate::{Extent, Failure};
use chaconne_engine::{Message, Rounds, Wire};
use chaconne_exchange::{Take, TakeEvent};
use chaconne_rig::{HowToLay, lay};
use chaconne_song::{Channel, Letter, Section, Song, U7};
use chaconne_time::{Metre, MetreMap, Tempo, Tick};
use std::time::Duration;

/// The bars of the loop.
const BARS: u32 = 4;

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let times = if extent == Extent::Short { 1 } else { 3 };
    let metre = MetreMap::new(BARS, Metre::common())?;
    let song = Song::new("Takes", Section::new(Letter::A, metre, Tempo::DEFAULT));
    for notes in [3000, 30_000] {
        let take = take(notes);
        for (rounds, kept) in [(Rounds::All, "all rounds"), (Rounds::One, "one pass")] {
            let how = HowToLay { track: "Piano".into(), rounds, ..HowToLay::default() };
            let (time, laid) = median(times, || lay(&song, &take, &how));
            let per_note = time.checked_div(notes).unwrap_or(Duration::ZERO);
            let found = laid?.notes();
            let time = format!("{}, {} ns a note", ms(time), per_note.as_nanos());
            line(&format!("laying {found} notes and their pedal, {kept}"), time);
        }
    }
    Ok(())
}

/// A performance of so many notes, with a move of the pedal for each of them.
fn take(notes: u32) -> Take {
    let mut events = Vec::new();
    let channel = Channel::default();
    let mut put = |at: u32, message| {
        events.push(TakeEvent { at: Tick(i64::from(at)), wire: Wire::Message(message) });
    };
    for index in 0..notes {
        // Multiples of primes, so that no loop of notes fits the loop of bars.
        let at = index * 97;
        let key = U7::low_bits((21 + index * 37 % 88) as u8);
        let velocity = U7::low_bits((1 + index * 53 % 127) as u8);
        put(at, Message::NoteOn { channel, key, velocity });
        let value = U7::low_bits((index * 29 % 128) as u8);
        put(at + 11, Message::Change { channel, controller: U7::low_bits(64), value });
        put(at + 400 + index % 7 * 50, Message::NoteOff { channel, key, velocity: U7::CENTRE });
    }
    events.sort_by_key(|event| event.at);
    let length = events.last().map_or(Tick::ZERO, |event| event.at);
    Take { events, length, tempo: Tempo::DEFAULT, remarks: Vec::new() }
}
