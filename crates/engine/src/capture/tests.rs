//! Tests of the capture: what begins, extends and ends notes and gestures, how much there is room for,
//! and what is dropped.

use super::*;

const BAR: Tick = Tick(3840);
/// Modulation, which rests at 0.
const WHEEL: u8 = 1;
const SUSTAIN: u8 = 64;
/// Volume, which has no rest.
const VOLUME: u8 = 7;

fn on(capture: &mut Capture, at: i64, source: u8, key: u8) -> News {
    let (channel, key, velocity) = (Channel::default(), U7::low_bits(key), U7::low_bits(99));
    capture.message(Tick(at), source, Message::NoteOn { channel, key, velocity }, BAR)
}

fn off(capture: &mut Capture, at: i64, source: u8, key: u8) -> News {
    let (channel, key, velocity) = (Channel::default(), U7::low_bits(key), U7::low_bits(50));
    capture.message(Tick(at), source, Message::NoteOff { channel, key, velocity }, BAR)
}

fn moving(controller: u8, value: u8) -> Message {
    let (controller, value) = (U7::low_bits(controller), U7::low_bits(value));
    Message::Change { channel: Channel::default(), controller, value }
}

fn turn(capture: &mut Capture, at: i64, controller: u8, value: u8) -> News {
    capture.message(Tick(at), 0, moving(controller, value), BAR)
}

/// A system-exclusive message of this many bytes.
fn exclusive(size: usize) -> Vec<u8> {
    let mut bytes = vec![0; size];
    (bytes[0], bytes[size - 1]) = (0xF0, 0xF7);
    bytes
}

/// The start, the end, the key and the release velocity of each note.
fn notes(capture: &Capture) -> Vec<(i64, Option<i64>, u8, u8)> {
    let end = |caught: &Caught| caught.end.map(|end| end.0);
    let spell =
        |caught: &Caught| (caught.start.0, end(caught), caught.key.get(), caught.release.get());
    capture.notes.iter().map(spell).collect()
}

/// The moves of a gesture, and the tick at which it ended.
type Spelt = (Vec<(i64, u16)>, Option<i64>);

fn gestures(capture: &Capture) -> Vec<Spelt> {
    let spell = |gesture: &Gesture| {
        let moves = gesture.moves.iter().map(|&(at, value)| (at.0, value.get()));
        (moves.collect(), gesture.over.map(|over| over.0))
    };
    capture.gestures.values().map(spell).collect()
}

/// A gesture of a controller with these moves, which may go on.
fn gesture(controller: u8, moves: &[(i64, u16)]) -> Gesture {
    let moves = moves.iter().map(|&(at, value)| (Tick(at), U14::new(value).unwrap())).collect();
    Gesture {
        number: 1,
        channel: Channel::default(),
        control: Control::Change(U7::low_bits(controller)),
        moves,
        over: None,
        next: None,
        fate: Fate::Free,
    }
}

#[test]
fn a_gesture_gives_each_value_from_its_move_on() {
    let values = |gesture: &Gesture, ticks: &[i64]| -> Vec<Option<u16>> {
        ticks.iter().map(|&at| gesture.value_at(Tick(at)).map(U14::get)).collect()
    };
    let (ten, twenty) = (Some(10), Some(20));
    let moves = [(100, 10), (200, 20)];
    let goes_on = gesture(WHEEL, &moves);
    assert_eq!(goes_on.start(), Tick(100));
    let ticks = [99, 100, 199, 200, 9000];
    assert_eq!(values(&goes_on, &ticks), [None, ten, ten, twenty, twenty]);
    let mut rested = gesture(WHEEL, &[(100, 10), (300, 0)]);
    rested.end();
    assert_eq!(values(&rested, &[299, 300, 301]), [ten, Some(0), None]);
    // One that stands still away from rest keeps its value until the next one begins.
    let mut stood = gesture(WHEEL, &moves);
    stood.end();
    assert_eq!(values(&stood, &[201, 9000]), [twenty, twenty]);
    stood.next = Some(Tick(500));
    assert_eq!(values(&stood, &[499, 500]), [twenty, None]);
    // One that ended because the music stopped does not.
    let stopped = Gesture { over: Some(Tick(900)), next: Some(Tick(2000)), ..goes_on };
    assert_eq!(values(&stopped, &[899, 900]), [twenty, None]);
}

