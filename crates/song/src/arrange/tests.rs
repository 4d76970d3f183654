//! Operations by hand: what becomes of bars, tempi, chords, layers and the form.

mod whole;

use super::*;
use crate::{Chord, Note, NoteId, PassId, Placed, Song, Stroke, Track, TrackId, U7, text};
use chaconne_time::{Metre, MetreChange, MetreMap, Tempo, TempoMap, TempoPoint, Tick};

const BAR: i64 = 3840;

/// A note as start and length.
type Plain = (i64, i64);

fn letter(text: &str) -> Letter {
    text.parse().unwrap()
}

/// A song of sections with eight bars, and passes as section, track, length in bars and notes.
fn song(sections: &str, form: &str, passes: &[(&str, u32, i64, &[Plain])]) -> Song {
    let metre = MetreMap::new(8, Metre::common()).unwrap();
    let section = |of: &str| Section::new(letter(of), metre.clone(), Tempo::DEFAULT);
    let mut all = sections.split(' ').map(section);
    let mut song = Song::new("Pier", all.next().unwrap());
    song.sections.extend(all.map(Arc::new));
    song.form = form.parse().unwrap();
    song.tracks.push(Arc::new(Track::pitched(TrackId(1), "Bass")));
    song.tracks.push(Arc::new(Track::pitched(TrackId(2), "Keys")));
    for (index, (section, track, bars, notes)) in passes.iter().enumerate() {
        let id = PassId(10 + index as u32);
        let mut pass = Pass::empty(id, TrackId(*track), Tick(bars * BAR));
        for (number, &(start, length)) in notes.iter().enumerate() {
            let (start, length) = (Tick(start), Tick(length));
            let (key, velocity, release) = (U7::CENTRE, U7::CENTRE, U7::CENTRE);
            let played = Stroke { start, length, key, velocity, release };
            let (id, channel) = (NoteId(number as u32 + 1), Default::default());
            pass.notes_mut().notes.push(Note { id, channel, played, placed: Placed::UNCHANGED });
        }
        song.lay(letter(section), pass);
    }
    song
}

/// Applies what was asked for; undo must restore the song, and its text must hold it.
fn done(song: &Song, commit: Result<Commit, ArrangeError>) -> Song {
    let mut changed = song.clone();
    let undo = commit.unwrap().apply(&mut changed).unwrap();
    assert_eq!(text::read(&text::write(&changed)).unwrap(), changed);
    let mut undone = changed.clone();
    Edit::apply_all(undo, &mut undone).unwrap();
    assert_eq!(&undone, song);
    changed
}

fn refusal(commit: Result<Commit, ArrangeError>) -> String {
    commit.unwrap_err().to_string()
}

/// The layers of a section: id, bars, and the starts of the notes.
fn layers(song: &Song, of: &str) -> Vec<(u32, i64, Vec<i64>)> {
    let section = song.section(letter(of)).unwrap();
    let layer = |pass: &&SharedPass| {
        let starts = pass.notes().iter().map(|note| note.stroke().start.0).collect();
        (pass.id.0, pass.length.0 / BAR, starts)
    };
    song.passes_in(section).iter().map(layer).collect()
}

fn bars_of(song: &Song, of: &str) -> u32 {
    song.section(letter(of)).unwrap().metre.bars()
}

