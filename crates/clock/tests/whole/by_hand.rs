//! The time led by hand: a simulated conductor gives the beats, and the paper says what was heard.

use crate::expected::bytes;
use crate::songs::letter;
use crate::stand::{MS, SECOND, Stand};
use chaconne_engine::{ByHand, Command, HandStep, Route, View, Waits, perform};
use chaconne_song::{
    Commit, Edit, Feel, Note, NoteId, Pass, PassId, Placed, Section, SectionEdit, Song, Stroke,
    Track, TrackId, U7,
};
use chaconne_time::{Metre, MetreMap, Ns, Span, Tempo, Tick};
use std::sync::Arc;

/// A beat of 4/4.
const BEAT: Tick = Tick(960);

/// Eighths of a rising scale through one bar of 4/4 at 120, each a little shorter than an eighth.
fn song() -> Song {
    let metre = MetreMap::new(1, Metre::common()).unwrap();
    let mut song = Song::new("by hand", Section::new(letter(0), metre, Tempo::DEFAULT));
    let mut track = Track::pitched(TrackId(1), "Keys");
    track.feel = Feel::off(false);
    song.tracks = vec![Arc::new(track)];
    let mut pass = Pass::empty(PassId(1), TrackId(1), BEAT * 4);
    for eighth in 0u8..8 {
        let start = Tick(480) * i64::from(eighth);
        let (length, key) = (Tick(470), U7::low_bits(60 + eighth));
        let (velocity, release) = (U7::low_bits(64), U7::CENTRE);
        let played = Stroke { start, length, key, velocity, release };
        let id = NoteId(u32::from(eighth) + 1);
        pass.notes_mut().notes.push(Note {
            id,
            channel: Default::default(),
            played,
            placed: Placed::UNCHANGED,
        });
    }
    song.lay(letter(0), pass);
    song
}

/// A stand that plays the song, led by hand, and waits for the first beat.
fn stand(how: ByHand) -> Stand {
    let mut stand = Stand::new(song(), 10 * MS, 0);
    assert!(stand.command(Command::ByHand(Some(how))));
    assert!(stand.command(Command::Play));
    stand.run_to(stand.now + SECOND);
    stand
}

/// The presses on paper: when, which key, and how hard.
fn presses(stand: &Stand) -> Vec<(Ns, u8, u8)> {
    let on = |bytes: &[u8]| bytes[0] & 0xF0 == 0x90;
    let lines = stand.paper.lines.iter().filter(|line| on(&line.bytes));
    lines.map(|line| (line.ns, line.bytes[1], line.bytes[2])).collect()
}

/// Unevenness of a hand: sums of three even random numbers, of the standard deviation 1000.
struct Uneven(u64);

impl Uneven {
    fn next(&mut self) -> i64 {
        let mut even = || {
            self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            // From -1000 to 1000, with the variance of a third of a million.
            ((self.0 >> 33) % 2001) as i64 - 1000
        };
        even() + even() + even()
    }
}

/// Gives beats after these waits; returns when.
fn conduct(stand: &mut Stand, waits: &[Ns]) -> Vec<Ns> {
    let give = |stand: &mut Stand, wait: &Ns| {
        stand.run_to(stand.now + wait);
        assert!(stand.tap(None));
        stand.now
    };
    waits.iter().map(|wait| give(stand, wait)).collect()
}

/// A conductor whose beats are 500 ms apart, uneven by 2 % (one standard deviation), and who then slows down by 3 %
/// a beat. Beats are heard when they are given, at most 10 ms late and never early; the eighths between them lie
/// within 8 % of a beat of the middle.
#[test]
fn an_uneven_conductor_who_slows_down_is_followed_closely() {
    for seed in 1..20 {
        let mut stand = stand(ByHand::default());
        let mut uneven = Uneven(seed);
        let (mut beat, mut at, mut waits) = (500 * MS, 0, Vec::new());
        let mut last = 0;
        for count in 0..64 {
            if count > 40 {
                beat = beat * 103 / 100;
            }
            at += beat;
            let given = at + beat * 2 / 100 * uneven.next() / 1000;
            waits.push(given - last);
            last = given;
        }
        let given = conduct(&mut stand, &waits);
        stand.run_to(stand.now + SECOND);
        let heard = presses(&stand);
        type Presses = Vec<(Ns, u8, u8)>;
        let (on, off): (Presses, Presses) = heard.into_iter().partition(|(_, key, _)| key % 2 == 0);
        assert_eq!((on.len(), off.len()), (64, 64));
        for (count, (beat, given)) in std::iter::zip(&on, &given).enumerate() {
            let late = beat.0 - given;
            assert!((0..10 * MS).contains(&late), "seed {seed}: beat {count} is {late} ns late");
        }
        for (count, pair) in given.windows(2).enumerate().skip(4) {
            let (middle, length) = ((pair[0] + pair[1]) / 2, pair[1] - pair[0]);
            let away = (off[count].0 - middle).abs();
            assert!(
                away * 100 < length * 8,
                "seed {seed}: eighth {count} is {away} of {length} away"
            );
        }
        stand.end();
    }
}

