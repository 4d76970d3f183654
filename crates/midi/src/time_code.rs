//! MIDI Time Code: the song position in hours, minutes, seconds and frames.
//!
//! In: the musical time in nanoseconds since bar one, or a number of quarter frames. Out: time
//! codes and messages. Bar one is 01:00:00:00, which leaves room for a count-in before it (common
//! practice; no source). Quarter frames count from 00:00:00:00; the count may be negative or longer
//! than a day, and time code wraps at midnight.
//!
//! Eight quarter-frame messages carry one time code: that of the frame in which the first of them
//! is sent (MIDI Time Code, "Quarter Frame Messages"). The first is always sent in a frame with an
//! even number. A full frame before a start names the frame in which the next eight begin, so a
//! receiver can use it without waiting for them.

use crate::Message;
use crate::U7;
use chaconne_time::{FrameRate, Ns, TimeCode};
use std::sync::Arc;

/// Quarter-frame messages per time code.
const PIECES: i64 = 8;

/// The quarter frame at which bar one starts.
pub fn bar_one(rate: FrameRate) -> i64 {
    4 * rate.hour()
}

/// The time code at a musical time: that of the frame in progress.
pub fn time_code_at(rate: FrameRate, song: Ns) -> TimeCode {
    TimeCode::of(rate, rate.hour() + rate.parts_at(song, 1))
}

/// The first quarter frame at or after a musical time that starts a new time code.
pub fn first_quarter(rate: FrameRate, song: Ns) -> i64 {
    let quarter = bar_one(rate) + rate.parts_at(song - 1, 4) + 1;
    quarter + (-quarter).rem_euclid(PIECES)
}

/// The message to send at a quarter frame.
pub fn quarter_frame(rate: FrameRate, quarter: i64) -> Message {
    let number = quarter.rem_euclid(PIECES);
    piece(TimeCode::of(rate, (quarter - number) / 4), number as u8)
}

/// Piece 0 to 7 of a time code: one half of its frames, seconds, minutes or hours, low half first.
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

/// A full frame for all devices: the whole time code at once, sent before a start (MIDI Time Code,
/// "Full Message").
pub fn full_frame(code: TimeCode) -> Arc<[u8]> {
    let (minutes, seconds, frames) = (code.minutes(), code.seconds(), code.frames());
    [0xF0, 0x7F, 0x7F, 0x01, 0x01, hours(code), minutes, seconds, frames, 0xF7].into()
}

/// The hours as MIDI sends them, with the rate's number above them: `0rrhhhhh`.
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
    fn full_frames_match_the_standard() {
        for (code, _, full) in worked() {
            assert_eq!(*full_frame(code), full, "{code}");
        }
    }

    #[test]
    fn pieces_match_the_standard() {
        for (code, pieces, _) in worked() {
            let sent = (0..8).map(|number| piece(code, number).bytes()[1]);
            assert_eq!(sent.collect::<Vec<_>>(), pieces, "{code}");
            assert_eq!(read(&pieces), code);
        }
        let (code, pieces, _) = worked()[0];
        let sent = (0..8).map(|more| quarter_frame(code.rate(), 4 * code.frame() + more));
        assert_eq!(sent.map(|message| message.bytes()[1]).collect::<Vec<_>>(), pieces);
    }

    /// Assembles eight pieces as a receiver does.
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
    fn bar_one_is_at_one_hour_and_the_count_in_before_it() {
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
        fn eight_pieces_carry_the_frame_in_which_they_start(rate in 0usize..4, frame in 0i64..1_036_800) {
            let rate = FrameRate::ALL[rate];
            let sent: Vec<u8> = (0..8)
                .map(|piece| quarter_frame(rate, frame * 8 + piece).bytes()[1])
                .collect();
            prop_assert_eq!(read(&sent), TimeCode::of(rate, frame * 2));
        }

        #[test]
        fn the_first_quarter_frame_comes_at_or_within_two_frames_after_the_time(
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