#[test]
fn a_split_puts_each_note_where_it_begins_and_the_form_plays_both_halves() {
    let long: &[Plain] = &[(0, 960), (4 * BAR - 20, 240), (4 * BAR, 960), (7 * BAR, 960)];
    let line: &[Plain] = &[(5 * BAR, 480)];
    let passes = [("A", 1, 8, long), ("A", 2, 2, &[(0, 480)][..]), ("A", 2, 8, line)];
    let mut before = song("A B", "A A B (A B [1 A]) x2", &passes);
    Arc::make_mut(&mut before.sections[0]).name = "Verse".into();
    let split = done(&before, split_section(&before, Letter::A, 5));
    assert_eq!(split.form.to_string(), "A C A C B (A C B [1 A C]) x2");
    assert_eq!((bars_of(&split, "A"), bars_of(&split, "C"), bars_of(&split, "B")), (4, 4, 8));
    // The early note goes with the bar that it is meant for; the loop is shared; the line moves whole.
    assert_eq!(layers(&split, "A"), [(10, 4, vec![0]), (11, 2, vec![0])]);
    let second = [(13, 4, vec![-20, 0, 3 * BAR]), (11, 2, vec![0]), (12, 4, vec![BAR])];
    assert_eq!(layers(&split, "C"), second);
    let names: Vec<&str> = split.sections.iter().map(|section| &*section.name).collect();
    assert_eq!(names, ["Verse", "Verse", ""]);
    let joined = done(&split, join_sections(&split, Letter::A, letter("C")));
    assert_eq!((joined.form.clone(), bars_of(&joined, "A")), (before.form.clone(), 8));
    let together = vec![0, 4 * BAR - 20, 4 * BAR, 7 * BAR];
    assert_eq!(layers(&joined, "A"), [(10, 8, together), (11, 2, vec![0]), (12, 8, vec![5 * BAR])]);
}

#[test]
fn a_note_longer_than_its_half_keeps_its_length_in_a_layer_of_its_own() {
    let notes: &[Plain] = &[(0, 8 * BAR), (0, 480), (5 * BAR, 480)];
    let before = song("A", "", &[("A", 1, 8, notes)]);
    let split = done(&before, split_section(&before, Letter::A, 5));
    assert_eq!(layers(&split, "A"), [(10, 4, vec![0]), (11, 8, vec![0])]);
    assert_eq!(split.pass(PassId(11)).unwrap().notes()[0].played.length, Tick(8 * BAR));
    // The song had no form and played this section, so now it plays both.
    assert_eq!(split.form.to_string(), "A B");
}

#[test]
fn tempi_metres_and_chords_go_with_their_bars() {
    let mut before = song("A", "A", &[]);
    let section = Arc::make_mut(&mut before.sections[0]);
    let metre = |text: &str| text.parse::<Metre>().unwrap();
    let change = |bar, text| MetreChange { bar, metre: metre(text) };
    let changes = vec![change(1, "4/4"), change(5, "3/4"), change(7, "4/4")];
    section.metre = MetreMap::with_changes(8, changes).unwrap();
    let tempo = |micros| Tempo::from_micros(micros).unwrap();
    let cut = section.metre.bar_start(6);
    // A ramp of six pulses over the cut, which lies between two of them.
    let ramp =
        TempoPoint { at: cut - Tick(100), tempi: (0..6).map(|k| tempo(500_000 + k)).collect() };
    let first = TempoPoint { at: Tick(0), tempi: vec![tempo(500_000)] };
    section.tempo = TempoMap::with_points(vec![first, ramp]).unwrap();
    let chord = |at, text: &str| Chord { at: Tick(at), symbol: text.parse().unwrap() };
    section.chords = vec![chord(0, "C"), chord(4 * BAR, "Am7"), chord(cut.0 + 960, "G7")];
    let split = done(&before, split_section(&before, Letter::A, 6));
    let second = split.section(letter("B")).unwrap();
    assert_eq!(second.metre.changes(), [change(1, "3/4"), change(2, "4/4")]);
    assert_eq!(second.chords, [chord(0, "Am7"), chord(960, "G7")]);
    let steps = |section: &Section| -> Vec<(i64, u32)> {
        section.tempo.steps().map(|(at, tempo)| (at.0, tempo.micros())).collect()
    };
    assert_eq!(steps(second), [(0, 500_002), (20, 500_003), (60, 500_004), (100, 500_005)]);
    let joined = done(&split, join_sections(&split, Letter::A, letter("B")));
    let whole = joined.section(Letter::A).unwrap();
    assert_eq!(
        (&whole.metre, &whole.chords),
        (&before.sections[0].metre, &before.sections[0].chords)
    );
    let heard = |section: &Section| -> Vec<u32> {
        (0..section.length().0).step_by(10).map(|at| section.tempo.at(Tick(at)).micros()).collect()
    };
    assert_eq!(heard(whole), heard(&before.sections[0]));
}

