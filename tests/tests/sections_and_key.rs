//! Sections, form and key by command: what each command says, what the song then plays, and what another reader
//! finds in its export.

use chaconne_tests::program::run;
use chaconne_tests::song_copy::SongCopy;

/// A listing without the lines that only mark sections, and without its columns of bars.
fn events(listing: &str) -> Vec<String> {
    let is_event = |line: &&str| line.contains(" note ") || line.contains(" program ");
    listing.lines().filter(is_event).map(String::from).collect()
}

/// The lines of a listing for one section once, with the section's letter left out.
fn played(copy: &SongCopy, letter: &str) -> Vec<String> {
    let listing = copy.shows("list", &format!("--section {letter}"));
    let blank = |line: &String| line.replacen(&format!(" {letter}"), " ?", 1);
    events(&listing).iter().map(blank).collect()
}

/// A listing with the keys of pitched tracks so many semitones higher, and without their names, which are spelled
/// for the key. A drum has no name, so its key stays.
fn shifted(listing: &str, by: i32) -> String {
    let line = |line: &str| {
        let Some((before, rest)) = line.split_once(" note ") else { return line.to_string() };
        let words: Vec<&str> = rest.split(' ').collect();
        let Ok(key) = words[1].parse::<i32>() else { return line.to_string() };
        format!("{before} note {} {}", key + by, words[2..].join(" "))
    };
    listing.lines().map(|text| line(text) + "\n").collect()
}

/// The names that notes of a listing have, without their octaves.
fn names(listing: &str) -> std::collections::BTreeSet<String> {
    let notes = listing.lines().filter_map(|line| line.split_once(" note "));
    let names = notes.filter_map(|(_, rest)| rest.split(' ').next());
    let letters = |name: &str| name.trim_end_matches(|c: char| c.is_ascii_digit()).to_string();
    names.map(letters).filter(|name| !name.is_empty()).collect()
}

#[test]
fn a_section_is_copied_varied_and_made_its_own_and_plays_the_same() {
    let copy = SongCopy::of_demo();
    let (whole, a) = (copy.shows("list", ""), played(&copy, "A"));
    assert!(a.len() > 50, "{a:?}");
    let said = copy.does("section", "copy A");
    assert_eq!(said, "section A copied to the new section C, which shares its layers");
    let said = copy.does("section", "vary A");
    let expected =
        "section A copied to the new section D, 'variation of A', with layers of its own";
    assert_eq!(said, expected);
    assert_eq!((played(&copy, "C"), played(&copy, "D")), (a.clone(), a.clone()));
    let listed = copy.shows("section", "list");
    assert!(listed.contains("\n  Bass          1 layer, also in C\n"), "{listed}");
    assert!(listed.contains("\nsection D variation of A: 4 bars of 4/4, tempo 104, "), "{listed}");
    assert_eq!(copy.does("section", "own C --track Bass"), "1 layer of Bass is now C's own");
    let bass = |letter: &str| {
        let listed = copy.shows("section", "list");
        let section = listed.split("section ").find(|text| text.starts_with(letter)).unwrap();
        section.lines().find(|line| line.starts_with("  Bass")).unwrap().to_string()
    };
    assert_eq!([bass("A"), bass("C")], ["  Bass          1 layer", "  Bass          1 layer"]);
    assert_eq!(played(&copy, "C"), a);
    // What is changed in C is no longer changed in A, where it was shared.
    copy.does("section", "bars C 2 --track Bass --layer 1");
    assert_eq!(played(&copy, "A"), a);
    assert_ne!(played(&copy, "C"), a);
    assert_eq!(copy.shows("list", ""), whole);
}

