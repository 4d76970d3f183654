//! What a groove takes from a performance and gives to another, by hand.

use super::*;
use chaconne_song::{Channel, Note, NoteId, PassId, Placed, TrackId, U7};
use chaconne_time::Metre;
use proptest::prelude::*;

const BAR: i64 = 3840;

fn four() -> MetreMap {
    MetreMap::new(4, Metre::common()).unwrap()
}

/// A pass of four bars with notes: start and velocity.
fn pass(notes: &[(i64, u8)]) -> Pass {
    let mut pass = Pass::empty(PassId(1), TrackId(1), Tick(4 * BAR));
    for &(start, velocity) in notes {
        let (key, velocity, release) = (U7::CENTRE, U7::low_bits(velocity), U7::CENTRE);
        let played = Stroke { start: Tick(start), length: Tick(50), key, velocity, release };
        let (id, channel) = (pass.free_note_id(), Channel::default());
        pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
    }
    pass.sort();
    pass
}

fn how(bars: u32) -> HowToTake {
    let (id, name, grid) = (GrooveId(9), "Sam".to_string(), NoteValue::SIXTEENTH);
    HowToTake { id, name, grid, bars }
}

fn at(bar: u32, step: u32) -> StepAt {
    StepAt { bar, step }
}

fn groove(bars: u32, steps: &[(u32, u32, i64, u16)]) -> Groove {
    let HowToTake { id, name, grid, .. } = how(bars);
    let lean = |timing, loudness| Lean { timing: Tick(timing), loudness, ..Lean::default() };
    let steps =
        steps.iter().map(|&(bar, step, timing, loudness)| (at(bar, step), lean(timing, loudness)));
    Groove { id, name, grid, bars, steps: steps.collect() }
}

#[test]
fn a_groove_has_the_median_of_the_loudest_strokes_over_the_bars() {
    // On the first beat 10 late, 2 early, 30 late: the median is 10, the distances 0, 12, 20 from it.
    // The stroke at 5 is softer than the one at 10. On the second beat, in two bars, 20 and 31 late.
    let notes = [
        (10, 100),
        (5, 40),
        (BAR - 2, 80),
        (2 * BAR + 30, 120),
        (960 + 20, 60),
        (BAR + 960 + 31, 40),
    ];
    let taken = take_groove([&pass(&notes)], how(1), &four()).unwrap();
    // The mean of 100, 80, 120, 60 and 40 is 80: 125, 100 and 150 percent; 75 and 50.
    let first =
        Lean { timing: Tick(10), timing_spread: Tick(12), loudness: 125, loudness_spread: 25 };
    // Of two, the mean, rounded half up: 25.5 and 62.5; and 5.5, of 6 and 5, and 12.5, of 12 and 13.
    let second =
        Lean { timing: Tick(26), timing_spread: Tick(6), loudness: 63, loudness_spread: 13 };
    assert_eq!(taken.steps, [(at(1, 1), first), (at(1, 5), second)].into());
    assert_eq!((taken.id, taken.bars, taken.name.as_str()), (GrooveId(9), 1, "Sam"));
    let two = take_groove([&pass(&notes)], how(2), &four()).unwrap();
    let timing = |bar, step| two.steps[&at(bar, step)].timing.0;
    assert_eq!((timing(1, 1), timing(2, 1), timing(1, 5), timing(2, 5)), (20, -2, 20, 31));
    assert_eq!(take_groove([&pass(&[])], how(1), &four()), None);
}

#[test]
fn an_early_stroke_belongs_to_the_step_that_it_was_meant_for() {
    // 119 early is nearer to the first step, 121 early to the last; halfway, the later one has it.
    let taken =
        take_groove([&pass(&[(-119, 80), (960 - 121, 80), (1920 - 120, 80)])], how(1), &four());
    let steps = taken.unwrap().steps;
    let timings: Vec<(u32, i64)> =
        steps.iter().map(|(at, lean)| (at.step, lean.timing.0)).collect();
    assert_eq!(timings, [(1, -119), (4, 119), (9, -120)]);
}