#[test]
fn what_cannot_be_done_is_refused_with_what_would_help() {
    let five: &[Plain] = &[(0, 480), (9 * BAR, 480)];
    let before = song("A B C", "A A B C B", &[("A", 1, 3, &[]), ("C", 2, 10, five)]);
    let split = |of, bar| refusal(split_section(&before, letter(of), bar));
    assert_eq!(split("A", 9), "section A has 8 bars: split it at a bar from 2 to 8");
    assert_eq!(split("Q", 2), "there is no section Q; sections: A, B, C");
    assert!(split("A", 5).starts_with("a layer of Bass does not go into the 8 bars of section A"));
    let join = |one, two| refusal(join_sections(&before, letter(one), letter(two)));
    assert!(join("B", "C").contains("does not always play C right after B"));
    assert!(join("B", "B").contains("cannot be joined with itself"));
    let mut free = before.clone();
    free.form = "A A".parse().unwrap();
    let why = refusal(join_sections(&free, letter("B"), letter("C")));
    assert_eq!(
        why,
        "a layer of Keys goes on after the last bar of section C: cut it to 8 bars first"
    );
    Arc::make_mut(&mut free.sections[1]).transpose = crate::Transpose::new(2).unwrap();
    let why = refusal(join_sections(&free, Letter::A, letter("B")));
    assert!(why.contains("different transpositions"), "{why}");
    assert!(refusal(lift_bars(&before, Letter::A, 6, 4)).starts_with("section A has 8 bars"));
    assert!(refusal(set_bars(&before, Letter::A, Part::Section, 8)).contains("8 bars already"));
}

#[test]
fn bars_are_cut_or_added_and_shared_layers_are_left_to_the_others() {
    let notes: &[Plain] = &[(0, 480), (6 * BAR, 480)];
    let mut before = song("A B", "A B", &[("A", 1, 8, notes), ("A", 2, 4, &[(0, 480)])]);
    Arc::make_mut(&mut before.sections[1]).layers.push(Layer::of(PassId(10)));
    let shorter = done(&before, set_bars(&before, Letter::A, Part::Section, 6));
    assert_eq!(layers(&shorter, "A"), [(12, 6, vec![0]), (11, 6, vec![0, 4 * BAR])]);
    assert_eq!(layers(&shorter, "B"), [(10, 8, vec![0, 6 * BAR])]);
    let longer = done(&before, set_bars(&before, Letter::A, Part::Section, 12));
    assert_eq!(layers(&longer, "A"), [(12, 12, vec![0, 6 * BAR]), (11, 4, vec![0])]);
    let doubled = done(&before, double(&before, Letter::A, Part::Section));
    assert_eq!(layers(&doubled, "A"), [(10, 8, vec![0, 6 * BAR]), (11, 4, vec![0])]);
    let line = done(&before, double(&before, Letter::A, Part::Layer(PassId(11))));
    assert_eq!(layers(&line, "A")[1], (11, 8, vec![0, 4 * BAR]));
    assert_eq!(bars_of(&line, "A"), 8);
    let halved = done(&line, halve(&line, Letter::A, Part::Track(TrackId(2))));
    assert_eq!(halved, before);
    let half = done(&before, halve(&before, Letter::A, Part::Section));
    assert_eq!((bars_of(&half, "A"), layers(&half, "A")[0].clone()), (4, (12, 4, vec![0])));
}

#[test]
fn a_tempo_is_set_for_a_section_or_from_a_bar_and_stretched_by_a_proportion() {
    let before = song("A B", "A B", &[]);
    let all = [Letter::A, letter("B")];
    let set = done(&before, set_tempo(&before, &all, 96_000));
    let first = |song: &Song, of: &str| song.section(letter(of)).unwrap().tempo.first().micros();
    assert_eq!((first(&set, "A"), first(&set, "B")), (625_000, 625_000));
    let from = done(&set, set_tempo_at(&set, letter("B"), 5, 60_000));
    let b = &from.section(letter("B")).unwrap().tempo;
    assert_eq!(
        (b.at(Tick(4 * BAR - 1)).micros(), b.at(Tick(4 * BAR)).micros()),
        (625_000, 1_000_000)
    );
    // The other tempi of a section keep their proportion: 96 to 60 is 48 to 30.
    let slower = done(&from, set_tempo(&from, &[letter("B")], 48_000));
    let b = &slower.section(letter("B")).unwrap().tempo;
    assert_eq!((b.first().micros(), b.at(Tick(4 * BAR)).micros()), (1_250_000, 2_000_000));
    let stretched = done(&before, stretch_tempi(&before, &all, (100, 95)));
    assert_eq!(first(&stretched, "A"), 526_316);
    assert!(refusal(stretch_tempi(&before, &all, (100, 1))).contains("10 to 1000"));
    assert_eq!(refusal(stretch_tempi(&before, &all, (1, 1))), "it is like that already");
}

