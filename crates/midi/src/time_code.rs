//! MIDI Time Code: the position in the song for gear that counts hours, minutes, seconds and frames.
//!
//! In: the musical time in nanoseconds since bar one, or a quarter of a frame. Out: time codes
//! and messages. Bar one is 01:00:00:00, so that a count-in has room before it (common practice,
//! no source). A quarter is a quarter of a frame, counted from 00:00:00:00; it may be negative or
//! beyond a day; time code wraps at midnight.
//!
//! Eight quarter-frame messages carry one time code, that of the frame at which the first of them
//! goes out (MIDI Time Code, "Quarter Frame Messages"). The first one goes with even frame
//! numbers of the day. So a full frame before a start names the frame with which the next eight
//! begin, and a receiver that has it can do without them.

use crate::Message;
use crate::U7;
use chaconne_time::{FrameRate, Ns, TimeCode};
use std::sync::Arc;

/// Quarter frames that carry one time code.
const PIECES: i64 = 8;

/// The quarter of a frame at which bar one is.
pub fn bar_one(rate: FrameRate) -> i64 {
    4 * rate.hour()
}

/// The time code of a musical time: that of the latest frame to have begun by then.
pub fn time_code_at(rate: FrameRate, song: Ns) -> TimeCode {
    TimeCode::of(rate, rate.hour() + rate.parts_at(song, 1))
}

/// The first quarter at or after a musical time at which a new time code begins.
pub fn first_quarter(rate: FrameRate, song: Ns) -> i64 {
    let quarter = bar_one(rate) + rate.parts_at(song - 1, 4) + 1;
    quarter + (-quarter).rem_euclid(PIECES)
}

/// The message that goes out at a quarter.
pub fn quarter_frame(rate: FrameRate, quarter: i64) -> Message {
    let number = quarter.rem_euclid(PIECES);
    piece(TimeCode::of(rate, (quarter - number) / 4), number as u8)
}

/// A piece of a time code, 0 to 7: half of its frames, seconds, minutes or hours, low half first.
fn piece(code: TimeCode, number: u8) -> Message {
    let value = match number / 2 {
        0 => code.frames(),
        1 => code.seconds(),
        2 => code.minutes(),
        _ => hours(code),
    };
    let half = if number.is_multiple_of(2) { value & 15 } else { value >> 4 };
    Message::QuarterFrame(U7::low_bits(number << 4 | half))
}

/// A full frame for all devices: the whole time code at once, sent before a start (MIDI
/// Time Code, "Full Message").
pub fn full_frame(code: TimeCode) -> Arc<[u8]> {
    let (minutes, seconds, frames) = (code.minutes(), code.seconds(), code.frames());
    [0xF0, 0x7F, 0x7F, 0x01, 0x01, hours(code), minutes, seconds, frames, 0xF7].into()
}

/// The hours as MIDI carries them, with the number of the rate above them: `0rrhhhhh`.
pub(crate) fn hours(code: TimeCode) -> u8 {
    code.rate().code() << 5 | code.hours()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// 01:30:35:20 at 30 and 23:59:59:24 at 25, with the pieces and full frames of MIDI Time Code
    /// ("Quarter Frame Messages", "Full Message"); the first one's full frame is a textbook value.
    fn worked() -> [(TimeCode, [u8; 8], [u8; 10]); 2] {
        [
            (
                TimeCode::new(FrameRate::Thirty, 1, 30, 35, 20).unwrap(),
                [0x04, 0x11, 0x23, 0x32, 0x4E, 0x51, 0x61, 0x76],
                [0xF0, 0x7F, 0x7F, 0x01, 0x01, 0x61, 0x1E, 0x23, 0x14, 0xF7],
            ),
            (
                TimeCode::new(FrameRate::Twenty5, 23, 59, 59, 24).unwrap(),
                [0x08, 0x11, 0x2B, 0x33, 0x4B, 0x53, 0x67, 0x73],
                [0xF0, 0x7F, 0x7F, 0x01, 0x01, 0x37, 0x3B, 0x3B, 0x18, 0xF7],
            ),
        ]
    }

    #[test]
    fn full_frames_are_those_of_the_standard() {
        for (code, _, full) in worked() {
            assert_eq!(*full_frame(code), full, "{code}");
        }
    }

    #[test]
    fn pieces_are_those_of_the_standard() {
        for (code, pieces, _) in worked() {
            let sent = (0..8).map(|number| piece(code, number).bytes()[1]);
            assert_eq!(sent.collect::<Vec<_>>(), pieces, "{code}");
            assert_eq!(read(&pieces), code);
        }
        let (code, pieces, _) = worked()[0];
        let sent = (0..8).map(|more| quarter_frame(code.rate(), 4 * code.frame() + more));
        assert_eq!(sent.map(|message| message.bytes()[1]).collect::<Vec<_>>(), pieces);
    }

    /// Puts eight pieces together as a receiver does.
    fn read(pieces: &[u8]) -> TimeCode {
        let low = |piece: usize| {
            assert_eq!(usize::from(pieces[piece] >> 4), piece);
            pieces[piece] & 15
        };
        let value = |piece| low(piece) | low(piece + 1) << 4;
        let (hours, rate) = (value(6) & 31, FrameRate::ALL[usize::from(value(6) >> 5)]);
        TimeCode::new(rate, hours, value(4), value(2), value(0)).unwrap()
    }

    #[test]
    fn bar_one_is_one_hour_and_the_count_in_lies_before_it() {
        for rate in FrameRate::ALL {
            assert_eq!(time_code_at(rate, 0).to_string(), "01:00:00:00");
            let last = time_code_at(rate, -1);
            assert_eq!((last.hours(), last.minutes(), last.seconds()), (0, 59, 59));
            assert_eq!(first_quarter(rate, 0), bar_one(rate));
            assert_eq!(first_quarter(rate, 1), bar_one(rate) + 8);
        }
        assert_eq!(time_code_at(FrameRate::Twenty5, -2_000_000_000).to_string(), "00:59:58:00");
        assert_eq!(time_code_at(FrameRate::Drop30, 60_060_000_000).to_string(), "01:01:00:02");
    }

    proptest! {
        #[test]
        fn eight_pieces_carry_the_frame_they_begin_at(rate in 0usize..4, frame in 0i64..1_036_800) {
            let rate = FrameRate::ALL[rate];
            let sent: Vec<u8> = (0..8)
                .map(|piece| quarter_frame(rate, frame * 8 + piece).bytes()[1])
                .collect();
            prop_assert_eq!(read(&sent), TimeCode::of(rate, frame * 2));
        }

        #[test]
        fn the_first_quarter_is_at_or_after_the_moment_and_within_two_frames(
            rate in 0usize..4, song in -9_000_000_000_000i64..90_000_000_000_000,
        ) {
            let rate = FrameRate::ALL[rate];
            let first = first_quarter(rate, song);
            prop_assert_eq!(first.rem_euclid(8), 0);
            let at = rate.ns_of(first - bar_one(rate), 4);
            prop_assert!(song <= at && at - song < rate.ns_of(2, 1) + 1);
        }
    }
}
