//! The scheduler's ends: what goes to the instrument, and what to the click.

use chaconne_clock::{Sent, Wire};
use chaconne_engine::ClickSound;
use chaconne_sound::Line;
use chaconne_time::Ns;
use std::time::Duration;

/// What a note may need to ring out when the program ends: 300 ms.
const RINGS_OUT: Duration = Duration::from_millis(300);
/// Real-time messages mean nothing to an instrument.
const REAL_TIME: u8 = 0xF8;

/// The parts: MIDI messages as they are.
#[derive(Debug)]
pub(super) struct Parts(pub Line);

/// The click: its two keys become strikes.
#[derive(Debug)]
pub(super) struct Clicks(pub Line);

/// What became of a message on a line that had room for it or not.
fn sent(line: &Line, done: bool) -> Sent {
    match done {
        _ if line.is_dead() => Sent::Lost,
        true => Sent::Done,
        false => Sent::Full,
    }
}

impl Wire for Parts {
    fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        let is_for_it = bytes.first().is_some_and(|&status| status < REAL_TIME);
        let done = !is_for_it || self.0.send(due, bytes);
        sent(&self.0, done)
    }

    fn ahead(&self) -> Ns {
        self.0.ahead()
    }

    fn is_drained(&self) -> bool {
        self.0.is_dead() || self.0.is_drained()
    }

    fn drain(&self) -> Duration {
        RINGS_OUT
    }
}

impl Wire for Clicks {
    fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        let done = match *bytes {
            [status, key, velocity] if status & 0xF0 == 0x90 && velocity > 0 => {
                self.0.strike(due, key == ClickSound::default().accent.get())
            }
            _ => true,
        };
        sent(&self.0, done)
    }

    fn ahead(&self) -> Ns {
        self.0.ahead()
    }

    fn is_drained(&self) -> bool {
        self.0.is_dead() || self.0.is_drained()
    }

    fn drain(&self) -> Duration {
        RINGS_OUT
    }
}