#[test]
fn a_performance_of_several_layers_is_taken_as_one() {
    let (one, other) = (pass(&[(10, 90)]), pass(&[(30, 110)]));
    let taken = take_groove([&one, &other], how(1), &four()).unwrap();
    let lean =
        Lean { timing: Tick(20), timing_spread: Tick(10), loudness: 100, loudness_spread: 10 };
    assert_eq!(taken.steps, [(at(1, 1), lean)].into());
}

#[test]
fn between_two_steps_the_timing_is_interpolated_and_the_loudness_is_that_of_the_nearest() {
    let groove = groove(1, &[(1, 1, 20, 120), (1, 3, -20, 60)]);
    let given = GivenGroove::whole(GrooveId(9));
    let of = |ticks: i64| {
        let at = Tick(ticks);
        let loudness = groove_loudness(&groove, &given, at, &four());
        (groove_timing(&groove, &given, at, &four()).0, loudness / 100)
    };
    assert_eq!(
        [0, 120, 240, 360, 480].map(of),
        [(20, 120), (10, 100), (0, 100), (-10, 60), (-20, 60)]
    );
    // From the third step to the first of the next bar, 3360 ticks, the timing goes back.
    assert_eq!([480 + 1680, BAR - 1, BAR].map(of), [(0, 100), (20, 120), (20, 120)]);
    assert_eq!(of(-1), (20, 120));
    let half = GivenGroove { timing: 50, loudness: 25, ..given };
    let of = |at| {
        (groove_timing(&groove, &half, at, &four()).0, groove_loudness(&groove, &half, at, &four()))
    };
    assert_eq!((of(Tick(0)), of(Tick(480))), ((10, 10_500), (-10, 9_000)));
    let none = GivenGroove { timing: 0, loudness: 0, ..given };
    assert_eq!(
        (
            groove_timing(&groove, &none, Tick(0), &four()),
            groove_loudness(&groove, &none, Tick(0), &four())
        ),
        (Tick(0), 10_000)
    );
}

#[test]
fn a_groove_counts_from_the_start_of_each_bar_and_repeats_after_its_own() {
    // Three bars of 3/4, then one of 7/8: 2880 ticks each, and 3360.
    let changes = vec![
        chaconne_time::MetreChange { bar: 1, metre: Metre::new(3, 4).unwrap() },
        chaconne_time::MetreChange { bar: 4, metre: Metre::new(7, 8).unwrap() },
    ];
    let metre = MetreMap::with_changes(4, changes).unwrap();
    let groove = groove(2, &[(1, 1, 7, 100), (1, 13, 40, 100), (2, 1, -7, 100), (2, 13, -40, 100)]);
    let given = GivenGroove::whole(GrooveId(9));
    let of = |ticks| groove_timing(&groove, &given, Tick(ticks), &metre).0;
    // A bar of 3/4 has twelve sixteenths, so the thirteenth step is heard only in bar 4.
    assert_eq!([0, 2880, 5760, 8640, 8640 + 2880].map(of), [7, -7, 7, -7, -40]);
    // The bars of the section repeat.
    assert_eq!(of(12_000), 7);
}

