//! MIDI Machine Control: commands for tape machines and the recorders that imitate them.
//!
//! In: a command. Out: its bytes, for all devices (MIDI Machine Control 1.0, MMA RP-013, "MMC
//! Commands").

use crate::time_code::{hours, time_code_at};
use chaconne_time::{FrameRate, Ns};
use std::sync::Arc;

/// Positions inside a frame are given in hundredths.
const SUBFRAMES: i64 = 100;

/// A command to a recorder.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum MachineControl {
    /// STOP: stop playing or recording.
    Stop,
    /// PLAY: start playing.
    Play,
    /// RECORD STROBE: start recording; a stopped recorder also starts playing.
    RecordStrobe,
    /// RECORD EXIT: stop recording and keep playing.
    RecordExit,
    /// LOCATE: go to a musical time, in nanoseconds since bar one, sent in frames of this rate.
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

/// LOCATE with a target: hours and rate, minutes, seconds, frames, hundredths of a frame.
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
    fn each_command_has_the_byte_the_standard_gives() {
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
        // At 25 frames a second a frame is 40 ms, so 90.65 s after bar one is 16 1/4 frames past 90
        // s.
        assert_eq!(bytes(FrameRate::Twenty5, 90_650_000_000)[7..12], [0x21, 1, 30, 16, 25]);
        // 2 s before bar one is 00:59:58:00.
        assert_eq!(bytes(FrameRate::Film, -2_000_000_000)[7..12], [0x00, 59, 58, 0, 0]);
    }
}
