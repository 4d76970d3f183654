//! The names of programs: the sound set of General MIDI System Level 1.
//!
//! In: a program, or text that a musician typed. Out: its name, or the program meant.

use crate::U7;

/// The names, program 1 first, as General MIDI System Level 1 (RP-003) spells them in its table
/// "General MIDI Sound Set".
const NAMES: [&str; 128] = [
    "Acoustic Grand Piano",
    "Bright Acoustic Piano",
    "Electric Grand Piano",
    "Honky-tonk Piano",
    "Electric Piano 1",
    "Electric Piano 2",
    "Harpsichord",
    "Clavi",
    "Celesta",
    "Glockenspiel",
    "Music Box",
    "Vibraphone",
    "Marimba",
    "Xylophone",
    "Tubular Bells",
    "Dulcimer",
    "Drawbar Organ",
    "Percussive Organ",
    "Rock Organ",
    "Church Organ",
    "Reed Organ",
    "Accordion",
    "Harmonica",
    "Tango Accordion",
    "Acoustic Guitar (nylon)",
    "Acoustic Guitar (steel)",
    "Electric Guitar (jazz)",
    "Electric Guitar (clean)",
    "Electric Guitar (muted)",
    "Overdriven Guitar",
    "Distortion Guitar",
    "Guitar Harmonics",
    "Acoustic Bass",
    "Electric Bass (finger)",
    "Electric Bass (pick)",
    "Fretless Bass",
    "Slap Bass 1",
    "Slap Bass 2",
    "Synth Bass 1",
    "Synth Bass 2",
    "Violin",
    "Viola",
    "Cello",
    "Contrabass",
    "Tremolo Strings",
    "Pizzicato Strings",
    "Orchestral Harp",
    "Timpani",
    "String Ensemble 1",
    "String Ensemble 2",
    "SynthStrings 1",
    "SynthStrings 2",
    "Choir Aahs",
    "Voice Oohs",
    "Synth Voice",
    "Orchestra Hit",
    "Trumpet",
    "Trombone",
    "Tuba",
    "Muted Trumpet",
    "French Horn",
    "Brass Section",
    "SynthBrass 1",
    "SynthBrass 2",
    "Soprano Sax",
    "Alto Sax",
    "Tenor Sax",
    "Baritone Sax",
    "Oboe",
    "English Horn",
    "Bassoon",
    "Clarinet",
    "Piccolo",
    "Flute",
    "Recorder",
    "Pan Flute",
    "Blown Bottle",
    "Shakuhachi",
    "Whistle",
    "Ocarina",
    "Lead 1 (square)",
    "Lead 2 (sawtooth)",
    "Lead 3 (calliope)",
    "Lead 4 (chiff)",
    "Lead 5 (charang)",
    "Lead 6 (voice)",
    "Lead 7 (fifths)",
    "Lead 8 (bass + lead)",
    "Pad 1 (new age)",
    "Pad 2 (warm)",
    "Pad 3 (polysynth)",
    "Pad 4 (choir)",
    "Pad 5 (bowed)",
    "Pad 6 (metallic)",
    "Pad 7 (halo)",
    "Pad 8 (sweep)",
    "FX 1 (rain)",
    "FX 2 (soundtrack)",
    "FX 3 (crystal)",
    "FX 4 (atmosphere)",
    "FX 5 (brightness)",
    "FX 6 (goblins)",
    "FX 7 (echoes)",
    "FX 8 (sci-fi)",
    "Sitar",
    "Banjo",
    "Shamisen",
    "Koto",
    "Kalimba",
    "Bag pipe",
    "Fiddle",
    "Shanai",
    "Tinkle Bell",
    "Agogo",
    "Steel Drums",
    "Woodblock",
    "Taiko Drum",
    "Melodic Tom",
    "Synth Drum",
    "Reverse Cymbal",
    "Guitar Fret Noise",
    "Breath Noise",
    "Seashore",
    "Bird Tweet",
    "Telephone Ring",
    "Helicopter",
    "Applause",
    "Gunshot",
];

/// The name of a program in General MIDI System Level 1.
pub fn program_name(program: U7) -> &'static str {
    NAMES[usize::from(program.get())]
}

