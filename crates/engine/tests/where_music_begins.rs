//! What sounds and what is set where the music begins: with and without a count-in, at the top and at any bar.
//!
//! The rules are those of docs/time.md: a start within half a grid step before belongs to what begins there
//! ("Rounds and the seam"), and the instruments are set up before the count-in ("The count-in").

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Config, Message, Route, Transport};
use chaconne_song::{
    Channel, Control, Feel, Lane, Letter, Note, NoteId, Pass, PassId, Placed, Point, Section, Song,
    Stroke, TrackId, U7, U14,
};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

/// A pass of four bars: start, length and key of each note.
fn four_bars(notes: &[(i64, i64, u8)]) -> Pass {
    let mut pass = Pass::empty(PassId(11), TrackId(1), Tick(4 * BAR));
    for (id, &(start, length, key)) in (1..).zip(notes) {
        let [key, velocity, release] = [key, 100, 64].map(U7::low_bits);
        let played = Stroke { start: Tick(start), length: Tick(length), key, velocity, release };
        let channel = Channel::default();
        pass.notes_mut().notes.push(Note {
            id: NoteId(id),
            channel,
            played,
            placed: Placed::UNCHANGED,
        });
    }
    pass.sort();
    pass
}

/// A bench whose starts have some time before them, as in the program.
fn bench(song: Song) -> Bench {
    Bench::with(song, Config { lead: 20 * MS, ..Config::default() })
}

/// The ways to begin at a bar, from 1.
fn begin(bench: &mut Bench, bar: i32, how: &str) {
    let top = Tick(i64::from(bar - 1) * BAR);
    bench.command(Command::Locate(top));
    let route = Route::rounds(bench.engine.song(), Letter::A, 2).unwrap();
    let command = match how {
        "play" => Command::Play,
        "continue" => Command::Continue,
        "play from" => Command::PlayFrom(route, top),
        "record" => Command::Record(true),
        "rehearse" => Command::PlayCounted(route, top),
        _ => panic!("{how}"),
    };
    assert!(bench.command(command), "{how}: {}", bench.engine.status(bench.now).said.1);
}

/// The keys struck on channel 1 from a message on, and when.
fn struck(bench: &Bench, from: usize) -> Vec<(i64, u8)> {
    let keys = bench.wire[from..].iter().filter_map(|&(at, message)| match message {
        Message::NoteOn { channel, key, .. } if channel == Channel::default() => {
            Some((at.0, key.get()))
        }
        _ => None,
    });
    keys.collect()
}

