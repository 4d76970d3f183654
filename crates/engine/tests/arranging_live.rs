//! Sections and tempi changed while the song rolls: what is being recorded is kept and takes part.

mod bench;

use bench::{Bench, MS, song};
use chaconne_engine::{Arrange, Command, Reshape};
use chaconne_song::{Letter, Part, Speed};

const BAR: i64 = 3840;

fn b() -> Letter {
    "B".parse().unwrap()
}

fn said(bench: &Bench) -> String {
    bench.engine.status(bench.now).said.1
}

/// A bench that records bars 1 to 4, with a note in bar 1 and one in bar 3.
fn recording() -> Bench {
    let mut bench = Bench::new(song(4, 1));
    bench.command(Command::Record(true));
    for (bar, key) in [(0, 60), (2, 67)] {
        bench.press(bar * BAR + 960, key);
        bench.lift(bar * BAR + 1440, key);
    }
    bench.to(3 * BAR);
    bench
}

/// The start and the key of each note, section by section.
fn notes(bench: &Bench) -> Vec<Vec<(i64, u8)>> {
    let song = bench.engine.song();
    let of = |section: &std::sync::Arc<chaconne_song::Section>| {
        let passes = song.layers(section).flat_map(|(_, pass)| pass.notes());
        passes.map(|note| (note.stroke().start.0, note.stroke().key.get())).collect()
    };
    song.sections.iter().map(of).collect()
}

#[test]
fn a_split_ends_the_take_and_each_half_has_what_was_played_in_it() {
    let mut bench = recording();
    let before = std::sync::Arc::clone(bench.engine.song());
    assert!(bench.command(Command::Arrange(Arrange::Split(Letter::A, 3))));
    assert!(!bench.engine.status(bench.now).recording);
    assert_eq!(notes(&bench), [vec![(960, 60)], vec![(960, 67)]]);
    assert_eq!(
        said(&bench),
        "A has 2 bars, the new section B has 2 bars; form: A B; undo joins them again"
    );
    bench.command(Command::Undo);
    assert_eq!(notes(&bench), [vec![(960, 60), (2 * BAR + 960, 67)]]);
    assert_eq!(said(&bench), "undone: split section");
    bench.command(Command::Undo);
    assert_eq!(*bench.engine.song(), before);
    bench.command(Command::Stop);
    bench.run_to(bench.now + 100 * MS);
    bench.check_wire();
}

#[test]
fn a_note_that_is_held_over_a_split_gets_its_release() {
    let mut bench = recording();
    bench.press(3 * BAR + 960, 72);
    bench.to(3 * BAR + 1920);
    assert!(bench.command(Command::Arrange(Arrange::Split(Letter::A, 3))));
    bench.run_to(bench.now + 500 * MS);
    bench.lift(0, 72);
    bench.run_to(bench.now + 500 * MS);
    assert_eq!(notes(&bench)[1], [(960, 67), (BAR + 960, 72)]);
    bench.command(Command::Stop);
    bench.run_to(bench.now + 100 * MS);
    bench.check_wire();
}

#[test]
fn what_is_refused_ends_no_take_and_neither_does_a_tempo() {
    let mut bench = recording();
    for refused in [
        Arrange::Split(Letter::A, 1),
        Arrange::Split(Letter::A, 5),
        Arrange::Split(b(), 2),
        Arrange::Join(Letter::A, b()),
        Arrange::Lift { section: Letter::A, from: 4, bars: 2 },
        Arrange::Bars { section: Letter::A, bars: 4, repeat: true },
        Arrange::Bars { section: Letter::A, bars: 0, repeat: false },
        Arrange::Bars { section: Letter::A, bars: 1000, repeat: true },
        Arrange::Tempo(Some(b()), 90_000),
        Arrange::Tempo(None, 5_000_000),
        Arrange::Fit(Some(b()), 1_000_000_000),
        Arrange::Fit(None, 1),
        Arrange::Percent(None, 0),
        Arrange::Percent(None, 100_000),
        Arrange::Ramp { section: Letter::A, bars: (4, 5), from: None, to: 90_000 },
        Arrange::Ramp { section: Letter::A, bars: (3, 4), from: Some(1), to: 90_000 },
        Arrange::NoRamp(Letter::A, 1),
    ] {
        assert!(!bench.command(Command::Arrange(refused.clone())), "{refused:?}");
        assert!(bench.engine.status(bench.now).recording, "{refused:?}");
    }
    assert!(bench.command(Command::Arrange(Arrange::Tempo(None, 90_000))));
    assert!(bench.engine.status(bench.now).recording);
    assert_eq!(
        said(&bench),
        "tempo 90: one round of A lasts 0:10.7; undo brings the old tempo back"
    );
}

