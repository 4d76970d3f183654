//! A form reads back from its text, and each mistake has its own message.

use super::*;
use proptest::prelude::*;

fn form(text: &str) -> Form {
    text.parse().unwrap_or_else(|error| panic!("{text}: {error}"))
}

#[test]
fn forms_read_as_people_type_them() {
    for (typed, written, length) in [
        ("", "", 0),
        ("A A B A", "A A B A", 4),
        ("A (B C) x2 A", "A (B C) x2 A", 6),
        ("A(B C)x2A", "A (B C) x2 A", 6),
        ("Ax2 B x 3", "A x2 B x3", 5),
        ("(B C [1 D] [2 E])", "(B C [1 D] [2 E])", 6),
        ("(B [1 2 3 C] [4 D]) x4", "(B [1 2 3 C] [4 D])", 8),
        ("(B [1 C]) x2", "(B [1 C]) x2", 3),
        ("(B [2 C D])", "(B [2 C D])", 4),
        ("((A B) x2 C) x3 ZZZ", "((A B) x2 C) x3 ZZZ", 16),
        ("A x1", "A", 1),
        ("(A [3 1 C] [2 D])", "(A [1 3 C] [2 D])", 6),
    ] {
        let form = form(typed);
        assert_eq!(form.to_string(), written, "{typed}");
        assert_eq!(form.length(), length, "{typed}");
    }
}

#[test]
fn each_error_says_what_would_be_right() {
    for (typed, message) in [
        ("A, B", "a form cannot contain ','; write it like A (B C) x2 A"),
        ("a", "'a' is not a rehearsal letter: use one to three capitals, A to ZZZ"),
        ("ABCD", "'ABCD' is not a rehearsal letter: use one to three capitals, A to ZZZ"),
        ("A x", "x must be followed by a number of times, such as x2"),
        ("x2", "times must follow a section or group, such as A x2 or (A B) x2"),
        ("A x0", "x0 is outside x1 to x10000"),
        ("A 2", "times must follow a section or group, such as A x2 or (A B) x2"),
        ("(A", "a group is not closed; end it with )"),
        ("A)", "a ) has no matching (; open the group with ("),
        ("()", "the form has an empty group; put at least one section in it, such as (A B)"),
        ("(A 2)", "a group contains sections, such as (A B)"),
        ("[1 A]", "an ending must be inside a group, such as (A [1 B] [2 C])"),
        ("(A [B])", "an ending begins with the times it is for, such as [1 A] or [1 2 A]"),
        ("(A [1])", "an ending is empty; put at least one section in it, such as [1 A]"),
        ("(A [1 B 2])", "an ending has its times first and then sections, such as [1 A]"),
        ("(A [1 B", "an ending is not closed; end it with ]"),
        ("(A [1 B] C)", "endings must come last in a group, such as (A [1 B] [2 C])"),
        ("(A [1 B] [1 C])", "ending 1 is given twice in one group"),
        ("(A [1 B] [3 C]) x2", "ending 3 is outside the group's times, 1 to 2"),
        ("(A [2 B] [1 C])", "endings must be in the order of their times, such as [1 A] [2 B]"),
        ("(((((A)))))", "the form has groups inside groups more than 4 deep"),
        ("A x9999 B x2", "the form plays 10001 sections; the most it may play is 10000"),
        (
            "((A x9999) x9999) x9999",
            "the form plays 999700029999 sections; the most it may play is 10000",
        ),
        ("A x99999999999999999999999", "x18446744073709551615 is outside x1 to x10000"),
    ] {
        let error = typed.parse::<Form>().map(|form| form.to_string()).unwrap_err();
        assert_eq!(error.to_string(), message, "{typed}");
    }
}

#[test]
fn thousands_of_brackets_are_refused() {
    for text in ["(", "[", ")", "(A [1 ", "A x", "x2"] {
        assert!(text.repeat(100_000).parse::<Form>().is_err(), "{text}");
    }
}

#[test]
fn renaming_a_letter_changes_it_everywhere() {
    let [a, z] = ["A", "Z"].map(|letter| letter.parse().unwrap());
    let renamed = form("A (B A [1 A] [2 C])").renamed(a, z);
    assert_eq!(renamed.to_string(), "Z (B Z [1 Z] [2 C])");
}

