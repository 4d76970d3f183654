//! Charts are read as they are written, and back.

use super::*;
use proptest::prelude::*;

fn metre(bars: u32, metre: &str) -> MetreMap {
    MetreMap::new(bars, metre.parse().unwrap()).unwrap()
}

/// The chords of a chart, each with bar and tick in the bar.
fn read(text: &str, metre: &MetreMap) -> String {
    let spell = |chord: &Chord| {
        let bar = metre.bar_at(chord.at);
        format!("{bar}:{} {}", (chord.at - metre.bar_start(bar)).0, chord.symbol)
    };
    chart(text, metre).unwrap().iter().map(spell).collect::<Vec<_>>().join(", ")
}

#[test]
fn chords_share_their_bar_or_are_marked_beat_by_beat() {
    let four = metre(4, "4/4");
    for (text, expected) in [
        ("C | Am7 | Dm7 G7 | C", "1:0 C, 2:0 Am7, 3:0 Dm7, 3:1920 G7, 4:0 C"),
        ("| C / / G7 | % | Am | / / F / |", "1:0 C, 1:2880 G7, 2:0 C, 2:2880 G7, 3:0 Am, 4:1920 F"),
        (
            "C G Am F | C/E",
            "1:0 C, 1:960 G, 1:1920 Am, 1:2880 F, 2:0 C/E, 3:0 C, 3:960 G, 3:1920 Am, 3:2880 F, 4:0 C/E",
        ),
        ("C / / / / / / G", "1:0 C, 1:3360 G, 2:0 C, 2:3360 G, 3:0 C, 3:3360 G, 4:0 C, 4:3360 G"),
        ("C | N.C. | C | C", "1:0 C, 2:0 N.C., 3:0 C"),
        ("", ""),
        (" | ", ""),
    ] {
        assert_eq!(read(text, &four), expected, "{text}");
    }
    assert_eq!(read("C F", &metre(1, "6/8")), "1:0 C, 1:1440 F");
    assert_eq!(read("C / F", &metre(1, "3/4")), "1:0 C, 1:1920 F");
    let grouped = Metre::new(7, 8).unwrap().grouped(vec![2, 2, 3]).unwrap();
    let grouped = MetreMap::new(1, grouped).unwrap();
    assert_eq!(read("C F G", &grouped), "1:0 C, 1:960 F, 1:1920 G");
    assert_eq!(chart_text(&chart("C F G", &grouped).unwrap(), &grouped), "C F G");
    assert_eq!(read("C / / / G / /", &metre(1, "7/8")), "1:0 C, 1:1920 G");
}

#[test]
fn a_chart_that_cannot_be_read_says_where_and_what_would_be_right() {
    for (text, expected) in [
        (
            "C | H7",
            "bar 2: 'H7' is not a chord: use a root and a kind, such as Am7, Bb or F#m7b5/E, or N.C.",
        ),
        (
            "C | | G | C",
            "bar 2 is empty: write a chord, N.C. for none, or % to repeat the bar before",
        ),
        ("% | C", "bar 1: % repeats the bar before: write it alone, and not in bar 1"),
        ("C | % G", "bar 2: % repeats the bar before: write it alone, and not in bar 1"),
        (
            "C F G",
            "bar 1 has 3 symbols, which don't divide 4/4 evenly: write one per beat, with / to hold a chord",
        ),
        ("C | F | G", "3 bars of chords for a 4-bar section: write 4, or 1 or 2 to repeat"),
        ("C|C|C|C|C", "5 bars of chords for a 4-bar section: write 4, or 1 or 2 to repeat"),
        (
            "C/",
            "bar 1: 'C/' is not a chord: use a root and a kind, such as Am7, Bb or F#m7b5/E, or N.C.",
        ),
    ] {
        assert_eq!(chart(text, &metre(4, "4/4")).unwrap_err().to_string(), expected);
    }
}

