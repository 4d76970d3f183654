//! The harmony under what is played, for keys that play chords: which chord a key takes at each moment.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{ByHand, Command, KeyOf, NewKey, When};
use chaconne_song::{Chord, Edit, KeysPlay, Letter, Section, SectionEdit, Song, Track, Transpose};
use chaconne_time::{Tempo, Tick};
use std::sync::Arc;

const BAR: i64 = 3840;
/// Half a sixteenth, as feel is off.
const HALF: i64 = 120;

fn chords(section: &mut Section, chart: &[(i64, &str)]) {
    let chord =
        |&(at, symbol): &(i64, &str)| Chord { at: Tick(at), symbol: symbol.parse().unwrap() };
    section.chords = chart.iter().map(chord).collect();
}

/// Two bars of C and F, and a section B of one bar whose chord G comes on beat two; in G minor there.
fn chart() -> Song {
    let mut song = song(2, 1);
    let track = Track { keys_play: KeysPlay::Chart, ..Track::clone(&song.tracks[0]) };
    song.tracks[0] = Arc::new(track);
    song.key = "C major".parse().ok();
    let mut b = Section {
        letter: "B".parse().unwrap(),
        key: "G minor".parse().ok(),
        ..Section::clone(&song.sections[0])
    };
    b.transpose = Transpose::new(3).unwrap();
    chords(&mut b, &[(960, "G")]);
    chords(Arc::make_mut(&mut song.sections[0]), &[(0, "C"), (BAR, "F")]);
    song.sections.push(Arc::new(b));
    song
}

/// What a key takes that is struck at each tick, asked now: chord, key, and transposition if any.
fn taken(b: &Bench, ticks: &[i64]) -> String {
    let grounds = b.engine.grounds(b.now);
    let at = |&tick: &i64| {
        let stamp = b.engine.ns_at(Tick(tick)).unwrap();
        let last = grounds.iter().rev().find(|ground| ground.from <= stamp).unwrap_or(&grounds[0]);
        let chord = last.chord.map_or("-".to_string(), |chord| chord.to_string());
        match (last.key, last.transpose) {
            (Some(key), by) if by != 0 => format!("{chord} in {key} {by:+}"),
            _ => chord,
        }
    };
    ticks.iter().map(at).collect::<Vec<_>>().join(", ")
}

#[test]
fn an_early_note_takes_the_chord_that_it_is_early_for_also_over_the_seam_and_in_round_two() {
    let mut b = Bench::new(chart());
    b.command(Command::Play);
    for round in 0..2 {
        let top = round * 2 * BAR;
        b.to(top + BAR - 500);
        let ticks = [BAR - HALF - 1, BAR - HALF, BAR].map(|tick| top + tick);
        assert_eq!(taken(&b, &ticks), "C, F, F", "round {round}");
        b.to(top + 2 * BAR - 500);
        let ticks = [2 * BAR - HALF - 1, 2 * BAR - HALF, 2 * BAR].map(|tick| top + tick);
        assert_eq!(taken(&b, &ticks), "F, C, C", "round {round}");
    }
}

#[test]
fn what_was_played_a_little_ago_takes_the_chord_of_then() {
    let mut b = Bench::new(chart());
    b.command(Command::Play);
    b.to(BAR + 300);
    assert_eq!(taken(&b, &[BAR - 300, BAR + 300]), "C, F");
}

#[test]
fn a_jump_brings_the_chord_and_the_key_of_its_section() {
    let mut b = Bench::new(chart());
    b.command(Command::Play);
    b.to(BAR - 700);
    b.command(Command::Jump("B".parse().unwrap(), When::Bar));
    b.to(BAR - 500);
    // B has no chord before its second beat.
    assert_eq!(taken(&b, &[BAR - HALF - 1, BAR - HALF]), "C, - in G minor +3");
    b.to(BAR + 500);
    assert_eq!(
        taken(&b, &[BAR + 960 - HALF - 1, BAR + 960 - HALF]),
        "- in G minor +3, G in G minor +3"
    );
}

#[test]
fn while_stopped_and_in_the_count_in_the_chord_is_that_of_the_beginning() {
    let mut b = Bench::new(chart());
    let chord = |b: &Bench| {
        let grounds = b.engine.grounds(b.now);
        grounds[0].chord.map(|chord| chord.to_string()).unwrap_or_default()
    };
    assert_eq!(chord(&b), "C");
    b.command(Command::Locate(Tick(BAR)));
    assert_eq!(chord(&b), "F");
    b.command(Command::CountIn(1));
    b.command(Command::Record(true));
    b.run_to(b.now + 100 * MS);
    assert_eq!(chord(&b), "F");
}

#[test]
fn a_chord_that_is_edited_and_a_tempo_that_changes_are_taken_at_once() {
    let mut b = Bench::new(chart());
    b.command(Command::Play);
    b.to(BAR - 500);
    let edit = SectionEdit::Chord(Tick(BAR), "Dm".parse().ok());
    b.command(Command::Edit(chaconne_song::Commit::of(Edit::Section(Letter::A, edit))));
    b.command(Command::Tempo(Tempo::parse_bpm("60").unwrap()));
    assert_eq!(taken(&b, &[BAR - HALF - 1, BAR - HALF]), "C, Dm");
}

#[test]
fn a_key_that_waits_for_the_hand_that_leads_takes_the_chord_before_its_beat() {
    let mut b = Bench::new(chart());
    b.command(Command::Play);
    b.command(Command::ByHand(Some(ByHand::default())));
    let here = |b: &Bench| b.engine.tick_at(b.now).unwrap().0;
    while here(&b) < BAR {
        b.run_to(b.now + 500 * MS);
        if b.engine.status(b.now).waits.is_some() && here(&b) < BAR {
            b.tap(b.now);
        }
    }
    // The fourth beat is over, and the song waits at the bar line, where F begins.
    b.run_to(b.now + 2000 * MS);
    assert!(b.engine.status(b.now).waits.is_some());
    assert_eq!(taken(&b, &[here(&b)]), "F");
}

#[test]
fn keys_that_play_notes_need_no_harmony() {
    let mut song = chart();
    Arc::make_mut(&mut song.tracks[0]).keys_play = KeysPlay::Notes;
    assert!(Bench::new(song).engine.grounds(0).is_empty());
    let mut drums = chart();
    Arc::make_mut(&mut drums.tracks[0]).pitched = false;
    assert!(Bench::new(drums).engine.grounds(0).is_empty());
}

#[test]
fn keys_take_the_new_key_with_what_is_meant_for_it() {
    let mut b = Bench::new(chart());
    b.command(Command::Play);
    b.to(500);
    let new = NewKey::By(2);
    b.command(Command::Transpose(KeyOf::Song, new, Some(When::Bar)));
    b.to(BAR - 600);
    assert_eq!(
        taken(&b, &[BAR - HALF - 1, BAR - HALF, BAR]),
        "C, F in C major +2, F in C major +2"
    );
    // What was played before and comes late has the key of then.
    b.to(BAR + 300);
    assert_eq!(
        taken(&b, &[BAR - HALF - 1, BAR - HALF, BAR + 200]),
        "C, F in C major +2, F in C major +2"
    );
    b.to(2 * BAR + 500);
    assert_eq!(taken(&b, &[2 * BAR - HALF - 1, 2 * BAR]), "F in C major +2, C in C major +2");
    // At a beat, where no chord changes.
    b.command(Command::Transpose(KeyOf::Song, new, Some(When::Beat)));
    let beat = 2 * BAR + 960;
    assert_eq!(taken(&b, &[beat - HALF - 1, beat - HALF]), "C in C major +2, C in C major +4");
}