#[test]
fn a_note_just_before_the_bar_and_meant_for_it_sounds_however_the_music_begins() {
    let top = 2 * BAR;
    let notes = [
        (top - 121, 600, 50),
        (top - 120, 600, 51),
        (top - 30, 20, 52),
        (top, 100, 53),
        (4 * BAR - 100, 200, 54),
    ];
    for how in ["play", "continue", "play from", "record", "rehearse"] {
        let mut song = song(4, 1);
        song.lay(Letter::A, four_bars(&notes));
        let mut b = bench(song);
        let counted = ["record", "rehearse"].contains(&how);
        b.command(Command::CountIn(1));
        begin(&mut b, 3, how);
        b.to(top + 1000);
        // Without a count-in there is no time before the bar: they sound with it, as long as they were.
        let early = if counted { [top - 120, top - 30] } else { [top, top] };
        assert_eq!(struck(&b, 0), [(early[0], 51), (early[1], 52), (top, 53)], "{how}");
        let lifted = b.heard(top - 200, top + 1000);
        assert!(lifted.contains(&format!("{}-51", early[0] + 600)), "{how}: {lifted}");
        // In the next round everything is where it was played.
        let before = b.wire.len();
        b.to(6 * BAR + 10);
        let next = struck(&b, before);
        let last = [(6 * BAR - 121, 50), (6 * BAR - 120, 51), (6 * BAR - 30, 52), (6 * BAR, 53)];
        assert_eq!(next[next.len() - 4..], last, "{how}");
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn how_near_a_note_must_be_follows_the_grid_of_its_track() {
    let top = 2 * BAR;
    let eighths = Feel { pull: 0, ..Feel::off(false).on("1/8".parse().unwrap()) };
    let mut song = song(4, 1);
    Arc::make_mut(&mut song.tracks[0]).feel = eighths;
    song.lay(Letter::A, four_bars(&[(top - 241, 600, 50), (top - 240, 600, 51)]));
    let mut b = bench(song);
    begin(&mut b, 3, "continue");
    b.to(top + 1000);
    assert_eq!(struck(&b, 0), [(top, 51)]);
}

#[test]
fn going_on_after_a_stop_strikes_what_was_meant_for_the_place_where_it_stopped() {
    // Rule: where it stopped is rounded down to a sixteenth, here 960.
    let mut song = song(4, 1);
    song.lay(Letter::A, four_bars(&[(0, 100, 50), (930, 400, 51), (1000, 100, 52)]));
    let mut b = bench(song);
    begin(&mut b, 1, "play");
    b.to(1100);
    b.command(Command::Stop);
    let before = b.wire.len();
    b.command(Command::Continue);
    b.to(2000);
    assert_eq!(struck(&b, before), [(960, 51), (1000, 52)]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn a_mute_just_after_the_start_silences_what_was_meant_for_it() {
    for mute in [false, true] {
        let mut song = song(4, 1);
        song.lay(Letter::A, four_bars(&[(2 * BAR - 100, 2000, 51), (2 * BAR + 480, 100, 52)]));
        let mut b = bench(song);
        begin(&mut b, 3, "continue");
        b.to(2 * BAR + 100);
        b.command(Command::MuteTrack(TrackId(1), true));
        b.command(Command::MuteTrack(TrackId(1), mute));
        b.to(2 * BAR + 1000);
        let expected: &[_] = if mute { &[51] } else { &[51, 52] };
        let keys: Vec<u8> = struck(&b, 0).into_iter().map(|(_, key)| key).collect();
        assert_eq!(keys, expected);
        b.command(Command::Stop);
        b.check_wire();
    }
}

/// A track that sets bank, program and volume, with a pass that changes the program to 6 in bar 2, presses the
/// pedal from bar 1 on, and moves volume and bend in bar 3.
fn with_moves() -> Song {
    let mut song = song(4, 1);
    let track = Arc::make_mut(&mut song.tracks[0]);
    track.bank = Some(U14::from_parts(U7::low_bits(1), U7::low_bits(2)));
    track.program = Some(U7::low_bits(33));
    track.levels.volume = Some(U7::low_bits(90));
    let mut pass = four_bars(&[(0, 100, 60), (2 * BAR, 100, 62)]);
    let lane = |control, points: &[(i64, u16)]| {
        let [(first, _), .., (last, _)] = points else { panic!("a lane has two points here") };
        let span = Span::new(Tick(*first), Tick(last + 1));
        let point = |&(at, value): &(i64, u16)| Point::step(Tick(at), U14::new(value).unwrap());
        let points = points.iter().map(point).collect();
        Lane { channel: Channel::default(), control, span, points }
    };
    pass.notes_mut().lanes = vec![
        lane(Control::Program, &[(BAR, 6), (3 * BAR, 6)]),
        lane(Control::SUSTAIN, &[(100, 127), (3 * BAR, 0)]),
        lane(Control::VOLUME, &[(2 * BAR, 40), (3 * BAR, 50)]),
        lane(Control::Bend, &[(2 * BAR - 10, 9000), (3 * BAR, 8192)]),
    ];
    pass.sort();
    song.lay(Letter::A, pass);
    song
}

/// What was sent from a message on up to a tick, without notes; and how long before or after `began`.
fn settings(bench: &Bench, from: usize, to: i64) -> Vec<(Tick, String)> {
    let word = |&(at, message): &(Tick, Message)| {
        let word = match message {
            Message::Change { controller, value, .. } => format!("c{controller}={value}"),
            Message::Program { program, .. } => format!("program {program}"),
            Message::Bend { value, .. } => format!("bend {}", value.get()),
            _ => return None,
        };
        (at.0 < to).then_some((at, word))
    };
    bench.wire[from..].iter().filter_map(word).collect()
}

#[test]
fn the_instruments_are_set_up_before_the_count_in() {
    for how in ["record", "rehearse"] {
        for (bar, set_up, then) in [
            (1, &["c0=1", "c32=2", "program 33", "c7=90"][..], &["bend 8192"][..]),
            (3, &["c0=1", "c32=2", "program 6", "c7=40"][..], &["c64=127", "bend 9000"][..]),
        ] {
            let mut b = bench(with_moves());
            b.command(Command::CountIn(2));
            let (from, top) = (b.wire.len(), i64::from(bar - 1) * BAR);
            begin(&mut b, bar, how);
            assert_eq!(b.engine.status(b.now).transport, Transport::CountingIn);
            b.to(top + 50);
            let sent = settings(&b, from, top + 50);
            let (before, after): (Vec<_>, Vec<_>) =
                sent.into_iter().partition(|(at, _)| *at < Tick(top - 2 * BAR));
            let words = |sent: Vec<(Tick, String)>| -> Vec<String> {
                sent.into_iter().map(|(_, word)| word).collect()
            };
            assert!(after.iter().all(|(at, _)| *at == Tick(top)), "{how} {bar}: {after:?}");
            // A pedal and a bend are the player's until the music begins.
            assert_eq!(words(before), set_up, "{how} {bar}");
            assert_eq!(words(after), then, "{how} {bar}");
            b.command(Command::Stop);
            b.check_wire();
        }
    }
}

/// The second section begins with a fader that the first does not have there, and has the track's program.
#[test]
fn a_count_in_that_leads_to_a_later_section_of_the_form_sets_up_what_is_in_force_there() {
    let mut song = with_moves();
    let second: Letter = "B".parse().unwrap();
    let plain = Section { letter: second, layers: Vec::new(), ..(*song.sections[0]).clone() };
    song.sections.push(Arc::new(plain));
    let mut pass = four_bars(&[(0, 100, 60)]);
    pass.id = PassId(12);
    let point = |at| Point::step(Tick(at), U14::new(41).unwrap());
    pass.notes_mut().lanes = vec![Lane {
        channel: Channel::default(),
        control: Control::VOLUME,
        span: Span::new(Tick(0), Tick(BAR)),
        points: vec![point(0), point(BAR - 1)],
    }];
    song.lay(second, pass);
    let route = Route::of(&song, &[Letter::A, second]).unwrap();
    let mut b = bench(song);
    b.command(Command::CountIn(1));
    let (from, top) = (b.wire.len(), 4 * BAR);
    assert!(b.command(Command::PlayCounted(route, Tick(top))));
    b.to(top + 50);
    let sent: Vec<String> =
        settings(&b, from, top + 50).into_iter().map(|(_, word)| word).collect();
    assert_eq!(sent, ["c0=1", "c32=2", "program 33", "c7=41"]);
    b.command(Command::Stop);
    b.check_wire();
}

#[test]
fn what_is_set_up_before_the_count_in_survives_a_mute_in_it_and_follows_an_edit() {
    for late in [-1, 0, 1000, 2 * BAR - 100] {
        let mut b = bench(with_moves());
        b.command(Command::CountIn(2));
        let (from, top) = (b.wire.len(), 2 * BAR);
        begin(&mut b, 3, "record");
        b.to(top - 2 * BAR + late);
        for mute in [true, false] {
            assert!(b.command(Command::MuteTrack(TrackId(1), mute)));
        }
        assert!(b.command(Command::StepVolume(TrackId(1), -5)));
        b.to(top + 1);
        let sent = settings(&b, from, top + 1);
        let last = |start: &str| {
            sent.iter().rev().find(|(_, word)| word.starts_with(start)).map(|(_, word)| &word[..])
        };
        let found = ["c0=", "c32=", "program", "c7=", "c64=", "bend"].map(last);
        let wanted = ["c0=1", "c32=2", "program 6", "c7=40", "c64=127", "bend 9000"].map(Some);
        assert_eq!(found, wanted, "{late}: {sent:?}");
        b.command(Command::Stop);
        b.check_wire();
    }
}

#[test]
fn a_fader_that_the_player_moves_in_the_count_in_is_the_players_until_the_seam() {
    let mut b = bench(with_moves());
    b.command(Command::CountIn(2));
    let top = 2 * BAR;
    begin(&mut b, 3, "record");
    b.change(BAR, 7, 20);
    let from = b.wire.len();
    b.to(4 * BAR - 1);
    let faders = settings(&b, from, 4 * BAR - 1);
    assert!(faders.iter().all(|(_, word)| !word.starts_with("c7=")), "{faders:?}");
    assert!(faders.iter().any(|(at, _)| *at == Tick(top)), "the pedal and the bend");
}
