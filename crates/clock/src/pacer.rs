//! Decides when the scheduler thread wakes for a deadline: it sleeps until shortly before, then
//! watches the clock.
//!
//! A thread that sleeps until a deadline wakes a little after it. So it asks to be woken a margin
//! earlier and watches the clock for the rest of the time. The margin follows how late the system
//! really wakes it: it covers 19 wake-ups in 20. The time spent watching comes out of an allowance,
//! which is a share of all time. If deadlines are so dense that the allowance runs low, the margin
//! shrinks, until most wake-ups need no watching.
//!
//! Handing over the first message takes a little time, because caches went cold during the sleep. So
//! the thread starts its turn that much before the deadline: 7 messages in 8 are then not early.
//! Time is an argument; nothing is allocated.

use chaconne_time::Ns;

/// How long the thread may watch the clock before a deadline.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Spin {
    /// The longest time before one deadline, in nanoseconds, 0 to 1,000,000; 0 for never.
    pub most: Ns,
    /// The largest share of all time, in thousandths, 0 to 1000.
    pub share: u16,
}

impl Spin {
    /// Never watch: the thread sleeps until a deadline, and wakes a little after it.
    pub const NEVER: Spin = Spin { most: 0, share: 0 };
}

impl Default for Spin {
    /// At most 200 us before a deadline, and 1 % of the time.
    fn default() -> Spin {
        Spin { most: 200_000, share: 10 }
    }
}

/// The first margin: what an idle machine needs, 50 us.
const FIRST_MARGIN: Ns = 50_000;
/// The smallest margin: 2 us.
const LEAST_MARGIN: Ns = 2_000;
/// How long before its deadline a turn starts at first: what a fast machine needs, 2 us.
const FIRST_AIM: Ns = 2_000;
/// The longest time before its deadline that a turn may start: 8 us.
const MOST_AIM: Ns = 8_000;
/// The smallest step by which that time changes: 70 ns.
const LEAST_AIM_STEP: Ns = 70;
/// How much allowance can be saved up: that of one second.
const SAVED: Ns = 1_000_000_000;

/// Learns how late this machine wakes the thread, and keeps the allowance for watching.
#[derive(Debug, Clone)]
pub struct Pacer {
    spin: Spin,
    margin: Ns,
    /// How long before a deadline its turn starts.
    aim: Ns,
    /// The time that may be spent watching, in thousandths of a nanosecond.
    allowance: i64,
    /// The time up to which allowance was granted.
    granted: Ns,
}

impl Pacer {
    /// A pacer at `now`, with its allowance full.
    pub fn new(spin: Spin, now: Ns) -> Pacer {
        let spin = Spin { most: spin.most.clamp(0, 1_000_000), share: spin.share.min(1000) };
        let full = i64::from(spin.share) * SAVED;
        Pacer { spin, margin: FIRST_MARGIN, aim: FIRST_AIM, allowance: full, granted: now }
    }

    /// When to wake for a deadline.
    pub fn wake(&mut self, now: Ns, deadline: Ns) -> Ns {
        self.grant(now);
        deadline - self.lead()
    }

    /// Learns from a sleep that was not cut short: it should have ended at `asked`, and ended at
    /// `now`.
    pub fn woke(&mut self, asked: Ns, now: Ns) {
        let step = (self.margin / 8).max(400);
        if now - asked > self.margin {
            self.margin += step;
        } else {
            self.margin -= step / 19;
        }
        self.margin = self.margin.clamp(LEAST_MARGIN, self.spin.most.max(LEAST_MARGIN));
    }

    /// Subtracts the time spent watching the clock from the allowance.
    pub fn spent(&mut self, time: Ns) {
        self.allowance -= time.max(0).saturating_mul(1000);
    }

    /// How long before a deadline its turn should start, in nanoseconds.
    pub fn aim(&self) -> Ns {
        self.aim
    }

    /// Learns from a turn that started before its deadline and handed over its first message at `at`.
    pub fn handed(&mut self, deadline: Ns, at: Ns) {
        // Proportional steps, so that a slow machine finds its value within seconds too.
        let step = (self.aim / 16).max(LEAST_AIM_STEP);
        let by = if at < deadline { -step } else { step / 7 };
        self.aim = (self.aim + by).clamp(0, MOST_AIM);
    }

    /// How long before a deadline to wake: the margin, or less if the allowance is under half.
    fn lead(&self) -> Ns {
        let half = i64::from(self.spin.share) * SAVED / 2;
        if half == 0 || self.allowance <= 0 {
            return 0;
        }
        let margin = i128::from(self.margin.min(self.spin.most));
        let lead = margin * i128::from(self.allowance.min(half)) / i128::from(half);
        lead as Ns
    }

