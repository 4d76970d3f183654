//! The names of drums: what the keys of a drum kit sound like in General MIDI.

use crate::U7;

/// The first key that has a name.
const FIRST: u8 = 35;

/// The names of keys 35 to 81, as General MIDI System Level 1 (RP-003) spells them in its table
/// "Percussion Key Map", each with a short form of our own for narrow columns and one of
/// three letters for the keys of a keyboard.
const NAMES: [(&str, &str, &str); 47] = [
    ("Acoustic Bass Drum", "Bass Dr A", "BsA"),
    ("Bass Drum 1", "Bass Dr 1", "Bss"),
    ("Side Stick", "Side Stk", "Stk"),
    ("Acoustic Snare", "Snare Ac", "Snr"),
    ("Hand Clap", "Hand Clap", "Clp"),
    ("Electric Snare", "Snare El", "SnE"),
    ("Low Floor Tom", "Floor Low", "FlL"),
    ("Closed Hi-Hat", "HH Closed", "HHc"),
    ("High Floor Tom", "Floor Hi", "FlH"),
    ("Pedal Hi-Hat", "HH Pedal", "HHp"),
    ("Low Tom", "Tom Low", "TmL"),
    ("Open Hi-Hat", "HH Open", "HHo"),
    ("Low-Mid Tom", "Tom LoMid", "TLM"),
    ("Hi-Mid Tom", "Tom HiMid", "THM"),
    ("Crash Cymbal 1", "Crash 1", "Cr1"),
    ("High Tom", "Tom High", "TmH"),
    ("Ride Cymbal 1", "Ride 1", "Rd1"),
    ("Chinese Cymbal", "Chinese", "Chi"),
    ("Ride Bell", "Ride Bell", "Bel"),
    ("Tambourine", "Tambourin", "Tmb"),
    ("Splash Cymbal", "Splash", "Spl"),
    ("Cowbell", "Cowbell", "Cow"),
    ("Crash Cymbal 2", "Crash 2", "Cr2"),
    ("Vibraslap", "Vibraslap", "Vib"),
    ("Ride Cymbal 2", "Ride 2", "Rd2"),
    ("Hi Bongo", "Bongo Hi", "BgH"),
    ("Low Bongo", "Bongo Low", "BgL"),
    ("Mute Hi Conga", "Conga Mut", "CgM"),
    ("Open Hi Conga", "Conga Opn", "CgO"),
    ("Low Conga", "Conga Low", "CgL"),
    ("High Timbale", "Timb High", "TiH"),
    ("Low Timbale", "Timb Low", "TiL"),
    ("High Agogo", "Agogo Hi", "AgH"),
    ("Low Agogo", "Agogo Low", "AgL"),
    ("Cabasa", "Cabasa", "Cab"),
    ("Maracas", "Maracas", "Mrc"),
    ("Short Whistle", "Whistle S", "WhS"),
    ("Long Whistle", "Whistle L", "WhL"),
    ("Short Guiro", "Guiro S", "GuS"),
    ("Long Guiro", "Guiro L", "GuL"),
    ("Claves", "Claves", "Clv"),
    ("Hi Wood Block", "Block Hi", "BlH"),
    ("Low Wood Block", "Block Low", "BlL"),
    ("Mute Cuica", "Cuica Mut", "CuM"),
    ("Open Cuica", "Cuica Opn", "CuO"),
    ("Mute Triangle", "Trian Mut", "TrM"),
    ("Open Triangle", "Trian Opn", "TrO"),
];

fn entry(key: U7) -> Option<&'static (&'static str, &'static str, &'static str)> {
    NAMES.get(usize::from(key.get().checked_sub(FIRST)?))
}

/// The name of a drum key; `None` for a key that the standard gives no drum.
pub fn drum_name(key: U7) -> Option<&'static str> {
    entry(key).map(|(name, ..)| *name)
}

/// A short form of the name, at most nine letters.
pub fn short_drum_name(key: U7) -> Option<&'static str> {
    entry(key).map(|(_, short, _)| *short)
}

/// The same in three letters.
pub fn drum_sign(key: U7) -> Option<&'static str> {
    entry(key).map(|(.., sign)| *sign)
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
        let short: BTreeSet<&str> = NAMES.iter().map(|(_, short, _)| *short).collect();
        let signs: BTreeSet<&str> = NAMES.iter().map(|(.., sign)| *sign).collect();
        assert!(signs.len() == NAMES.len() && signs.iter().all(|sign| sign.len() == 3));
        assert_eq!(short.len(), NAMES.len());
        assert!(short.iter().all(|name| name.len() <= 9));
        let name = |key| short_drum_name(U7::low_bits(key));
        assert_eq!((name(42), name(56)), (Some("HH Closed"), Some("Cowbell")));
        assert_eq!((name(34), name(82)), (None, None));
    }
}
