//! What the instruments get besides notes: on which port, which program, and which settings.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Command, Config, Message, PortIx};
use chaconne_song::{
    Channel, Control, Lane, Letter, Note, NoteId, Pass, PassId, Placed, Point, Song, Stroke,
    TrackId, U7, U14,
};
use chaconne_time::{Span, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;

/// A song of a bar with two tracks, each with a note on every beat and a port of its own.
fn two_ports() -> Bench {
    let mut song = song(1, 2);
    for (id, port) in [(1, "keys"), (2, "drums")] {
        Arc::make_mut(&mut song.tracks[id as usize - 1]).port = port.into();
        song.lay(Letter::A, beats(id));
    }
    let ports = ["other", "keys", "drums"].map(String::from).to_vec();
    Bench::with(song, Config { lead: 0, ports, ..Config::default() })
}

/// A pass with a note on every beat of a bar; its id, and its track's.
fn beats(id: u32) -> Pass {
    let mut pass = Pass::empty(PassId(id), TrackId(id), Tick(BAR));
    let note = |beat: u32| {
        let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(90), U7::CENTRE);
        let start = Tick(i64::from(beat) * 960);
        let played = Stroke { start, length: Tick(100), key, velocity, release };
        let (id, channel) = (NoteId(beat + 1), Channel::default());
        Note { id, channel, played, placed: Placed::UNCHANGED }
    };
    pass.notes_mut().notes = (0..4).map(note).collect();
    pass
}

#[test]
fn a_track_and_the_player_of_it_are_heard_on_the_port_that_it_names() {
    let mut b = two_ports();
    for (track, port) in [(1, 1), (2, 2)] {
        b.command(Command::Arm(TrackId(track)));
        let target = b.engine.live_target().unwrap();
        assert_eq!(
            (target.port, target.channel),
            (PortIx(port), Channel::from_number(track as u8))
        );
    }
    b.command(Command::Play);
    b.to(100);
    // Each track has the channel of its number.
    let heard = b.wire.iter().zip(&b.ports).map(|((_, message), port)| {
        assert_eq!(message.channel().map(Channel::number), Some(port.0), "{message:?}");
    });
    assert_eq!(heard.count(), 4, "two notes");
}

#[test]
fn a_port_that_connects_gets_the_settings_of_its_own_tracks() {
    let mut b = two_ports();
    for track in [1, 2] {
        b.command(Command::StepVolume(TrackId(track), -10 * track as i8));
    }
    for (port, volume) in [(1, Some(90)), (2, Some(80)), (0, None)] {
        let from = b.wire.len();
        b.engine.set_up_port(PortIx(port));
        b.turn();
        let sent = b.wire[from..].iter().map(|(_, message)| match message {
            Message::Change { controller, value, .. } => (controller.get(), value.get()),
            other => panic!("{other:?}"),
        });
        assert_eq!(sent.collect::<Vec<_>>(), volume.map_or(vec![], |volume| vec![(7, volume)]));
        assert!(b.ports[from..].iter().all(|&sent| sent == PortIx(port)));
    }
}

/// The song of a track that sets a bank, a program and a volume, and whose pass changes the program to
/// 6 on its second beat.
fn with_programs() -> Song {
    let mut song = song(1, 1);
    let track = Arc::make_mut(&mut song.tracks[0]);
    track.bank = Some(U14::from_parts(U7::low_bits(1), U7::low_bits(2)));
    track.program = Some(U7::low_bits(33));
    track.levels.volume = Some(U7::low_bits(90));
    let mut pass = beats(1);
    pass.notes_mut().lanes.push(Lane {
        channel: Channel::default(),
        control: Control::Program,
        span: Span::new(Tick(960), Tick(BAR)),
        points: vec![Point::step(Tick(960), U7::low_bits(6).into())],
    });
    song.lay(Letter::A, pass);
    song
}

