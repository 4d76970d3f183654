//! What a cable carries besides the music: clock pulses and the quarter frames of time code.
//!
//! In: the times of the ticks. Out: one message after the other, with the time it is due. Pulses follow
//! the ticks, 24 to the quarter note; quarter frames follow real time, from bar one on.

use chaconne_engine::{Message, time_code};
use chaconne_time::pulse::TICKS_PER_PULSE;
use chaconne_time::{FrameRate, Ns, Tick, Timeline};

/// The messages to come. The timeline's first tick is bar one, at 0.
#[derive(Debug)]
pub struct Clocks<'a> {
    timeline: &'a Timeline,
    /// The next pulse, if there are pulses.
    pulse: Option<Tick>,
    /// The next quarter frame, counted from bar one, if there is time code.
    quarter: Option<(FrameRate, i64)>,
}

impl<'a> Clocks<'a> {
    /// The messages from a tick on.
    pub fn new(
        timeline: &'a Timeline,
        from: Tick,
        pulses: bool,
        mtc: Option<FrameRate>,
    ) -> Clocks<'a> {
        let pulse = pulses.then(|| from.round_up(Tick(TICKS_PER_PULSE)));
        Clocks { timeline, pulse, quarter: mtc.map(|rate| (rate, 0)) }
    }

    /// When the next one is due, unless that is after a tick.
    pub fn next_due(&self, end: Tick) -> Option<Ns> {
        let limit = self.timeline.ns_at(end);
        [self.pulse_due(), self.quarter_due()].into_iter().flatten().min().filter(|&at| at <= limit)
    }

    /// Removes the next one and returns it.
    pub fn take(&mut self) -> Option<Message> {
        // If both are due at the same time, time code goes first, as in the scheduler.
        let quarters_turn = match (self.pulse_due(), self.quarter_due()) {
            (Some(pulse), Some(quarter)) => quarter <= pulse,
            (_, quarter) => quarter.is_some(),
        };
        if quarters_turn {
            let (rate, quarter) = self.quarter.as_mut()?;
            *quarter += 1;
            return Some(time_code::quarter_frame(*rate, time_code::bar_one(*rate) + *quarter - 1));
        }
        *self.pulse.as_mut()? += Tick(TICKS_PER_PULSE);
        Some(Message::Clock)
    }

    /// Skips all messages up to a tick except the last of each kind.
    pub fn skip_to(&mut self, end: Tick) {
        let last = Tick(end.0.div_euclid(TICKS_PER_PULSE) * TICKS_PER_PULSE);
        if let Some(pulse) = &mut self.pulse {
            *pulse = last.max(*pulse);
        }
        if let Some((rate, quarter)) = &mut self.quarter {
            *quarter = rate.parts_at(self.timeline.ns_at(end), 4).max(*quarter);
        }
    }

    fn pulse_due(&self) -> Option<Ns> {
        Some(self.timeline.ns_at(self.pulse?))
    }

    fn quarter_due(&self) -> Option<Ns> {
        let (rate, quarter) = self.quarter?;
        Some(rate.ns_of(quarter, 4))
    }
}