#[test]
fn a_gesture_whose_moves_are_all_to_rest_does_nothing() {
    let rests = |controller, moves| gesture(controller, moves).only_rests();
    assert!(rests(WHEEL, &[(100, 0), (200, 0)]));
    assert!(!rests(WHEEL, &[(100, 0), (200, 1), (300, 0)]));
    assert!(!rests(VOLUME, &[(100, 0)]), "volume has no rest");
}

/// Pedals are down from 64 up (MIDI 1.0, "Controller Numbers"): sustain, portamento, sostenuto, soft.
#[test]
fn a_pedal_that_is_down_is_held_and_a_wheel_never_is() {
    let held = |controller, value| gesture(controller, &[(100, 127), (200, value)]).is_held();
    for pedal in 64..=67 {
        assert_eq!([0, 63, 64, 127].map(|value| held(pedal, value)), [false, false, true, true]);
    }
    for other in [WHEEL, VOLUME, 63, 68] {
        assert!(!held(other, 127), "{other}");
    }
    let mut ended = gesture(SUSTAIN, &[(100, 127)]);
    ended.end();
    assert!(!ended.is_held());
}

#[test]
fn a_gesture_stands_still_after_a_bar_without_a_move_unless_it_is_a_pedal_that_is_down() {
    let stood = |gesture: &Gesture, at: i64| gesture.stood_still(Tick(at), BAR);
    let wheel = gesture(WHEEL, &[(100, 50), (200, 60)]);
    assert_eq!([0, 4039, 4040, 9000].map(|at| stood(&wheel, at)), [false, false, true, true]);
    assert!(!stood(&gesture(SUSTAIN, &[(100, 127)]), 9000));
    assert!(stood(&gesture(SUSTAIN, &[(100, 127), (200, 30)]), 9000));
    let ended = Gesture { over: Some(Tick(201)), ..wheel };
    assert!(!stood(&ended, 9000), "it has ended");
}

#[test]
fn old_moves_are_dropped_except_the_one_still_in_force() {
    let left = |at: i64, fate| -> Vec<i64> {
        let mut gesture = Gesture { fate, ..gesture(WHEEL, &[(10, 1), (20, 2), (30, 3), (40, 4)]) };
        gesture.forget(Tick(at));
        gesture.moves.iter().map(|(at, _)| at.0).collect()
    };
    for (at, first) in [(5, 10), (10, 10), (11, 10), (20, 10), (21, 20), (30, 20), (31, 30)] {
        assert_eq!(left(at, Fate::Free).first(), Some(&first), "{at}");
        assert_eq!(left(at, Fate::Owned).last(), Some(&40), "{at}");
    }
    assert_eq!(left(9000, Fate::Free), [40]);
    // Redo may bring a discarded one back.
    assert_eq!(left(9000, Fate::Discarded(1)), [10, 20, 30, 40]);
}

#[test]
fn a_note_lasts_from_its_press_to_its_release_and_at_least_a_tick() {
    let mut capture = Capture::default();
    assert_eq!(on(&mut capture, 100, 0, 60), News::Played);
    assert_eq!(on(&mut capture, 150, 0, 62), News::Played);
    assert_eq!(off(&mut capture, 200, 0, 60), News::Released(NoteId(1)));
    assert_eq!(off(&mut capture, 150, 0, 62), News::Released(NoteId(2)));
    assert_eq!(off(&mut capture, 300, 0, 60), News::Nothing, "it is up");
    assert_eq!(notes(&capture), [(100, Some(200), 60, 50), (150, Some(151), 62, 50)]);
    assert_eq!(capture.note(NoteId(2)).map(|note| note.key.get()), Some(62));
    assert_eq!(capture.note(NoteId(3)), None);
}

