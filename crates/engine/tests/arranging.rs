//! Operations on sections: what they leave sounds as they promise, and undo restores the song.

#[path = "../../song/tests/common/mod.rs"]
mod common;

use chaconne_engine::{Message, Route, View, Walk, Wire, fit_tempo, form_in_time, perform};
use chaconne_song::{
    ArrangeError, Commit, Control, Edit, Feel, Human, Letter, Part, Song, Speed, change_speed,
    double, join_sections, lift_bars, split_section, text,
};
use chaconne_time::{Metre, MetreMap, NoteValue, Span, Tempo, TempoMap, Tick};
use common::{Chooser, steady_tape, tape};
use proptest::prelude::*;
use std::collections::BTreeMap;
use std::sync::Arc;

/// A note-on or note-off: its tick, whether it is on, its port, channel and key, and how hard.
type Key = (Tick, bool, usize, u8, u8, u8);

/// A port with the first bytes of a message, which name the controller; a tick; and the value.
type Move = (Knob, Tick, Vec<u8>);
type Knob = (usize, Vec<u8>);
type Line = Vec<(Tick, Vec<u8>)>;

/// The keys that go down and up along a route over a span.
fn keys(song: &Song, route: &Route, span: Span) -> Vec<Key> {
    let performance = perform(song, route, span, View::Corrected);
    let key = |event: &chaconne_engine::Event| match event.wire {
        Wire::Message(Message::NoteOn { channel, key, velocity }) => {
            let port = usize::from(event.port.0);
            Some((event.at, true, port, channel.number(), key.get(), velocity.get()))
        }
        Wire::Message(Message::NoteOff { channel, key, .. }) => {
            Some((event.at, false, usize::from(event.port.0), channel.number(), key.get(), 0))
        }
        _ => None,
    };
    let mut keys: Vec<Key> = performance.events.iter().filter_map(key).collect();
    keys.sort_unstable();
    keys
}

fn form_keys(song: &Song) -> Vec<Key> {
    let route = Route::form(song).unwrap();
    keys(song, &route, route.span())
}

/// The values of controllers that have a rest, over the form: tick by tick, the last of each tick, without
/// those that change nothing.
fn moves(song: &Song) -> Vec<Move> {
    let route = Route::form(song).unwrap();
    let performance = perform(song, &route, route.span(), View::Corrected);
    let mut lines: BTreeMap<Knob, Line> = BTreeMap::new();
    for event in performance.events.iter().filter(|event| event.at < route.span().to) {
        let Wire::Message(message) = &event.wire else { continue };
        let bytes = message.bytes().to_vec();
        // The others are set up where their track plays first.
        let has_rest = match bytes[0] >> 4 {
            0xB => matches!(bytes[1], 1 | 11 | 64..=67),
            kind => matches!(kind, 0xD | 0xE),
        };
        if !has_rest {
            continue;
        }
        let named = if bytes[0] >> 4 == 0xB { 2 } else { 1 };
        let line = lines.entry((event.port.0.into(), bytes[..named].to_vec())).or_default();
        if line.last().is_some_and(|(at, _)| *at == event.at) {
            line.pop();
        }
        line.push((event.at, bytes[named..].to_vec()));
        // What is at rest before it first moves may be sent or not.
        let rest = match bytes[0] >> 4 {
            0xE => vec![0, 64],
            0xB if bytes[1] == 11 => vec![127],
            _ => vec![0],
        };
        let before = line.len().checked_sub(2).map_or(&rest, |index| &line[index].1);
        if line.last().is_some_and(|(_, value)| value == before) {
            line.pop();
        }
    }
    let flat =
        |(of, line): (Knob, Line)| line.into_iter().map(move |(at, value)| (of.clone(), at, value));
    lines.into_iter().flat_map(flat).collect()
}

