//! Events in a musician's words: the last column of the listing.

use chaconne_engine::{Landmark, Message};
use chaconne_harmony::note_name;
use chaconne_song::{KeySignature, U7};
use std::fmt::Write;

/// The words for a section, metre or tempo.
pub(super) fn of_landmark(mark: &Landmark) -> String {
    match mark {
        Landmark::Section(letter) => format!("section {letter}"),
        Landmark::Tempo(tempo) => format!("tempo {tempo}"),
        Landmark::Metre(metre) => {
            let mut text = format!("metre {metre}");
            if !metre.groups().is_empty() {
                let groups: Vec<String> = metre.groups().iter().map(u8::to_string).collect();
                let _ = write!(text, " grouped {}", groups.join("+"));
            }
            if metre.tempo_unit() != chaconne_time::NoteValue::QUARTER {
                let _ = write!(text, " tempo in {}", metre.tempo_unit());
            }
            text
        }
    }
}

/// How the keys of a track are named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Keys {
    /// By number only, as those of drums.
    Numbers,
    /// As notes spelled for the key in which they sound; without one, with sharps.
    Notes(Option<KeySignature>),
}

/// The words for a message other than a press; `None` if it does not belong in a listing.
pub(super) fn of_message(message: Message, keys: Keys) -> Option<String> {
    Some(match message {
        Message::NoteOff { key, velocity, .. } => {
            format!("release {} velocity {velocity}", of_key(key, keys))
        }
        Message::KeyPressure { key, value, .. } => {
            format!("key pressure {} {value}", of_key(key, keys))
        }
        Message::Change { controller, value, .. } => match controller_name(controller) {
            Some(name) => format!("control {controller} {name} {value}"),
            None => format!("control {controller} {value}"),
        },
        Message::Program { program, .. } => format!("program {}", program.get() + 1),
        Message::Pressure { value, .. } => format!("pressure {value}"),
        Message::Bend { value, .. } => format!("bend {}", i32::from(value.get()) - 8192),
        _ => return None,
    })
}

/// The words for a system-exclusive message, with all its bytes.
pub(super) fn of_sysex(bytes: &[u8]) -> String {
    let mut text = String::from("system exclusive");
    for byte in bytes {
        let _ = write!(text, " {byte:02X}");
    }
    text
}

/// A key: its note name (middle C, 60, is C4) and number, or only its number on a drum track.
pub(super) fn of_key(key: U7, keys: Keys) -> String {
    const NAMES: [&str; 12] = ["C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B"];
    let number = key.get();
    match keys {
        Keys::Numbers => number.to_string(),
        Keys::Notes(None) => {
            let octave = i32::from(number / 12) - 1;
            format!("{}{octave} {number}", NAMES[usize::from(number % 12)])
        }
        Keys::Notes(of) => format!("{} {number}", note_name(key, of)),
    }
}

/// The purpose of a controller (MIDI 1.0, table III; General MIDI 1 for those above 70).
fn controller_name(controller: U7) -> Option<&'static str> {
    Some(match controller.get() {
        0 => "bank",
        1 => "modulation",
        2 => "breath",
        4 => "foot",
        5 => "portamento time",
        6 => "data entry",
        7 => "volume",
        8 => "balance",
        10 => "pan",
        11 => "expression",
        32 => "bank fine",
        38 => "data entry fine",
        64 => "sustain",
        65 => "portamento",
        66 => "sostenuto",
        67 => "soft",
        98 => "non-registered parameter fine",
        99 => "non-registered parameter",
        100 => "registered parameter fine",
        101 => "registered parameter",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_have_their_names() {
        // Octave numbers: middle C, key 60, is C4 (scientific pitch notation; MIDI 1.0 has 60 as
        // middle C). A4 is key 69.
        for (key, name) in [
            (60, "C4 60"),
            (69, "A4 69"),
            (36, "C2 36"),
            (0, "C-1 0"),
            (127, "G9 127"),
            (61, "C#4 61"),
        ] {
            assert_eq!(of_key(U7::low_bits(key), Keys::Notes(None)), name);
        }
        assert_eq!(of_key(U7::low_bits(38), Keys::Numbers), "38");
        let spelled = |key: &str| of_key(U7::low_bits(70), Keys::Notes(key.parse().ok()));
        assert_eq!(["F major", "B major"].map(spelled), ["Bb4 70", "A#4 70"]);
    }
}
