//! Sections as wholes, the form, the key, and what stands in a section without its notes.

use super::*;
use crate::{KeySignature, Transpose};
use chaconne_time::Place;

fn named(song: &mut Song, at: usize, name: &str) {
    Arc::make_mut(&mut song.sections[at]).name = name.into();
}

fn letters(song: &Song) -> String {
    song.sections.iter().map(|section| section.letter.to_string()).collect()
}

fn place(text: &str) -> Place {
    text.parse().unwrap()
}

#[test]
fn a_section_is_added_like_the_one_before_it_unless_it_is_told_otherwise() {
    let mut before = song("A B", "A B", &[]);
    let grouped = Metre::new(7, 8).unwrap().grouped(vec![2, 2, 3]).unwrap();
    Arc::make_mut(&mut before.sections[1]).metre = MetreMap::new(3, grouped.clone()).unwrap();
    let add = |new: NewSection| done(&before, add_section(&before, &new));
    let like = add(NewSection::default());
    let c = like.section(letter("C")).unwrap();
    assert_eq!((letters(&like), c.metre.bars(), c.metre.first()), ("ABC".into(), 3, &grouped));
    assert_eq!((&c.tempo, c.layers.len()), (&before.sections[1].tempo, 0));
    let other = add(NewSection {
        letter: Some(letter("X")),
        name: "Bridge".into(),
        bars: Some(5),
        metre: Some("6/8".into()),
        milli_beats: Some(80_000),
        after: Some(Letter::A),
    });
    let x = other.section(letter("X")).unwrap();
    assert_eq!((letters(&other), &*x.name, x.metre.bars()), ("AXB".into(), "Bridge", 5));
    // 80 dotted quarters are 120 quarters a minute.
    assert_eq!((x.metre.first().to_string(), x.tempo.first().micros()), ("6/8".into(), 500_000));
    // The same metre typed anew keeps its grouping.
    let again = add(NewSection { metre: Some("7/8".into()), ..Default::default() });
    assert_eq!(again.section(letter("C")).unwrap().metre.first(), &grouped);
    let refuse = |new: NewSection| refusal(add_section(&before, &new));
    let taken = NewSection { letter: Some(Letter::A), ..Default::default() };
    assert_eq!(refuse(taken), "section A exists already: use another letter, such as C");
    let fast = NewSection { milli_beats: Some(1_100_000), ..Default::default() };
    assert!(refuse(fast).contains("1000"));
    assert!(refuse(NewSection { bars: Some(1000), ..Default::default() }).contains("999"));
    let after = NewSection { after: Some(letter("Q")), ..Default::default() };
    assert_eq!(refuse(after), "there is no section Q; sections: A, B");
}

#[test]
fn a_copy_shares_its_layers_and_a_variation_has_its_own_and_a_name_of_its_own() {
    let notes: &[Plain] = &[(0, 480)];
    let mut before = song("A B", "A B A", &[("A", 1, 8, notes), ("A", 2, 2, notes)]);
    Arc::make_mut(&mut before.sections[0]).layers[1].mute = true;
    named(&mut before, 0, "Verse");
    let copy = done(&before, copy_section(&before, Letter::A));
    assert_eq!((letters(&copy), layers(&copy, "C")), ("ACB".into(), layers(&before, "A")));
    assert_eq!((copy.passes.len(), copy.form.to_string()), (2, "A B A".into()));
    let varied = done(&before, vary_section(&before, Letter::A));
    assert_eq!(layers(&varied, "C"), [(12, 8, vec![0]), (13, 2, vec![0])]);
    let c = varied.section(letter("C")).unwrap();
    assert!(c.layers[1].mute && !c.layers[0].mute);
    assert_eq!(c.name, "Verse 2");
    let third = done(&varied, vary_section(&varied, letter("C")));
    assert_eq!(third.section(letter("D")).unwrap().name, "Verse 3");
    let nameless = done(&before, vary_section(&before, letter("B")));
    assert_eq!(nameless.section(letter("C")).unwrap().name, "variation of B");
    assert!(refusal(copy_section(&before, letter("Q"))).starts_with("there is no section Q"));
}