#[test]
fn a_key_struck_again_ends_its_note_and_each_input_has_its_own_keys() {
    let mut capture = Capture::default();
    on(&mut capture, 100, 0, 60);
    assert_eq!(on(&mut capture, 150, 1, 60), News::Played);
    assert_eq!(on(&mut capture, 200, 0, 60), News::Again(NoteId(1)));
    assert_eq!(off(&mut capture, 300, 1, 60), News::Released(NoteId(2)));
    let centre = U7::CENTRE.get();
    let expected =
        [(100, Some(200), 60, centre), (150, Some(300), 60, 50), (200, None, 60, centre)];
    assert_eq!(notes(&capture), expected);
}

#[test]
fn an_input_that_is_gone_releases_its_own_keys_and_a_stop_those_of_every_input() {
    let mut capture = Capture::default();
    for (source, key) in [(1, 60), (2, 62), (1, 64), (0, 65)] {
        on(&mut capture, 100, source, key);
    }
    assert_eq!(capture.input_lost(Tick(500), 1), [NoteId(1), NoteId(3)]);
    let ends = |capture: &Capture| notes(capture).iter().map(|note| note.1).collect::<Vec<_>>();
    assert_eq!(ends(&capture), [Some(500), None, Some(500), None]);
    assert_eq!(off(&mut capture, 600, 1, 60), News::Nothing);
    assert_eq!(capture.release_all(Tick(700)), [NoteId(4), NoteId(2)]);
    assert_eq!(ends(&capture), [Some(500), Some(700), Some(500), Some(700)]);
    assert!(capture.release_all(Tick(800)).is_empty());
}

#[test]
fn a_gesture_goes_on_until_its_controller_is_at_rest_or_has_stood_still_for_a_bar() {
    let mut capture = Capture::default();
    assert_eq!(turn(&mut capture, 100, WHEEL, 30), News::Played);
    assert_eq!(turn(&mut capture, 200, WHEEL, 0), News::Moved(1));
    // At the very tick of its end it goes on; a tick later another begins.
    assert_eq!(turn(&mut capture, 200, WHEEL, 40), News::Moved(1));
    assert_eq!(turn(&mut capture, 300, WHEEL, 0), News::Moved(1));
    assert_eq!(turn(&mut capture, 301, WHEEL, 50), News::Played);
    // Another controller has gestures of its own.
    assert_eq!(turn(&mut capture, 400, SUSTAIN, 127), News::Played);
    assert_eq!(turn(&mut capture, 301 + 3840, WHEEL, 60), News::Played);
    assert_eq!(turn(&mut capture, 9000, SUSTAIN, 0), News::Moved(3));
    let first = (vec![(100, 30), (200, 0), (200, 40), (300, 0)], Some(301));
    let stood = (vec![(301, 50)], Some(302));
    let pedal = (vec![(400, 127), (9000, 0)], Some(9001));
    let last = (vec![(301 + 3840, 60)], None);
    assert_eq!(gestures(&capture), [first, stood, pedal, last]);
    let next = |number| capture.gesture(number).unwrap().next;
    assert_eq!([1, 2, 3].map(next), [Some(Tick(301)), Some(Tick(301 + 3840)), None]);
}

#[test]
fn a_move_that_arrives_late_counts_at_the_last_one_known() {
    let mut capture = Capture::default();
    turn(&mut capture, 200, WHEEL, 30);
    assert_eq!(turn(&mut capture, 150, WHEEL, 40), News::Moved(1));
    assert_eq!(gestures(&capture), [(vec![(200, 30), (200, 40)], None)]);
}

