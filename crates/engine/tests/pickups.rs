//! A section with a pickup, on the virtual-time bench: count-in, recording and the seam.

mod bench;

use bench::{Bench, song};
use chaconne_engine::{Click, Command, Message, Route, View, perform};
use chaconne_song::{
    Channel, Commit, Edit, Letter, Note, NoteId, Part, Pass, PassId, SectionEdit, Song, Speed,
    Stroke, TrackId, U7, change_speed, double, halve,
};
use chaconne_time::{MetreMap, Tick};

const BEAT: i64 = 960;

/// A pickup of a beat, two bars of four, and a bar of three: twelve beats.
fn with_pickup() -> Bench {
    let mut song = song(3, 1);
    let metre = MetreMap::of_written(4, "pickup 1/4, 4/4", |metre| metre).unwrap();
    Edit::Section(Letter::A, SectionEdit::Metre(metre)).apply(&mut song).unwrap();
    Bench::new(song)
}

/// The clicks on the wire, in beats from the top, the accented ones marked.
fn clicks(b: &Bench) -> Vec<String> {
    let click = |(at, message): &(Tick, Message)| match message {
        Message::NoteOn { channel, key, .. } if channel.number() == 10 => {
            let accent = if *key == U7::low_bits(76) { "!" } else { "" };
            Some(format!("{}{accent}", at.0 / BEAT))
        }
        _ => None,
    };
    b.wire.iter().filter_map(click).collect()
}

#[test]
fn the_click_counts_three_before_a_pickup_and_beat_one_comes_after_it() {
    let mut b = with_pickup();
    b.command(Command::CountIn(1));
    b.command(Command::Click(Click::Always));
    b.command(Command::Record(true));
    b.to(14 * BEAT + 1);
    let expected: Vec<String> = (-3..15)
        .map(|beat: i64| format!("{beat}{}", if (beat + 3) % 4 == 0 { "!" } else { "" }))
        .collect();
    assert_eq!(clicks(&b), expected);
}

#[test]
fn a_melody_with_a_pickup_is_recorded_and_goes_round() {
    let mut b = with_pickup();
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    // The pickup, a little early: it comes in the count-in and belongs to the first round.
    b.press(-30, 60);
    b.lift(700, 60);
    b.press(BEAT, 62);
    b.lift(2 * BEAT, 62);
    b.to(12 * BEAT + 10);
    b.command(Command::Record(false));
    b.to(24 * BEAT + 2000);
    let pass = &b.engine.song().passes_in(&b.engine.song().sections[0])[0];
    let starts: Vec<i64> = pass.notes().iter().map(|note| note.played.start.0).collect();
    assert_eq!((starts, pass.length), (vec![-30, BEAT], Tick(12 * BEAT)));
    for round in 1..3 {
        let top = round * 12 * BEAT;
        let heard = b.heard(top - 100, top + 1000);
        let (early, late) = (top - 30, top + 700);
        assert_eq!(heard, format!("{early}+60 {late}-60 {}+62", top + BEAT), "round {round}");
    }
}

#[test]
fn playing_can_begin_at_the_bar_after_the_pickup() {
    let mut b = with_pickup();
    b.command(Command::LocateBars(1));
    assert_eq!(b.engine.status(b.now).place.to_string(), "2.1.0");
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    // A whole bar of count-in leads there.
    assert_eq!(b.engine.tick_at(b.now), Some(Tick(BEAT - 4 * BEAT)));
}

#[test]
fn doubled_it_sounds_the_same_and_halved_again_it_is_as_it_was() {
    let song = || Song::clone(with_pickup().engine.song());
    let mut before = song();
    let mut pass = Pass::empty(PassId(9), TrackId(1), Tick(12 * BEAT));
    let note = |id, start: i64| {
        let (key, velocity, release) = (U7::low_bits(60), U7::low_bits(80), U7::CENTRE);
        let played = Stroke { start: Tick(start), length: Tick(400), key, velocity, release };
        let (id, channel) = (NoteId(id), Channel::default());
        Note { id, channel, played, placed: Default::default() }
    };
    pass.notes_mut().notes.extend([note(1, 0), note(2, BEAT), note(3, 11 * BEAT)]);
    before.lay(Letter::A, pass);
    let mut after = before.clone();
    let applied = |song: &mut Song, commit: Commit| drop(commit.apply(song).unwrap());
    let commit = double(&after, Letter::A, Part::Section).unwrap();
    applied(&mut after, commit);
    let metre = after.sections[0].metre.clone();
    assert_eq!((metre.bars(), metre.written().as_str()), (7, "pickup 1/4, 4/4"));
    let played = |song: &Song, rounds| {
        let route = Route::rounds(song, Letter::A, rounds).unwrap();
        let events = perform(song, &route, route.span(), View::Corrected).events;
        events.into_iter().map(|event| (event.at, event.wire)).collect::<Vec<_>>()
    };
    assert_eq!(played(&before, 4), played(&after, 2));
    let commit = halve(&after, Letter::A, Part::Section).unwrap();
    applied(&mut after, commit);
    assert_eq!(after.sections[0].metre, before.sections[0].metre);
    assert_eq!(played(&before, 4), played(&after, 4));
}

#[test]
fn half_time_is_refused_because_the_pickup_would_have_to_be_another() {
    let mut song = Song::clone(with_pickup().engine.song());
    song.lay(Letter::A, Pass::empty(PassId(9), TrackId(1), Tick(12 * BEAT)));
    let refused = change_speed(&song, Letter::A, Part::Section, Speed::Half).unwrap_err();
    assert!(refused.to_string().starts_with("section A begins with a pickup"), "{refused}");
}
