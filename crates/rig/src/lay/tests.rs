//! Takes laid on the simulated clock: some written for the tests, and a drummer's.

use super::*;
use crate::testing::song;
use chaconne_song::{Channel, SectionEdit};
use std::collections::BTreeMap;

fn seven(value: u8) -> U7 {
    U7::new(value).unwrap()
}

fn on(at: i64, channel: u8, key: u8, velocity: u8) -> TakeEvent {
    let (channel, key) = (Channel::from_number(channel).unwrap(), seven(key));
    let message = Message::NoteOn { channel, key, velocity: seven(velocity) };
    TakeEvent { at: Tick(at), wire: Wire::Message(message) }
}

fn off(at: i64, channel: u8, key: u8) -> TakeEvent {
    let (channel, key) = (Channel::from_number(channel).unwrap(), seven(key));
    let message = Message::NoteOff { channel, key, velocity: U7::CENTRE };
    TakeEvent { at: Tick(at), wire: Wire::Message(message) }
}

fn program(at: i64, channel: u8, program: u8) -> TakeEvent {
    let channel = Channel::from_number(channel).unwrap();
    let message = Message::Program { channel, program: seven(program) };
    TakeEvent { at: Tick(at), wire: Wire::Message(message) }
}

fn take(events: Vec<TakeEvent>) -> Take {
    let length = events.last().map_or(Tick::ZERO, |event| event.at);
    Take { events, length, tempo: chaconne_time::Tempo::DEFAULT, remarks: Vec::new() }
}

fn onto(track: &str) -> HowToLay {
    HowToLay { track: track.into(), ..HowToLay::default() }
}

/// The strokes of each pass: start, key, length.
fn strokes(laid: &Laid) -> Vec<Vec<(i64, u8, i64)>> {
    let stroke = |note: &chaconne_song::Note| {
        (note.played.start.0, note.played.key.get(), note.played.length.0)
    };
    laid.passes.iter().map(|pass| pass.notes().iter().map(stroke).collect()).collect()
}

#[test]
fn each_round_is_a_pass_and_every_tick_is_kept() {
    // Two bars of 4/4 are 7680 ticks.
    let events = vec![
        on(0, 3, 60, 90),
        off(941, 3, 60),
        on(7001, 3, 62, 91),
        // Within 120 ticks of the seam: owned by the round after it.
        on(7600, 3, 64, 92),
        // Held over the seam.
        off(8000, 3, 62),
        off(8100, 3, 64),
        on(15_359, 3, 65, 93),
        off(15_500, 3, 65),
    ];
    let laid = lay(&song("two bars", 2), &take(events), &onto("Lead")).unwrap();
    assert_eq!(
        strokes(&laid),
        [vec![(0, 60, 941), (7001, 62, 999)], vec![(-80, 64, 500)], vec![(-1, 65, 141)]]
    );
    assert!(laid.made);
    assert_eq!(laid.notes(), 4);
    let lengths: Vec<i64> = laid.passes.iter().map(|pass| pass.length.0).collect();
    assert_eq!(lengths, [7680; 3]);
}

#[test]
fn a_release_after_the_last_seam_makes_no_round_of_its_own() {
    let events = vec![on(7000, 1, 60, 90), off(9000, 1, 60)];
    let laid = lay(&song("two bars", 2), &take(events), &onto("Lead")).unwrap();
    assert_eq!(strokes(&laid), [vec![(7000, 60, 2000)]]);
}

#[test]
fn a_take_can_be_one_pass() {
    let events = vec![on(0, 1, 60, 90), off(100, 1, 60), on(9000, 1, 62, 90), off(9100, 1, 62)];
    let how = HowToLay { rounds: Rounds::One, ..onto("Lead") };
    let laid = lay(&song("two bars", 2), &take(events), &how).unwrap();
    assert_eq!(strokes(&laid), [vec![(0, 60, 100), (9000, 62, 100)]]);
    assert_eq!(laid.passes[0].length, Tick(2 * 7680));
}

#[test]
fn the_songs_tempi_apply_and_ticks_stay_exact_across_them() {
    use chaconne_time::{Tempo, TempoMap, TempoPoint};
    let mut song = song("changing", 2);
    let point = |at, bpm| TempoPoint { at: Tick(at), tempi: vec![Tempo::parse_bpm(bpm).unwrap()] };
    let map = TempoMap::with_points(vec![point(0, "93.7"), point(3840, "999")]).unwrap();
    Edit::Section(Letter::A, SectionEdit::Tempo(map)).apply(&mut song).unwrap();
    let starts: Vec<i64> = (0..60).map(|k| k * 251).collect();
    let events = starts.iter().flat_map(|&at| [on(at, 1, 60, 90), off(at + 1, 1, 60)]);
    let laid = lay(&song, &take(events.collect()), &onto("Lead")).unwrap();
    let mut found: Vec<i64> = Vec::new();
    for (round, pass) in strokes(&laid).iter().enumerate() {
        found.extend(pass.iter().map(|&(start, _, _)| start + 7680 * round as i64));
    }
    assert_eq!(found, starts);
}