#[test]
fn a_pickup_has_the_last_steps_of_a_bar_and_the_bar_after_it_the_first() {
    // A beat, two bars of four, and one of three.
    let metre = MetreMap::of_written(4, "pickup 1/4, 4/4", |metre| metre).unwrap();
    let groove = groove(2, &[(1, 1, 7, 110), (1, 13, 40, 90), (2, 1, -7, 80), (2, 13, -40, 70)]);
    let given = GivenGroove::whole(GrooveId(9));
    let of = |ticks| {
        let loudness = groove_loudness(&groove, &given, Tick(ticks), &metre) / 100;
        (groove_timing(&groove, &given, Tick(ticks), &metre).0, loudness)
    };
    let bars = [960, 960 + BAR, 960 + 2 * BAR];
    assert_eq!(bars.map(of), [(7, 110), (-7, 80), (7, 110)]);
    assert_eq!([960 + 2880, 960 + BAR + 2880].map(of), [(40, 90), (-40, 70)]);
    // The pickup, in the first round and in the next.
    assert_eq!([0, 960 + 2 * BAR + 2880].map(of), [(-40, 70), (-40, 70)]);
    // What is taken where the pickup begins is given there again.
    let part = pass(&[(15, 100), (960 + 240 - 30, 50)]);
    let taken = take_groove([&part], how(1), &metre).unwrap();
    let steps: Vec<_> = taken.steps.iter().map(|(at, lean)| (at.step, lean.timing.0)).collect();
    assert_eq!(steps, [(2, -30), (13, 15)]);
    assert_eq!(groove_timing(&taken, &given, Tick(0), &metre), Tick(15));
}

#[test]
fn a_pickup_shorter_than_a_step_has_none() {
    let metre = MetreMap::of_written(3, "pickup 1/32, 4/4", |metre| metre).unwrap();
    let groove = groove(1, &[(1, 1, 7, 110), (1, 16, 40, 90)]);
    let given = GivenGroove::whole(GrooveId(9));
    assert_eq!(groove_timing(&groove, &given, Tick(120), &metre), Tick(7));
    // Halfway from the last step of the last bar to the first after the pickup: 23.5, rounded half up.
    assert_eq!(groove_timing(&groove, &given, Tick(0), &metre), Tick(24));
}

#[test]
fn a_groove_without_steps_changes_nothing() {
    let (empty, given) = (groove(1, &[]), GivenGroove::whole(GrooveId(9)));
    let late = groove(1, &[(1, 100, 50, 10)]);
    for groove in [empty, late] {
        assert_eq!(groove_timing(&groove, &given, Tick(500), &four()), Tick(0));
        assert_eq!(groove_loudness(&groove, &given, Tick(500), &four()), 10_000);
    }
}

proptest! {
    #[test]
    fn what_comes_first_stays_first_up_to_100_percent(
        steps in prop::collection::btree_map(1u32..=16, -120i64..120, 0..16),
        at in -4000i64..16_000, apart in 1i64..400, percent in 0u8..=100,
    ) {
        let steps: Vec<_> = steps.into_iter().map(|(step, timing)| (1, step, timing, 100)).collect();
        let groove = groove(1, &steps);
        let given = GivenGroove { timing: percent, ..GivenGroove::whole(GrooveId(9)) };
        let late = |at: i64| at + groove_timing(&groove, &given, Tick(at), &four()).0;
        prop_assert!(late(at) <= late(at + apart));
    }

    /// A straight part given the whole groove, taken again, gives the groove: no step is lost or shifted.
    #[test]
    fn a_groove_survives_being_given_and_taken(
        steps in prop::collection::btree_map(1u32..=16, (-119i64..119, 60u8..120), 1..16),
    ) {
        let notes: Vec<(i64, u8)> = steps.iter()
            .map(|(step, (late, velocity))| (i64::from(step - 1) * 240 + late, *velocity))
            .collect();
        let taken = take_groove([&pass(&notes)], how(1), &four()).unwrap();
        let given = GivenGroove::whole(GrooveId(9));
        let straight = notes.iter().zip(&steps).map(|(_, (step, _))| i64::from(step - 1) * 240);
        let moved: Vec<i64> =
            straight.map(|at| at + groove_timing(&taken, &given, Tick(at), &four()).0).collect();
        prop_assert_eq!(moved, notes.iter().map(|note| note.0).collect::<Vec<_>>());
    }
}

#[test]
fn ids_of_notes_do_not_matter() {
    let mut renamed = pass(&[(10, 100), (20, 100)]);
    let taken = take_groove([&renamed], how(1), &four());
    for (note, id) in renamed.notes_mut().notes.iter_mut().zip([8, 3]) {
        note.id = NoteId(id);
    }
    assert_eq!(take_groove([&renamed], how(1), &four()), taken);
}
