//! Passes the scheduler's messages to the instrument and to the click.

use chaconne_engine::ClickSound;
use chaconne_ports::{Link, Sent};
use chaconne_sound::SoundLine;
use chaconne_time::Ns;
use std::time::Duration;

/// How long notes may ring out when the program ends: 300 ms.
const RINGS_OUT: Duration = Duration::from_millis(300);
/// Real-time messages mean nothing to an instrument.
const REAL_TIME: u8 = 0xF8;

/// A wire to the instrument or the click.
#[derive(Debug)]
struct WireEnd {
    line: SoundLine,
    /// Hands a message with its due time to the line; returns whether there was room.
    give: fn(&mut SoundLine, Ns, &[u8]) -> bool,
}

/// The wire for the tracks: passes MIDI messages as they are.
pub(super) fn parts(line: SoundLine) -> Box<dyn Link> {
    let give = |line: &mut SoundLine, due, bytes: &[u8]| {
        let is_for_instrument = bytes.first().is_some_and(|&status| status < REAL_TIME);
        !is_for_instrument || line.send(due, bytes)
    };
    Box::new(WireEnd { line, give })
}

/// The wire for the click: turns its two keys into clicks.
pub(super) fn click(line: SoundLine) -> Box<dyn Link> {
    let give = |line: &mut SoundLine, due, bytes: &[u8]| match *bytes {
        [status, key, velocity] if status & 0xF0 == 0x90 && velocity > 0 => {
            line.strike(due, key == ClickSound::default().accent.get())
        }
        _ => true,
    };
    Box::new(WireEnd { line, give })
}

impl Link for WireEnd {
    fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        match (self.give)(&mut self.line, due, bytes) {
            _ if self.line.is_dead() => Sent::Lost,
            true => Sent::Done,
            false => Sent::Full,
        }
    }

    fn ahead(&self) -> Ns {
        self.line.ahead()
    }

    fn is_drained(&self) -> bool {
        self.line.is_dead() || self.line.is_drained()
    }

    fn drain(&self) -> Duration {
        RINGS_OUT
    }
}