    fn grant(&mut self, now: Ns) {
        let since = (now - self.granted).clamp(0, SAVED);
        self.granted = now;
        let full = i64::from(self.spin.share) * SAVED;
        self.allowance = (self.allowance + since * i64::from(self.spin.share)).min(full);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const MS: Ns = 1_000_000;

    /// Runs through deadlines `period` apart on a machine that wakes as late as `late` says. Returns
    /// how late each one was met, and the time spent watching in all.
    fn run(spin: Spin, period: Ns, late: impl Fn(usize) -> Ns, count: usize) -> (Vec<Ns>, Ns) {
        let (mut pacer, mut now, mut spent) = (Pacer::new(spin, 0), 0, 0);
        let mut met = Vec::new();
        for turn in 0..count {
            let deadline = period * (turn as Ns + 1);
            let asked = pacer.wake(now, deadline).max(now);
            now = asked + late(turn);
            pacer.woke(asked, now);
            if now < deadline {
                pacer.spent(deadline - now);
                spent += deadline - now;
                now = deadline;
            }
            met.push(now - deadline);
        }
        (met, spent)
    }

    /// Invented lateness of an idle machine: mostly 20 to 30 us, 1 in 50 up to 60.
    fn idle(turn: usize) -> Ns {
        let step = (turn as Ns * 7919) % 50;
        if step == 0 { 60_000 } else { 20_000 + step * 200 }
    }

    #[test]
    fn most_deadlines_are_met_to_the_nanosecond() {
        // Pulses at 120 BPM: 48 a second.
        let (mut met, spent) = run(Spin::default(), 20_833_333, idle, 4800);
        met.sort_unstable();
        assert_eq!(met[met.len() / 2], 0);
        assert_eq!(met[met.len() * 90 / 100], 0);
        // 1 % of the 100 s that were played is 1 s; an idle machine needs much less.
        assert!(spent < 300 * MS, "{spent}");
    }

    #[test]
    fn without_an_allowance_it_never_watches_and_is_as_late_as_the_system() {
        let (met, spent) = run(Spin::NEVER, MS, idle, 1000);
        assert_eq!(spent, 0);
        assert!(met.iter().enumerate().all(|(turn, &late)| late == idle(turn)));
    }

    #[test]
    fn dense_deadlines_shrink_the_margin_to_stay_within_the_share() {
        // 2,000 a second: a margin of 30 us would cost 2 % or more.
        let spin = Spin { most: 200_000, share: 2 };
        let (met, spent) = run(spin, MS / 2, idle, 40_000);
        // 2 thousandths of 20 s, and 2 ms that were saved up at the start.
        assert!(spent <= 42 * MS, "{spent}");
        let mut settled = met[20_000..].to_vec();
        settled.sort_unstable();
        assert!(settled[settled.len() / 2] < 12_000, "{}", settled[settled.len() / 2]);
    }

    #[test]
    fn the_first_message_is_handed_over_at_the_deadline_and_seldom_before() {
        // Handing over takes 900 to 1700 ns. 1 in 20 takes 9 us, which must not make it start sooner.
        let takes = |turn: i64| if turn % 20 == 0 { 9_000 } else { 900 + turn * 7919 % 800 };
        let mut pacer = Pacer::new(Spin::default(), 0);
        let mut lates = Vec::new();
        for turn in 0..4000 {
            let at = MS - pacer.aim() + takes(turn);
            pacer.handed(MS, at);
            lates.push(at - MS);
        }
        let settled = &mut lates[1000..];
        settled.sort_unstable();
        assert!((0..500).contains(&settled[1500]), "{}", settled[1500]);
        assert!(settled[0] > -400 && settled[3000 / 6] >= 0, "{settled:?}");
        // On a slow machine it finds the right value within four seconds of pulses at 120 BPM.
        let mut slow = Pacer::new(Spin::default(), 0);
        for _ in 0..4 * 48 {
            slow.handed(MS, MS - slow.aim() + 6_000);
        }
        assert!((5_000..6_500).contains(&slow.aim()), "{}", slow.aim());
        for _ in 0..4000 {
            pacer.handed(0, MS);
        }
        assert_eq!(pacer.aim(), MOST_AIM);
    }

    proptest! {
        #[test]
        fn the_share_is_never_overspent(
            share in 0u16..100,
            most in 0i64..500_000,
            periods in prop::collection::vec(1_000i64..30_000_000, 1..400),
            lates in prop::collection::vec(0i64..300_000, 1..400),
        ) {
            let spin = Spin { most, share };
            let mut pacer = Pacer::new(spin, 0);
            let (mut now, mut spent, mut deadline) = (0, 0, 0);
            for (period, late) in periods.iter().zip(lates.iter().cycle()) {
                deadline += period;
                let asked = pacer.wake(now, deadline);
                prop_assert!(deadline - asked <= most);
                let woken = asked.max(now) + late;
                pacer.woke(asked, woken);
                if woken < deadline {
                    pacer.spent(deadline - woken);
                    spent += deadline - woken;
                }
                now = now.max(woken).max(deadline);
            }
            // The allowance of one second was saved up, and one deadline may overdraw it.
            let allowed = (now + SAVED) / 1000 * Ns::from(share) + most;
            prop_assert!(spent <= allowed, "{spent} of {allowed}");
        }
    }
}
