//! A glance at the desk: as long as two are equal, the screen shows the same.
//!
//! In: the desk's state. Out: a value to compare, cheap enough that a screen on which nothing
//! changes costs next to nothing.

use crate::desk::{DeskState, Disk, Export, PortLine, Timing};
use crate::draw::meters::Look;
use chaconne_engine::{ByHand, Click, KeyChange, Mode, Rounds, Transport, Turn, Waits};
use chaconne_song::{Letter, PassId, TrackId, U7};
use chaconne_time::{Metre, Tempo, Tick};
use std::collections::BTreeSet;
use std::sync::Arc;

/// What the screen would show, as a value to compare.
#[derive(Debug, PartialEq)]
pub struct Glance {
    revision: u64,
    place: (Transport, Letter, Option<Letter>, u64, i64, u8),
    /// The round of the route, and of how many.
    in_form: Option<(i64, i64)>,
    /// Who leads, what the time waits for, and how the form goes on.
    led: (Option<ByHand>, Option<Waits>, bool, bool),
    /// The change of key to come.
    key_change: Option<KeyChange>,
    /// The mark of the bar, where the playhead is drawn, and where a start begins.
    mark: (i64, Tick),
    tempo: (Tempo, Metre, u8),
    take: (bool, Mode, Rounds, Click, Option<TrackId>),
    /// The keys of the last chord, and whether one is down.
    struck: (Arc<[U7]>, bool),
    /// Whether there is a take to record again, which has a key at the foot.
    again: bool,
    solo: (BTreeSet<TrackId>, BTreeSet<PassId>),
    unfinished: Option<(usize, usize)>,
    history: (Option<Turn>, Option<Turn>),
    timing: (u64, Timing),
    ports: Vec<PortLine>,
    sound: Option<Look>,
    disk: Disk,
    export: Export,
}

impl Glance {
    /// A glance, where the playhead is drawn in steps of so many ticks; `calm` sees no beats.
    pub fn new(state: &DeskState, calm: bool, step: Tick) -> Glance {
        let status = &state.status;
        let place = status.place;
        let moves = status.transport == Transport::Rolling && !calm;
        let beat = if calm && status.transport == Transport::Rolling { 0 } else { place.beat };
        let into_bar = (i64::from(place.beat) - 1) * status.metre.beat().0 + i64::from(place.tick);
        Glance {
            revision: status.revision,
            place: (
                status.transport,
                status.section,
                status.next_section,
                status.round,
                place.bar,
                beat,
            ),
            in_form: status.in_form,
            led: (status.by_hand, status.waits, status.form_left, status.repeat),
            key_change: status.key_change.clone(),
            mark: (if moves { into_bar / step.0 } else { 0 }, status.begins),
            tempo: (status.tempo, status.metre.clone(), status.count_in),
            take: (status.recording, status.mode, status.rounds, status.click, status.armed),
            struck: (Arc::clone(&status.struck), status.holds),
            again: status.again.is_some(),
            solo: (status.solo_tracks.clone(), status.solo_passes.clone()),
            unfinished: status
                .unfinished
                .as_ref()
                .map(|pass| (Arc::as_ptr(pass) as usize, pass.notes().len())),
            history: (status.undo, status.redo),
            timing: (status.lost, tenths(state.timing)),
            ports: state.ports.clone(),
            sound: state.sound.map(|sound| Look::new(&sound, calm)),
            disk: state.disk.clone(),
            export: state.export.clone(),
        }
    }
}