#[test]
fn what_is_heard_is_what_the_song_has_whatever_the_hand_does() {
    let mut stand = stand(ByHand::default());
    let waits: Vec<Ns> =
        (0..32).map(|count| [500, 210, 900, 60, 1500, 350][count % 6] * MS).collect();
    conduct(&mut stand, &waits);
    stand.run_to(stand.now + 3 * SECOND);
    let song = song();
    let span = Span::new(Tick::ZERO, BEAT * 32);
    let said = perform(&song, &Route::open(letter(0)), span, View::Corrected);
    let said: Vec<Vec<u8>> =
        said.events.iter().map(bytes).filter(|bytes| bytes[0] & 0xE0 == 0x80).collect();
    let heard = stand.paper.lines.iter().map(|line| line.bytes.clone());
    let heard: Vec<Vec<u8>> = heard.filter(|bytes| bytes[0] & 0xE0 == 0x80).collect();
    assert_eq!(heard[..], said[..heard.len()]);
    assert_eq!(heard.len(), 2 * 2 * 32);
    stand.end();
}

#[test]
fn without_a_beat_the_music_waits_and_a_long_note_sounds_on() {
    let mut song = song();
    let pass = Arc::make_mut(song.passes.get_mut(&PassId(1)).unwrap());
    // The first note is as long as a beat; its release is due at beat two.
    pass.notes_mut().notes.truncate(3);
    pass.notes_mut().notes[0].played.length = BEAT;
    let mut stand = Stand::new(song, 10 * MS, 0);
    stand.command(Command::ByHand(Some(ByHand::default())));
    stand.command(Command::Play);
    stand.run_to(stand.now + SECOND);
    assert_eq!(stand.engine.status(stand.now).waits, Some(Waits::Beat));
    assert!(presses(&stand).is_empty());
    conduct(&mut stand, &[100 * MS]);
    stand.run_to(stand.now + 10 * SECOND);
    let keys: Vec<u8> = presses(&stand).iter().map(|press| press.1).collect();
    assert_eq!(keys, [60, 61]);
    let lifted = |stand: &Stand| {
        stand.paper.lines.iter().filter(|line| line.bytes.starts_with(&[0x80, 60])).count()
    };
    assert_eq!(lifted(&stand), 0);
    let given = conduct(&mut stand, &[0])[0];
    stand.run_to(stand.now + 10 * MS);
    assert_eq!(lifted(&stand), 1);
    let last = *presses(&stand).last().unwrap();
    assert_eq!((last.1, last.0 - given), (62, 0));
    stand.end();
}

#[test]
fn a_beat_can_stand_for_a_bar_or_a_quarter_of_one() {
    for (step, beats) in [(HandStep::QuarterBar, 1), (HandStep::Beat, 1), (HandStep::Bar, 4)] {
        let mut stand = stand(ByHand { step, loudness: false });
        conduct(&mut stand, &[0, 500 * MS * beats, 500 * MS * beats]);
        stand.run_to(stand.now + 20 * SECOND);
        assert_eq!(presses(&stand).len(), 3 * 2 * beats as usize, "{step:?}");
        stand.end();
    }
}

#[test]
fn the_music_is_as_loud_as_the_beats_where_that_is_asked_for() {
    for (loudness, expected) in [(true, [64, 64, 32, 32, 102, 102]), (false, [64; 6])] {
        let mut stand = stand(ByHand { loudness, ..ByHand::default() });
        for struck in [80, 40, 127] {
            stand.tap(U7::new(struck));
            stand.run_to(stand.now + SECOND);
        }
        let loud: Vec<u8> = presses(&stand).iter().map(|press| press.2).collect();
        assert_eq!(loud, expected);
        stand.end();
    }
}

