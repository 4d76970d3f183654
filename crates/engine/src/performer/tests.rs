//! Tests of the performer: that it does not matter how far ahead it performs, and what is revised.

use super::*;
use crate::Route;
use crate::testing::Build;
use chaconne_song::{Edit, Feel, Laid, Lane, PassId, Point, SectionEdit};
use chaconne_time::NoteValue;
use std::sync::Arc;

const WHEEL: Control = Control::Change(U7::low_bits(1));

fn lane(control: Control, points: &[(i64, u16)]) -> Lane {
    let point = |&(at, value): &(i64, u16)| Point::step(Tick(at), U14::new(value).unwrap());
    Lane {
        channel: Channel::default(),
        control,
        span: Span::new(Tick(points[0].0), Tick(3840)),
        points: points.iter().map(point).collect(),
    }
}

fn knob(control: Control) -> Knob {
    Knob { port: PortIx(0), channel: Channel::default(), control }
}

/// A performer at the top of a route.
fn at_the_top(song: &Song, route: &Route) -> Performer {
    let mut performer = Performer::new(View::Corrected, vec![String::new()]);
    let letters: Vec<Letter> = route.entries.iter().map(|entry| entry.section).collect();
    performer.start(Tick::ZERO, Tick::ZERO);
    performer.compile(song, &Mix::default(), &letters);
    performer.route(&route.entries, Tick::ZERO);
    performer
}

/// A loop of one bar with one note.
fn note_each_bar() -> Performer {
    let song = Build::new(1).pass(0, 3840, &[(0, 100, 60)]).song();
    at_the_top(&song, &Route::open(Letter::A))
}

#[test]
fn it_does_not_matter_in_how_many_parts_a_song_is_performed() {
    // B begins early, and feel moves the last note of A past its end.
    let feel = Feel::off(false).on(NoteValue::SIXTEENTH);
    let song = Build::new(2)
        .pass(0, 3840, &[(0, 100, 60), (3790, 20, 62)])
        .feel(0, feel)
        .lane(0, lane(WHEEL, &[(0, 9), (2000, 50), (3000, 0)]))
        .section("B")
        .pass_in(1, 1, 3840, &[(-50, 200, 48), (960, 5000, 50)])
        .message(1, 0, 4)
        .form("A B A B")
        .song();
    let route = Route::form(&song).unwrap();
    let performed = |step: i64| {
        let (mut performer, mut cues) = (at_the_top(&song, &route), Vec::new());
        for at in (1..=4 * 3840).filter(|at| at % step == 0) {
            performer.advance(Tick(at), &mut cues);
            assert_eq!(performer.until(), Tick(at));
            assert!(cues.iter().all(|cue| cue.at < Tick(at)), "{at}");
        }
        performer.ring_out(&mut cues);
        cues
    };
    let whole = performed(4 * 3840);
    let strikes = |key: u8| {
        let struck = |cue: &&Cue| matches!(cue.action, Action::Press { key: pressed, .. } if pressed.get() == key);
        whole.iter().filter(struck).map(|cue| cue.at.0).collect::<Vec<_>>()
    };
    assert_eq!(strikes(48), [3790, 3 * 3840 - 50]);
    assert_eq!(strikes(62), [3840, 3 * 3840]);
    for step in [16, 240, 960] {
        assert_eq!(performed(step), whole, "{step}");
    }
}

#[test]
fn cues_that_set_up_the_instruments_are_counted_once_and_only_those() {
    let song = Build::new(1)
        .pass(0, 3840, &[(0, 100, 60)])
        .lane(0, lane(WHEEL, &[(0, 9), (1, 10)]))
        .message(0, 0, 4)
        .song();
    let mut performer = at_the_top(&song, &Route::open(Letter::A));
    // There may be cues already.
    let mut cues = Vec::new();
    note_each_bar().advance(Tick(10), &mut cues);
    assert_eq!(cues.len(), 1);
    assert_eq!(performer.advance(Tick(100), &mut cues), 2);
    let ticks: Vec<i64> = cues.iter().map(|cue| cue.at.0).collect();
    assert_eq!(ticks, [0, 0, 0, 0, 1], "a message, the wheel, the note, the wheel");
    assert_eq!(performer.advance(Tick(100), &mut cues), 0, "nothing is performed twice");
    assert_eq!((performer.advance(Tick(3841), &mut cues), cues.len()), (0, 9));
}