/// A feel whose grid is the same on every beat: a pass of some beats restarts its grid with each cycle, a
/// longer one with each bar. Grooves and human variation follow the pass and its notes.
fn feel(chooser: &mut Chooser) -> Feel {
    let grids = [None, Some(NoteValue::SIXTEENTH), Some("1/8".parse().unwrap())];
    let (grid, groove, human) = (chooser.pick(&grids), None, Human::NONE);
    Feel { grid, rolls: false, groove, human, ..chooser.feel() }
}

/// A song whose sections have one metre throughout, so that grids are the same on either side of a bar, and
/// no covers, since a note that rings into other bars is not silenced by theirs.
fn song(tape: Vec<u64>) -> Song {
    let mut chooser = Chooser::new(tape);
    let mut song = chooser.song();
    let metre = MetreMap::new(2 + chooser.within(0, 6) as u32, Metre::common()).unwrap();
    for track in &mut song.tracks {
        let track = Arc::make_mut(track);
        (track.mute, track.feel) = (false, feel(&mut chooser));
    }
    let tracks: Vec<_> = song.tracks.iter().map(|track| track.id).collect();
    song.passes.clear();
    for section in &mut song.sections {
        let section = Arc::make_mut(section);
        (section.metre, section.transpose, section.key) = (metre.clone(), Default::default(), None);
        section.tempo = chooser.tempi(&metre);
        section.chords.clear();
        section.layers.clear();
        for &track in &tracks {
            let mut pass = chooser.pass(&section.metre, track);
            if chooser.once_in(2) {
                let bars = chooser.pick(&[1, 2, metre.bars(), metre.bars(), 2 * metre.bars()]);
                let old = pass;
                pass = chooser.pass(&MetreMap::new(bars, Metre::common()).unwrap(), track);
                pass.id = old.id;
            }
            pass.feel = chooser.maybe(feel);
            pass.covers.clear();
            let has_rest = |lane: &chaconne_song::Lane| {
                chaconne_song::at_rest(lane.control).is_some()
                    && !matches!(lane.control, Control::KeyPressure(_))
                    && lane.span.from >= Tick::ZERO
                    && lane.span.to <= pass.length
            };
            let lanes: Vec<_> =
                pass.lanes().iter().filter(|lane| has_rest(lane)).cloned().collect();
            pass.notes_mut().lanes = lanes;
            let mut layer = chaconne_song::Layer::of(pass.id);
            layer.mute = chooser.once_in(8);
            section.layers.push(layer);
            song.passes.insert(pass.id, Arc::new(pass));
        }
    }
    song
}

/// Applies an operation, and checks that the song can be written and read and that undo restores it.
fn after(song: &Song, done: &Result<Commit, ArrangeError>) -> Option<Song> {
    let commit = done.as_ref().ok()?.clone();
    let mut changed = song.clone();
    let undo = commit.apply(&mut changed).unwrap();
    assert_eq!(text::read(&text::write(&changed)).unwrap(), changed);
    let mut undone = changed.clone();
    Edit::apply_all(undo, &mut undone).unwrap();
    assert_eq!(&undone, song);
    Some(changed)
}

/// What the sections other than these play, once through.
fn others(song: &Song, but: &[Letter]) -> Vec<(Letter, Vec<Key>)> {
    let letters = song.sections.iter().map(|section| section.letter);
    let letters = letters.filter(|letter| !but.contains(letter));
    letters.map(|letter| (letter, once(song, letter))).collect()
}

fn once(song: &Song, letter: Letter) -> Vec<Key> {
    let route = Route::rounds(song, letter, 1).unwrap();
    keys(song, &route, route.span())
}

/// Compares two lists, and shows only what is in one of them.
fn same<T: PartialEq + std::fmt::Debug>(one: &[T], other: &[T], what: &str) {
    let only = |of: &[T], not: &[T]| -> Vec<String> {
        let missing = of.iter().filter(|item| !not.contains(item));
        missing.take(6).map(|item| format!("{item:?}")).collect()
    };
    assert!(one == other, "{what}: {:?} instead of {:?}", only(one, other), only(other, one));
}