#[test]
fn a_section_gets_another_letter_in_the_form_too_and_another_name() {
    let mut before = song("A B", "A B A", &[]);
    named(&mut before, 0, "Verse");
    let to = |to: Option<&str>, name| rename_section(&before, Letter::A, to.map(letter), name);
    let both = done(&before, to(Some("V"), Some("Solo")));
    let section = both.section(letter("V")).unwrap();
    assert_eq!((&*section.name, both.form.to_string()), ("Solo", "V B V".into()));
    assert_eq!(done(&before, to(None, Some(""))).sections[0].name, "");
    assert_eq!(to(Some("V"), None).unwrap().label, Label::SectionLetter);
    assert_eq!(refusal(to(Some("A"), Some("Verse"))), NO_CHANGE);
    let taken = refusal(to(Some("B"), None));
    assert_eq!(taken, "section B exists already: use another letter, such as C");
}

#[test]
fn sections_are_moved_beside_others_and_removed_with_their_entries_in_the_form() {
    let before = song("A B C", "A (B [1 C] [2 A])", &[("B", 1, 8, &[])]);
    let moved = |of: &str, to| letters(&done(&before, move_section(&before, letter(of), to)));
    assert_eq!(moved("A", Beside::After(letter("C"))), "BCA");
    assert_eq!(moved("A", Beside::Before(letter("C"))), "BAC");
    assert_eq!(moved("C", Beside::Before(letter("B"))), "ACB");
    let stays = |of: &str, to| refusal(move_section(&before, letter(of), to));
    assert_eq!(stays("B", Beside::After(Letter::A)), NO_CHANGE);
    assert_eq!(stays("B", Beside::Before(letter("C"))), NO_CHANGE);
    assert!(stays("B", Beside::After(letter("B"))).contains("beside itself"));
    let removed = done(&before, remove_section(&before, letter("B"), true));
    assert_eq!((letters(&removed), removed.form.to_string()), ("AC".into(), "A C A".into()));
    assert!(removed.passes.is_empty());
    let why = refusal(remove_section(&before, letter("B"), false));
    assert_eq!(why, "section B is in the form: remove it from there first");
    let only = song("A", "A", &[]);
    assert_eq!(refusal(remove_section(&only, Letter::A, true)), "section A is the only one");
}

#[test]
fn a_metre_holds_up_to_the_next_and_notes_chords_and_fermatas_keep_their_tick() {
    let notes: &[Plain] = &[(0, 480), (5 * BAR, 480)];
    let mut before = song("A B", "A", &[("A", 1, 8, notes), ("A", 2, 2, &[(0, 480)])]);
    let section = Arc::make_mut(&mut before.sections[0]);
    section.fermatas = vec![Tick(3 * BAR - 960)];
    section.chords = vec![Chord { at: Tick(4 * BAR), symbol: "Am7".parse().unwrap() }];
    let metre = |text: &str| text.parse::<Metre>().unwrap();
    let set = |song: &Song, bar, text| set_metre(song, Letter::A, bar, metre(text));
    let third = done(&before, set(&before, 3, "3/4"));
    let now = &third.sections[0];
    let changes: Vec<(u32, String)> =
        now.metre.changes().iter().map(|one| (one.bar, one.metre.to_string())).collect();
    assert_eq!(changes, [(1, "4/4".to_string()), (3, "3/4".to_string())]);
    assert_eq!((now.metre.bars(), now.length()), (8, Tick(2 * 3840 + 6 * 2880)));
    assert_eq!(
        (&now.fermatas, &now.chords),
        (&vec![Tick(3 * BAR - 960)], &before.sections[0].chords)
    );
    assert_eq!(layers(&third, "A"), layers(&before, "A"));
    // From the first bar on it holds up to the change at bar 3, and with the same metre there is none.
    let first = done(&third, set(&third, 1, "3/4"));
    assert_eq!(first.sections[0].metre, MetreMap::new(8, metre("3/4")).unwrap());
    assert_eq!(done(&third, set(&third, 3, "4/4")), before);
    assert_eq!(refusal(set(&before, 1, "4/4")), NO_CHANGE);
    assert_eq!(refusal(set(&before, 9, "3/4")), "section A has bars 1 to 8, not 9");
    // Seven quarters are no whole number of half notes.
    let mut odd = before.clone();
    Arc::make_mut(odd.passes.get_mut(&PassId(10)).unwrap()).length = Tick(7 * 960);
    let why = refusal(set(&odd, 1, "2/2"));
    let said = "a layer of Bass would not end on a beat of the new bars: change its length first";
    assert_eq!(why, said);
}

