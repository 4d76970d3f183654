//! The sheet against `perform`: notes lie where they sound, and are as loud.

use super::*;
use crate::testing::{empty_song, pass};
use chaconne_engine::{Message, Route, View, Wire, perform};
use chaconne_song::{
    Feel, GivenGroove, GrooveId, Human, Lean, Letter, Pass, Song, StepAt, Swing, TrackId,
};
use chaconne_time::NoteValue;
use proptest::prelude::*;

const BAR: i64 = 3840;

/// What sounds: transport tick, key, velocity.
type Sounds = Vec<(i64, u8, u8)>;

/// What `perform` plays in a round of the section.
fn performed(song: &Song, round: u64) -> Sounds {
    let length = song.sections[0].length();
    let span = Span::new(length * round as i64, length * (round as i64 + 1));
    // What sounds where a span begins is struck there, so it begins with the music.
    let whole = Span::new(Tick::ZERO, span.to);
    let events = perform(song, &Route::open(Letter::A), whole, View::Corrected).events;
    let press = |event: &chaconne_engine::Event| match event.wire {
        Wire::Message(Message::NoteOn { key, velocity, .. }) if span.contains(event.at) => {
            Some((event.at.0, key.get(), velocity.get()))
        }
        _ => None,
    };
    let mut all: Sounds = events.iter().filter_map(press).collect();
    all.sort_unstable();
    all
}

/// What the sheet of all layers shows in a round.
fn shown(song: &Song, round: u64) -> Sounds {
    let section = &song.sections[0];
    let sheet = Sheet::new(&Stack::of(song, section, 0), None, section);
    let (base, none) = (sheet.base(round), BTreeSet::new());
    let from = section.length() * sheet.turn(round) as i64;
    let span = Span::new(from, from + section.length());
    let keys = (0..128).filter_map(U7::new);
    let lying = keys.flat_map(|key| sheet.starting(key, span, base));
    let heard = lying.filter(|lying| !lying.layer.is_covered(lying.meant, base, &none));
    let sound =
        |lying: Lying| ((base + lying.on).0, lying.note.stroke().key.get(), lying.velocity.get());
    let mut all: Sounds = heard.map(sound).collect();
    all.sort_unstable();
    all
}

/// One pitched track of two bars with these passes, the lowest first.
fn song(passes: Vec<Pass>, groove: Groove, feel: Feel) -> Song {
    let mut song = empty_song(2, "4/4");
    song.grooves.push(Arc::new(groove));
    song.tracks.push(Arc::new(Track { feel, ..Track::pitched(TrackId(1), "line") }));
    for pass in passes {
        song.lay(Letter::A, Arc::new(pass));
    }
    song
}

fn groove(bars: u32, leans: &[(u32, i64, u16)]) -> Groove {
    let lean = |&(step, timing, loudness): &(u32, i64, u16)| {
        let lean = Lean { timing: Tick(timing), loudness, ..Lean::default() };
        (StepAt { bar: step / 16 % bars + 1, step: step % 16 + 1 }, lean)
    };
    let (id, name, grid) = (GrooveId(90), "Sam".to_string(), NoteValue::SIXTEENTH);
    Groove { id, name, grid, bars, steps: leans.iter().map(lean).collect() }
}

#[test]
fn a_note_lies_where_a_groove_and_human_variation_put_it() {
    let notes = [(0, 100, 60, 80), (240, 100, 61, 80), (3600, 100, 62, 80)];
    let feel = Feel { groove: Some(GivenGroove::whole(GrooveId(90))), ..Feel::off(false) };
    let groove = groove(1, &[(0, -12, 100), (1, 30, 150), (15, 40, 50)]);
    let mut song = song(vec![Pass::clone(&pass(2, 1, BAR, &notes))], groove, feel);
    // The first note of the next bar sounds at the end of this one.
    let expected = [(2 * BAR + 270, 61, 120), (2 * BAR + 3640, 62, 40), (3 * BAR - 12, 60, 80)];
    let round = |song: &Song| shown(song, 1).into_iter().take(3).collect::<Vec<_>>();
    assert_eq!(round(&song), expected);
    assert_eq!(shown(&song, 1), performed(&song, 1));
    let track = Arc::make_mut(&mut song.tracks[0]);
    track.feel.human = Human { timing: 100, loudness: 100, seed: 3 };
    assert_ne!(round(&song), expected);
    assert_eq!(shown(&song, 1), performed(&song, 1));
}