#[test]
fn releases_are_remembered_as_long_as_they_may_be_revised() {
    let mut performer = note_each_bar();
    let mut known = |to: Tick| {
        performer.advance(to, &mut Vec::new());
        performer.performed.iter().map(|release| release.at.0).collect::<Vec<_>>()
    };
    let bar = |bar: i64| bar * 3840 + 100;
    assert_eq!(known(Tick(bar(5) + 1)), [0, 1, 2, 3, 4, 5].map(bar));
    assert_eq!(known(LOGGED + Tick(bar(0))), [0, 1, 2, 3, 4, 5].map(bar));
    assert_eq!(known(LOGGED + Tick(bar(0) + 1)), [1, 2, 3, 4, 5].map(bar));
    assert_eq!(known(LOGGED + Tick(bar(20))), [20, 21, 22, 23, 24, 25].map(bar));
}

#[test]
fn what_is_performed_ahead_changes_when_the_player_begins_to_move_a_controller_or_lets_go_of_it() {
    let song = Build::new(1).pass(0, 3840, &[]).lane(0, lane(WHEEL, &[(0, 9), (2000, 50)])).song();
    let mut performer = at_the_top(&song, &Route::open(Letter::A));
    let slot = performer.slot_of(TrackId(1));
    let (value, seam) = (U14::default(), Tick(3840));
    let touch = |performer: &mut Performer, control| {
        performer.touch(knob(control), value, seam, (slot, false))
    };
    performer.advance(Tick(1000), &mut Vec::new());
    assert!(touch(&mut performer, WHEEL));
    assert!(!touch(&mut performer, WHEEL), "the player was moving it already");
    performer.advance(seam, &mut Vec::new());
    assert!(!touch(&mut performer, WHEEL), "what happens at the seam is not performed yet");
    performer.advance(seam + Tick(1), &mut Vec::new());
    assert!(touch(&mut performer, WHEEL), "it is, and depends on where the player lets go");
    assert!(!touch(&mut performer, Control::SUSTAIN), "the foot of the player and the song's");
}

/// What is sent from now on for a controller, as tick and value.
fn sent(cues: &[Cue], number: u8) -> Vec<(i64, u8)> {
    let value = |cue: &Cue| match cue.action {
        Action::Send(crate::Message::Change { controller, value, .. })
            if controller.get() == number =>
        {
            Some((cue.at.0, value.get()))
        }
        _ => None,
    };
    cues.iter().filter_map(value).collect()
}

#[test]
fn a_wheel_that_the_next_section_leaves_alone_comes_to_rest_at_the_seam() {
    let song =
        Build::new(1).pass(0, 3840, &[]).lane(0, lane(WHEEL, &[(2000, 50)])).section("B").song();
    let route = Route::of(&song, &[Letter::A, "B".parse().unwrap()]).unwrap();
    for parts in [vec![7680], vec![3840, 7680], vec![3900, 7680]] {
        let mut performer = at_the_top(&song, &route);
        let mut cues = Vec::new();
        for to in &parts {
            performer.advance(Tick(*to), &mut cues);
        }
        assert_eq!(sent(&cues, 1), [(0, 0), (2000, 50), (3840, 0)], "{parts:?}");
    }
}