#[test]
fn a_pickup_stays_when_the_metre_changes_and_all_metres_can_be_typed() {
    let before = song("A", "", &[]);
    let typed = |song: &Song, text| set_metres(song, Letter::A, text);
    let pickup = done(&before, typed(&before, "pickup 1/4, 4/4"));
    let written = |song: &Song| song.sections[0].metre.written();
    assert_eq!((written(&pickup), bars_of(&pickup, "A")), ("pickup 1/4, 4/4".into(), 9));
    assert_eq!(pickup.sections[0].length(), before.sections[0].length(), "it lasts as long");
    let set = |bar, text: &str| set_metre(&pickup, Letter::A, bar, text.parse().unwrap());
    for (bar, text, now) in [
        (1, "3/4", "pickup 1/4, 3/4"),
        (2, "3/4", "pickup 1/4, 3/4"),
        (5, "6/8", "pickup 1/4, 4/4, 6/8 from 5"),
    ] {
        let changed = done(&pickup, set(bar, text));
        assert_eq!(written(&changed), now);
        assert!(changed.sections[0].metre.pickup().is_some() && bars_of(&changed, "A") == 9);
    }
    assert_eq!(refusal(set(9, "3/4")), "bar 9 of section A completes its pickup");
    assert_eq!(refusal(set(1, "4/4")), NO_CHANGE);
    let mixed = done(&before, typed(&before, "4/4, 7/8 from 5"));
    assert_eq!(written(&mixed), "4/4, 7/8 from 5");
    assert_eq!(refusal(typed(&before, "4/4")), NO_CHANGE);
    assert!(refusal(typed(&before, "4/4, 7/8")).contains("needs a bar to begin at"));
    assert!(refusal(typed(&before, "4")).contains("write it as 4/4"));
}

#[test]
fn a_fermata_is_put_on_a_beat_and_removed() {
    let before = song("A", "", &[]);
    let set = |song: &Song, at, on| set_fermata(song, Letter::A, place(at), on);
    let on = done(&before, set(&before, "4.4.0", true));
    assert_eq!(on.sections[0].fermatas, [Tick(4 * BAR - 960)]);
    let two = done(&on, set(&on, "2.1.240", true));
    assert_eq!(fermatas_text(&two.sections[0]), "2.1.240 4.4");
    assert_eq!(done(&on, set(&on, "4.4.0", false)), before);
    let refuse = |song: &Song, at, on| refusal(set(song, at, on));
    assert_eq!(refuse(&on, "4.4.0", true), "section A has a fermata at 4.4 already");
    assert_eq!(refuse(&before, "4.4.0", false), "section A has no fermatas");
    assert_eq!(refuse(&on, "4.3.0", false), "section A has no fermata at 4.3; fermatas: 4.4");
    assert_eq!(refuse(&on, "9.1.0", true), "section A has bars 1 to 8, so no beat 9.1");
    assert_eq!(refuse(&on, "0.1.0", true), "section A has bars 1 to 8, so no beat 0.1");
    let why = "bar 2 of section A is in 4/4, so it has no beat 2.5";
    assert_eq!(refuse(&on, "2.5.0", true), why);
}

#[test]
fn form_key_and_transposition_are_set_and_refused_if_nothing_changes() {
    let before = song("A B", "A B", &[]);
    let set = |text: &str| set_form(&before, text.parse().unwrap());
    assert_eq!(done(&before, set("(A B) x2 A")).form.to_string(), "(A B) x2 A");
    assert!(done(&before, set("")).form.is_empty());
    assert_eq!(refusal(set("A B")), NO_CHANGE);
    assert_eq!(refusal(set("A C")), "there is no section C; sections: A, B");
    let key: Option<KeySignature> = Some("Eb major".parse().unwrap());
    assert_eq!(done(&before, set_key(&before, None, key)).key, key);
    let b = Some(letter("B"));
    assert_eq!(done(&before, set_key(&before, b, key)).sections[1].key, key);
    assert_eq!(refusal(set_key(&before, b, None)), NO_CHANGE);
    let by = Transpose::new(-2).unwrap();
    assert_eq!(done(&before, set_transpose(&before, None, by)).transpose, by);
    assert_eq!(done(&before, set_transpose(&before, b, by)).sections[1].transpose, by);
    assert_eq!(refusal(set_transpose(&before, None, Transpose::default())), NO_CHANGE);
    let missing = set_transpose(&before, Some(letter("Q")), by);
    assert!(refusal(missing).starts_with("there is no section Q"));
}
