//! Volume and pan changed while a track is recorded, on the virtual-time bench: they are moves of the
//! take, heard at once, played back with the pass and removed with it. And what the track sets while it
//! is recorded: in force wherever the take goes, as it will be when the pass plays.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Click, Command, Message, Route, Turn, View, When, perform};
use chaconne_song::{
    Channel, Control, Lane, Letter, Levels, Note, NoteId, Pass, Placed, Point, Section, Song,
    Stroke, Track, TrackId, U7, U14,
};
use chaconne_time::{Span, Tick};
use std::collections::BTreeMap;
use std::sync::Arc;

const BAR: i64 = 3840;
/// Channel volume and pan (MIDI 1.0, "Controller Numbers").
const VOLUME: u8 = 7;
const PAN: u8 = 10;
const TRACK: TrackId = TrackId(1);

/// A bench that records the first of two tracks, whose volume is `volume`, without a count-in.
fn recording(bars: u32, volume: Option<u8>) -> Bench {
    let mut song = song(bars, 2);
    let levels = Levels { volume: volume.map(U7::low_bits), pan: None };
    Arc::make_mut(&mut song.tracks[0]).levels = levels;
    let mut b = Bench::new(song);
    b.command(Command::Click(Click::CountIn));
    b.command(Command::CountIn(0));
    b.command(Command::Record(true));
    b
}

fn step(b: &mut Bench, at: i64, command: Command) {
    b.to(at);
    assert!(b.command(command));
}

/// The moves of a controller in the newest pass of the first section, as tick and value.
fn moves(b: &Bench, controller: u8) -> Vec<(i64, u16)> {
    let song = b.engine.song();
    let passes = song.passes_in(&song.sections[0]);
    let lanes = passes.last().map(|pass| pass.lanes()).unwrap_or_default();
    let control = Control::Change(U7::low_bits(controller));
    let lanes = lanes.iter().filter(|lane| lane.control == control);
    lanes.flat_map(|lane| lane.points.iter().map(|point| (point.at.0, point.value.get()))).collect()
}

