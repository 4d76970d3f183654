//! Tests of `perform`: what songs sound like, event by event.

use super::*;
use crate::testing::{Build, spell};
use chaconne_song::{Control, Feel, Lane, Point, U7, U14};
use chaconne_time::NoteValue;
use std::sync::Arc;

fn over(song: &Song, rounds: u32) -> String {
    let route = Route::rounds(song, song.sections[0].letter, rounds).unwrap();
    spell(&perform(song, &route, route.span(), View::Corrected))
}

#[test]
fn each_note_on_names_its_note_and_its_pass() {
    let song = Build::new(1).pass(0, 3840, &[(0, 100, 60), (960, 100, 62)]).song();
    let route = Route::rounds(&song, song.sections[0].letter, 2).unwrap();
    let events = perform(&song, &route, route.span(), View::Corrected).events;
    let on = |event: &&Event| matches!(event.wire, Wire::Message(Message::NoteOn { .. }));
    let voices: Vec<_> = events.iter().filter(on).map(|event| event.voice.unwrap()).collect();
    let pass = song.passes.keys().next().copied().unwrap();
    let notes: Vec<_> = song.passes[&pass].notes().iter().map(|note| note.id).collect();
    let voice = |note, cycle| Voice { pass, note, cycle: Tick(cycle) };
    let both = |cycle| notes.iter().map(move |&note| voice(note, cycle));
    assert_eq!(voices, both(0).chain(both(3840)).collect::<Vec<_>>());
    assert!(events.iter().filter(|event| !on(event)).all(|event| event.voice.is_none()));
}

#[test]
fn a_pass_repeats_after_its_length() {
    let song = Build::new(1).pass(0, 3840, &[(0, 100, 60), (960, 100, 62)]).song();
    assert_eq!(over(&song, 2), "0+60 100-60 960+62 1060-62 3840+60 3940-60 4800+62 4900-62");
}

#[test]
fn an_early_note_sounds_before_the_top_and_is_not_lost_at_the_start() {
    let song = Build::new(1).pass(0, 3840, &[(-20, 100, 60)]).song();
    assert_eq!(over(&song, 2), "0+60 100-60 3820+60 3920-60");
}

#[test]
fn a_held_note_sounds_across_the_seam_once() {
    let song = Build::new(1).pass(0, 3840, &[(3800, 200, 60)]).song();
    assert_eq!(over(&song, 2), "3800+60 4000-60 7640+60 7840-60");
}

#[test]
fn a_note_longer_than_its_pass_is_cut_where_it_starts_again() {
    let song = Build::new(1).pass(0, 3840, &[(100, 9000, 60)]).song();
    assert_eq!(over(&song, 2), "100+60 3940-60 3940+60 7780-60");
}

#[test]
fn a_three_beat_figure_and_a_long_line_keep_their_own_time() {
    let short = Build::new(1).pass(0, 2880, &[(0, 10, 60)]).song();
    assert_eq!(over(&short, 2), "0+60 10-60 2880+60 2890-60 5760+60 5770-60");
    let long = Build::new(1).pass(0, 7680, &[(0, 10, 60), (3840, 10, 62)]).song();
    assert_eq!(over(&long, 2), "0+60 10-60 3840+62 3850-62");
}

#[test]
fn one_key_in_two_passes_is_released_when_the_last_lets_go() {
    let song = Build::new(1).pass(0, 3840, &[(0, 500, 60)]).pass(0, 3840, &[(200, 100, 60)]).song();
    assert_eq!(over(&song, 1), "0+60 200-60 200+60 500-60");
}

#[test]
fn two_strokes_moved_to_the_same_tick_both_sound() {
    let feel = Feel::off(false).on(NoteValue::SIXTEENTH);
    let song = Build::new(1).feel(0, feel).pass(0, 3840, &[(-60, 50, 38), (70, 50, 38)]).song();
    assert_eq!(over(&song, 1), "0+38 0-38 0+38 50-38");
}

