//! The work of a device's callback: renders the mix and gives it each message at its exact frame.
//!
//! In: the time at which the callback began, the number of frames it wants, and messages from the
//! scheduler. Out: the frames. Nothing here allocates, locks or waits.

use super::map::Map;
use super::pending::{Event, Pending, Request};
use crate::Mix;
use chaconne_time::Ns;
use rtrb::Consumer;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicI64, AtomicU64, Ordering::Relaxed};

/// How many messages can wait for their frame.
const WAITING: usize = 4096;
/// How many lines lead to the callback: one for the parts, one for the click.
pub const LINES: usize = 2;
/// Frames rendered at once.
const PART: usize = 256;

/// What the callback reports to other threads.
#[derive(Debug, Default)]
pub struct Report {
    /// Blocks the device has asked for.
    pub blocks: AtomicU64,
    /// Frames of the largest block.
    pub longest: AtomicU64,
    /// How long after its callback a block is heard, as the device reports it, in nanoseconds.
    pub delay: AtomicI64,
    /// How often the device was held up, or reported that it missed something.
    pub gaps: AtomicU64,
    /// Whether the device has reported that it is gone.
    pub gone: AtomicBool,
    /// Whether the callback is running at this moment.
    pub busy: AtomicBool,
}

/// Everything the callback owns.
#[derive(Debug)]
pub struct Stage {
    mix: Mix,
    map: Map,
    events: [Consumer<Event>; LINES],
    pending: Pending,
    report: Arc<Report>,
    /// The latency of the mix, in nanoseconds.
    inside: Ns,
    left: [f32; PART],
    right: [f32; PART],
}

impl Stage {
    /// A stage for a device with this many frames per second.
    pub fn new(
        mix: Mix,
        rate: u32,
        events: [Consumer<Event>; LINES],
        report: Arc<Report>,
    ) -> Stage {
        let inside = Mix::latency(rate) as Ns * 1_000_000_000 / Ns::from(rate.max(1));
        Stage {
            mix,
            map: Map::new(rate),
            events,
            pending: Pending::new(WAITING),
            report,
            inside,
            left: [0.0; PART],
            right: [0.0; PART],
        }
    }

    /// Renders a block of this many frames whose callback began at `arrival`. Calls `put` for each
    /// part, with the number of its first frame and the left and right samples.
    pub fn fill(&mut self, arrival: Ns, frames: usize, mut put: impl FnMut(usize, &[f32], &[f32])) {
        let start = self.map.block(arrival, frames as u32);
        // When a message given to the mix now would be heard.
        let heard = start + self.report.delay.load(Relaxed) + self.inside;
        let frame = self.map.frame();
        self.collect();
        let mut done = 0;
        while done < frames {
            let next = self.play(heard, frame, done, frames);
            let count = (next - done).min(PART);
            let (left, right) = (&mut self.left[..count], &mut self.right[..count]);
            self.mix.render(left, right);
            put(done, left, right);
            done += count;
        }
        self.report.blocks.fetch_add(1, Relaxed);
        self.report.longest.fetch_max(frames as u64, Relaxed);
        self.report.gaps.fetch_max(self.map.resets(), Relaxed);
    }

    /// Collects the messages from the scheduler.
    fn collect(&mut self) {
        for events in &mut self.events {
            while !self.pending.is_full()
                && let Ok(event) = events.pop()
            {
                self.pending.add(event);
            }
        }
    }