/// What was sent from one message on, without notes.
fn settings(b: &Bench, from: usize) -> Vec<String> {
    let word = |(_, message): &(Tick, Message)| match message {
        Message::Change { controller, value, .. } => Some(format!("c{controller}={value}")),
        Message::Program { program, .. } => Some(format!("program {}", program.get())),
        _ => None,
    };
    b.wire[from..].iter().filter_map(word).collect()
}

#[test]
fn a_song_that_is_opened_sets_up_its_instruments() {
    let mut b = Bench::new(with_programs());
    let all = ["c0=1", "c32=2", "program 33", "c7=90"];
    assert_eq!(settings(&b, 0), all);
    let before = b.engine.revision();
    b.command(Command::Open(Box::new(with_programs())));
    assert_eq!(settings(&b, 4), all);
    assert!(b.engine.revision() > before, "the song is another one");
}

#[test]
fn an_audition_sends_the_bank_and_the_program_but_no_levels() {
    let mut b = Bench::new(with_programs());
    let from = b.wire.len();
    b.command(Command::Audition(TrackId(1), U7::new(5)));
    assert_eq!(settings(&b, from), ["c0=1", "c32=2", "program 5"]);
}

#[test]
fn after_an_audition_a_track_that_plays_has_the_program_that_its_pass_has_set() {
    let mut b = Bench::new(with_programs());
    for (tick, program) in [(500, 33), (1500, 6)] {
        b.command(Command::Play);
        b.to(tick);
        let from = b.wire.len();
        b.command(Command::Audition(TrackId(1), U7::new(5)));
        b.command(Command::Audition(TrackId(1), None));
        let last = settings(&b, from).pop();
        assert_eq!(last, Some(format!("program {program}")), "at {tick}");
        b.command(Command::Stop);
    }
    // While stopped, it is that of the track.
    let from = b.wire.len();
    b.command(Command::Audition(TrackId(1), None));
    assert_eq!(settings(&b, from).pop(), Some("program 33".into()));
}

#[test]
fn a_level_changed_while_the_track_plays_is_sent_once() {
    let mut b = Bench::new(with_programs());
    b.command(Command::Play);
    b.to(500);
    let from = b.wire.len();
    b.command(Command::StepVolume(TrackId(1), 1));
    b.run_to(b.now + 50 * MS);
    assert_eq!(settings(&b, from), ["c7=91"]);
}

#[test]
fn a_track_that_plays_gets_its_program_again_after_it_had_none() {
    let mut song = song(1, 1);
    song.lay(Letter::A, beats(1));
    Arc::make_mut(&mut song.tracks[0]).program = U7::new(33);
    let mut b = Bench::new(song);
    b.command(Command::Play);
    b.to(500);
    let from = b.wire.len();
    for program in [None, U7::new(33)] {
        b.command(Command::Program(TrackId(1), program));
        b.run_to(b.now + 50 * MS);
    }
    // General MIDI System Level 1: an instrument that is switched on starts with program 1.
    assert_eq!(settings(&b, from), ["program 0", "program 33"]);
}

#[test]
fn after_an_audition_a_track_without_a_program_has_that_of_another_on_its_channel_and_port() {
    for (channel, port, program) in [(1, "", 20), (2, "", 0), (1, "other", 0)] {
        let mut song = song(1, 2);
        let second = Arc::make_mut(&mut song.tracks[1]);
        second.program = U7::new(20);
        (second.channel, second.port) = (Channel::from_number(channel), port.into());
        let ports = vec![String::new(), "other".into()];
        let mut b = Bench::with(song, Config { lead: 0, ports, ..Config::default() });
        let from = b.wire.len();
        b.command(Command::Audition(TrackId(1), U7::new(5)));
        b.command(Command::Audition(TrackId(1), None));
        // General MIDI System Level 1: an instrument that is switched on starts with program 1.
        assert_eq!(settings(&b, from), ["program 5".to_string(), format!("program {program}")]);
    }
}