#[test]
fn the_played_view_leaves_feel_out() {
    let feel = Feel::off(false).on(NoteValue::SIXTEENTH);
    let song = Build::new(1).feel(0, feel).pass(0, 3840, &[(251, 50, 38)]).song();
    assert_eq!(over(&song, 1), "240+38 290-38");
    let route = Route::form(&song).unwrap();
    let played = perform(&song, &route, route.span(), View::Played);
    assert_eq!(spell(&played), "251+38 301-38");
}

#[test]
fn a_muted_track_and_a_muted_pass_are_silent() {
    let song = Build::new(2)
        .pass(0, 3840, &[(0, 10, 60)])
        .pass(1, 3840, &[(0, 10, 62)])
        .pass(1, 3840, &[(0, 10, 64)])
        .mute_pass(1)
        .mute_track(0)
        .song();
    assert_eq!(over(&song, 1), "0+64 10-64");
}

#[test]
fn a_cover_silences_the_layers_under_it() {
    let song = Build::new(1)
        .pass(0, 3840, &[(0, 3000, 60), (970, 10, 62), (1900, 10, 63), (2000, 10, 64)])
        .pass(0, 3840, &[(960, 10, 72)])
        .cover(1, 960, 1920)
        .song();
    // 62 is inside; 63 is meant for 1920, where the cover has ended; 60 is cut at 960.
    assert_eq!(over(&song, 1), "0+60 960-60 960+72 970-72 1900+63 1910-63 2000+64 2010-64");
}

#[test]
fn a_shared_pass_sounds_in_both_sections_and_has_a_mute_in_each() {
    let build = Build::new(1).pass(0, 3840, &[(0, 10, 60)]).section("B").share(1, 0);
    let both = build.form("A B").song();
    let heard = |song: &Song| {
        let route = Route::form(song).unwrap();
        spell(&perform(song, &route, route.span(), View::Corrected))
    };
    assert_eq!(heard(&both), "0+60 10-60 3840+60 3850-60");
    let mut one = both;
    Arc::make_mut(&mut one.sections[0]).layers[0].mute = true;
    assert_eq!(heard(&one), "3840+60 3850-60");
}

#[test]
fn transposition_of_song_and_section_moves_pitched_tracks_only() {
    let build = Build::new(2).pass(0, 3840, &[(0, 10, 60)]).pass(1, 3840, &[(0, 20, 36)]);
    let mut song = build.section("B").share(1, 0).transpose(-2, 1, 5).form("A B").song();
    Arc::make_mut(&mut song.tracks[1]).pitched = false;
    let route = Route::form(&song).unwrap();
    let heard = spell(&perform(&song, &route, route.span(), View::Corrected));
    assert_eq!(heard, "0+36 0+58 10-58 20-36 3840+63 3850-63");
}

#[test]
fn notes_ring_out_when_the_form_changes_section() {
    let mut build = Build::new(1).pass(0, 3840, &[(3800, 200, 60)]);
    build = build.section("B").pass_in(1, 0, 3840, &[(0, 10, 48), (-30, 50, 50)]);
    let song = build.form("A B").song();
    let route = Route::form(&song).unwrap();
    let events = spell(&perform(&song, &route, route.span(), View::Corrected));
    assert_eq!(events, "3800+60 3810+50 3840+48 3850-48 3860-50 4000-60");
}

#[test]
fn any_pass_holds_sustain_down_and_the_top_pass_moves_other_controllers() {
    let lane = |control, points: &[(i64, u16)], from, to| Lane {
        channel: Default::default(),
        control,
        span: Span::new(Tick(from), Tick(to)),
        points: points
            .iter()
            .map(|&(at, value)| Point::step(Tick(at), U14::new(value).unwrap()))
            .collect(),
    };
    let wheel = Control::Change(U7::low_bits(1));
    let song = Build::new(1)
        .pass(0, 3840, &[])
        .lane(0, lane(Control::SUSTAIN, &[(0, 127), (2000, 0)], 0, 2001))
        .lane(0, lane(wheel, &[(0, 10), (3000, 20)], 0, 3840))
        .pass(0, 3840, &[])
        .lane(1, lane(Control::SUSTAIN, &[(1000, 127), (1500, 0)], 1000, 1501))
        .lane(1, lane(wheel, &[(500, 90)], 500, 1000))
        .song();
    assert_eq!(over(&song, 1), "0c1=10 0c64=127 500c1=90 1000c1=10 2000c64=0 3000c1=20");
}

