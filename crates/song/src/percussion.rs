//! The names of drums: what the keys of a drum kit sound like in General MIDI.

use crate::U7;

/// The first key that has a name.
const FIRST: u8 = 35;

/// The names of keys 35 to 81, as General MIDI System Level 1 (RP-003) spells them in its table
/// "Percussion Key Map", each with a short form of our own of three letters.
const NAMES: [(&str, &str); 47] = [
    ("Acoustic Bass Drum", "ABD"),
    ("Bass Drum 1", "BD1"),
    ("Side Stick", "Stk"),
    ("Acoustic Snare", "SnA"),
    ("Hand Clap", "Clp"),
    ("Electric Snare", "SnE"),
    ("Low Floor Tom", "FlL"),
    ("Closed Hi-Hat", "HHc"),
    ("High Floor Tom", "FlH"),
    ("Pedal Hi-Hat", "HHp"),
    ("Low Tom", "LoT"),
    ("Open Hi-Hat", "HHo"),
    ("Low-Mid Tom", "LMT"),
    ("Hi-Mid Tom", "HMT"),
    ("Crash Cymbal 1", "Cr1"),
    ("High Tom", "HiT"),
    ("Ride Cymbal 1", "Rd1"),
    ("Chinese Cymbal", "Chi"),
    ("Ride Bell", "Bel"),
    ("Tambourine", "Tmb"),
    ("Splash Cymbal", "Spl"),
    ("Cowbell", "Cow"),
    ("Crash Cymbal 2", "Cr2"),
    ("Vibraslap", "Vib"),
    ("Ride Cymbal 2", "Rd2"),
    ("Hi Bongo", "BgH"),
    ("Low Bongo", "BgL"),
    ("Mute Hi Conga", "CgM"),
    ("Open Hi Conga", "CgO"),
    ("Low Conga", "CgL"),
    ("High Timbale", "TbH"),
    ("Low Timbale", "TbL"),
    ("High Agogo", "AgH"),
    ("Low Agogo", "AgL"),
    ("Cabasa", "Cab"),
    ("Maracas", "Mrc"),
    ("Short Whistle", "WhS"),
    ("Long Whistle", "WhL"),
    ("Short Guiro", "GuS"),
    ("Long Guiro", "GuL"),
    ("Claves", "Clv"),
    ("Hi Wood Block", "BlH"),
    ("Low Wood Block", "BlL"),
    ("Mute Cuica", "CuM"),
    ("Open Cuica", "CuO"),
    ("Mute Triangle", "TrM"),
    ("Open Triangle", "TrO"),
];

fn entry(key: U7) -> Option<&'static (&'static str, &'static str)> {
    NAMES.get(usize::from(key.get().checked_sub(FIRST)?))
}

/// The name of a drum key; `None` for a key that the standard gives no drum.
pub fn drum_name(key: U7) -> Option<&'static str> {
    entry(key).map(|(name, _)| *name)
}

/// A short form of the name: three letters.
pub fn short_drum_name(key: U7) -> Option<&'static str> {
    entry(key).map(|(_, short)| *short)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn drums_have_the_names_of_the_standard() {
        // RP-003, "Percussion Key Map".
        let name = |key| drum_name(U7::low_bits(key));
        assert_eq!(name(35), Some("Acoustic Bass Drum"));
        assert_eq!(name(38), Some("Acoustic Snare"));
        assert_eq!(name(42), Some("Closed Hi-Hat"));
        assert_eq!(name(56), Some("Cowbell"));
        assert_eq!(name(64), Some("Low Conga"));
        assert_eq!(name(75), Some("Claves"));
        assert_eq!(name(81), Some("Open Triangle"));
        assert_eq!((name(34), name(82)), (None, None));
    }

    #[test]
    fn short_names_fit_and_differ() {
        let short: BTreeSet<&str> = NAMES.iter().map(|(_, short)| *short).collect();
        assert_eq!(short.len(), NAMES.len());
        assert!(short.iter().all(|name| name.len() == 3));
        // Two with the same letters in another order, or in the other case, look alike.
        let sorted = |name: &&str| {
            let mut letters: Vec<char> = name.to_lowercase().chars().collect();
            letters.sort_unstable();
            letters
        };
        let letters: BTreeSet<Vec<char>> = short.iter().map(sorted).collect();
        assert_eq!(letters.len(), NAMES.len());
        let name = |key| short_drum_name(U7::low_bits(key));
        assert_eq!((name(42), name(56)), (Some("HHc"), Some("Cow")));
        assert_eq!((name(34), name(82)), (None, None));
    }
}