#[test]
fn gestures_that_stand_still_end_and_the_others_only_when_the_music_does() {
    let mut capture = Capture::default();
    turn(&mut capture, 100, WHEEL, 30);
    turn(&mut capture, 200, SUSTAIN, 127);
    turn(&mut capture, 3000, VOLUME, 90);
    turn(&mut capture, 3100, 66, 20);
    assert!(capture.end_still_gestures(Tick(3939), BAR).is_empty());
    assert_eq!(capture.end_still_gestures(Tick(3940), BAR), [1]);
    assert!(capture.end_still_gestures(Tick(3940), BAR).is_empty(), "it has ended");
    // At a stop, pedals are lifted. The last move may be later than the stop, because each counts at
    // the last one known.
    let before = capture.len();
    assert_eq!(capture.end_gestures(Tick(3000), BAR), [2, 3, 4]);
    assert_eq!(capture.len() - before, 2, "two pedals were lifted");
    let wheel = (vec![(100, 30)], Some(101));
    let pedal = (vec![(200, 127), (3000, 0)], Some(3001));
    let volume = (vec![(3000, 90)], Some(3002));
    let other = (vec![(3100, 20), (3101, 0)], Some(3102));
    assert_eq!(gestures(&capture), [wheel, pedal, volume, other]);
    assert!(capture.end_gestures(Tick(3000), BAR).is_empty());
}

#[test]
fn a_stop_ends_a_gesture_that_has_just_stood_still_and_lifts_no_pedal_that_is_up() {
    let mut capture = Capture::default();
    turn(&mut capture, 0, WHEEL, 30);
    turn(&mut capture, 10, SUSTAIN, 40);
    turn(&mut capture, 5000, 66, 127);
    turn(&mut capture, 5100, 66, 0);
    assert_eq!(capture.end_gestures(Tick(5200), BAR), [1, 2]);
    let wheel = (vec![(0, 30)], Some(1));
    let resting = (vec![(10, 40)], Some(11));
    let lifted = (vec![(5000, 127), (5100, 0)], Some(5101));
    assert_eq!(gestures(&capture), [wheel, resting, lifted]);
}

#[test]
fn only_a_gesture_in_progress_that_began_before_a_tick_can_be_ended_for_another_to_begin() {
    let mut capture = Capture::default();
    let which = (Channel::default(), Control::Change(U7::low_bits(WHEEL)));
    assert_eq!(capture.end_gesture_before(which, Tick(500)), None, "there is none");
    turn(&mut capture, 100, WHEEL, 30);
    turn(&mut capture, 200, WHEEL, 40);
    assert_eq!(capture.end_gesture_before(which, Tick(100)), None, "it begins there");
    assert_eq!(capture.end_gesture_before(which, Tick(101)), Some(1));
    assert_eq!(gestures(&capture), [(vec![(100, 30), (200, 40)], Some(201))]);
    assert_eq!(capture.end_gesture_before(which, Tick(500)), None, "it has ended");
    assert_eq!(turn(&mut capture, 300, WHEEL, 50), News::Played);
}

#[test]
fn another_run_begins_with_the_controllers_that_are_away_from_rest_and_no_key_down() {
    let mut capture = Capture::default();
    on(&mut capture, 100, 0, 60);
    turn(&mut capture, 200, WHEEL, 30);
    turn(&mut capture, 300, SUSTAIN, 127);
    turn(&mut capture, 400, SUSTAIN, 0);
    turn(&mut capture, 500, VOLUME, 90);
    assert_eq!(capture.sysex(Tick(600), exclusive(1)), News::Nothing, "it is incomplete");
    // While stopped, one moves away from rest, another comes to rest and is away again.
    capture.message_while_stopped(moving(67, 127));
    capture.message_while_stopped(moving(WHEEL, 0));
    capture.message_while_stopped(moving(WHEEL, 45));
    let work = capture.work();
    capture.restart(Tick(-960));
    assert_eq!((capture.lost(), capture.work()), (1, work));
    assert_eq!(notes(&capture), []);
    assert_eq!(gestures(&capture), [(vec![(-960, 45)], None), (vec![(-960, 127)], None)]);
    let value = |number| capture.gesture(number).and_then(|gesture| gesture.value_at(Tick(0)));
    // Gestures go on being numbered: 1 to 3 were those before.
    assert_eq!([4, 5].map(value).map(|value| value.map(U14::get)), [Some(45), Some(127)]);
    assert_eq!(off(&mut capture, 0, 0, 60), News::Nothing);
    on(&mut capture, 0, 0, 60);
    assert_eq!(capture.notes[0].id, NoteId(2), "no two notes share an id");
}