/// What was sent from one tick up to another for one controller.
fn heard(b: &Bench, (from, to): (i64, i64), controller: u8) -> String {
    let (all, mark) = (b.heard(from, to), format!("c{controller}="));
    all.split(' ').filter(|word| word.contains(&mark)).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_level_moved_while_recording_is_heard_at_once_and_goes_round_with_the_pass() {
    let mut b = recording(2, Some(80));
    step(&mut b, 1000, Command::StepVolume(TRACK, 10));
    step(&mut b, 2000, Command::StepVolume(TRACK, -30));
    b.to(2 * BAR - 10);
    assert_eq!(heard(&b, (0, 2 * BAR - 10), VOLUME), "0c7=80 1000c7=90 2000c7=60");
    b.to(2 * BAR + 10);
    b.command(Command::Record(false));
    assert_eq!(moves(&b, VOLUME), [(1000, 90), (2000, 60)]);
    let levels = b.engine.song().track(TRACK).unwrap().levels;
    assert_eq!(levels.volume, Some(U7::low_bits(80)), "what the track sets has not changed");
    // The next two rounds begin at 80 again, where the first one did.
    b.to(6 * BAR);
    for round in [1, 2] {
        let from = round * 2 * BAR;
        let expected = [(from, 80), (from + 1000, 90), (from + 2000, 60)];
        let expected: Vec<_> = expected.map(|(at, value)| format!("{at}c7={value}")).into();
        assert_eq!(heard(&b, (from, from + 2 * BAR), VOLUME), expected.join(" "));
    }
    b.command(Command::Undo);
    assert_eq!(moves(&b, VOLUME), []);
    b.to(8 * BAR);
    let after = heard(&b, (6 * BAR, 8 * BAR), VOLUME);
    assert_eq!(after.split('=').next_back(), Some("80"), "{after}");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn two_steps_at_one_moment_both_count_and_steps_go_on_from_the_value_in_force() {
    let mut b = recording(1, Some(60));
    b.to(500);
    b.command(Command::StepVolume(TRACK, 5));
    b.command(Command::StepVolume(TRACK, 5));
    step(&mut b, 900, Command::StepVolume(TRACK, 127));
    b.to(BAR + 10);
    b.command(Command::Record(false));
    // In the second round the pass has moved it to 70 by 600.
    step(&mut b, BAR + 600, Command::Record(true));
    b.command(Command::StepVolume(TRACK, -3));
    b.to(2 * BAR + 10);
    b.command(Command::Record(false));
    assert_eq!(moves(&b, VOLUME).last(), Some(&(600, 67)));
    b.command(Command::Undo);
    let first = moves(&b, VOLUME);
    assert_eq!((first.last(), first.contains(&(500, 70))), (Some(&(900, 127)), true), "{first:?}");
    b.command(Command::Stop);
    b.check_wire();
}

/// An instrument starts at volume 100 and in the middle (General MIDI Developer Guidelines).
#[test]
fn a_track_without_a_level_gets_one_to_go_back_to_when_its_moves_are_recorded() {
    let mut b = recording(1, None);
    step(&mut b, 960, Command::StepVolume(TRACK, -4));
    step(&mut b, 1920, Command::StepPan(TRACK, 6));
    b.to(BAR + 10);
    b.command(Command::Record(false));
    assert_eq!(moves(&b, VOLUME), [(960, 96)]);
    assert_eq!(moves(&b, PAN), [(1920, 70)]);
    let levels = b.engine.song().track(TRACK).unwrap().levels;
    assert_eq!((levels.volume, levels.pan), (Some(U7::low_bits(100)), Some(U7::CENTRE)));
    b.to(3 * BAR);
    assert_eq!(heard(&b, (2 * BAR, 3 * BAR), VOLUME), "7680c7=100 8640c7=96");
    assert_eq!(heard(&b, (2 * BAR, 3 * BAR), PAN), "7680c10=64 9600c10=70");
    b.command(Command::Stop);
    b.check_wire();
}

/// How many passes there are, and the levels of the first track.
fn passes_and_levels(b: &Bench) -> (usize, Option<u8>, Option<u8>) {
    let levels = b.engine.song().track(TRACK).unwrap().levels;
    (b.engine.song().passes.len(), levels.volume.map(U7::get), levels.pan.map(U7::get))
}

#[test]
fn a_pass_of_moves_and_the_levels_it_goes_back_to_are_one_step_of_undo() {
    let mut b = recording(1, None);
    step(&mut b, 960, Command::StepVolume(TRACK, -4));
    step(&mut b, 1920, Command::StepPan(TRACK, 6));
    assert_eq!(passes_and_levels(&b), (0, None, None), "the round is not over");
    b.to(BAR + 10);
    b.command(Command::Record(false));
    assert_eq!(passes_and_levels(&b), (1, Some(100), Some(64)));
    assert!(b.command(Command::Undo));
    assert_eq!(passes_and_levels(&b), (0, None, None));
    assert!(!b.command(Command::Undo), "nothing is left to undo");
    assert!(b.command(Command::Redo));
    assert_eq!(passes_and_levels(&b), (1, Some(100), Some(64)));
    assert!(!b.command(Command::Redo), "nothing is left to redo");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn of_several_rounds_of_moves_the_first_sets_the_level_that_they_go_back_to() {
    let mut b = recording(1, None);
    step(&mut b, 960, Command::StepVolume(TRACK, -4));
    step(&mut b, BAR + 960, Command::StepVolume(TRACK, -8));
    step(&mut b, BAR + 1920, Command::StepPan(TRACK, 6));
    b.to(2 * BAR + 10);
    b.command(Command::Record(false));
    // The second round begins where the first did, while that is still being performed ahead.
    assert_eq!(heard(&b, (0, 2 * BAR), VOLUME), "960c7=96 3840c7=100 4800c7=96 4800c7=88");
    assert_eq!(passes_and_levels(&b), (2, Some(100), Some(64)));
    for left in [(1, Some(100), None), (0, None, None)] {
        b.command(Command::Undo);
        assert_eq!(passes_and_levels(&b), left);
    }
    for back in [(1, Some(100), None), (2, Some(100), Some(64))] {
        b.command(Command::Redo);
        assert_eq!(passes_and_levels(&b), back);
    }
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn moves_that_are_in_no_pass_in_the_end_set_no_level() {
    let mut b = recording(1, None);
    step(&mut b, 960, Command::StepVolume(TRACK, -4));
    b.command(Command::Undo);
    b.to(BAR + 2000);
    b.command(Command::Record(false));
    assert_eq!(passes_and_levels(&b), (0, None, None));
    assert!(!b.command(Command::Undo), "there is nothing to undo");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn what_is_kept_with_moves_sets_the_level_that_they_go_back_to() {
    let mut b = recording(1, None);
    b.press(480, 60);
    b.lift(900, 60);
    step(&mut b, 960, Command::StepVolume(TRACK, -4));
    b.command(Command::Undo);
    b.to(BAR + 10);
    b.command(Command::Record(false));
    assert_eq!(passes_and_levels(&b), (0, None, None));
    assert!(b.command(Command::Keep));
    assert_eq!((moves(&b, VOLUME), passes_and_levels(&b)), (vec![(960, 96)], (1, Some(100), None)));
    b.command(Command::Undo);
    assert_eq!(passes_and_levels(&b), (0, None, None));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_level_for_moves_that_a_finished_pass_takes_in_belongs_to_the_step_of_the_pass() {
    let mut b = recording(1, None);
    b.press(480, 60);
    b.lift(900, 60);
    // Within half a sixteenth before the seam: it would belong to the next round, which does not follow.
    step(&mut b, BAR - 60, Command::StepVolume(TRACK, -4));
    b.to(BAR + 200);
    b.command(Command::Record(false));
    assert_eq!(
        (moves(&b, VOLUME), passes_and_levels(&b)),
        (vec![(3780, 96)], (1, Some(100), None))
    );
    b.command(Command::Undo);
    assert_eq!(passes_and_levels(&b), (0, None, None));
    b.command(Command::Redo);
    assert_eq!(
        (moves(&b, VOLUME), passes_and_levels(&b)),
        (vec![(3780, 96)], (1, Some(100), None))
    );
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn only_the_track_being_recorded_has_its_steps_kept_as_moves() {
    let mut b = recording(1, Some(80));
    step(&mut b, 960, Command::StepVolume(TrackId(2), 7));
    let set = |b: &Bench, id| b.engine.song().track(TrackId(id)).unwrap().levels.volume;
    assert_eq!(set(&b, 2), Some(U7::low_bits(107)), "another track's volume is set");
    b.to(BAR + 10);
    b.command(Command::Record(false));
    assert!(b.engine.song().passes.is_empty(), "no moves, no pass");
    step(&mut b, BAR + 500, Command::StepVolume(TRACK, 7));
    assert_eq!(set(&b, 1), Some(U7::low_bits(87)), "set while playing without recording");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn each_round_has_its_own_moves() {
    let mut b = recording(2, Some(80));
    step(&mut b, 5000, Command::StepVolume(TRACK, 10));
    // After a pause of a bar, so that it is another gesture.
    step(&mut b, 2 * BAR + 1500, Command::StepVolume(TRACK, 10));
    b.to(4 * BAR + 10);
    b.command(Command::Record(false));
    assert_eq!(moves(&b, VOLUME), [(1500, 90)], "from 80, where the round began");
    b.command(Command::Undo);
    assert_eq!(moves(&b, VOLUME), [(5000, 90)]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_step_in_the_count_in_sets_the_level() {
    let mut b = Bench::new(song(1, 1));
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    step(&mut b, -1000, Command::StepVolume(TRACK, -20));
    let levels = b.engine.song().track(TRACK).unwrap().levels;
    assert_eq!(levels.volume, Some(U7::low_bits(80)));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn recorded_moves_are_performed_as_they_were_heard() {
    let mut b = recording(2, Some(80));
    for (index, at) in (300..7200).step_by(600).enumerate() {
        let by = if index % 3 == 0 { -9 } else { 4 };
        step(&mut b, at, Command::StepVolume(TRACK, by));
    }
    b.to(2 * BAR + 10);
    let first = heard(&b, (0, 2 * BAR), VOLUME);
    b.command(Command::Record(false));
    let song = b.engine.song().clone();
    let route = Route::rounds(&song, song.sections[0].letter, 1).unwrap();
    let events = perform(&song, &route, route.span(), View::Corrected).events;
    let moved: Vec<String> = events
        .iter()
        .filter_map(|event| match event.wire {
            chaconne_engine::Wire::Message(chaconne_engine::Message::Change {
                controller,
                value,
                ..
            }) if controller.get() == VOLUME => Some(format!("{}c7={}", event.at.0, value.get())),
            _ => None,
        })
        .collect();
    assert_eq!(moved.join(" "), first);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn the_status_tells_the_levels_that_are_not_as_the_tracks_set_them() {
    let mut b = recording(2, Some(80));
    let moved = |b: &Bench| {
        let levels = b.engine.status(b.now).moved_levels;
        let value = |level: Option<U7>| level.map(U7::get);
        let spell = |(id, levels): (TrackId, Levels)| (id, value(levels.volume), value(levels.pan));
        levels.into_iter().map(spell).collect::<Vec<_>>()
    };
    assert_eq!(moved(&b), []);
    step(&mut b, 1000, Command::StepVolume(TRACK, 10));
    assert_eq!(moved(&b), [(TRACK, Some(90), None)]);
    // An instrument that is turned on has pan 64 (General MIDI Developer Guidelines).
    step(&mut b, 1500, Command::StepPan(TRACK, 5));
    assert_eq!(moved(&b), [(TRACK, Some(90), Some(69))]);
    step(&mut b, 2000, Command::StepVolume(TRACK, -10));
    assert_eq!(moved(&b), [(TRACK, None, Some(69))]);
    b.command(Command::Stop);
    assert_eq!(moved(&b), []);
}

fn second() -> Letter {
    "B".parse().unwrap()
}

/// A song of two empty sections of one bar, and two tracks; `set` changes them.
fn two_sections(set: impl Fn(&mut Track, &mut Track)) -> Song {
    let mut song = song(1, 2);
    let other = Section { letter: second(), ..(*song.sections[0]).clone() };
    song.sections.push(Arc::new(other));
    let [first, last] = &mut song.tracks[..] else { panic!("two tracks") };
    set(Arc::make_mut(first), Arc::make_mut(last));
    song
}

/// The programs that were sent from the start of the run on, as tick and program.
fn programs(b: &Bench) -> Vec<(i64, u8)> {
    let program = |(at, message): &(Tick, Message)| match message {
        Message::Program { program, .. } if at.0 >= 0 => Some((at.0, program.get())),
        _ => None,
    };
    b.wire.iter().filter_map(program).collect()
}

/// A bench that records the first track in section A, moves its volume from 100 to 90 and jumps to B.
fn jumping(song: Song) -> Bench {
    let mut b = Bench::new(song);
    b.command(Command::Record(true));
    step(&mut b, 1000, Command::StepVolume(TRACK, -10));
    step(&mut b, 2000, Command::Jump(second(), When::Seam));
    b
}

#[test]
fn after_a_jump_the_first_round_begins_with_the_levels_that_the_second_begins_with() {
    let mut b = jumping(two_sections(|_, _| ()));
    b.press(BAR + 1000, 60);
    b.lift(BAR + 1500, 60);
    b.to(3 * BAR);
    // The volume is 100 again from the seam on, and not only from the first key on.
    assert_eq!(heard(&b, (0, 3 * BAR), VOLUME), "1000c7=90 3840c7=100");
    // In A the pass goes on moving it; B begins at 100 each time.
    for (to, heard_there) in [(Letter::A, "12520c7=90"), (second(), "15360c7=100")] {
        b.command(Command::Jump(to, When::Seam));
        let from = if to == Letter::A { 3 * BAR } else { 4 * BAR };
        b.to(from + BAR - 10);
        assert_eq!(heard(&b, (from, from + BAR - 10), VOLUME), heard_there, "{to}");
    }
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_take_stopped_after_a_jump_plays_at_the_level_at_which_it_was_recorded() {
    let mut b = jumping(two_sections(|_, _| ()));
    b.press(BAR + 1000, 60);
    b.lift(BAR + 1500, 60);
    b.to(BAR + 3000);
    b.command(Command::Stop);
    b.check_wire();
    let taken = heard(&b, (0, 2 * BAR), VOLUME);
    let song = Song::clone(b.engine.song());
    let mut again = Bench::new(song.clone());
    again.command(Command::PlayRoute(Route::of(&song, &[Letter::A, second()]).unwrap()));
    again.to(2 * BAR - 10);
    assert_eq!(heard(&again, (0, 2 * BAR), VOLUME), format!("0c7=100 {taken}"));
    assert_eq!(taken, "1000c7=90 3840c7=100");
}

#[test]
fn the_form_brings_a_track_that_is_recorded_back_to_its_level_where_it_plays_nothing_yet() {
    let mut song = two_sections(|first, _| first.levels.volume = Some(U7::low_bits(80)));
    song.form = "A B".parse().unwrap();
    let mut b = Bench::new(song.clone());
    b.command(Command::PlayRoute(Route::form(&song).unwrap()));
    b.command(Command::Record(true));
    step(&mut b, 1000, Command::StepVolume(TRACK, 10));
    b.to(2 * BAR - 10);
    assert_eq!(heard(&b, (0, 2 * BAR - 10), VOLUME), "0c7=80 1000c7=90 3840c7=80");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn the_program_of_a_track_is_sent_before_the_first_note_that_is_recorded_and_not_after_it() {
    let mut b = Bench::new(two_sections(|first, _| first.program = U7::new(33)));
    b.command(Command::Record(true));
    b.press(1000, 60);
    b.lift(1500, 60);
    b.to(2 * BAR + 100);
    assert_eq!(programs(&b), [(0, 33)]);
    b.command(Command::Stop);
    b.check_wire();
}

/// A bench of two tracks on one channel: the second plays at volume 50, and the first is recorded there
/// from tick 1000 on. The first track sets volume 80; `set` changes it.
fn on_one_channel(set: impl Fn(&mut Track)) -> Bench {
    let mut song = two_sections(|first, last| {
        first.levels.volume = Some(U7::low_bits(80));
        last.levels.volume = Some(U7::low_bits(50));
        last.channel = first.channel;
        set(first);
    });
    // What the track lower in the list sets would count.
    song.tracks.reverse();
    let mut pass = Pass::empty(song.ids().pass(), TrackId(2), Tick(BAR));
    pass.notes_mut().notes.push(Note {
        id: NoteId(1),
        channel: Channel::default(),
        played: Stroke {
            start: Tick(480),
            length: Tick(200),
            key: U7::low_bits(48),
            velocity: U7::low_bits(70),
            release: U7::CENTRE,
        },
        placed: Placed::UNCHANGED,
    });
    song.lay(Letter::A, pass);
    let mut b = Bench::new(song);
    b.command(Command::Arm(TRACK));
    b.command(Command::Play);
    step(&mut b, 1000, Command::Record(true));
    b
}

#[test]
fn a_take_in_which_nothing_is_played_leaves_the_channel_to_the_track_that_plays_there() {
    let mut b = on_one_channel(|_| ());
    step(&mut b, 2000, Command::Record(false));
    b.to(BAR + 100);
    assert_eq!(heard(&b, (0, BAR + 100), VOLUME), "0c7=50 1001c7=80 2001c7=50");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_track_that_will_not_be_heard_sets_nothing_while_it_is_recorded() {
    for set in [|track: &mut Track| track.mute = true, |track: &mut Track| track.channel = None] {
        let mut b = on_one_channel(set);
        b.to(BAR + 100);
        assert_eq!(heard(&b, (0, BAR + 100), VOLUME), "0c7=50");
        b.command(Command::Stop);
        b.check_wire();
    }
    let mut b = on_one_channel(|_| ());
    step(&mut b, 1500, Command::SoloTrack(TrackId(2), true));
    step(&mut b, 2000, Command::SoloTrack(TrackId(2), false));
    b.to(BAR - 100);
    assert_eq!(heard(&b, (1100, BAR - 100), VOLUME), "1501c7=50 2001c7=80");
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_level_that_nothing_moves_any_more_is_not_shown_as_moved() {
    let mut b = recording(1, None);
    step(&mut b, 1000, Command::StepVolume(TRACK, -20));
    let moved = |b: &Bench| b.engine.status(b.now).moved_levels.get(&TRACK).copied();
    assert_eq!(moved(&b).unwrap().volume, Some(U7::low_bits(80)));
    b.to(BAR + 500);
    b.command(Command::Record(false));
    b.to(BAR + 1500);
    assert_eq!(moved(&b).unwrap().volume, Some(U7::low_bits(80)), "the pass moves it");
    // The pass, and the level that the track got.
    while b.command(Command::Undo) {}
    b.to(3 * BAR);
    assert_eq!(b.engine.song().tracks[0].levels.volume, None);
    assert_eq!(moved(&b), None);
}

/// The player's pan goes through to the instrument, and nothing of the song moves it.
#[test]
fn a_level_that_a_track_leaves_open_is_shown_only_while_its_passes_or_its_take_move_it() {
    let mut song = song(1, 2);
    let mut pass = Pass::empty(song.ids().pass(), TRACK, Tick(BAR));
    pass.notes_mut().lanes.push(Lane {
        channel: Channel::default(),
        control: Control::VOLUME,
        span: Span::new(Tick(500), Tick(BAR)),
        points: vec![Point::step(Tick(500), U14::from(U7::low_bits(80)))],
    });
    song.lay(Letter::A, pass);
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.change(800, PAN, 20);
    b.to(1000);
    let moved = |b: &Bench| b.engine.status(b.now).moved_levels;
    let volume = Some(U7::low_bits(80));
    assert_eq!(moved(&b), BTreeMap::from([(TRACK, Levels { volume, pan: None })]));
    b.command(Command::Record(true));
    let pan = Some(U7::low_bits(20));
    assert_eq!(moved(&b), BTreeMap::from([(TRACK, Levels { volume, pan })]));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn other_tracks_play_on_while_a_track_without_a_level_records_its_moves() {
    let mut song = song(1, 2);
    let mut pass = Pass::empty(song.ids().pass(), TrackId(2), Tick(BAR));
    let [key, velocity, release] = [48, 70, 64].map(U7::low_bits);
    let played = Stroke { start: Tick(2000), length: Tick(200), key, velocity, release };
    let (id, channel, placed) = (NoteId(1), Channel::default(), Placed::UNCHANGED);
    pass.notes_mut().notes.push(Note { id, channel, played, placed });
    song.lay(Letter::A, pass);
    let mut b = Bench::new(song);
    b.command(Command::Record(true));
    step(&mut b, 960, Command::StepVolume(TRACK, -4));
    b.to(BAR - 10);
    assert_eq!(b.heard(961, BAR - 10), "2000+48 2200-48");
    b.command(Command::Stop);
    b.check_wire();
}

/// The levels that the first track has and does not set, and what was sent for its volume.
fn moved_and_sent(b: &Bench, span: (i64, i64)) -> (Option<u8>, String) {
    let moved = b.engine.status(b.now).moved_levels.get(&TRACK).copied();
    (moved.and_then(|levels| levels.volume).map(U7::get), heard(b, span, VOLUME))
}

#[test]
fn undone_moves_are_not_shown_as_moved_and_the_set_level_is_sent_at_once() {
    for with_a_note in [false, true] {
        let mut b = recording(2, Some(80));
        if with_a_note {
            b.press(400, 60);
            b.lift(600, 60);
            b.to(2 * BAR + 10);
        }
        let begin = 2 * BAR * i64::from(with_a_note);
        step(&mut b, begin + 1000, Command::StepVolume(TRACK, -30));
        b.to(begin + 2 * BAR + 10);
        b.command(Command::Record(false));
        let at = begin + 2 * BAR + 1500;
        b.to(at);
        assert_eq!(moved_and_sent(&b, (at - 1000, at)).0, Some(50));
        assert!(b.command(Command::Undo));
        assert_eq!(moved_and_sent(&b, (at, at)).0, None);
        b.to(at + 200);
        let (moved, sent) = moved_and_sent(&b, (at, at + 200));
        assert_eq!((moved, sent.ends_with("c7=80")), (None, true), "{sent}");
        b.to(at + 4 * BAR);
        assert_eq!(moved_and_sent(&b, (at + 200, at + 4 * BAR)), (None, String::new()));
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn moves_of_the_round_that_is_recorded_are_undone_at_once_too() {
    let mut b = recording(2, Some(80));
    step(&mut b, 1000, Command::StepVolume(TRACK, -30));
    b.to(1500);
    assert!(b.command(Command::Undo));
    b.to(1700);
    let (moved, sent) = moved_and_sent(&b, (1400, 1700));
    assert_eq!((moved, sent.ends_with("c7=80")), (None, true), "{sent}");
    step(&mut b, 2000, Command::StepVolume(TRACK, 5));
    assert_eq!(moved_and_sent(&b, (1900, 2000)).0, Some(85), "steps go on from the level set");
    b.command(Command::Stop);
    b.check_wire();
}

/// What undo would undo, in words.
fn undo_words(b: &Bench) -> String {
    match b.engine.status(b.now).undo {
        Some(Turn::Step(label, ..)) => label.about(Some("Track 1"), None),
        other => format!("{other:?}"),
    }
}

#[test]
fn a_fade_over_the_seam_is_one_step_of_undo() {
    let mut b = recording(1, Some(100));
    for at in (2800..2 * BAR + 1500).step_by(400) {
        step(&mut b, at, Command::StepVolume(TRACK, -3));
    }
    b.to(3 * BAR + 10);
    b.command(Command::Record(false));
    assert_eq!(passes_and_levels(&b).0, 3, "each round has a pass");
    assert_eq!(undo_words(&b), "moves of Track 1");
    assert!(b.command(Command::Undo));
    assert_eq!(passes_and_levels(&b), (0, Some(100), None));
    assert!(!b.command(Command::Undo), "nothing is left to undo");
    assert!(b.command(Command::Redo));
    assert_eq!(passes_and_levels(&b).0, 3);
    assert!(!b.command(Command::Redo));
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn moves_after_a_pause_of_a_bar_or_with_notes_are_steps_of_their_own() {
    let mut b = recording(2, Some(100));
    step(&mut b, 1000, Command::StepVolume(TRACK, -3));
    // A pause of more than a bar before the next round's.
    step(&mut b, 2 * BAR + 1000, Command::StepVolume(TRACK, -3));
    b.press(4 * BAR + 500, 60);
    b.lift(4 * BAR + 700, 60);
    step(&mut b, 6 * BAR - 500, Command::StepVolume(TRACK, -3));
    step(&mut b, 6 * BAR + 500, Command::StepVolume(TRACK, -3));
    b.to(8 * BAR + 10);
    b.command(Command::Record(false));
    for (left, words) in [(3, "moves"), (2, "new pass"), (1, "moves"), (0, "moves")] {
        assert!(undo_words(&b).starts_with(words), "{left}: {}", undo_words(&b));
        assert!(b.command(Command::Undo));
        assert_eq!(passes_and_levels(&b).0, left);
    }
    b.command(Command::Stop);
    b.check_wire();
}
