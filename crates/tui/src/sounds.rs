//! What a track can sound like, in words: the programs of General MIDI by name, or kits of drums.
//!
//! In: the kits there are, a program, what somebody typed, or the name of a track. Out: a list to
//! choose from, words, or a program.

use crate::desk::{Kit, Kits};
use crate::text;
use chaconne_song::{U7, find_program, program_name};

/// The word for no program: the instrument keeps the one it has.
pub const NONE: &str = "none";

/// The kit that every drum track starts with.
const DEFAULT_KIT: &str = "Drum kit";

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

/// The drum sets of General MIDI 2 (RP-024, "GM2 Drum Sets"), by their program numbers. Those between are
/// variations of the set before: common practice, no source.
const STANDARD_KITS: [(u8, &str); 9] = [
    (1, DEFAULT_KIT),
    (9, "Room kit"),
    (17, "Power kit"),
    (25, "Electronic kit"),
    (26, "Analog kit"),
    (33, "Jazz kit"),
    (41, "Brush kit"),
    (49, "Orchestra kit"),
    (57, "Sound effects"),
];

/// What a program is called: as a sound, or as a kit of drums.
pub fn name(program: Option<U7>, drums: bool, kits: &Kits) -> String {
    match program {
        None => NONE.to_string(),
        Some(program) if drums => kit_name(program, kits),
        Some(program) => program_name(program).to_string(),
    }
}

fn kit_name(program: U7, kits: &Kits) -> String {
    let known = match kits {
        Kits::Any => None,
        Kits::Font(kits) => kits.iter().find(|kit| kit.program == program),
    };
    match known {
        Some(kit) if !kit.name.trim().is_empty() => kit.name.trim().to_string(),
        _ if program.get() == 0 => DEFAULT_KIT.to_string(),
        None if *kits == Kits::Any => standard_kit(program),
        _ => format!("kit {}", program.get() + 1),
    }
}

/// The kit of an instrument that follows General MIDI, or its variation of one: `Room kit`, `Room kit 2`.
fn standard_kit(program: U7) -> String {
    let number = program.get() + 1;
    let family = STANDARD_KITS.iter().rev().find(|(first, _)| *first <= number);
    match family {
        Some((first, name)) if *first == number => (*name).to_string(),
        Some((first, name)) if number < first / 8 * 8 + 9 => {
            format!("{name} {}", number - first / 8 * 8)
        }
        _ => format!("kit {number}"),
    }
}

/// The sounds that a track can be given: none, then programs, the lowest first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sounds {
    drums: bool,
    list: Vec<(Option<U7>, String)>,
    kits: Kits,
}

impl Sounds {
    /// The sounds of General MIDI, or the kits there are.
    pub fn of(drums: bool, kits: &Kits) -> Sounds {
        let programs: Vec<U7> = match kits {
            Kits::Font(kits) if drums => kits.iter().map(|kit: &Kit| kit.program).collect(),
            Kits::Any | Kits::Font(_) => (0..128).filter_map(U7::new).collect(),
        };
        let mut sounds = Sounds { drums, list: Vec::new(), kits: kits.clone() };
        for program in std::iter::once(None).chain(programs.into_iter().map(Some)) {
            sounds.list.push((program, name(program, drums, kits)));
        }
        sounds
    }

    /// The same and, if it is not among them, what a track is set to already.
    pub fn with(mut self, program: Option<U7>) -> Sounds {
        if !self.list.iter().any(|(known, _)| *known == program) {
            self.list.push((program, name(program, self.drums, &self.kits)));
            self.list.sort_by_key(|(program, _)| *program);
        }
        self
    }

    /// How many there are, at least one.
    pub fn len(&self) -> usize {
        self.list.len()
    }

    /// The program at a place of the list.
    pub fn program(&self, place: usize) -> Option<U7> {
        self.list.get(place).and_then(|(program, _)| *program)
    }

    /// What is at a place of the list.
    pub fn name(&self, place: usize) -> &str {
        self.list.get(place).map_or("", |(_, name)| name)
    }

    /// Where a program is in the list; the first place if it is not.
    pub fn place(&self, program: Option<U7>) -> usize {
        self.list.iter().position(|(known, _)| *known == program).unwrap_or(0)
    }

    /// The program that was typed, by number or by part of its name; nothing, and the word "none",
    /// are none.
    ///
    /// # Errors
    /// If it means none; the sentence says what would be right.
    pub fn find(&self, typed: &str) -> Result<Option<U7>, String> {
        let typed = typed.trim();
        if typed.is_empty() || typed.eq_ignore_ascii_case(NONE) {
            return Ok(None);
        }
        let found = if self.drums { self.find_kit(typed) } else { find_program(typed) };
        let shown = text::clip(typed, 20, '~');
        match (found, self.drums, &self.kits) {
            (Some(program), ..) => Ok(Some(program)),
            (None, true, Kits::Any) => {
                Err(format!("'{shown}' is not a kit: type a name, 1 to 128, or {NONE}."))
            }
            (None, true, Kits::Font(_)) => Err(format!(
                "'{shown}' is not a kit of this font: type {}, or {NONE}.",
                self.kit_numbers()
            )),
            (None, false, _) => {
                Err(format!("'{shown}' is not a sound: type a name, 1 to 128, or {NONE}."))
            }
        }
    }