/// 16 quarters at 120 take 8 seconds.
#[test]
fn a_tempo_is_set_in_every_way_and_the_answer_says_how_long_it_lasts() {
    let mut bench = Bench::new(song(4, 1));
    let mut done = |arrange, said: &str| {
        assert!(bench.command(Command::Arrange(arrange)));
        let (is, _) = self::said(&bench)
            .rsplit_once("; ")
            .map(|(a, b)| (a.to_string(), b.to_string()))
            .unwrap();
        assert_eq!(is, said);
    };
    let a = Some(Letter::A);
    done(Arrange::Percent(None, 50_000), "tempo 60: one round of A lasts 0:16");
    done(Arrange::Fit(a, 10_000_000_000), "tempo 96: one round of A lasts 0:10");
    done(Arrange::Tempo(a, 120_000), "tempo 120: one round of A lasts 0:08");
    done(
        Arrange::TempoAt(Letter::A, 3, 60_000),
        "tempo 120, then 60 from bar 3: one round of A lasts 0:12",
    );
    // Even in beats per minute: the mean of 1/bpm from 104 to 92 is ln(104/92)/12, so two bars last
    // 8 * 60 * 0.010217 = 4.9 seconds; the first two last 4.
    done(
        Arrange::Ramp { section: Letter::A, bars: (3, 4), from: Some(104_000), to: 92_000 },
        "tempo 120, then 104 to 92 from bar 3: one round of A lasts 0:08.9",
    );
    done(Arrange::NoRamp(Letter::A, 4), "tempo 120: one round of A lasts 0:08");
}

#[test]
fn bars_are_added_with_what_is_there_and_sections_change_their_speed() {
    let mut bench = recording();
    bench.command(Command::Record(false));
    let done = |bench: &mut Bench, arrange| {
        assert!(bench.command(Command::Arrange(arrange)));
        said(bench)
    };
    let bars = |bars, repeat| Arrange::Bars { section: Letter::A, bars, repeat };
    let said = done(&mut bench, bars(7, true));
    assert_eq!(said, "A has 7 bars; undo brings the bars back as they were");
    // The second time it goes on to the end of the third bar.
    let note = |bar: i64, key| (bar * BAR + 960, key);
    assert_eq!(notes(&bench), [vec![note(0, 60), note(2, 67), note(4, 60), note(6, 67)]]);
    bench.command(Command::Undo);
    done(&mut bench, bars(6, false));
    assert_eq!(notes(&bench), [vec![note(0, 60), note(2, 67)]]);
    let said = done(&mut bench, Arrange::Speed(Letter::A, Speed::Half));
    assert_eq!(said, "A is in half time: 12 bars; undo brings it back as it was");
    let said = done(&mut bench, Arrange::Speed(Letter::A, Speed::Double));
    assert_eq!(said, "A is in double time: 6 bars; undo brings it back as it was");
    let said = done(&mut bench, Arrange::Lift { section: Letter::A, from: 3, bars: 1 });
    assert_eq!(said, "the new section B has 1 bar of A, from bar 3 on; undo removes it");
    assert_eq!(notes(&bench)[1], [(960, 67)]);
}