#[test]
fn a_ramp_goes_evenly_to_its_tempo_and_can_be_removed() {
    let before = song("A", "A", &[]);
    let ramp = done(&before, set_ramp(&before, Letter::A, (7, 8), 60_000));
    let tempo = &ramp.sections[0].tempo;
    let bpm = |at: i64| 60_000_000.0 / f64::from(tempo.at(Tick(at)).micros());
    // 192 pulses in two bars of 4/4: 24 to the quarter note (MIDI 1.0, "Timing Clock").
    assert_eq!((tempo.points()[1].at, tempo.points()[1].tempi.len()), (Tick(6 * BAR), 192));
    assert_eq!((bpm(6 * BAR - 1), bpm(6 * BAR), bpm(8 * BAR - 1)), (120.0, 120.0, 60.0));
    for pulse in 0..192 {
        let even = 120.0 - 60.0 * f64::from(pulse) / 191.0;
        assert!((bpm(6 * BAR + 40 * i64::from(pulse)) - even).abs() < 0.001, "{pulse}");
    }
    assert_eq!(done(&ramp, remove_ramp(&ramp, Letter::A, 8)), before);
    assert_eq!(refusal(remove_ramp(&ramp, Letter::A, 6)), "bar 6 of section A has no ramp");
    // At the start of the section as well, and over what was there.
    let first = done(&ramp, set_ramp(&ramp, Letter::A, (1, 8), 240_000));
    assert_eq!(first.sections[0].tempo.points().len(), 1);
    assert_eq!(done(&first, remove_ramp(&first, Letter::A, 3)), before);
    let cut = done(&ramp, set_tempo_at(&ramp, Letter::A, 8, 90_000));
    assert_eq!(cut.sections[0].tempo.points()[1].tempi.len(), 96);
    assert!(
        refusal(set_ramp(&before, Letter::A, (7, 9), 60_000)).contains("bars 1 to 8, not 7 to 9")
    );
    assert!(refusal(set_ramp(&before, Letter::A, (7, 8), 120_000)).contains("is that already"));
}

#[test]
fn shared_layers_are_made_the_section_s_own() {
    let mut song = song("A B", "A B", &[("A", 1, 8, &[(0, 480)]), ("A", 2, 8, &[(960, 480)])]);
    let shared = song.sections[0].layers.clone();
    Arc::make_mut(&mut song.sections[1]).layers = shared;
    let own = done(&song, own_layers(&song, letter("B"), Part::Track(TrackId(1))));
    let [bass, keys] = [10, 11].map(PassId);
    assert!(!own.is_shared(bass) && own.is_shared(keys));
    assert_eq!(own.section(letter("A")), song.section(letter("A")));
    let starts = |song: &Song| layers(song, "B").into_iter().map(|(_, bars, notes)| (bars, notes));
    assert!(starts(&own).eq(starts(&song)));
    let all = done(&song, own_layers(&song, letter("B"), Part::Section));
    assert!(!all.is_shared(bass) && !all.is_shared(keys));
    let again = own_layers(&all, letter("B"), Part::Section);
    assert_eq!(refusal(again), "no other section shares these layers");
    let again = own_layers(&own, letter("A"), Part::Layer(bass));
    assert_eq!(refusal(again), "no other section shares this layer");
    let none = own_layers(&own, letter("A"), Part::Layer(PassId(99)));
    assert_eq!(refusal(none), "there is no such layer in section A");
}