#[test]
fn without_the_hand_the_song_goes_on_at_its_own_tempo() {
    let mut stand = stand(ByHand::default());
    conduct(&mut stand, &[0, 800 * MS, 800 * MS]);
    stand.run_to(stand.now + 5 * SECOND);
    let heard = presses(&stand).len();
    assert!(stand.command(Command::ByHand(None)));
    let from = stand.now;
    stand.run_to(from + 2 * SECOND);
    let since: Vec<Ns> = presses(&stand)[heard..].iter().map(|press| press.0 - from).collect();
    let eighths: Vec<Ns> = (0..8).map(|eighth| eighth * 250 * MS).collect();
    assert!(
        std::iter::zip(&since, &eighths).all(|(one, two)| (one - two).abs() < 2 * MS),
        "{since:?}"
    );
    stand.end();
}

#[test]
fn the_last_step_of_a_form_is_held_until_its_end_is_given() {
    let mut stand = Stand::new(song(), 10 * MS, 0);
    stand.command(Command::ByHand(Some(ByHand { step: HandStep::Bar, loudness: false })));
    stand.command(Command::PlayRoute(Route::of(&song(), &[letter(0), letter(0)]).unwrap()));
    conduct(&mut stand, &[SECOND, 2 * SECOND]);
    stand.run_to(stand.now + 10 * SECOND);
    assert_eq!(stand.engine.status(stand.now).waits, Some(Waits::Beat));
    conduct(&mut stand, &[0]);
    stand.run_to(stand.now + 100 * MS);
    assert!(stand.engine.tick_at(stand.now).is_none());
    assert_eq!(presses(&stand).len(), 16);
    stand.end();
}

/// The song with a fermata on beat four.
fn with_fermata() -> Stand {
    let mut song = song();
    Arc::make_mut(&mut song.sections[0]).fermatas = vec![BEAT * 3];
    let mut stand = Stand::new(song, 10 * MS, 0);
    stand.command(Command::Play);
    stand
}

#[test]
fn at_the_end_of_a_fermatas_beat_the_time_waits_for_a_tap_each_round() {
    let mut stand = with_fermata();
    for round in 1..4 {
        stand.run_to(stand.now + 7 * SECOND);
        assert_eq!(stand.engine.status(stand.now).waits, Some(Waits::Fermata));
        assert_eq!(presses(&stand).len(), 8 * round);
        assert!(stand.tap(None));
        assert_eq!(presses(&stand).last().unwrap().0, stand.now);
        assert_eq!(stand.engine.status(stand.now).waits, None);
    }
    let heard = presses(&stand);
    let spaces: Vec<Ns> = heard[16..24].windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    assert!(spaces.iter().all(|space| (space - 250 * MS).abs() < 2), "{spaces:?}");
    stand.end();
}

#[test]
fn a_fermata_that_is_removed_or_left_by_a_jump_lets_the_time_go_on_from_there() {
    let edit = |on| Edit::Section(letter(0), SectionEdit::Fermata(BEAT * 3, on));
    let remove = || Command::Edit(Commit::of(edit(false)));
    let undo = || Command::Undo;
    for (how, command) in [remove(), undo()].into_iter().enumerate() {
        let mut stand = Stand::new(song(), 10 * MS, 0);
        stand.command(Command::Edit(Commit::of(edit(true))));
        stand.command(Command::Play);
        stand.run_to(stand.now + 9 * SECOND);
        assert_eq!(presses(&stand).len(), 8, "{how}");
        let from = stand.now;
        stand.command(command);
        stand.run_to(from + SECOND - MS);
        let since: Vec<Ns> = presses(&stand)[8..].iter().map(|press| press.0 - from).collect();
        let eighths = [0, 250, 500, 750].map(|ms| ms * MS);
        assert!(
            since.len() == 4
                && std::iter::zip(&since, &eighths).all(|(one, two)| (one - two).abs() < 2 * MS),
            "{how}: {since:?}"
        );
        stand.end();
    }
}

/// An export has nobody who could tap.
#[test]
fn a_fermata_changes_nothing_that_perform_gives() {
    let (plain, mut held) = (song(), song());
    Arc::make_mut(&mut held.sections[0]).fermatas = vec![BEAT * 3];
    let span = Span::new(Tick::ZERO, BEAT * 32);
    let said = |song: &Song| perform(song, &Route::open(letter(0)), span, View::Corrected).events;
    assert_eq!(said(&plain), said(&held));
}