    /// Gives the mix everything due at frame `at` or before. Returns the frame of the next message.
    fn play(&mut self, heard: Ns, frame: f64, at: usize, frames: usize) -> usize {
        let moment = |index: usize| heard + (index as f64 * frame) as Ns;
        while let Some(event) = self.pending.take_before(moment(at + 1)) {
            match event.request() {
                Request::Message(bytes) => self.mix.message(bytes),
                Request::Strike(accent) => self.mix.strike(accent),
            }
        }
        let next = self.pending.next_due().map_or(frames, |due| {
            ((due - heard) as f64 / frame).floor().max((at + 1) as f64) as usize
        });
        next.min(frames)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Font;
    use chaconne_counting::own_calls;
    use rtrb::RingBuffer;

    const RATE: u32 = 48_000;
    const BLOCK: usize = 256;

    /// Plays clicks due at these times on a device whose blocks are heard 10 ms after their
    /// callback; each callback is late by `late`. Returns when each click was heard.
    fn heard(dues: &[Ns], late: impl Fn(u64) -> Ns) -> Vec<Ns> {
        let ((mut give, events), (_, none)) = (RingBuffer::new(64), RingBuffer::new(1));
        let report = Arc::new(Report::default());
        report.delay.store(10_000_000, Relaxed);
        let mix = Mix::new(&Font::standard(), RATE).expect("the rate is usual");
        let mut stage = Stage::new(mix, RATE, [events, none], report);
        let (mut onsets, mut silent) = (Vec::new(), BLOCK);
        for block in 0..1500u64 {
            let start = (block * BLOCK as u64 * 1_000_000_000 / u64::from(RATE)) as Ns;
            for &due in
                dues.iter().filter(|&&due| (start..start + 5_333_334).contains(&(due - 40_000_000)))
            {
                give.push(Event::strike(due, false)).expect("there is room");
            }
            let mut frames = Vec::new();
            stage.fill(start + late(block), BLOCK, |_, left, _| frames.extend_from_slice(left));
            for (index, sample) in frames.iter().enumerate() {
                if sample.abs() > 1e-5 && silent > 2000 {
                    onsets.push(start + 10_000_000 + index as Ns * 1_000_000_000 / Ns::from(RATE));
                }
                silent = if sample.abs() > 1e-5 { 0 } else { silent + 1 };
            }
        }
        onsets
    }

    #[test]
    fn a_click_is_heard_on_time_however_late_the_callbacks_are() {
        let dues: Vec<Ns> = (0..8).map(|n| 4_100_000_000 + n * 451_234_567).collect();
        for late in [|_| 0, |block: u64| (block * 7919 % 60_000) as Ns] {
            let heard = heard(&dues, late);
            assert_eq!(heard.len(), dues.len());
            for (heard, due) in heard.iter().zip(&dues) {
                // The attack takes a tenth of a millisecond to rise.
                assert!((heard - due).abs() < 200_000, "{}", heard - due);
            }
        }
    }

    #[test]
    fn an_overdue_click_sounds_in_the_next_block() {
        let ((mut give, events), (_, none)) = (RingBuffer::new(64), RingBuffer::new(1));
        let report = Arc::new(Report::default());
        let mix = Mix::new(&Font::standard(), RATE).expect("the rate is usual");
        let mut stage = Stage::new(mix, RATE, [events, none], report.clone());
        stage.fill(0, BLOCK, |_, left, _| assert!(left.iter().all(|&sample| sample == 0.0)));
        give.push(Event::strike(-1_000_000_000, true)).expect("there is room");
        let mut loudest = 0.0f32;
        stage.fill(5_333_333, BLOCK, |_, left, right| {
            assert_eq!(left, right);
            loudest = left.iter().fold(loudest, |loudest, sample| loudest.max(sample.abs()));
        });
        assert!(loudest > 0.01, "{loudest}");
        assert_eq!(report.blocks.load(Relaxed), 2);
    }

    #[test]
    fn the_callback_neither_allocates_nor_frees() {
        let ((mut parts, parts_out), (mut click, click_out)) =
            (RingBuffer::new(8192), RingBuffer::new(8192));
        let report = Arc::new(Report::default());
        let mix = Mix::new(&Font::standard(), RATE).expect("the rate is usual");
        let mut stage = Stage::new(mix, RATE, [parts_out, click_out], report);
        let (mut now, mut loudest) = (0, 0.0f32);
        let before = own_calls();
        for block in 0..3000usize {
            // Mostly notes ahead of their time, some late, sometimes more than fit.
            let burst = if block % 500 == 499 { 6000 } else { 4 };
            for number in 0..burst {
                let (key, channel) =
                    ((number * 7 + block) as u8 & 127, (block + number) as u8 & 15);
                let due = now + 40_000_000 - ((number * 31) % 50) as Ns * 1_000_000;
                let press = Event::message(due, &[0x90 | channel, key, 90]);
                let lift = Event::message(due + 30_000_000, &[0x80 | channel, key, 64]);
                press.into_iter().chain(lift).for_each(|event| _ = parts.push(event));
            }
            if block % 50 == 0 {
                _ = click.push(Event::strike(now + 20_000_000, block % 200 == 0));
            }
            let frames = [64, 256, 1, 1000][block % 4];
            stage.fill(now, frames, |_, left, _| {
                loudest = left.iter().fold(loudest, |loudest, sample| loudest.max(sample.abs()));
            });
            now += frames as Ns * 1_000_000_000 / Ns::from(RATE);
        }
        assert_eq!(own_calls() - before, 0, "calls to the allocator");
        assert!(loudest > 0.01 && loudest < 0.8913, "{loudest}");
        drop(std::hint::black_box(vec![0u8; 64]));
        assert_eq!(own_calls() - before, 2, "that it would have been seen");
    }
}