#[test]
fn sections_are_added_renamed_moved_and_removed() {
    let copy = SongCopy::of_demo();
    let whole = copy.shows("list", "");
    let said = copy.does("section", "add x --name \"The bridge\" --bars 3 --metre 6/8 --after a");
    assert_eq!(said, "section X added: 3 bars of 6/8, tempo 69.333");
    assert_eq!(copy.does("section", "move X --to-end"), "sections: A, B, X");
    assert_eq!(copy.does("section", "move X --before A"), "sections: X, A, B");
    assert_eq!(copy.does("section", "move X --after B"), "sections: A, B, X");
    let said = copy.does("section", "rename B --letter M --name Middle");
    assert_eq!(said, "section B is now M, 'Middle'; form: A A M A");
    assert_eq!(copy.does("section", "rename M --name \"\""), "section M has no name now");
    let said = copy.does("section", "rename M --letter B");
    assert_eq!(said, "section M is now B; form: A A B A");
    assert_eq!(copy.shows("list", ""), whole);
    assert_eq!(copy.does("section", "remove X"), "section X removed");
    assert_eq!(copy.does("section", "remove B --from-form"), "section B removed; form: A A A");
    let a = run(&["list", copy.path(), "--section", "A", "--rounds", "3"]).ends(0).out;
    assert_eq!(events(&copy.shows("list", "")), events(&a));
}

#[test]
fn a_metre_and_fermatas_are_set_and_what_was_played_stays_where_it_was() {
    let copy = SongCopy::of_demo();
    let before = copy.exported(&["note"]);
    let said = copy.does("section", "metre B 2/4 --from 3");
    let start = "section B is now in 4/4, 2/4 from 3; layers out of step with its bars: ";
    assert!(said.starts_with(start), "{said}");
    // The form is A A B A: bars 1 to 8 are A, so bar 3 of B begins after ten bars of four quarters.
    let metres = copy.exported(&["metre"]);
    for (tick, metre) in [(10 * 3840, "2 4"), (10 * 3840 + 2 * 1920, "4 4")] {
        let line = format!("metre {tick} {metre} ");
        assert!(metres.iter().any(|one| one.starts_with(&line)), "{line}: {metres:?}");
    }
    assert_eq!(copy.does("section", "metre B 4/4 --from 3"), "section B is now in 4/4");
    assert_eq!(copy.exported(&["note"]), before);
    let said = copy.does("section", "fermata B 4.4");
    assert_eq!(said, "fermata on beat 4 of bar 4 of section B added");
    assert!(copy.shows("section", "list").contains("\n  fermatas      4.4\n"));
    let waits = "\n\nsection B waits at its fermatas when it is played live: 4.4\n";
    assert!(copy.shows("form", "").ends_with(waits));
    assert_eq!(copy.exported(&["note"]), before);
    let said = copy.does("section", "fermata B 4.4 --remove");
    assert_eq!(said, "fermata on beat 4 of bar 4 of section B removed");
}

/// By arithmetic: at 104 quarters a minute, four bars of four quarters take 16 * 60/104 = 9.2308 s.
#[test]
fn the_form_is_shown_as_a_line_and_as_bars_and_set_with_groups_and_endings() {
    let copy = SongCopy::of_demo();
    let expected = "form: A A B A\n\
        4 sections, 16 bars, 0:36.923\n\n\
        bars   begins    lasts     metre  tempo  section\n\
        1-4    0:00.000  0:09.231  4/4    104    A\n\
        5-8    0:09.231  0:09.231  4/4    104    A\n\
        9-12   0:18.462  0:09.231  4/4    104    B\n\
        13-16  0:27.692  0:09.231  4/4    104    A\n";
    let shown = copy.shows("form", "");
    assert_eq!(shown, expected);
    let said = copy.does("form", "\"a (b a [1 b] [2 a a])\"");
    assert_eq!(said, "form: A (B A [1 B] [2 A A]); 8 sections, 32 bars, 1:13.846");
    let entries: Vec<String> = copy.exported(&["marker"]);
    assert!(!entries.is_empty());
    let order: Vec<String> = copy
        .shows("form", "")
        .lines()
        .skip(4)
        .map(|line| line.rsplit(' ').next().unwrap().to_string())
        .collect();
    assert_eq!(order.join(""), "ABABBAAA");
    assert_eq!(copy.lasts(), 8 * 9_230_768);
    let said = copy.does("form", "\"\"");
    assert_eq!(said, "no form: section A is played; 1 section, 4 bars, 0:09.231");
    assert_eq!(copy.does("form", "aaba"), "form: A A B A; 4 sections, 16 bars, 0:36.923");
    assert_eq!(copy.shows("form", ""), expected);
}

