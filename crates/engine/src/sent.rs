//! The controller values sent so far. Values that were performed ahead of the clock and will not go
//! out after all can be reverted.

use crate::controls::Knob;
use chaconne_song::U14;
use chaconne_time::Tick;
use std::collections::{BTreeMap, VecDeque};

/// The last value of each controller, and a short log of the values before.
#[derive(Debug, Clone, Default)]
pub(crate) struct SentValues {
    values: BTreeMap<Knob, U14>,
    log: VecDeque<(Tick, Knob, Option<U14>)>,
}

/// How far back what was performed can be reverted, in ticks: more than a second at the fastest tempo,
/// so several times the look-ahead.
pub(crate) const LOGGED: Tick = Tick(20_000);

impl SentValues {
    pub fn clear(&mut self) {
        self.values.clear();
        self.log.clear();
    }

    /// Forgets the log, and all controllers but those that `keep` picks.
    pub fn retain(&mut self, keep: impl Fn(&Knob) -> bool) {
        self.values.retain(|knob, _| keep(knob));
        self.log.clear();
    }

    pub fn get(&self, knob: &Knob) -> Option<U14> {
        self.values.get(knob).copied()
    }

    /// Records a value that goes out at a tick, and returns the one before.
    pub fn send(&mut self, at: Tick, knob: Knob, value: U14) -> Option<U14> {
        let before = self.values.insert(knob, value);
        if before != Some(value) {
            self.log.push_back((at, knob, before));
        }
        before
    }

    /// Forgets a value, so that the next one is sent whatever it is.
    pub fn remove(&mut self, knob: &Knob) {
        self.values.remove(knob);
    }

    /// Records a value that did not come from the performer. What was performed ahead no longer counts.
    pub fn overrule(&mut self, knob: Knob, value: U14) {
        self.log.retain(|(_, known, _)| *known != knob);
        self.values.insert(knob, value);
    }

    /// Records a value that did not come from the performer and is in force from just after a tick.
    /// What was performed ahead for later ticks still goes out.
    pub fn correct(&mut self, at: Tick, knob: Knob, value: U14) {
        self.log.retain(|(sent, known, _)| *known != knob || *sent > at);
        match self.log.iter_mut().find(|(_, known, _)| *known == knob) {
            Some((.., before)) => *before = Some(value),
            None => _ = self.values.insert(knob, value),
        }
    }

    /// Reverts the controllers that `which` picks to their values before `from`.
    pub fn revert(&mut self, from: Tick, which: impl Fn(&Knob) -> bool) {
        for (_, knob, before) in
            self.log.iter().rev().filter(|(at, knob, _)| *at >= from && which(knob))
        {
            match before {
                Some(value) => self.values.insert(*knob, *value),
                None => self.values.remove(knob),
            };
        }
        self.log.retain(|(at, knob, _)| *at < from || !which(knob));
    }

    /// Drops the log of what was long before `now`.
    pub fn prune(&mut self, now: Tick) {
        while self.log.front().is_some_and(|(at, ..)| *at < now - LOGGED) {
            self.log.pop_front();
        }
    }

    /// The controllers with a value.
    pub fn iter(&self) -> impl Iterator<Item = (Knob, U14)> + '_ {
        self.values.iter().map(|(knob, value)| (*knob, *value))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::PortIx;
    use chaconne_song::{Channel, Control, U7};

    const VOLUME: Control = Control::VOLUME;
    const PAN: Control = Control::PAN;

    fn knob(control: Control) -> Knob {
        Knob { port: PortIx(0), channel: Channel::default(), control }
    }

    fn value(number: u8) -> U14 {
        U7::low_bits(number).into()
    }

    /// What was sent: the tick, the controller and the value of each.
    fn sent(moves: &[(i64, Control, u8)]) -> SentValues {
        let mut sent = SentValues::default();
        for &(at, control, number) in moves {
            sent.send(Tick(at), knob(control), value(number));
        }
        sent
    }

    /// The volume and the pan.
    fn values(sent: &SentValues) -> [Option<u16>; 2] {
        [VOLUME, PAN].map(|control| sent.get(&knob(control)).map(U14::get))
    }

    #[test]
    fn the_value_sent_last_is_known_and_sending_gives_the_one_before() {
        let mut sent = sent(&[(10, VOLUME, 50)]);
        assert_eq!(sent.send(Tick(20), knob(VOLUME), value(60)), Some(value(50)));
        assert_eq!(sent.send(Tick(20), knob(PAN), value(64)), None);
        assert_eq!(values(&sent), [Some(60), Some(64)]);
        let all: Vec<(Knob, U14)> = sent.iter().collect();
        assert_eq!(all, [(knob(VOLUME), value(60)), (knob(PAN), value(64))]);
        sent.remove(&knob(VOLUME));
        assert_eq!(values(&sent), [None, Some(64)]);
        sent.clear();
        assert_eq!(values(&sent), [None, None]);
    }