/// What is done to layers says how long they are, how many notes they have and where nothing changes.
#[test]
fn layers_change_their_length_and_speed_and_become_a_section_s_own() {
    let mut song = chaconne_song::Song::clone(a_form("A B").engine.song());
    let pass = song.sections[0].layers[0].pass;
    let track = song.pass(pass).unwrap().track;
    let name = song.track(track).unwrap().name.clone();
    std::sync::Arc::make_mut(&mut song.sections[1]).layers = song.sections[0].layers.clone();
    let mut bench = Bench::new(song);
    let done = |bench: &mut Bench, part, how| {
        assert!(bench.command(Command::Arrange(Arrange::Layers(Letter::A, part, how))));
        said(bench)
    };
    let layer = Part::Layer(pass);
    assert_eq!(
        done(&mut bench, layer, Reshape::Bars(3)),
        format!(
            "layer 1 of {name} has 3 bars, 2 notes (1 fewer); B plays on as before; undo restores it"
        )
    );
    let all = Part::Track(track);
    assert_eq!(
        done(&mut bench, all, Reshape::Double),
        format!("the layers of {name} have 6 bars, 4 notes (2 more); undo restores it")
    );
    assert!(done(&mut bench, all, Reshape::Halve).contains(" have 3 bars, 2 notes (2 fewer); "));
    assert!(
        done(&mut bench, all, Reshape::Speed(Speed::Half))
            .contains(" are in half time: 6 bars, 2 notes; ")
    );
    assert!(
        done(&mut bench, all, Reshape::Speed(Speed::Double))
            .contains(" in double time: 3 bars, 2 notes; ")
    );
    bench.command(Command::Undo);
    let own = Arrange::Layers(b(), layer, Reshape::Own);
    assert!(!bench.command(Command::Arrange(own.clone())));
    assert_eq!(said(&bench), "no other section shares this layer");
    for _ in 0..4 {
        bench.command(Command::Undo);
    }
    assert!(bench.command(Command::Arrange(own)));
    assert_eq!(
        said(&bench),
        format!("layer 1 of {name} is now B's own; A plays on as before; undo shares it again")
    );
}

/// Two sections of four bars, of which the first has a note at the start of each bar.
fn a_form(form: &str) -> Bench {
    let mut bench = recording();
    bench.press(3 * BAR + 960, 69);
    bench.lift(3 * BAR + 1440, 69);
    bench.command(Command::Record(false));
    bench.command(Command::Stop);
    let mut song = chaconne_song::Song::clone(bench.engine.song());
    let second =
        chaconne_song::Section { letter: b(), layers: Vec::new(), ..(*song.sections[0]).clone() };
    song.sections.push(std::sync::Arc::new(second));
    song.form = form.parse().unwrap();
    let route = chaconne_engine::Route::form(&song).unwrap();
    let mut bench = Bench::new(song);
    bench.command(Command::PlayRoute(route));
    bench
}

#[test]
fn a_form_that_plays_goes_on_with_both_halves_of_a_section_that_is_split() {
    // While another section plays, nothing is heard of it.
    let mut bench = a_form("B A B A");
    let whole = {
        let mut bench = a_form("B A B A");
        bench.to(16 * BAR);
        bench.heard(0, 16 * BAR)
    };
    bench.to(BAR);
    assert!(bench.command(Command::Arrange(Arrange::Split(Letter::A, 3))));
    assert_eq!(bench.engine.status(bench.now).in_form, Some((1, 6)));
    bench.to(16 * BAR);
    assert_eq!(bench.heard(0, 16 * BAR), whole);
    // While it plays itself, it starts from the top, and its second half comes after it.
    let mut bench = a_form("A B");
    bench.to(BAR);
    assert!(bench.command(Command::Arrange(Arrange::Split(Letter::A, 3))));
    bench.run_to(bench.now + 20 * MS);
    let status = bench.engine.status(bench.now);
    assert_eq!((status.in_form, status.next_section), (Some((1, 3)), "C".parse().ok()));
    bench.command(Command::Undo);
    bench.run_to(bench.now + 20 * MS);
    let status = bench.engine.status(bench.now);
    assert_eq!((status.in_form, status.next_section), (Some((1, 2)), Some(b())));
    bench.command(Command::Redo);
    bench.run_to(bench.now + 20 * MS);
    let status = bench.engine.status(bench.now);
    assert_eq!((status.in_form, status.next_section), (Some((1, 3)), "C".parse().ok()));
    bench.command(Command::Stop);
    bench.run_to(bench.now + 100 * MS);
    bench.check_wire();
}