/// The figures as they are shown: times in tenths of a millisecond.
fn tenths(timing: Timing) -> Timing {
    let tenths = |ns: u64| ns / 100_000;
    Timing {
        p50_ns: tenths(timing.p50_ns),
        p99_ns: tenths(timing.p99_ns),
        worst_ns: tenths(timing.worst_ns),
        ..timing
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::axis::SIXTEENTH;
    use crate::testing::{Bench, four_parts};
    use chaconne_engine::Command;

    #[test]
    fn a_glance_changes_only_while_the_song_plays() {
        let mut bench = Bench::new(four_parts());
        let before = Glance::new(&bench.state(), false, SIXTEENTH);
        bench.wait(500);
        assert_eq!(Glance::new(&bench.state(), false, SIXTEENTH), before);
        bench.command(Command::Play);
        bench.wait(500);
        let playing = Glance::new(&bench.state(), false, SIXTEENTH);
        assert_ne!(playing, before);
        bench.wait(130);
        assert_ne!(Glance::new(&bench.state(), false, SIXTEENTH), playing);
    }

    #[test]
    fn a_song_that_begins_to_wait_for_a_beat_is_seen_even_on_a_calm_screen() {
        let mut bench = Bench::new(four_parts());
        bench.command(Command::ByHand(Some(ByHand::default())));
        bench.command(Command::Play);
        bench.wait(100);
        bench.engine.tapped(bench.now, bench.now, None).unwrap();
        bench.wait(100);
        let playing = Glance::new(&bench.state(), true, SIXTEENTH);
        bench.wait(1000);
        assert_ne!(Glance::new(&bench.state(), true, SIXTEENTH), playing);
    }

    #[test]
    fn a_key_change_to_come_is_seen_even_on_a_calm_screen() {
        let mut bench = Bench::new(four_parts());
        bench.command(Command::Play);
        bench.wait(100);
        let before = Glance::new(&bench.state(), true, SIXTEENTH);
        let (of, up) = (chaconne_engine::KeyOf::Song, chaconne_engine::NewKey::By(1));
        bench.command(Command::Transpose(of, up, Some(chaconne_engine::When::Seam)));
        assert_ne!(Glance::new(&bench.state(), true, SIXTEENTH), before);
    }

    #[test]
    fn meters_are_redrawn_until_they_rest() {
        let mut bench = Bench::new(four_parts());
        let none = Glance::new(&bench.state(), false, SIXTEENTH);
        bench.sound();
        let silent = Glance::new(&bench.state(), false, SIXTEENTH);
        assert_ne!(silent, none);
        bench.sound().peak = [-30.0; 2];
        let heard = Glance::new(&bench.state(), false, SIXTEENTH);
        assert_ne!(heard, silent);
        // Less than a bar can show, then as low as no bar goes.
        bench.sound().peak = [-30.01; 2];
        assert_eq!(Glance::new(&bench.state(), false, SIXTEENTH), heard);
        for low in [-48.1, -90.0, -120.0] {
            (bench.sound().peak, bench.sound().held) = ([low; 2], [low; 2]);
            assert_eq!(Glance::new(&bench.state(), false, SIXTEENTH), silent);
        }
        bench.sound().level = Some(-13.0);
        assert_ne!(Glance::new(&bench.state(), false, SIXTEENTH), silent);
    }

    #[test]
    fn a_chord_that_is_held_or_let_go_is_seen() {
        let mut bench = Bench::new(four_parts());
        let glance = |bench: &Bench| Glance::new(&bench.state(), true, SIXTEENTH);
        let none = glance(&bench);
        bench.strike(&[60, 64, 67], true);
        let held = glance(&bench);
        bench.strike(&[60, 64, 67], false);
        let let_go = glance(&bench);
        assert!(none != held && held != let_go && let_go != none);
    }

    #[test]
    fn a_calm_glance_changes_only_with_the_bar() {
        let mut bench = Bench::new(four_parts());
        bench.command(Command::Play);
        bench.wait(300);
        let calm = Glance::new(&bench.state(), true, SIXTEENTH);
        bench.wait(700);
        assert_eq!(Glance::new(&bench.state(), true, SIXTEENTH), calm);
        bench.wait(1200);
        assert_ne!(Glance::new(&bench.state(), true, SIXTEENTH), calm);
    }
}
