//! What recording costs under a storm of input. First, an engine on a simulated clock takes a minute
//! of it and is polled every five milliseconds, as in the program; then the whole program's threads
//! take it through a FIFO. Out: the share of one core, the lost input, memory, late pulses.

#[cfg(target_os = "linux")]
mod live;

use crate::measure::line;
use crate::{Extent, Failure};
use chaconne_engine::{Command, Config, Engine, Input, Message};
use chaconne_song::{Channel, Letter, Section, Song, Track, TrackId, U7};
use chaconne_time::{Metre, MetreMap, Ns, Tempo};
use std::sync::Arc;
use std::time::Instant;

/// The time between two polls: 5 ms, as in the program.
const POLL: Ns = 5_000_000;

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let seconds = if extent == Extent::Short { 10 } else { 60 };
    // 500 a second are 30,000 in a minute; a serial cable carries about 1,000 messages a second.
    measure("note-ons without note-offs, 500/s", seconds, 500, |count| {
        note_on(count % 16, count % 128)
    })?;
    measure("key pressure, 1,000/s", seconds, 1000, |count| {
        key_pressure(count % 128, count * 7 % 128)
    })?;
    let mut seed = 1_u32;
    measure("random messages, 1,000/s", seconds, 1000, |_| {
        seed = next(seed);
        random(seed)
    })?;
    #[cfg(target_os = "linux")]
    live::print(seconds as u64)?;
    Ok(())
}

/// The next random number after `seed`. The upper bits are more random than the lower ones.
///
/// Source of the constants: W. H. Press et al., "Numerical Recipes in C", 2nd edition (1992), 7.1,
/// "Quick and dirty generators"; from memory.
fn next(seed: u32) -> u32 {
    seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223)
}

fn note_on(channel: u32, key: u32) -> Message {
    let channel = Channel::from_number(channel as u8 + 1).unwrap_or_default();
    Message::NoteOn { channel, key: U7::low_bits(key as u8), velocity: U7::low_bits(90) }
}

fn key_pressure(key: u32, pressure: u32) -> Message {
    let (key, value) = (U7::low_bits(key as u8), U7::low_bits(pressure as u8));
    Message::KeyPressure { channel: Channel::default(), key, value }
}

fn random(seed: u32) -> Message {
    let (one, other) = (seed >> 8 & 127, seed >> 16 & 127);
    let channel = Channel::from_number((seed >> 24 & 15) as u8 + 1).unwrap_or_default();
    let (first, second) = (U7::low_bits(one as u8), U7::low_bits(other as u8));
    match seed >> 29 {
        0 | 1 => note_on(seed >> 24 & 15, one),
        2 => Message::NoteOff { channel, key: first, velocity: second },
        3 => key_pressure(one, other),
        _ => Message::Change { channel, controller: first, value: second },
    }
}

/// Records `rate` messages per second for `seconds` into rounds of 16 bars.
fn measure(
    what: &str,
    seconds: i64,
    rate: i64,
    mut message: impl FnMut(u32) -> Message,
) -> Result<(), Failure> {
    let metre = MetreMap::new(16, Metre::common())?;
    let mut song = Song::new("storm", Section::new(Letter::A, metre, Tempo::DEFAULT));
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "Storm")));
    let mut engine = Engine::new(Arc::new(song), Config::default());
    engine.command(0, Command::CountIn(0))?;
    engine.command(0, Command::Record(true))?;
    let (every, end) = (1_000_000_000 / rate, seconds * 1_000_000_000);
    let (mut now, mut next, mut count) = (0, every, 0);
    let (start, mut longest) = (Instant::now(), 0.0_f64);
    // As in the program, somebody always holds the last status.
    let mut seen = engine.status(now);
    while now < end {
        now += POLL;
        let began = Instant::now();
        while next <= now {
            engine.input(next, 0, Input::from(message(count)));
            (next, count) = (next + every, count + 1);
        }
        engine.poll(now);
        engine.take_orders().for_each(drop);
        seen = engine.status(now);
        longest = longest.max(began.elapsed().as_secs_f64());
    }
    engine.command(now, Command::Stop)?;
    let share = start.elapsed().as_secs_f64() / seconds as f64;
    line(&format!("{what}: share of a core"), format!("{:.1} %", share * 100.0));
    line(&format!("{what}: longest poll"), format!("{:.1} ms", longest * 1000.0));
    line(&format!("{what}: not recorded"), seen.lost);
    Ok(())
}