#[test]
fn a_form_fits_eighty_columns_whatever_its_sections_are_called() {
    let copy = SongCopy::of_demo();
    let name = "A name that is nearly as long as a name may be, and says little";
    copy.does("section", &format!("rename A --name \"{name}\""));
    copy.does("section", "metre B 2/4 --from 2");
    copy.does("section", "metre B 3/4 --from 3");
    copy.does("tempo", "--section B --bpm 60.125 --ramp 3-4");
    copy.does("form", "\"(A B) x600\"");
    let shown = copy.shows("form", "");
    assert!(shown.lines().all(|line| line.chars().count() <= 80), "{shown}");
    assert!(shown.contains("  4/4, 2/4 from …  104 to 60.125"), "{shown}");
    assert_eq!(shown.lines().count(), 4 + 1200);
}

#[test]
fn a_transposed_song_lists_as_before_with_its_keys_shifted_and_its_drums_as_they_were() {
    let copy = SongCopy::of_demo();
    let before = copy.shows("list", "");
    let drums = before.lines().filter(|line| line.contains(" Drums ")).count();
    assert!(drums > 20 && shifted(&before, 1) != shifted(&before, 0));
    // Flats and sharps: G minor has two flats, B minor two sharps, and Bb minor five flats.
    for (option, by, key, flat) in [
        ("--transpose -2", -2, "G minor", true),
        ("--transpose 2", 2, "B minor", false),
        ("--to \"Bb minor\"", 1, "Bb minor", true),
        ("--to \"f# minor\"", -3, "F# minor", false),
    ] {
        let said = copy.does("key", option);
        assert!(said.starts_with(&format!("transposed by {by}, sounds in {key}")), "{said}");
        let listing = copy.shows("list", "");
        assert_eq!(shifted(&listing, 0), shifted(&before, by), "{option}");
        // The seventh of a minor key may be raised, so a key with flats can have a sharp, but not the other way.
        let has_flats = names(&listing).iter().any(|name| name.ends_with('b'));
        assert_eq!(has_flats, flat, "{option}: {:?}", names(&listing));
        let head = format!("written in A minor, transposed by {by}, sounds in {key}\n");
        assert!(copy.shows("key", "").starts_with(&head));
    }
    copy.does("key", "--transpose 0");
    assert_eq!(copy.shows("list", ""), before);
}

#[test]
fn a_section_alone_is_transposed_and_sounds_in_the_key_that_is_asked_for() {
    let copy = SongCopy::of_demo();
    let [a, b] = ["A", "B"].map(|letter| copy.shows("list", &format!("--section {letter}")));
    let said = copy.does("key", "--to \"C minor\" --section B");
    assert_eq!(said, "section B transposed by 3, sounds in C minor");
    assert_eq!(copy.shows("list", "--section A"), a);
    assert_eq!(shifted(&copy.shows("list", "--section B"), 0), shifted(&b, 3));
    copy.does("key", "--transpose -2");
    assert_eq!(shifted(&copy.shows("list", "--section B"), 0), shifted(&b, 1));
    // The song's transposition is made up for.
    let said = copy.does("key", "--to \"C minor\" --section B");
    assert_eq!(said, "section B transposed by 5, sounds in C minor");
    assert_eq!(shifted(&copy.shows("list", "--section A"), 0), shifted(&a, -2));
    assert_eq!(shifted(&copy.shows("list", "--section B"), 0), shifted(&b, 3));
    let text = copy.shows("key", "--section B");
    assert!(text.contains("\n  written       the song's key, transposed by 5\n"), "{text}");
}