/// One word, bar or count that is wrong in each; the sentence names it and says what would be right.
#[test]
fn twenty_wrong_charts_are_refused_with_what_would_be_right() {
    let a_chord = "is not a chord: use a root and a kind";
    let one_per_beat = "don't divide 4/4 evenly: write one per beat";
    for (text, word, right) in [
        ("c | F | G | C", "'c'", a_chord),
        ("C | F | Gx | C", "'Gx'", a_chord),
        ("C | F | Gmaj77 | C", "'Gmaj77'", a_chord),
        ("C | F | G# b | C", "'b'", a_chord),
        ("C | F###m | G | C", "'F###m'", a_chord),
        ("C | F/H | G | C", "'F/H'", a_chord),
        ("C | F//C | G | C", "'F//C'", a_chord),
        ("C | F/C/E | G | C", "'F/C/E'", a_chord),
        ("C | nc | G | C", "'nc'", a_chord),
        ("C | F, | G | C", "'F,'", a_chord),
        ("C - F", "'-'", a_chord),
        ("C | Ω | G | C", "'Ω'", a_chord),
        ("C | 7 | G | C", "'7'", a_chord),
        ("C F G | C | C | C", "bar 1 has 3", one_per_beat),
        ("C F G A B | C | C | C", "bar 1 has 5", one_per_beat),
        ("C | F | G | C F G A B C", "bar 4 has 6", one_per_beat),
        ("C | % % | G | C", "bar 2", "write it alone"),
        ("%", "bar 1", "not in bar 1"),
        ("C || G | C", "bar 2 is empty", "write a chord, N.C. for none, or %"),
        ("C | F | G | C | F | G", "6 bars of chords for a 4-bar section", "write 4"),
    ] {
        let error = chart(text, &metre(4, "4/4")).unwrap_err().to_string();
        assert!(error.contains(word) && error.contains(right), "{text}: {error}");
        assert!(!error.contains('\n') && error.len() < 160, "{text}: {error}");
    }
}

#[test]
fn a_chart_is_written_with_as_few_marks_as_it_needs() {
    let four = metre(4, "4/4");
    for (text, written) in [
        ("|C|Am7|Dm7 G7|C|", "C | Am7 | Dm7 G7 | C"),
        ("C C | C | C / / G | C / / G", "C | % | C / / G | %"),
        ("C | C / F / | F | F", "C | C F | F | %"),
        ("N.C. | C", "N.C. | C | N.C. | C"),
        ("/ / C / | C | C | C", "N.C. C | C | % | %"),
    ] {
        assert_eq!(chart_text(&chart(text, &four).unwrap(), &four), written, "{text}");
    }
    assert_eq!(chart_text(&[], &four), "");
    // Off every beat: a triplet of the bar is a third of a beat.
    let symbol: ChordSymbol = "C".parse().unwrap();
    let late = [Chord { at: Tick(320), symbol }];
    assert_eq!(chart_text(&late, &metre(1, "4/4")), "N.C. C / / / / / / / / / /");
    let odd = [Chord { at: Tick(323), symbol }];
    let text = chart_text(&odd, &metre(1, "4/4"));
    assert_eq!(chart(&text, &metre(1, "4/4")).unwrap(), late);
}

/// A bar of the grammar.
fn bar() -> impl Strategy<Value = String> {
    let symbol =
        || prop::sample::select(vec!["C", "Am7", "F#m7b5", "Bb/D", "N.C.", "G7sus4", "Ebmaj9"]);
    let word = prop_oneof![symbol().prop_map(String::from), Just("/".to_string())];
    prop_oneof![
        Just("%".to_string()),
        symbol().prop_map(String::from),
        (symbol(), symbol()).prop_map(|(one, other)| format!("{one} {other}")),
        prop::collection::vec(word.clone(), 4).prop_map(|words| words.join(" ")),
        prop::collection::vec(word, 8).prop_map(|words| words.join(" ")),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, ..ProptestConfig::default() })]

    #[test]
    fn a_chart_of_the_grammar_reads_and_writes_back(first in "C|Am7|/ C F /", bars in prop::collection::vec(bar(), 0..12)) {
        let all: Vec<String> = std::iter::once(first).chain(bars).collect();
        let metre = metre(all.len() as u32, "4/4");
        let chords = chart(&all.join(" | "), &metre).unwrap();
        let text = chart_text(&chords, &metre);
        prop_assert_eq!(chart(&text, &metre).unwrap(), chords, "{}", text);
        prop_assert_eq!(chart_text(&chart(&text, &metre).unwrap(), &metre), text);
    }

    #[test]
    fn any_text_is_answered(text in ".{0,60}") {
        let _ = chart(&text, &metre(2, "4/4"));
    }
}
