//! Generates the quarter frames of one port (MIDI Time Code, "Quarter Frame Messages").
//!
//! In: when the transport started, and the musical time at that moment. Out: the next message and
//! when it is due. Time code runs in real time, whatever the tempo. Every due time is computed from
//! the start, so nothing drifts. Nothing is allocated.

use crate::{Message, time_code};
use chaconne_time::{FrameRate, Ns};

/// The generator of one port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct QuarterFrames {
    rate: FrameRate,
    /// When bar one plays, or would have played.
    bar_one: Ns,
    /// The next quarter of a frame, counted from 00:00:00:00; `None` while stopped.
    next: Option<i64>,
}

impl QuarterFrames {
    /// A stopped generator.
    pub fn new(rate: FrameRate) -> QuarterFrames {
        QuarterFrames { rate, bar_one: 0, next: None }
    }

    /// Starts at `ns`, where the musical time is `song`, both in nanoseconds. The first message is
    /// the first piece of a time code.
    pub fn start(&mut self, ns: Ns, song: Ns) {
        self.bar_one = ns.saturating_sub(song);
        self.next = Some(time_code::first_quarter(self.rate, song));
    }

    /// Stops it.
    pub fn stop(&mut self) {
        self.next = None;
    }

    /// When the next message is due, in nanoseconds; `None` while stopped.
    pub fn next_due(&self) -> Option<Ns> {
        let since = self.next? - time_code::bar_one(self.rate);
        Some(self.bar_one.saturating_add(self.rate.ns_of(since, 4)))
    }

    /// The next message; `None` while stopped.
    pub fn take(&mut self) -> Option<Message> {
        let quarter = self.next?;
        self.next = Some(quarter + 1);
        Some(time_code::quarter_frame(self.rate, quarter))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_time::TimeCode;

    const SECOND: Ns = 1_000_000_000;

    /// Reads pieces as a receiver does: each time code, and when its first piece came.
    fn read(frames: &mut QuarterFrames, count: usize) -> Vec<(Ns, TimeCode)> {
        let mut codes = Vec::new();
        for _ in 0..count {
            let at = frames.next_due().unwrap();
            let pieces: Vec<u8> = (0..8)
                .map(|number| {
                    let Some(Message::QuarterFrame(piece)) = frames.take() else { panic!() };
                    assert_eq!(piece.get() >> 4, number);
                    piece.get() & 15
                })
                .collect();
            let value = |number: usize| pieces[number] | pieces[number + 1] << 4;
            let (hours, rate) = (value(6) & 31, FrameRate::ALL[usize::from(value(6) >> 5)]);
            codes.push((at, TimeCode::new(rate, hours, value(4), value(2), value(0)).unwrap()));
        }
        codes
    }

    #[test]
    fn four_messages_go_out_per_frame() {
        for (rate, spacing) in [(FrameRate::Twenty5, 10_000_000), (FrameRate::Film, 10_416_666)] {
            let mut frames = QuarterFrames::new(rate);
            assert_eq!((frames.next_due(), frames.take()), (None, None));
            frames.start(5 * SECOND, 0);
            assert_eq!(frames.next_due(), Some(5 * SECOND));
            frames.take();
            assert_eq!(frames.next_due(), Some(5 * SECOND + spacing));
            frames.stop();
            assert_eq!(frames.next_due(), None);
        }
    }

    #[test]
    fn each_time_code_starts_at_its_own_frame() {
        for rate in FrameRate::ALL {
            for song in [0, -3 * SECOND, -1, 61 * SECOND + 7_654_321] {
                let mut frames = QuarterFrames::new(rate);
                frames.start(100 * SECOND, song);
                for (index, (at, code)) in read(&mut frames, 100).into_iter().enumerate() {
                    // 01:00:00:00 is bar one; by now the frame has begun, and a nanosecond earlier
                    // it had not.
                    let moment = at - 100 * SECOND + song;
                    assert_eq!(time_code::time_code_at(rate, moment), code);
                    assert_ne!(time_code::time_code_at(rate, moment - 1), code);
                    assert!(index > 0 || (0..=2 * SECOND / 24).contains(&(moment - song)));
                }
            }
        }
    }

    #[test]
    fn a_day_has_no_drift_and_ends_where_it_began() {
        let rate = FrameRate::Drop30;
        let mut frames = QuarterFrames::new(rate);
        frames.start(0, 0);
        for _ in 0..rate.day() * 4 {
            frames.take();
        }
        // 24 hours of 107,892 frames (SMPTE 12M, drop frame; from memory), of 1,001 / 30,000 s.
        assert_eq!(frames.next_due(), Some(86_399_913_600_000));
        assert_eq!(read(&mut frames, 1)[0].1.to_string(), "01:00:00:00");
    }
}