#[test]
fn the_written_key_changes_no_note_and_goes_into_the_export() {
    let copy = SongCopy::of_demo();
    let before = copy.shows("list", "");
    assert_eq!(copy.does("key", "\"c major\""), "written in C major, sounds in C major");
    assert_eq!(copy.does("key", "\"Eb major\""), "written in Eb major, sounds in Eb major");
    assert_eq!(shifted(&copy.shows("list", ""), 0), shifted(&before, 0));
    assert!(copy.exported(&["key"]).contains(&"key 0 Eb".to_string()));
    let said = copy.does("key", "\"G minor\" --section B");
    assert_eq!(said, "section B written in G minor, sounds in G minor");
    let said = copy.does("key", "\"\" --section B");
    assert_eq!(said, "section B has the song's key, sounds in Eb major");
    assert_eq!(copy.does("key", "\"\""), "has no key now, sounds as written");
}

#[test]
fn a_part_that_goes_beyond_its_compass_is_told_after_a_transposition_and_with_the_keys() {
    let copy = SongCopy::of_demo();
    let text = copy.text().replace(
        "name: \"Melody\", channel: 4,",
        "name: \"Melody\", channel: 4, compass: \"C4 to C6\",",
    );
    std::fs::write(copy.path(), &text).unwrap();
    assert!(copy.text().contains("compass"));
    let said = copy.does("key", "--transpose -24");
    let told = said.lines().nth(1).unwrap_or_default();
    assert!(told.starts_with("Melody goes beyond C4 to C6 in "), "{said}");
    assert!(told.contains(": transposed by "), "{said}");
    assert!(copy.shows("key", "").ends_with(&format!("{told}\n")));
    assert!(copy.shows("outline", "").ends_with(&format!("{told}\n")));
}

#[test]
fn a_whole_song_is_arranged_by_command_and_read_by_another_reader() {
    let copy = SongCopy::to_be();
    run(&["new", copy.path(), "--bars", "2", "--tempo", "120", "--title", "Slate roof"]).ends(0);
    let take = format!("{}.mid", copy.path());
    run(&["export", SongCopy::of_demo().path(), "--midi", &take, "--section", "A"]).ends(0);
    copy.does("lay", &format!("--track Bass --section A --from {take} --keep newest"));
    copy.does("section", "rename A --name Verse");
    copy.does("section", "vary A");
    copy.does("section", "add --name Bridge --bars 1 --metre 3/4");
    copy.does("form", "\"(A [1 C] [2 B])\"");
    copy.does("key", "\"D minor\"");
    copy.does("key", "--to \"E minor\"");
    copy.does("section", "fermata B 2.4");
    copy.does("tempo", "--section B --bpm 60 --ramp 2-2");
    let listed = copy.shows("section", "list");
    for line in
        ["section A Verse: 2 bars of 4/4", "section B Verse 2: 2 bars", "section C Bridge: "]
    {
        assert!(listed.contains(line), "{listed}");
    }
    // A C A B: two bars of four, one of three, then four; 24 pulses in each quarter of the ramp.
    let metres = copy.exported(&["metre"]);
    let at = |tick: i64, metre: &str| format!("metre {tick} {metre} ");
    for (tick, metre) in [(0, "4 4"), (7680, "3 4"), (7680 + 2880, "4 4")] {
        let is_there = metres.iter().any(|line| line.starts_with(&at(tick, metre)));
        assert!(is_there, "{tick} {metre}: {metres:?}");
    }
    let ramp = 7680 * 2 + 2880 + 3840;
    let tempi = copy.exported(&["tempo"]);
    assert!(tempi.contains(&format!("tempo {} 1000000", ramp + 95 * 40)), "{tempi:?}");
    assert_eq!(copy.exported(&["key"]), ["key 0 Em"]);
    assert!(copy.exported(&["held"]).is_empty());
    let shown = copy.shows("form", "");
    // By arithmetic: two bars of four and one of three at 120, and again two of four: 4 + 1.5 + 4 seconds.
    assert!(shown.contains("\n6-7   0:09.500  "), "{shown}");
    let lasts = shown.lines().nth(1).unwrap().rsplit(", ").next().unwrap().to_string();
    let (minutes, seconds) = lasts.split_once(':').unwrap();
    let seconds = minutes.parse::<f64>().unwrap() * 60.0 + seconds.parse::<f64>().unwrap();
    let mido = copy.lasts() as f64 / 1_000_000.0;
    // An export goes on until the last note has ended, here less than a bar later.
    assert!((-0.002..2.0).contains(&(mido - seconds)), "{mido} {seconds}");
}