/// Splits the first section and joins it again; says whether it could be split.
fn splits(song: &Song, bar: u32) -> bool {
    let letter = song.sections[0].letter;
    let Some(split) = after(song, &split_section(song, letter, bar)) else { return false };
    same(&form_keys(&split), &form_keys(song), "the notes after a split");
    same(&moves(&split), &moves(song), "the controllers after a split");
    let new = split.sections[1].letter;
    assert_eq!(others(&split, &[letter, new]), others(song, &[letter]));
    if split.form.contains(letter) {
        let done = join_sections(&split, letter, new);
        let Some(joined) = after(&split, &done) else {
            // The second bars keep what a long layer has behind them.
            assert!(done.unwrap_err().to_string().contains("goes on after the last bar"));
            return true;
        };
        same(&form_keys(&joined), &form_keys(song), "the notes after a join");
        same(&moves(&joined), &moves(song), "the controllers after a join");
        assert_eq!(joined.form.unrolled(), Route::letters(song));
        assert_eq!(joined.sections[0].metre, song.sections[0].metre);
        assert_eq!(others(&joined, &[letter]), others(song, &[letter]));
    }
    true
}

/// Lifts the bars before and after a bar, which then sound like the section when they follow each other.
fn lifts(song: &Song, bar: u32) -> bool {
    let letter = song.sections[0].letter;
    let bars = song.sections[0].metre.bars();
    if bar > bars {
        return false;
    }
    let one = after(song, &lift_bars(song, letter, 1, bar - 1)).unwrap();
    let first = one.sections[1].letter;
    let both = after(&one, &lift_bars(&one, letter, bar, bars + 1 - bar)).unwrap();
    let second = both.sections[1].letter;
    let route = Route::of(&both, &[first, second]).unwrap();
    same(&keys(&both, &route, route.span()), &once(song, letter), "lifted");
    assert_eq!(others(&both, &[first, second]), others(song, &[]));
    true
}

fn doubles(song: &Song) {
    let letter = song.sections[0].letter;
    let twice = Route::rounds(song, letter, 2).unwrap();
    let done = double(song, letter, Part::Section);
    let doubled = after(song, &done).unwrap_or_else(|| panic!("{done:?}"));
    same(&once(&doubled, letter), &keys(song, &twice, twice.span()), "doubled");
    assert_eq!(others(&doubled, &[letter]), others(song, &[letter]));
}

/// Half time puts every note at twice its tick, and double time undoes that.
fn slows(song: &Song) -> bool {
    let letter = song.sections[0].letter;
    let slow = after(song, &change_speed(song, letter, Part::Section, Speed::Half));
    let Some(slow) = slow else { return false };
    let back = after(&slow, &change_speed(&slow, letter, Part::Section, Speed::Double)).unwrap();
    assert_eq!(&back, song);
    let ons = |song: &Song, times: i64| -> Vec<(Tick, u8)> {
        let route = Route::rounds(song, letter, 1).unwrap();
        let performance = perform(song, &route, route.span(), View::Played);
        let on = performance.events.iter().filter_map(|event| match event.wire {
            Wire::Message(Message::NoteOn { key, .. }) => Some((event.at * times, key.get())),
            _ => None,
        });
        let mut ons: Vec<_> = on.collect();
        ons.sort_unstable();
        ons
    };
    assert_eq!(ons(&slow, 1), ons(song, 2));
    true
}

/// Makes the form last another time. Each tempo is rounded to a microsecond per quarter note, so every
/// quarter note of the form may be wrong by half of one, and each measured time by a nanosecond.
fn fits(song: &Song, percent: i64) -> bool {
    let route = Route::form(song).unwrap();
    let letters: Vec<Letter> = song.sections.iter().map(|section| section.letter).collect();
    let wanted = route.duration(song) / 100 * percent;
    let done = fit_tempo(song, &route, &letters, wanted);
    let Some(fitted) = after(song, &done) else { return false };
    let quarters = route.span().length().0 / 960 + 1;
    let off = (route.duration(&fitted) - wanted).abs();
    assert!(off <= quarters * 500 + 4, "{off} ns over {quarters} quarters");
    true
}