/// The wheel is that of the first track's pass; once it is muted, nothing in the section speaks for it but the one who
/// moved it last.
#[test]
fn a_wheel_whose_layer_is_muted_comes_to_rest_where_the_track_is_revised() {
    let song = Build::new(2)
        .pass(0, 3840, &[])
        .lane(0, lane(WHEEL, &[(0, 9), (2000, 50)]))
        .pass(1, 3840, &[(0, 100, 48)])
        .song();
    let mut performer = at_the_top(&song, &Route::open(Letter::A));
    performer.advance(Tick(2400), &mut Vec::new());
    let mut muted = song.clone();
    Arc::make_mut(&mut muted.tracks[0]).mute = true;
    performer.compile(&muted, &Mix::default(), &[Letter::A]);
    let slots = BTreeSet::from([performer.slot_of(TrackId(1))]);
    let mut cues = Vec::new();
    performer.revise(&slots, Tick(1000), &mut cues);
    // What was performed ahead, 50 at 2000, will not go out.
    assert_eq!(sent(&cues, 1), [(1000, 0)]);
    performer.compile(&song, &Mix::default(), &[Letter::A]);
    let mut cues = Vec::new();
    performer.revise(&slots, Tick(1200), &mut cues);
    assert_eq!(sent(&cues, 1), [(1200, 9), (2000, 50)]);
}

#[test]
fn a_touch_that_is_over_stays_over_when_the_next_seam_moves() {
    let mut performer = note_each_bar();
    let slot = performer.slot_of(TrackId(1));
    for (control, until) in [(WHEEL, 1000), (Control::Bend, 1001), (Control::VOLUME, 3840)] {
        performer.touch(knob(control), U14::default(), Tick(until), (slot, false));
    }
    performer.move_seam(Tick(1000), Tick(1920));
    let until = [WHEEL, Control::Bend, Control::VOLUME]
        .map(|control| performer.touched.get(&knob(control)).map(|until| until.0));
    assert_eq!(until, [Some(1000), Some(1920), Some(1920)]);
}

#[test]
fn a_note_in_a_copy_of_its_pass_keeps_its_own_voice_and_not_that_of_one_about_to_be_struck() {
    // Both passes number their note 1; the lower one strikes the same key at beat two.
    let build = Build::new(1).pass(0, 3840, &[(960, 100, 60)]).pass(0, 3840, &[(0, 1920, 60)]);
    let mut song = build.song();
    let [.., of] = song.passes.keys().copied().collect::<Vec<_>>()[..] else { panic!("no pass") };
    let mut performer = at_the_top(&song, &Route::open(Letter::A));
    performer.advance(Tick(1000), &mut Vec::new());
    let copy = Laid::Copy { of, id: PassId(99) };
    Edit::Section(Letter::A, SectionEdit::Replace(of, copy)).apply(&mut song).unwrap();
    performer.compile(&song, &Mix::default(), &[Letter::A]);
    let slot = performer.slot_of(TrackId(1));
    let kept = performer.revise(&BTreeSet::from([slot]), Tick(960), &mut Vec::new());
    let voices: Vec<PassId> = kept.iter().map(|(_, voice, _)| voice.pass).collect();
    assert_eq!(voices, [of]);
}

#[test]
fn a_track_without_a_channel_plays_on_those_of_its_passes_in_the_section() {
    let channel = |number| Channel::from_number(number).unwrap();
    let mut song = Build::new(3)
        .pass(0, 3840, &[(0, 100, 60), (960, 100, 62)])
        .pass(1, 3840, &[(0, 100, 60)])
        .section("B")
        .song();
    let ids: Vec<PassId> = song.passes.keys().copied().collect();
    for (id, note, number) in [(ids[0], 0, 5), (ids[0], 1, 3), (ids[1], 0, 9)] {
        let pass = Arc::make_mut(song.passes.get_mut(&id).unwrap());
        pass.notes_mut().notes[note].channel = channel(number);
    }
    song.tracks.iter_mut().for_each(|track| Arc::make_mut(track).channel = None);
    let route = Route::of(&song, &[Letter::A, "B".parse().unwrap()]).unwrap();
    let performer = at_the_top(&song, &route);
    let of = |section: &str, track: usize| {
        let channels = performer.channels_of(section.parse().unwrap(), &song.tracks[track]);
        channels.into_iter().map(Channel::number).collect::<Vec<_>>()
    };
    assert_eq!([of("A", 0), of("A", 1)], [vec![3, 5], vec![9]]);
    // Without passes there, it is channel 1.
    assert_eq!([of("A", 2), of("B", 0)], [[1], [1]]);
    let own = Track { channel: Some(channel(7)), ..Track::clone(&song.tracks[0]) };
    assert_eq!(performer.channels_of(Letter::A, &own), [channel(7)]);
}