#[test]
fn a_sheet_follows_a_groove_that_changes() {
    let feel = Feel { groove: Some(GivenGroove::whole(GrooveId(90))), ..Feel::off(false) };
    let line = Pass::clone(&pass(2, 1, BAR, &[(0, 100, 60, 80)]));
    let before = song(vec![line], groove(1, &[(0, 12, 100)]), feel);
    let mut after = before.clone();
    after.grooves[0] = Arc::new(groove(1, &[(0, 20, 100)]));
    let (section, stack) = (&before.sections[0], Stack::of(&before, &before.sections[0], 0));
    let sheet = Sheet::new(&stack, None, section);
    assert!(sheet.is_of(&stack, None, section));
    assert!(!sheet.is_of(&Stack::of(&after, section, 0), None, section));
}

/// Any feel that is given the groove or not.
fn any_feel() -> impl Strategy<Value = Feel> {
    let grid = prop::option::of(Just(NoteValue::SIXTEENTH));
    let swing = (5000u16..=7500).prop_map(|swing| Swing::from_hundredths(swing).unwrap());
    let given = prop::option::of((0u8..=200, 0u8..=200));
    let human = prop_oneof![Just((0, 0)), (0u8..=100, 0u8..=100)];
    (grid, 0u8..=100, 0u8..=100, swing, any::<bool>(), given, human).prop_map(
        |(grid, pull, reach, swing, rolls, given, human)| {
            let given = given.map(|(timing, loudness)| GivenGroove {
                timing,
                loudness,
                ..GivenGroove::whole(GrooveId(90))
            });
            let human = Human { timing: human.0, loudness: human.1, seed: 5 };
            Feel { grid, pull, reach, swing, rolls, groove: given, human }
        },
    )
}

/// A pass of up to eight notes, each on a key of its own, and what it covers.
fn any_pass(id: u32) -> impl Strategy<Value = Pass> {
    let notes = prop::collection::vec((-100i64..8000, 1i64..600, 1u8..=127), 0..8);
    let cover = prop::option::of((0i64..3000, 200i64..2000));
    (1i64..=12, notes, prop::option::of(any_feel()), cover).prop_map(
        move |(beats, notes, feel, cover)| {
            let length = beats * 960;
            let first = 30 + 10 * id as u8;
            let notes: Vec<_> = (first..)
                .zip(notes)
                .map(|(key, (start, long, velocity))| (start.min(length - 1), long, key, velocity))
                .collect();
            let covers = cover.iter().map(|(from, long)| {
                let from = Tick(*from).min(Tick(length - 1));
                Span::new(from, (from + Tick(*long)).min(Tick(length)))
            });
            let covers = covers.collect();
            Pass { feel, covers, ..Pass::clone(&pass(id, 1, length, &notes)) }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, failure_persistence: None, ..ProptestConfig::default() })]

    /// Any feel, any groove, layers of any length that cover one another: from the second round on, the sheet
    /// shows what is performed.
    #[test]
    fn the_sheet_shows_what_is_performed(
        passes in (any_pass(2), any_pass(3), any_pass(4)), bars in 1u32..=3, feel in any_feel(),
        leans in prop::collection::vec((0u32..48, -120i64..=120, 0u16..=200), 0..12), round in 1u64..5,
    ) {
        let song = song(vec![passes.0, passes.1, passes.2], groove(bars, &leans), feel);
        prop_assert_eq!(shown(&song, round), performed(&song, round));
    }
}
