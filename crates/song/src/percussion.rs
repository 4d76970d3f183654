//! The names of drums: what the keys of a drum kit sound like in General MIDI.

use crate::U7;

/// The first key that has a name.
const FIRST: u8 = 35;

/// The names of keys 35 to 81, as General MIDI System Level 1 (RP-003) spells them in its table
/// "Percussion Key Map", each with a short form of our own for narrow columns.
const NAMES: [(&str, &str); 47] = [
    ("Acoustic Bass Drum", "Bass Dr A"),
    ("Bass Drum 1", "Bass Dr 1"),
    ("Side Stick", "Side Stk"),
    ("Acoustic Snare", "Snare Ac"),
    ("Hand Clap", "Hand Clap"),
    ("Electric Snare", "Snare El"),
    ("Low Floor Tom", "Floor Low"),
    ("Closed Hi-Hat", "HH Closed"),
    ("High Floor Tom", "Floor Hi"),
    ("Pedal Hi-Hat", "HH Pedal"),
    ("Low Tom", "Tom Low"),
    ("Open Hi-Hat", "HH Open"),
    ("Low-Mid Tom", "Tom LoMid"),
    ("Hi-Mid Tom", "Tom HiMid"),
    ("Crash Cymbal 1", "Crash 1"),
    ("High Tom", "Tom High"),
    ("Ride Cymbal 1", "Ride 1"),
    ("Chinese Cymbal", "Chinese"),
    ("Ride Bell", "Ride Bell"),
    ("Tambourine", "Tambourin"),
    ("Splash Cymbal", "Splash"),
    ("Cowbell", "Cowbell"),
    ("Crash Cymbal 2", "Crash 2"),
    ("Vibraslap", "Vibraslap"),
    ("Ride Cymbal 2", "Ride 2"),
    ("Hi Bongo", "Bongo Hi"),
    ("Low Bongo", "Bongo Low"),
    ("Mute Hi Conga", "Conga Mut"),
    ("Open Hi Conga", "Conga Opn"),
    ("Low Conga", "Conga Low"),
    ("High Timbale", "Timb High"),
    ("Low Timbale", "Timb Low"),
    ("High Agogo", "Agogo Hi"),
    ("Low Agogo", "Agogo Low"),
    ("Cabasa", "Cabasa"),
    ("Maracas", "Maracas"),
    ("Short Whistle", "Whistle S"),
    ("Long Whistle", "Whistle L"),
    ("Short Guiro", "Guiro S"),
    ("Long Guiro", "Guiro L"),
    ("Claves", "Claves"),
    ("Hi Wood Block", "Block Hi"),
    ("Low Wood Block", "Block Low"),
    ("Mute Cuica", "Cuica Mut"),
    ("Open Cuica", "Cuica Opn"),
    ("Mute Triangle", "Trian Mut"),
    ("Open Triangle", "Trian Opn"),
];

fn entry(key: U7) -> Option<&'static (&'static str, &'static str)> {
    NAMES.get(usize::from(key.get().checked_sub(FIRST)?))
}

/// The name of a drum key; `None` for a key that the standard gives no drum.
pub fn drum_name(key: U7) -> Option<&'static str> {
    entry(key).map(|(name, _)| *name)
}

/// A short form of the name, at most nine letters.
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
        assert!(short.iter().all(|name| name.len() <= 9));
        let name = |key| short_drum_name(U7::low_bits(key));
        assert_eq!((name(42), name(56)), (Some("HH Closed"), Some("Cowbell")));
        assert_eq!((name(34), name(82)), (None, None));
    }
}
