//! MIDI Machine Control: commands for tape machines and the recorders that imitate them.
//!
//! In: a command. Out: its bytes, for all devices (MIDI Machine Control 1.0, MMA RP-013, "MMC
//! Commands").

use crate::time_code::{hours, time_code_at};
use chaconne_time::{FrameRate, Ns};
use std::sync::Arc;

/// A place between two frames is given in hundredths of a frame.
const SUBFRAMES: i64 = 100;

/// A command to a recorder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MachineControl {
    /// Stop.
    Stop,
    /// Play.
    Play,
    /// Start recording; a stopped recorder also starts to roll.
    RecordStrobe,
    /// Stop recording and roll on.
    RecordExit,
    /// Go to a musical time, in nanoseconds since bar one, sent in frames of this rate.
    Locate(FrameRate, Ns),
}

impl MachineControl {
    /// The whole message, F0 to F7.
    pub fn bytes(self) -> Arc<[u8]> {
        let plain = |command| Arc::from([0xF0, 0x7F, 0x7F, 0x06, command, 0xF7]);
        match self {
            MachineControl::Stop => plain(0x01),
            MachineControl::Play => plain(0x02),
            MachineControl::RecordStrobe => plain(0x06),
            MachineControl::RecordExit => plain(0x07),
            MachineControl::Locate(rate, song) => locate(rate, song),
        }
    }
}

/// LOCATE, to a target: hours with the rate, minutes, seconds, frames and hundredths of a frame.
fn locate(rate: FrameRate, song: Ns) -> Arc<[u8]> {
    let code = time_code_at(rate, song);
    let part = rate.parts_at(song, SUBFRAMES).rem_euclid(SUBFRAMES) as u8;
    let target = [hours(code), code.minutes(), code.seconds(), code.frames(), part];
    let [hr, mn, sc, fr, ff] = target;
    [0xF0, 0x7F, 0x7F, 0x06, 0x44, 0x06, 0x01, hr, mn, sc, fr, ff, 0xF7].into()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_have_their_numbers() {
        // MIDI Machine Control 1.0 (RP-013), "MMC Commands": 01 STOP, 02 PLAY, 06 RECORD STROBE,
        // 07 RECORD EXIT; device 7F is all of them.
        for (command, number) in [
            (MachineControl::Stop, 0x01),
            (MachineControl::Play, 0x02),
            (MachineControl::RecordStrobe, 0x06),
            (MachineControl::RecordExit, 0x07),
        ] {
            assert_eq!(*command.bytes(), [0xF0, 0x7F, 0x7F, 0x06, number, 0xF7]);
        }
    }

    #[test]
    fn a_locate_carries_rate_time_and_hundredths() {
        // RP-013, "LOCATE", format "target": 44 06 01 hr mn sc fr ff, hr as in MIDI Time Code.
        let bytes = |rate, song| MachineControl::Locate(rate, song).bytes();
        assert_eq!(
            *bytes(FrameRate::Thirty, 0),
            [0xF0, 0x7F, 0x7F, 0x06, 0x44, 0x06, 0x01, 0x61, 0, 0, 0, 0, 0xF7]
        );
        // 90.65 s past bar one at 25: a frame is 40 ms, so 16 of them and a quarter.
        assert_eq!(bytes(FrameRate::Twenty5, 90_650_000_000)[7..12], [0x21, 1, 30, 16, 25]);
        // A bar of 2 s before bar one, which is 00:59:58:00.
        assert_eq!(bytes(FrameRate::Film, -2_000_000_000)[7..12], [0x00, 59, 58, 0, 0]);
    }
}
