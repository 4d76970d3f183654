//! The file reference, `docs/song-file.md`, agrees with what the program reads and writes.

use chaconne_song::{Form, Groove, Human, Song, text};
use chaconne_time::MetreMap;

const REFERENCE: &str = include_str!("../../../docs/song-file.md");

/// The example: the first code block of the reference.
fn example() -> &'static str {
    REFERENCE.split("```ron\n").nth(1).unwrap().split("```").next().unwrap()
}

#[test]
fn the_example_is_what_the_program_writes() {
    let song = text::read(example()).unwrap();
    assert_eq!(text::write(&song), example());
    assert_eq!(song.sections.len(), 2);
}

#[test]
fn every_field_of_every_record_is_in_its_table_and_in_the_example() {
    for (heading, first) in [
        ("## The song", "chaconne:"),
        ("## A track", "id: 1, name:"),
        ("## A feel", "grid:"),
        ("### A given groove", "id: 9, timing:"),
        ("### Human variation", "timing: 20,"),
        ("## A groove", "id: 9,\n"),
        ("### A step", "step: 1, loudness"),
        ("## A section", "letter:"),
        ("### A change of metre", "bar: 1,"),
        ("### A tempo point", "at: \"1.1.0\", tempo:"),
        ("## A pass", "id: 3,"),
        ("### A cover", "from: \"1.1.0\", to:"),
        ("### A chord", "at: \"1.1.0\", chord:"),
        ("### A shared pass", "mute: true), // \"Bass\""),
        ("### A note", "id: 1, at"),
        ("### A lane", "control:"),
        ("### A point", "at: \"1.1.0\", value:"),
        ("### A message", "at: \"1.1.0\", bytes:"),
    ] {
        // An unknown field makes the reader list the known ones.
        let text = example().replacen(first, &format!("wrong: 0, {first}"), 1);
        let message = text::read(&text).unwrap_err().remove(0).message;
        let (_, list) = message.split_once("its fields are ").expect(&message);
        let list = list.replace(" and ", ", ");
        let (_, table) = REFERENCE.split_once(&format!("\n{heading}\n")).expect(heading);
        let table = table.split("\n#").next().unwrap();
        let rows = table.lines().filter_map(|line| line.strip_prefix("| `"));
        let named: Vec<&str> = rows.filter_map(|row| row.split('`').next()).collect();
        assert_eq!(named.join(", "), list, "{heading}");
        for field in named {
            assert!(example().contains(&format!("{field}: ")), "{field}");
        }
    }
}

#[test]
fn the_reference_gives_the_real_limits() {
    for limit in [
        format!("at most {}", Song::MAX_TRACKS),
        format!("at most {}", Song::MAX_GROOVES),
        format!("1 to {}", Groove::LAST_STEP),
        format!("1 to {}", Groove::MAX_BARS),
        format!("0 to {}", Groove::LOUDEST),
        format!("0 to {}", Human::LAST_SEED),
        format!("at most {}", Form::LONGEST),
        format!("1 to {}", Song::LAST_ID),
        format!("1 beat to {} bars", MetreMap::MAX_BARS),
        format!("at most {} bytes", chaconne_song::SysEx::LONGEST),
    ] {
        assert!(REFERENCE.contains(&limit), "{limit}");
    }
}