#[test]
fn a_pedal_held_over_the_seam_stays_down_across_it() {
    let down = Lane {
        channel: Default::default(),
        control: Control::SUSTAIN,
        span: Span::new(Tick(3000), Tick(4001)),
        points: vec![
            Point::step(Tick(3000), U7::MAX.into()),
            Point::step(Tick(4000), U14::default()),
        ],
    };
    let song = Build::new(1).pass(0, 3840, &[]).lane(0, down).song();
    assert_eq!(over(&song, 2), "3000c64=127 4000c64=0 6840c64=127 7680c64=0");
}

#[test]
fn a_program_after_a_bank_change_is_sent_even_if_its_number_is_the_same() {
    // MIDI 1.0: a bank takes effect at the next program change.
    let lane = |control, points: &[(i64, u16)]| Lane {
        channel: Default::default(),
        control,
        span: Span::new(Tick(points[0].0), Tick(3840)),
        points: points
            .iter()
            .map(|&(at, value)| Point::step(Tick(at), U14::new(value).unwrap()))
            .collect(),
    };
    let bank = Control::Change(U7::low_bits(0));
    let song = Build::new(1)
        .pass(0, 3840, &[])
        .lane(0, lane(bank, &[(0, 0), (960, 1)]))
        .lane(0, lane(Control::Program, &[(0, 5), (960, 5)]))
        .song();
    let route = Route::form(&song).unwrap();
    let performance = perform(&song, &route, route.span(), View::Corrected);
    let order: Vec<(i64, bool)> = performance
        .events
        .iter()
        .map(|event| {
            let program = matches!(event.wire, Wire::Message(Message::Program { .. }));
            (event.at.0, program)
        })
        .collect();
    assert_eq!(order, [(0, false), (0, true), (960, false), (960, true)]);
}

/// A lane of one bar of 4/4: its first move is at its start.
fn lane(control: Control, points: &[(i64, u16)]) -> Lane {
    let point = |&(at, value): &(i64, u16)| Point::step(Tick(at), U14::new(value).unwrap());
    Lane {
        channel: Default::default(),
        control,
        span: Span::new(Tick(points[0].0), Tick(3840)),
        points: points.iter().map(point).collect(),
    }
}

#[test]
fn a_program_without_a_bank_change_is_sent_only_if_it_is_another() {
    let song = Build::new(1)
        .pass(0, 3840, &[])
        .lane(0, lane(Control::Program, &[(0, 5), (960, 5), (1920, 6)]))
        .song();
    let programs = over(&song, 1);
    assert_eq!(programs.matches("Program {").count(), 2, "{programs}");
}

#[test]
fn what_sets_up_the_instruments_comes_first_and_is_counted() {
    // Three passes of twenty bars: more than is performed at a time.
    let mut song = Build::new(2)
        .pass(0, 3840, &[(0, 100, 60)])
        .message(0, 0, 5)
        .pass(1, 3840, &[(0, 100, 62)])
        .lane(1, lane(Control::SUSTAIN, &[(0, 127), (960, 0)]))
        .song();
    Arc::make_mut(&mut song.tracks[0]).levels.volume = Some(U7::low_bits(90));
    let route = Route::rounds(&song, song.sections[0].letter, 40).unwrap();
    let performance = perform(&song, &route, route.span(), View::Corrected);
    assert_eq!(performance.set_up, 3);
    let start = spell(&performance);
    assert!(start.starts_with("0x5 0c7=90 0c64=127 0+62 0+60 100-62"), "{start}");
    // A song that needs no setting up has none.
    let plain = Build::new(1).pass(0, 3840, &[(0, 100, 60)]).song();
    let route = Route::rounds(&plain, plain.sections[0].letter, 40).unwrap();
    assert_eq!(perform(&plain, &route, route.span(), View::Corrected).set_up, 0);
}