    fn find_kit(&self, typed: &str) -> Option<U7> {
        let typed = typed.to_lowercase();
        let number = typed.trim_start_matches("kit ").parse::<u8>().ok();
        let wanted = number.and_then(|number| number.checked_sub(1)).and_then(U7::new);
        let programs = self.list.iter().filter_map(|(program, name)| Some(((*program)?, name)));
        let starts = |name: &str| name.to_lowercase().starts_with(&typed);
        let mut found = programs.filter(|(program, name)| Some(*program) == wanted || starts(name));
        found.next().map(|(program, _)| program)
    }

    /// What can be typed for a kit, in words.
    pub fn kit_numbers(&self) -> String {
        match (&self.kits, self.list.as_slice()) {
            (Kits::Any, _) => "a name, or 1 to 128".to_string(),
            (Kits::Font(_), [_, (Some(only), name)]) => format!("{} for {name}", only.get() + 1),
            (Kits::Font(_), _) => "the number of one in the list".to_string(),
        }
    }
}

/// What a track of that name most likely sounds like.
pub fn proposal(track: &str, drums: bool) -> Option<U7> {
    if drums {
        return U7::new(0);
    }
    if let Some(program) = named(track) {
        return Some(program);
    }
    let name = track.to_lowercase();
    let words: Vec<&str> = name.split(|c: char| !c.is_alphabetic()).collect();
    let has = |wanted: &&str| {
        words.iter().any(|word| word == wanted || word.strip_suffix('s') == Some(wanted))
    };
    let found = WORDS.iter().find(|(wanted, _)| wanted.iter().any(&has));
    found.and_then(|&(_, number)| U7::new(number - 1))
}

/// The program that a track is named after in full.
fn named(track: &str) -> Option<U7> {
    let words = |text: &str| -> Vec<String> {
        let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
        words.map(str::to_lowercase).collect()
    };
    let track = words(track);
    (0..128).filter_map(U7::new).find(|&program| words(program_name(program)) == track)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn font(kits: &[(u8, &str)]) -> Kits {
        let kit = |&(program, name): &(u8, &str)| Kit {
            program: U7::low_bits(program),
            name: name.to_string(),
        };
        Kits::Font(kits.iter().map(kit).collect())
    }

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
            // General MIDI System Level 1 (RP-003), "General MIDI Sound Set": a full name wins.
            ("reed organ", "Reed Organ"),
            ("Acoustic Bass", "Acoustic Bass"),
            ("electric piano 2", "Electric Piano 2"),
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
            assert_eq!(name(proposal(track, false), false, &Kits::Any), sound, "{track}");
        }
        assert_eq!(name(proposal("bass drums", true), true, &Kits::Any), DEFAULT_KIT);
    }

    #[test]
    fn every_sound_is_found_by_its_own_name() {
        for kits in [Kits::Any, font(&[(0, "Drum kit"), (8, "Room"), (40, "")])] {
            for drums in [false, true] {
                let sounds = Sounds::of(drums, &kits);
                for place in 0..sounds.len() {
                    let (name, program) = (sounds.name(place), sounds.program(place));
                    assert_eq!(sounds.find(name), Ok(program), "{name}");
                    assert_eq!(sounds.place(program), place);
                }
            }
        }
    }

    #[test]
    fn a_kit_has_the_name_of_the_standard() {
        let kit = |number: u8| name(U7::new(number - 1), true, &Kits::Any);
        let names = [1, 2, 8, 9, 10, 16, 17, 25, 26, 27, 33, 41, 49, 57, 64, 65, 128].map(kit);
        assert_eq!(
            names,
            [
                "Drum kit",
                "Drum kit 2",
                "Drum kit 8",
                "Room kit",
                "Room kit 2",
                "Room kit 8",
                "Power kit",
                "Electronic kit",
                "Analog kit",
                "Analog kit 3",
                "Jazz kit",
                "Brush kit",
                "Orchestra kit",
                "Sound effects",
                "Sound effects 8",
                "kit 65",
                "kit 128"
            ]
        );
    }

    #[test]
    fn only_the_kits_of_the_font_can_be_chosen() {
        let one = Sounds::of(true, &font(&[(0, "Drum kit")]));
        assert_eq!((one.len(), one.name(1)), (2, "Drum kit"));
        assert_eq!(
            one.find("9").unwrap_err(),
            "'9' is not a kit of this font: type 1 for Drum kit, or none."
        );
        // What a track is set to already stays in sight.
        let with = one.with(U7::new(8));
        assert_eq!((with.len(), with.name(2)), (3, "kit 9"));
        assert_eq!(Sounds::of(true, &Kits::Any).len(), 129);
    }

    #[test]
    fn a_sound_is_found_by_number_or_part_of_its_name() {
        let find = |typed, drums| Sounds::of(drums, &Kits::Any).find(typed);
        let number = |typed, drums| find(typed, drums).unwrap().map(|program| program.get() + 1);
        assert_eq!(number(" cello ", false), Some(43));
        assert_eq!(number("ele p", false), Some(5));
        assert_eq!(number("None", false), None);
        assert_eq!(number("", true), None);
        assert_eq!(number("9", true), Some(9));
        assert_eq!(number("dru", true), Some(1));
        assert_eq!(
            find("theremin", false).unwrap_err(),
            "'theremin' is not a sound: type a name, 1 to 128, or none."
        );
        assert_eq!(
            find("129", true).unwrap_err(),
            "'129' is not a kit: type a name, 1 to 128, or none."
        );
    }
}