#[test]
fn input_of_one_fate_gets_another() {
    let mut capture = Capture::default();
    for at in [100, 200] {
        on(&mut capture, at, 0, 60);
        turn(&mut capture, at, if at == 100 { WHEEL } else { SUSTAIN }, 99);
        capture.sysex(Tick(at), exclusive(3));
    }
    let fates = |capture: &Capture| {
        let notes = capture.notes.iter().map(|note| note.fate);
        let sysex = capture.sysex.iter().map(|message| message.fate);
        notes.chain(capture.gestures.values().map(|gesture| gesture.fate)).chain(sysex).collect()
    };
    let (free, gone) = (Fate::Free, Fate::Discarded(1));
    capture.notes[0].fate = gone;
    capture.sysex[1].fate = gone;
    capture.gestures.get_mut(&1).unwrap().fate = Fate::Owned;
    let all: Vec<Fate> = fates(&capture);
    assert_eq!(all, [gone, free, Fate::Owned, free, free, gone]);
    capture.change_fate(gone, Fate::Free);
    let all: Vec<Fate> = fates(&capture);
    assert_eq!(all, [free, free, Fate::Owned, free, free, free]);
    let takes = |fate: Fate| [false, true].map(|with_discarded| fate.is_free(with_discarded));
    assert_eq!([free, Fate::Owned, gone].map(takes), [[true; 2], [false; 2], [false, true]]);
}

#[test]
fn a_round_has_room_for_so_many_notes_moves_and_bytes_and_another_round_again() {
    let mut capture = Capture::default();
    capture.count_round(true);
    for index in 0..MOST_NOTES as i64 {
        on(&mut capture, index, 0, 60);
    }
    assert_eq!((capture.lost(), capture.notes.len()), (0, MOST_NOTES));
    assert_eq!(on(&mut capture, 60_000, 0, 62), News::Nothing);
    assert_eq!((capture.lost(), capture.notes.len()), (1, MOST_NOTES));
    // There is room for other things.
    for index in 0..MOST_MOVES as i64 {
        turn(&mut capture, index, VOLUME, 90);
    }
    assert_eq!((capture.lost(), capture.len()), (1, MOST_NOTES + MOST_MOVES));
    assert_eq!(turn(&mut capture, 100_000, VOLUME, 90), News::Nothing);
    // A move to rest is stored even then, so that nothing stays away from rest.
    assert_eq!(turn(&mut capture, 100_000, WHEEL, 0), News::Played);
    assert_eq!((capture.lost(), capture.len()), (3, MOST_NOTES + MOST_MOVES + 1));
    let part = SysEx::LONGEST;
    for _ in 0..MOST_BYTES / part {
        assert_eq!(capture.sysex(Tick(0), exclusive(part)), News::Played);
    }
    assert_eq!(capture.sysex(Tick(0), exclusive(2)), News::Nothing);
    assert_eq!(capture.lost(), 4);
    capture.count_round(true);
    assert_eq!(on(&mut capture, 60_000, 0, 62), News::Played);
    assert_eq!(turn(&mut capture, 100_000, VOLUME, 90), News::Moved(1));
    assert_eq!(capture.sysex(Tick(0), exclusive(2)), News::Played);
}