#[test]
fn a_song_has_at_most_as_many_ports_as_an_engine_and_the_rest_plays_on_the_first() {
    let tracks = PortIx::MOST + 8;
    let mut build = Build::new(tracks as u32);
    for track in 0..tracks {
        build = build.pass(track, 3840, &[(track as i64, 10, 60)]);
    }
    let mut song = build.song();
    for (number, track) in song.tracks.iter_mut().enumerate() {
        Arc::make_mut(track).port = format!("port {number}");
    }
    let route = Route::form(&song).unwrap();
    let performance = perform(&song, &route, route.span(), View::Corrected);
    assert_eq!(performance.ports.len(), PortIx::MOST);
    let on = |event: &&Event| matches!(event.wire, Wire::Message(Message::NoteOn { .. }));
    let ports: Vec<usize> =
        performance.events.iter().filter(on).map(|event| usize::from(event.port.0)).collect();
    // The first port has no name.
    let expected = (1..PortIx::MOST).chain(std::iter::repeat_n(0, 9));
    assert_eq!(ports, expected.collect::<Vec<_>>());
}

/// The key of each note-off, and its track.
fn releases(song: &Song) -> Vec<(u8, u32)> {
    let route = Route::form(song).unwrap();
    let events = perform(song, &route, route.span(), View::Corrected).events;
    let release = |event: &Event| match event.wire {
        Wire::Message(Message::NoteOff { key, .. }) => Some((key.get(), event.track.0)),
        _ => None,
    };
    events.iter().filter_map(release).collect()
}

#[test]
fn the_release_of_a_key_belongs_to_the_track_that_struck_it_last() {
    // The second track strikes the key while the first holds it, and lets go sooner.
    let song = Build::new(2).pass(0, 3840, &[(0, 500, 60)]).pass(1, 3840, &[(200, 100, 60)]).song();
    assert_eq!(releases(&song), [(60, 1), (60, 2)]);
}

/// A key is one of 128 on one of 16 channels (MIDI 1.0, "Channel Voice Messages") of one port.
#[test]
fn a_key_and_a_pedal_belong_to_their_own_channel_of_their_own_port() {
    let places = [(0, 1), (0, 2), (0, 3), (1, 1), (1, 2)];
    let keys = [0, 1, 30, 60, 61, 120];
    let mut build = Build::new(places.len() as u32);
    for track in 0..places.len() {
        // All keys are down before the first one comes up.
        let notes = keys.map(|key| (0, 1000 + track as i64, key));
        build = build.pass(track, 3840, &notes);
        build = build.lane(track, lane(Control::SUSTAIN, &[(0, 127)]));
    }
    let mut song = build.song();
    for (track, (port, channel)) in song.tracks.iter_mut().zip(places) {
        let track = Arc::make_mut(track);
        track.channel = chaconne_song::Channel::from_number(channel);
        track.port = if port == 0 { String::new() } else { "other".into() };
    }
    let all = (1..=places.len() as u32).flat_map(|track| keys.map(|key| (key, track)));
    assert_eq!(releases(&song), all.collect::<Vec<_>>());
    // At the end each pedal is lifted for its own track.
    let route = Route::form(&song).unwrap();
    let events = perform(&song, &route, route.span(), View::Corrected).events;
    let lifts = events.iter().rev().take(places.len()).map(|event| {
        let channel = match event.wire {
            Wire::Message(message) => message.channel().unwrap().number(),
            Wire::SysEx(_) => 0,
        };
        ((usize::from(event.port.0), channel), event.track.0)
    });
    let lifts: std::collections::BTreeSet<_> = lifts.collect();
    assert_eq!(lifts, places.into_iter().zip(1..).collect());
}