/// Each section of the form begins where the one before it ends, at the bar and the time of its place in the
/// route.
fn is_in_time(song: &Song) {
    let (route, letters) = (Route::form(song).unwrap(), Route::letters(song));
    let walk = Walk::along(song, &route);
    let (counts, mut at, mut from) = (walk.counts(), Tick::ZERO, 0);
    let stretches = form_in_time(song).unwrap();
    assert_eq!(stretches.iter().map(|one| one.section).collect::<Vec<_>>(), letters);
    for stretch in stretches {
        assert_eq!((stretch.from, walk.ns_at(at)), (from, from));
        assert_eq!(counts.bar_start(stretch.bar as i64), Some(at));
        at += song.section(stretch.section).unwrap().length();
        from = stretch.to;
    }
    assert_eq!(from, route.duration(song));
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 64,
        failure_persistence: None,
        max_shrink_iters: 600,
        ..ProptestConfig::default()
    })]

    #[test]
    fn a_split_song_plays_what_it_played_and_so_it_does_when_joined(
        tape in tape(600),
        bar in 2..6u32,
    ) {
        splits(&song(tape), bar);
    }

    #[test]
    fn bars_that_are_lifted_play_what_they_play_in_their_section(tape in tape(600), bar in 2..6u32) {
        lifts(&song(tape), bar);
    }

    #[test]
    fn a_doubled_section_plays_two_rounds_in_one(tape in tape(600)) {
        doubles(&song(tape));
    }

    #[test]
    fn a_form_lasts_as_long_as_its_tempi_can_be_written(tape in tape(600), percent in 50..200i64) {
        fits(&song(tape), percent);
    }

    #[test]
    fn each_section_of_a_form_begins_where_it_does_on_its_route(tape in tape(600)) {
        is_in_time(&song(tape));
    }

    #[test]
    fn half_time_then_double_time_is_as_before(tape in tape(600)) {
        slows(&song(tape));
    }
}

/// By hand: eight bars of 4/4 at 120 last 16 s; for 20 s the tempo is 96. Both are whole microseconds.
#[test]
fn a_duration_gives_the_tempo() {
    let bpm = |bpm: u32| Tempo::from_milli_bpm(bpm * 1000).unwrap();
    let mut song = song(Vec::new());
    let section = Arc::make_mut(&mut song.sections[0]);
    section.metre = MetreMap::new(8, Metre::common()).unwrap();
    section.tempo = TempoMap::new(bpm(120));
    let (route, letter) = (Route::form(&song).unwrap(), song.sections[0].letter);
    assert_eq!(route.duration(&song), 16_000_000_000);
    let done = fit_tempo(&song, &route, &[letter], 20_000_000_000);
    let fitted = after(&song, &done).unwrap();
    assert_eq!(fitted.sections[0].tempo.first(), bpm(96));
    assert_eq!(route.duration(&fitted), 20_000_000_000);
}

#[test]
fn there_are_songs_to_arrange() {
    let (mut split, mut lifted, mut slowed, mut fitted) = (0, 0, 0, 0);
    for seed in 0..400 {
        let song = song(steady_tape(seed, 3000));
        doubles(&song);
        split += usize::from(splits(&song, 2 + seed as u32 % 4));
        lifted += usize::from(lifts(&song, 2 + seed as u32 % 4));
        slowed += usize::from(slows(&song));
        fitted += usize::from(fits(&song, 90 + seed as i64 % 20));
    }
    let counts = [split, lifted, slowed, fitted];
    assert!(counts.iter().all(|&count| count > 40), "{counts:?}");
}