#[test]
fn a_section_that_is_removed_takes_groups_and_endings_along_that_had_only_it() {
    for (before, after) in [
        ("A B A", "A A"),
        ("A (B) x3 (A B) x2", "A (A) x2"),
        ("(A [1 B] [2 C])", "(A [2 C])"),
        ("(A [1 B C] [2 B])", "(A [1 C]) x2"),
        ("C (B [1 3 A] [2 C D]) x5 C", "C A C D A C"),
        ("B (B [1 B])", ""),
    ] {
        assert_eq!(form(before).without("B".parse().unwrap()).to_string(), after, "{before}");
    }
}

#[test]
fn groups_deeper_than_the_limit_are_refused_in_a_form_built_by_hand_too() {
    let once = || vec![FormEntry::once(Letter::A)];
    let group = |entries, endings| {
        vec![FormEntry { part: FormPart::Group(FormGroup { entries, endings }), times: 1 }]
    };
    let (mut nested, mut ended) = (once(), once());
    for depth in 1..=Form::DEEPEST + 1 {
        nested = group(nested, vec![]);
        ended = group(once(), vec![Ending { times: vec![1], entries: ended }]);
        for entries in [&nested, &ended] {
            let fits = Form { entries: entries.clone() }.check().is_ok();
            assert_eq!(fits, depth <= Form::DEEPEST, "{depth}");
        }
    }
}

/// The entries of a random form, built without the parser.
fn entries(depth: u32) -> BoxedStrategy<Vec<FormEntry>> {
    prop::collection::vec(entry(depth), 1..4).boxed()
}

fn entry(depth: u32) -> BoxedStrategy<FormEntry> {
    let section = (0..30usize, 1..4u32).prop_map(|(letter, times)| {
        let letter = Letter::all().nth(letter).unwrap();
        FormEntry { part: FormPart::Section(letter), times }
    });
    if depth == 0 {
        return section.boxed();
    }
    prop_oneof![2 => section, 1 => group(depth - 1)].boxed()
}

fn group(depth: u32) -> BoxedStrategy<FormEntry> {
    let owners = prop::collection::vec(0..3usize, 1..5);
    let endings = prop::collection::vec(entries(depth), 2);
    (entries(depth), owners, endings, 0..2u32)
        .prop_map(|(entries, owners, texts, more)| {
            // Each time belongs to one of two endings, or to none.
            let mut endings: Vec<Ending> = texts
                .into_iter()
                .enumerate()
                .map(|(index, entries)| {
                    let times = (1u32..).zip(&owners).filter(|(_, owner)| **owner == index);
                    Ending { times: times.map(|(time, _)| time).collect(), entries }
                })
                .filter(|ending| !ending.times.is_empty())
                .collect();
            endings.sort_by_key(|ending| ending.times[0]);
            let times = owners.len() as u32 + more;
            FormEntry { part: FormPart::Group(FormGroup { entries, endings }), times }
        })
        .boxed()
}

proptest! {
    #[test]
    fn a_form_reads_back_from_its_text(entries in entries(4)) {
        let form = Form { entries };
        prop_assume!(form.check().is_ok());
        let text = form.to_string();
        prop_assert_eq!(text.parse::<Form>(), Ok(form), "{}", text);
    }

    #[test]
    fn a_form_without_a_section_plays_the_others_as_before(entries in entries(3), which in any::<usize>()) {
        let form = Form { entries };
        prop_assume!(form.check().is_ok());
        let letters = form.letters();
        let gone = letters[which % letters.len()];
        let without = form.without(gone);
        prop_assert_eq!(without.check(), Ok(()));
        let mut others = form.unrolled();
        others.retain(|&letter| letter != gone);
        prop_assert_eq!(without.unrolled(), others);
    }

    #[test]
    fn any_text_is_read_or_refused(text in "[A-Cxé0-3()\\[\\] ]{0,30}") {
        if let Ok(form) = text.parse::<Form>() {
            prop_assert_eq!(form.to_string().parse::<Form>(), Ok(form));
        }
    }
}
