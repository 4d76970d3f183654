//! What a track sounds like, in words: the programs of General MIDI by name, and kits of drums.
//!
//! In: a program, what somebody typed, or the name of a track. Out: words, or a program.

use crate::text;
use chaconne_song::{U7, find_program, program_name};

/// What stands for no program: the instrument keeps what it has.
pub const NONE: &str = "none";

/// The kit that every drum track starts with.
const STANDARD: &str = "Standard Kit";

/// Words in a track's name, and the number of the program they ask for. The first line that has one
/// of the name's words decides: "synth bass" is a bass. Numbers are those of General MIDI System
/// Level 1 (RP-003), "General MIDI Sound Set"; which word asks for which is our own choice.
const WORDS: &[(&[&str], u8)] = &[
    (&["bass"], 34),
    (&["guitar"], 26),
    (&["organ"], 17),
    (&["brass"], 62),
    (&["choir", "voice", "vocal"], 53),
    (&["bell"], 15),
    (&["piano"], 1),
    (&["violin"], 41),
    (&["viola"], 42),
    (&["cello"], 43),
    (&["harp"], 47),
    (&["trumpet"], 57),
    (&["horn"], 61),
    (&["sax"], 67),
    (&["clarinet"], 72),
    (&["pad", "string"], 49),
    (&["chord", "key"], 5),
    (&["lead", "melody", "melodie", "line", "tune", "flute"], 74),
];

/// What a program is called: as a sound, or as a kit of drums.
pub fn name(program: Option<U7>, drums: bool) -> String {
    match program {
        None => NONE.to_string(),
        Some(kit) if drums && kit.get() == 0 => STANDARD.to_string(),
        Some(kit) if drums => format!("kit {}", kit.get() + 1),
        Some(program) => program_name(program).to_string(),
    }
}

/// The program that was typed, by number or by part of its name; nothing, and the word "none", are
/// none.
///
/// # Errors
/// Where it means none; the sentence says what would be right.
pub fn find(typed: &str, drums: bool) -> Result<Option<U7>, String> {
    let typed = typed.trim();
    if typed.is_empty() || typed.eq_ignore_ascii_case(NONE) {
        return Ok(None);
    }
    let found = if drums { find_kit(typed) } else { find_program(typed) };
    let shown = text::clip(typed, 20, '~');
    match found {
        Some(program) => Ok(Some(program)),
        None if drums => Err(format!("'{shown}' is no kit: give its number, 1 to 128, or {NONE}.")),
        None => {
            Err(format!("'{shown}' is no sound: give a General MIDI name, 1 to 128, or {NONE}."))
        }
    }
}

fn find_kit(typed: &str) -> Option<U7> {
    if STANDARD.to_lowercase().starts_with(&typed.to_lowercase()) {
        return U7::new(0);
    }
    let number = typed.trim_start_matches("kit ").parse::<u8>().ok()?;
    number.checked_sub(1).and_then(U7::new)
}

/// What a track of that name most likely sounds like.
pub fn proposal(track: &str, drums: bool) -> Option<U7> {
    if drums {
        return U7::new(0);
    }
    let name = track.to_lowercase();
    let words: Vec<&str> = name.split(|c: char| !c.is_alphabetic()).collect();
    let has = |wanted: &&str| {
        words.iter().any(|word| word == wanted || word.strip_suffix('s') == Some(wanted))
    };
    let found = WORDS.iter().find(|(wanted, _)| wanted.iter().any(&has));
    found.and_then(|&(_, number)| U7::new(number - 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_asks_for_a_sound_by_its_words() {
        let cases = [
            ("bass", "Electric Bass (finger)"),
            ("Chords", "Electric Piano 1"),
            ("KEYS 2", "Electric Piano 1"),
            ("warm pad", "String Ensemble 1"),
            ("Strings", "String Ensemble 1"),
            ("lead", "Flute"),
            ("melody", "Flute"),
            ("line", "Flute"),
            ("a tune", "Flute"),
            ("bass line", "Electric Bass (finger)"),
            ("lead guitar", "Acoustic Guitar (steel)"),
            ("organ", "Drawbar Organ"),
            ("brass", "Brass Section"),
            ("choir", "Choir Aahs"),
            ("bells", "Tubular Bells"),
            ("bass2", "Electric Bass (finger)"),
            // A word within another one asks for nothing.
            ("keyhole", "none"),
            ("track 5", "none"),
            ("", "none"),
        ];
        for (track, sound) in cases {
            assert_eq!(name(proposal(track, false), false), sound, "{track}");
        }
        assert_eq!(name(proposal("bass drums", true), true), STANDARD);
    }

    #[test]
    fn what_is_called_so_is_found_again() {
        for drums in [false, true] {
            for program in (0..128).map(U7::new).chain([None]) {
                assert_eq!(find(&name(program, drums), drums), Ok(program));
            }
        }
    }

    #[test]
    fn what_is_typed_is_a_number_part_of_a_name_or_nothing() {
        let number = |typed, drums| find(typed, drums).unwrap().map(|program| program.get() + 1);
        assert_eq!(number(" cello ", false), Some(43));
        assert_eq!(number("ele p", false), Some(5));
        assert_eq!(number("None", false), None);
        assert_eq!(number("", true), None);
        assert_eq!(number("9", true), Some(9));
        assert_eq!(number("stan", true), Some(1));
        assert_eq!(
            find("theremin", false).unwrap_err(),
            "'theremin' is no sound: give a General MIDI name, 1 to 128, or none."
        );
        assert_eq!(
            find("129", true).unwrap_err(),
            "'129' is no kit: give its number, 1 to 128, or none."
        );
    }
}