#[test]
fn a_take_creates_the_track_it_needs_and_leaves_an_old_one_as_it_is() {
    let empty = song("empty", 1);
    let drums = lay(&empty, &take(vec![on(0, 10, 36, 90), off(9, 10, 36)]), &onto("Kit")).unwrap();
    let track = drums.song.track_named("Kit").unwrap();
    assert!(!track.pitched && track.channel == Some(Channel::PERCUSSION));
    assert_eq!(track.feel, Feel::off(true));

    let grid = Some(NoteValue::SIXTEENTH);
    let events = vec![program(0, 3, 33), on(0, 3, 40, 90), off(9, 3, 40)];
    let how = HowToLay { grid, ..onto("Bass") };
    let bass = lay(&drums.song, &take(events.clone()), &how).unwrap();
    let track = bass.song.track_named("Bass").unwrap();
    assert!(track.pitched && track.channel == Channel::from_number(3));
    assert_eq!((track.program, track.feel.grid), (Some(seven(33)), grid));
    // The program is the track's, so the pass does not choose it again.
    assert!(bass.passes[0].lanes().is_empty());

    // Capitals do not matter, and the number on the screen also names the track.
    for meant in ["bass", "2"] {
        assert!(!lay(&bass.song, &take(events.clone()), &onto(meant)).unwrap().made, "{meant}");
    }
    let again = lay(&bass.song, &take(events), &onto("Bass")).unwrap();
    assert!(!again.made);
    assert_eq!(again.song.tracks, bass.song.tracks);
    assert_eq!(again.passes[0].lanes().len(), 1);

    let both = vec![on(0, 1, 60, 90), on(0, 2, 62, 90), off(9, 1, 60), off(9, 2, 62)];
    let both = lay(&empty, &take(both), &onto("Hands")).unwrap();
    assert_eq!(both.song.track_named("Hands").unwrap().channel, None);
    let channels: Vec<u8> = both.passes[0].notes().iter().map(|n| n.channel.number()).collect();
    assert_eq!(channels, [1, 2]);
}

#[test]
fn a_take_that_cannot_be_recorded_is_refused_in_a_sentence() {
    let song = song("empty", 1);
    let error = |events, how| lay(&song, &take(events), &how).unwrap_err().to_string();
    let one = || vec![on(0, 1, 60, 90), off(9, 1, 60)];
    assert_eq!(error(vec![off(9, 1, 60)], onto("Lead")), "the take has nothing to play");
    let elsewhere = HowToLay { section: Some("C".parse().unwrap()), ..onto("Lead") };
    assert_eq!(error(one(), elsewhere), "there is no section C; sections: A");
    assert_eq!(error(one(), onto("  ")), "a track needs a name of 1 to 64 characters");
}

/// A drummer on an electronic kit to a click: 410 notes over 16 bars. One file of the Groove MIDI
/// Dataset (J. Gillick, A. Roberts, J. Engel, D. Eck, D. Bamman, "Learning to Groove with Inverse
/// Sequence Transformations", ICML 2019, CC BY 4.0; see `tests/data/README.md`).
fn drummer() -> Take {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/data/groove-funk-138.mid");
    chaconne_exchange::take(&std::fs::read(path).unwrap()).unwrap()
}

/// Every note with its tick on the take's own clock: key, velocity, start, length. A key struck
/// again while it is down ends the note before it.
type Strokes = BTreeMap<(i64, u8, u8, i64), usize>;

fn strokes_of(take: &Take) -> Strokes {
    let mut strokes = Strokes::new();
    let mut down: BTreeMap<u8, (u8, i64)> = BTreeMap::new();
    let mut ends = |key: u8, held: Option<(u8, i64)>, at: i64| {
        if let Some((velocity, start)) = held {
            *strokes.entry((start, key, velocity, (at - start).max(1))).or_default() += 1;
        }
    };
    for event in &take.events {
        match event.wire {
            Wire::Message(Message::NoteOn { key, velocity, .. }) => {
                let held = down.insert(key.get(), (velocity.get(), event.at.0));
                ends(key.get(), held, event.at.0);
            }
            Wire::Message(Message::NoteOff { key, .. }) => {
                let held = down.remove(&key.get());
                ends(key.get(), held, event.at.0);
            }
            _ => {}
        }
    }
    strokes
}

/// Lays the drummer's take over a loop of this many bars; the passes must hold all 410 notes where
/// they were played. Returns how many of them are early notes, which belong to the round after the
/// seam.
fn early_notes(take: &Take, bars: u32, feel: Feel) -> usize {
    let mut song = song("loop", bars);
    let track = Track { feel, ..Track::drums(song.ids().track(), "Kit") };
    Edit::AddTrack { at: 0, track: Arc::new(track) }.apply(&mut song).unwrap();
    let laid = lay(&song, take, &onto("Kit")).unwrap();
    assert!(!laid.made);
    assert_eq!(laid.passes.len() as u32, 16 / bars);
    let mut found = Strokes::new();
    let mut early = 0;
    for (round, pass) in laid.passes.iter().enumerate() {
        let top = i64::from(bars) * 3840 * round as i64;
        for note in pass.notes() {
            let played = note.played;
            early += usize::from(played.start < Tick::ZERO);
            let stroke =
                (played.start.0 + top, played.key.get(), played.velocity.get(), played.length.0);
            *found.entry(stroke).or_default() += 1;
        }
    }
    assert_eq!(found.values().sum::<usize>(), 410);
    assert_eq!(found, strokes_of(take));
    early
}

#[test]
fn all_notes_of_the_drummer_are_kept_and_early_ones_belong_to_the_next_round() {
    let take = drummer();
    // The counts are computed from the file by the rule of the nearest sixteenth, a tie later.
    let sixteenths = Feel::off(true).on(NoteValue::SIXTEENTH);
    let single = Feel { rolls: false, ..sixteenths };
    assert_eq!(early_notes(&take, 4, sixteenths), 8);
    assert_eq!(early_notes(&take, 8, sixteenths), 3);
    assert_eq!(early_notes(&take, 4, Feel::off(true)), 8);
    assert_eq!(early_notes(&take, 2, single), 22);
    assert_eq!(early_notes(&take, 1, single), 42);
}