/// The program meant by a number from 1 to 128, or by a name or the beginnings of its words, in
/// upper or lower case: "ele p" finds Electric Piano 1.
///
/// If several names match, the best match wins, and of equal matches the lowest number. From best
/// to worst, the typed words are: the whole name; whole words of it, side by side; the beginnings
/// of its first words; of any words side by side; of any words in order.
pub fn find_program(text: &str) -> Option<U7> {
    if let Ok(number) = text.trim().parse::<u8>() {
        return number.checked_sub(1).and_then(U7::new);
    }
    let typed = words(text);
    if typed.iter().all(|word| word.chars().all(char::is_numeric)) {
        return None;
    }
    let matches: [Match; 5] =
        [|name, typed| name == typed, whole_words, begins, side_by_side, in_order];
    let names: Vec<Vec<String>> = NAMES.iter().map(|name| words(name)).collect();
    let found = matches.iter().find_map(|fits| names.iter().position(|name| fits(name, &typed)));
    found.and_then(|at| U7::new(at as u8))
}

/// Whether the words of a name match the typed words.
type Match = fn(&[String], &[String]) -> bool;

fn words(text: &str) -> Vec<String> {
    let words = text.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty());
    words.map(str::to_lowercase).collect()
}

fn whole_words(name: &[String], typed: &[String]) -> bool {
    name.windows(typed.len()).any(|some| some == typed)
}

/// Whether the typed words are the beginnings of the name's first words.
fn begins(name: &[String], typed: &[String]) -> bool {
    name.len() >= typed.len()
        && std::iter::zip(name, typed).all(|(word, typed)| word.starts_with(typed.as_str()))
}

fn side_by_side(name: &[String], typed: &[String]) -> bool {
    name.windows(typed.len()).any(|some| begins(some, typed))
}

fn in_order(name: &[String], typed: &[String]) -> bool {
    let mut rest = name.iter();
    typed.iter().all(|typed| rest.any(|word| word.starts_with(typed.as_str())))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(text: &str) -> Option<u8> {
        find_program(text).map(|program| program.get() + 1)
    }

    #[test]
    fn program_names_match_the_published_table() {
        // General MIDI System Level 1 (RP-003), "General MIDI Sound Set": the first of each family,
        // and the last.
        let table = [
            (1, "Acoustic Grand Piano"),
            (9, "Celesta"),
            (17, "Drawbar Organ"),
            (25, "Acoustic Guitar (nylon)"),
            (33, "Acoustic Bass"),
            (34, "Electric Bass (finger)"),
            (41, "Violin"),
            (49, "String Ensemble 1"),
            (57, "Trumpet"),
            (65, "Soprano Sax"),
            (73, "Piccolo"),
            (81, "Lead 1 (square)"),
            (89, "Pad 1 (new age)"),
            (97, "FX 1 (rain)"),
            (105, "Sitar"),
            (113, "Tinkle Bell"),
            (121, "Guitar Fret Noise"),
            (128, "Gunshot"),
        ];
        for (number, name) in table {
            assert_eq!(program_name(U7::low_bits(number - 1)), name);
        }
    }

    #[test]
    fn every_name_and_every_number_finds_its_own_program() {
        for (at, name) in NAMES.iter().enumerate() {
            let number = at as u8 + 1;
            assert_eq!(found(name), Some(number), "{name}");
            assert_eq!(found(&name.to_uppercase()), Some(number));
            assert_eq!(found(&format!(" {number} ")), Some(number));
        }
    }

    #[test]
    fn parts_of_a_name_find_the_best_match() {
        let cases = [
            ("cello", 43),
            ("ele p", 5),
            ("ele", 3),
            ("bass", 33),
            ("piano", 1),
            ("sax", 65),
            ("acoustic st", 26),
            ("aco pia", 2),
            ("e 1", 49),
            ("e finger", 34),
            ("warm", 90),
            ("bass+lead", 88),
            ("honky-tonk", 4),
        ];
        for (typed, number) in cases {
            assert_eq!(found(typed), Some(number), "{typed}");
        }
    }

    #[test]
    fn text_that_names_no_program_finds_none() {
        for text in ["", "  ", "0", "129", "300", "-1", "theremin", "piano cello", "()"] {
            assert_eq!(found(text), None, "{text:?}");
        }
    }
}
