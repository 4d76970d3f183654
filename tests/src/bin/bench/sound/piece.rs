//! The pieces that both players play: messages, each with the frame at which it is due.

use crate::{Failure, big_song};
use chaconne_engine::{Route, View};
use chaconne_exchange::export;
use midly::live::LiveEvent;
use midly::{MetaMessage, Smf, Timing, TrackEventKind};
use std::fmt::Write;

/// Frames a second.
pub const RATE: u32 = 48_000;

/// The programs of the chord, from 0. They sound as long as a key is down: strings, organs, voices,
/// brass, winds, synthesizers. The last two have two voices per key, the others one.
const PROGRAMS: [u8; 14] = [48, 19, 52, 61, 73, 71, 80, 21, 51, 81, 62, 63, 54, 91];
/// The four keys of each program, in semitones above its first key: 64 voices in all.
const CHORD: [u8; 4] = [0, 7, 16, 24];
/// The channel of the drums, from 0.
const DRUMS: u8 = 9;
/// How many frames the chord sounds before it is measured: 1 s, after which every attack is over.
const SETTLES: u64 = RATE as u64;

/// A piece of music. See the header.
pub struct Piece {
    /// In order of their frames.
    pub messages: Vec<(u64, Vec<u8>)>,
    /// The first frame that is measured.
    pub from: u64,
    /// The frame after the last.
    pub to: u64,
}

impl Piece {
    /// A chord over several channels that sounds steadily for this many seconds.
    pub fn chord(seconds: u32) -> Piece {
        let mut messages = Vec::new();
        let melodic = (0u8..16).filter(|&channel| channel != DRUMS);
        for (channel, program) in melodic.zip(PROGRAMS) {
            messages.push((0, vec![0xC0 | channel, program]));
            messages.push((0, vec![0xB0 | channel, 10, 8 * channel]));
            let first = 40 + 2 * channel;
            messages.extend(CHORD.map(|key| (0, vec![0x90 | channel, first + key, 60])));
        }
        Piece { messages, from: SETTLES, to: SETTLES + u64::from(seconds * RATE) }
    }

    /// The form of the demo song, read from its export as a Standard MIDI File.
    pub fn demo() -> Result<Piece, Failure> {
        let song = big_song::demo()?;
        let route = Route::form(&song).ok_or("the demo song has no form")?;
        let file = export(&song, &route, View::Corrected)?;
        Piece::of(&Smf::parse(&file)?)
    }

    fn of(file: &Smf) -> Result<Piece, Failure> {
        let Timing::Metrical(quarter) = file.header.timing else {
            return Err("the export has no ticks to the quarter".into());
        };
        let mut events = Vec::new();
        for track in &file.tracks {
            let mut tick = 0u64;
            for event in track {
                tick += u64::from(event.delta.as_int());
                events.push((tick, event.kind));
            }
        }
        events.sort_by_key(|event| event.0);
        let (mut messages, mut last, mut at, mut tempo) = (Vec::new(), 0, 0.0, 500_000.0);
        for (tick, kind) in events {
            at += (tick - last) as f64 * tempo / f64::from(quarter.as_int()) / 1e6;
            last = tick;
            match kind {
                TrackEventKind::Meta(MetaMessage::Tempo(us)) => tempo = f64::from(us.as_int()),
                TrackEventKind::Midi { channel, message } => {
                    let mut bytes = Vec::new();
                    LiveEvent::Midi { channel, message }.write_std(&mut bytes)?;
                    messages.push((frame(at), bytes));
                }
                _ => {}
            }
        }
        Ok(Piece { messages, from: 0, to: frame(at) })
    }

    /// The length of the measured part, in seconds of sound.
    pub fn seconds(&self) -> f64 {
        (self.to - self.from) as f64 / f64::from(RATE)
    }

    /// The piece as `tests/python/play_font.py` reads it.
    pub fn text(&self) -> String {
        let mut text = format!("{RATE} {} {}\n", self.from, self.to);
        for (frame, message) in &self.messages {
            let _ = write!(text, "{frame} ");
            for byte in message {
                let _ = write!(text, "{byte:02x}");
            }
            text.push('\n');
        }
        text
    }
}

fn frame(seconds: f64) -> u64 {
    (seconds * f64::from(RATE)).round() as u64
}