    #[test]
    fn values_that_do_not_go_out_after_all_give_way_to_those_before() {
        let moves = [(10, VOLUME, 50), (20, VOLUME, 60), (20, PAN, 1), (30, VOLUME, 70)];
        let reverted = |from: i64, which: &[Control]| {
            let mut sent = sent(&moves);
            sent.revert(Tick(from), |knob| which.contains(&knob.control));
            sent
        };
        assert_eq!(values(&reverted(31, &[VOLUME, PAN])), [Some(70), Some(1)]);
        assert_eq!(values(&reverted(30, &[VOLUME, PAN])), [Some(60), Some(1)]);
        assert_eq!(values(&reverted(21, &[VOLUME, PAN])), [Some(60), Some(1)]);
        assert_eq!(values(&reverted(20, &[VOLUME, PAN])), [Some(50), None]);
        assert_eq!(values(&reverted(20, &[VOLUME])), [Some(50), Some(1)]);
        assert_eq!(values(&reverted(10, &[PAN])), [Some(70), None]);
        // What was reverted is forgotten, and only that.
        let mut sent = reverted(20, &[VOLUME]);
        sent.send(Tick(25), knob(VOLUME), value(90));
        sent.revert(Tick(20), |_| true);
        assert_eq!(values(&sent), [Some(50), None]);
        sent.revert(Tick(10), |_| true);
        assert_eq!(values(&sent), [None, None]);
    }

    #[test]
    fn a_correction_after_a_revert_counts_until_the_next_value_as_well() {
        let mut sent = sent(&[(10, VOLUME, 50), (20, VOLUME, 60)]);
        sent.revert(Tick(20), |_| true);
        sent.send(Tick(25), knob(VOLUME), value(90));
        sent.correct(Tick(15), knob(VOLUME), value(0));
        sent.revert(Tick(25), |_| true);
        assert_eq!(values(&sent), [Some(0), None]);
    }

    #[test]
    fn a_value_sent_again_is_reverted_to_itself() {
        let mut sent = sent(&[(10, VOLUME, 50), (20, VOLUME, 50)]);
        sent.revert(Tick(15), |_| true);
        assert_eq!(values(&sent)[0], Some(50));
    }

    #[test]
    fn what_the_player_sets_takes_the_place_of_everything_performed_ahead() {
        let mut sent = sent(&[(10, VOLUME, 50), (20, VOLUME, 60), (20, PAN, 1)]);
        sent.overrule(knob(VOLUME), value(99));
        sent.revert(Tick(10), |_| true);
        assert_eq!(values(&sent), [Some(99), None]);
    }

    #[test]
    fn a_correction_counts_until_the_next_value_that_goes_out_after_it() {
        let corrected = |at: i64| {
            let mut sent =
                sent(&[(10, VOLUME, 50), (20, VOLUME, 60), (20, PAN, 1), (30, VOLUME, 70)]);
            sent.correct(Tick(at), knob(VOLUME), value(0));
            sent
        };
        for (at, before) in [(10, 20), (19, 20), (20, 30), (29, 30)] {
            let mut sent = corrected(at);
            assert_eq!(values(&sent), [Some(70), Some(1)], "{at}");
            sent.revert(Tick(before), |knob| knob.control == VOLUME);
            assert_eq!(values(&sent)[0], Some(0), "{at}");
            // What was sent up to the correction is not reverted any more.
            sent.revert(Tick(0), |_| true);
            assert_eq!(values(&sent), [Some(0), None], "{at}");
        }
        for at in [30, 31] {
            assert_eq!(values(&corrected(at)), [Some(0), Some(1)], "{at}");
        }
    }

    #[test]
    fn some_controllers_can_be_kept_alone() {
        let mut sent = sent(&[(10, VOLUME, 50), (20, VOLUME, 60), (20, PAN, 1)]);
        sent.retain(|knob| knob.control == VOLUME);
        assert_eq!(values(&sent), [Some(60), None]);
        sent.revert(Tick(0), |_| true);
        assert_eq!(values(&sent), [Some(60), None], "the log is gone");
    }

    #[test]
    fn what_was_sent_long_ago_is_never_reverted() {
        for (now, volume) in [(LOGGED.0 + 10, None), (LOGGED.0 + 11, Some(50))] {
            let mut sent = sent(&[(10, VOLUME, 50), (20, PAN, 1)]);
            sent.prune(Tick(now));
            sent.revert(Tick(0), |_| true);
            assert_eq!(values(&sent), [volume, None]);
        }
    }
}