#[test]
fn without_recording_four_rounds_are_stored() {
    let mut capture = Capture::default();
    for index in 0..4 * MOST_NOTES as i64 {
        on(&mut capture, index, 0, 60);
    }
    for index in 0..4 * MOST_MOVES as i64 {
        turn(&mut capture, index, VOLUME, 90);
    }
    for _ in 0..4 * MOST_BYTES / SysEx::LONGEST {
        capture.sysex(Tick(0), exclusive(SysEx::LONGEST));
    }
    assert_eq!(capture.lost(), 0);
    assert_eq!(on(&mut capture, 0, 0, 62), News::Nothing);
    assert_eq!(turn(&mut capture, 500_000, VOLUME, 90), News::Nothing);
    assert_eq!(capture.sysex(Tick(0), exclusive(2)), News::Nothing);
    assert_eq!(capture.lost(), 3);
    // What is stored does not count towards a new round of a recording, but there is no more room.
    capture.count_round(true);
    assert_eq!(on(&mut capture, 0, 0, 62), News::Nothing);
}

#[test]
fn each_message_is_a_step_of_work_and_what_else_is_looked_at_adds_to_it() {
    let mut capture = Capture::default();
    on(&mut capture, 0, 0, 60);
    off(&mut capture, 10, 0, 60);
    turn(&mut capture, 20, WHEEL, 30);
    capture.sysex(Tick(30), exclusive(4));
    assert_eq!((capture.work(), capture.len()), (4, 3));
    capture.worked(capture.len());
    assert_eq!(capture.work(), 7);
}

#[test]
fn what_ended_long_ago_is_dropped_and_what_is_still_in_force_is_not() {
    let mut capture = Capture::default();
    on(&mut capture, 0, 0, 60);
    on(&mut capture, 100, 0, 62);
    off(&mut capture, 2000, 0, 62);
    on(&mut capture, 1000, 0, 64);
    off(&mut capture, 1010, 0, 64);
    capture.sysex(Tick(999), exclusive(3));
    capture.sysex(Tick(1000), exclusive(4));
    // At rest before the tick, and at it.
    for (at, value) in [(100, 30), (998, 0), (999, 40), (1000, 0)] {
        turn(&mut capture, at, WHEEL, value);
    }
    turn(&mut capture, 2000, WHEEL, 50);
    assert!(!capture.prune(Tick(959)), "not so soon");
    assert!(capture.prune(Tick(1000)));
    assert_eq!(notes(&capture).iter().map(|note| note.2).collect::<Vec<_>>(), [60, 64]);
    let second = (vec![(999, 40), (1000, 0)], Some(1001));
    assert_eq!(gestures(&capture), [second, (vec![(2000, 50)], None)]);
    assert_eq!(capture.sysex.iter().map(|kept| kept.bytes.len()).collect::<Vec<_>>(), [4]);
    assert_eq!(capture.len(), 2 + 3 + 1);
    assert!(!capture.prune(Tick(1959)));
    assert!(capture.prune(Tick(1960)));
    // A key that is down stays, however long ago it was struck.
    assert_eq!(notes(&capture).iter().map(|note| note.2).collect::<Vec<_>>(), [60]);
    assert_eq!(off(&mut capture, 3000, 0, 60), News::Released(NoteId(1)));
}

#[test]
fn a_controller_left_away_from_rest_is_kept_until_its_next_gesture_begins() {
    let mut capture = Capture::default();
    turn(&mut capture, 0, WHEEL, 30);
    turn(&mut capture, 10, SUSTAIN, 20);
    assert_eq!(capture.end_still_gestures(Tick(5000), BAR), [1, 2]);
    turn(&mut capture, 6000, WHEEL, 40);
    assert!(capture.prune(Tick(6000)));
    assert_eq!(capture.gestures.keys().copied().collect::<Vec<_>>(), [1, 2, 3]);
    assert!(capture.prune(Tick(6960)));
    assert_eq!(capture.gestures.keys().copied().collect::<Vec<_>>(), [2, 3]);
    // The pedal comes to rest in another gesture: the one before stays until that begins.
    assert_eq!(turn(&mut capture, 7000, SUSTAIN, 0), News::Played);
    assert!(capture.prune(Tick(9000)));
    assert_eq!(capture.gestures.keys().copied().collect::<Vec<_>>(), [3]);
    // The gesture before is forgotten, so this one begins another.
    assert_eq!(turn(&mut capture, 9000, SUSTAIN, 90), News::Played);
}