#[test]
fn what_cannot_be_done_is_one_sentence_and_leaves_the_file() {
    let copy = SongCopy::of_demo();
    let forms = "there is no section C; sections: A, B";
    for (command, words, sentence) in [
        ("section", "copy Q", "there is no section Q; sections: A, B"),
        ("section", "vary Q", "there is no section Q; sections: A, B"),
        ("section", "add A", "section A exists already: use another letter, such as C"),
        ("section", "add --after Q", "there is no section Q; sections: A, B"),
        ("section", "add --tempo 4000", "1000"),
        ("section", "rename A --letter B", "section B exists already: use another letter"),
        ("section", "rename A --letter A", "it is like that already"),
        ("section", "move A --before A", "section A cannot be moved beside itself"),
        ("section", "move B --to-end", "it is like that already"),
        ("section", "remove B", "section B is in the form 'A A B A'; --from-form removes it"),
        ("section", "remove Q", "there is no section Q; sections: A, B"),
        ("section", "metre A 3/4 --from 5", "section A has bars 1 to 4, not 5"),
        (
            "section",
            "metre A 7/8 --from 2",
            "a layer of Drums would not end on a beat of the new bars",
        ),
        ("section", "metre A 4", "'4' is not a metre: write it as 4/4"),
        ("section", "metre A \"4/4, 3/4 from 9\"", "9"),
        ("section", "metre A 4/4", "it is like that already"),
        ("section", "own A --track Bass", "no other section shares this layer"),
        ("section", "own A --track Flute", "there is no track 'Flute'; tracks: Drums, Bass"),
        ("section", "own A --track Bass --layer 2", "Bass has 1 layer in section A, not 2"),
        ("section", "fermata A 5.1", "section A has bars 1 to 4, so no beat 5.1"),
        ("section", "fermata A 4.5", "bar 4 of section A is in 4/4, so it has no beat 4.5"),
        ("section", "fermata A 4.4 --remove", "section A has no fermatas"),
        ("form", "\"A A C\"", forms),
        ("form", "\"A (B\"", "the form 'A (B': a group is not closed; end it with )"),
        ("form", "\"A x0\"", "the form 'A x0': x0 is outside x1 to x10000"),
        ("form", "\"A [1 B]\"", "an ending must be inside a group"),
        ("form", "\"A A B A\"", "it is like that already"),
        ("key", "--to \"C major\"", "A minor cannot be transposed to C major: choose a minor key"),
        ("key", "--to \"A minor\"", "it is like that already"),
        ("key", "--transpose 2 --section Q", "there is no section Q; sections: A, B"),
        ("key", "--section Q", "there is no section Q; sections: A, B"),
        ("key", "\"A minor\"", "it is like that already"),
    ] {
        let said = copy.refuses(command, words);
        assert!(said.contains(sentence), "{words}: {said}");
    }
    copy.does("key", "\"\"");
    let said = copy.refuses("key", "--to \"E minor\"");
    assert!(said.starts_with("no key is set to start from: write the key first, e.g. "), "{said}");
    copy.does("section", "remove B --from-form");
    let said = copy.refuses("section", "remove A --from-form");
    assert_eq!(said, "section A is the only one");
}
