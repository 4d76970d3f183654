//! Numbers the ports of a song for a Standard MIDI File.

use crate::ExportError;
use chaconne_song::Song;
use midly::num::u7;
use std::collections::{BTreeMap, BTreeSet};

/// How many ports a file can tell apart: a port's number is one data byte.
pub(crate) const MOST: usize = 128;

/// The number of each port that the song's tracks play on, counted from 0; empty if every port
/// would be number 0.
///
/// `port 1` is number 0 and so on, so that the ports of an imported file keep their numbers. Any
/// other port gets the lowest number that is free, in the order of the tracks. Muted tracks count
/// too, so muting one does not renumber the ports of others.
pub(super) fn numbers(song: &Song) -> Result<BTreeMap<&str, u7>, ExportError> {
    let mut ports: Vec<&str> = Vec::new();
    let mut seen = BTreeSet::new();
    for track in &song.tracks {
        if seen.insert(track.port.as_str()) {
            ports.push(&track.port);
        }
    }
    if ports.len() > MOST {
        return Err(ExportError::TooManyPorts(ports.len()));
    }
    let fixed: BTreeSet<u8> = ports.iter().filter_map(|port| number_in(port)).collect();
    let mut free = (0..MOST as u8).filter(|number| !fixed.contains(number));
    let mut numbers = BTreeMap::new();
    for port in ports {
        if let Some(number) = number_in(port).or_else(|| free.next()) {
            numbers.insert(port, u7::new(number));
        }
    }
    if numbers.values().all(|&number| number == 0) {
        numbers.clear();
    }
    Ok(numbers)
}

/// The number in a name that import gives: 0 for `port 1` to 127 for `port 128`.
fn number_in(port: &str) -> Option<u8> {
    let digits = port.strip_prefix("port ")?;
    let number: u8 = digits.parse().ok()?;
    // Only one spelling counts: 'port 01' and 'port +1' are other ports.
    let number = number.checked_sub(1).filter(|_| digits == number.to_string())?;
    (usize::from(number) < MOST).then_some(number)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::section;
    use chaconne_song::{Track, TrackId};
    use chaconne_time::Metre;
    use std::sync::Arc;

    fn song(ports: impl IntoIterator<Item = String>) -> Song {
        let mut song = Song::new("T", section("A", 1, Metre::common(), "120"));
        for (id, port) in (1..).zip(ports) {
            let track = Track { port, ..Track::pitched(TrackId(id), &format!("Part {id}")) };
            song.tracks.push(Arc::new(track));
        }
        song
    }

    fn numbered(ports: &[&str]) -> Vec<(String, u8)> {
        let song = song(ports.iter().map(|port| port.to_string()));
        let numbers = numbers(&song).unwrap();
        numbers.into_iter().map(|(port, number)| (port.to_string(), number.as_int())).collect()
    }

    fn pairs(pairs: &[(&str, u8)]) -> Vec<(String, u8)> {
        pairs.iter().map(|&(port, number)| (port.to_string(), number)).collect()
    }

    #[test]
    fn numbered_ports_keep_their_numbers_and_others_take_the_free_ones() {
        assert_eq!(numbered(&["port 1", "port 2"]), pairs(&[("port 1", 0), ("port 2", 1)]));
        assert_eq!(numbered(&["", "port 1"]), pairs(&[("", 1), ("port 1", 0)]));
        assert_eq!(
            numbered(&["keys", "port 1", "pads"]),
            pairs(&[("keys", 1), ("pads", 2), ("port 1", 0)])
        );
        assert_eq!(numbered(&["port 01", "port 2"]), pairs(&[("port 01", 0), ("port 2", 1)]));
        assert_eq!(numbered(&["port 3"]), pairs(&[("port 3", 2)]));
    }

    #[test]
    fn one_port_needs_no_number() {
        for ports in [&[""][..], &["keys", "keys"], &["port 1"], &[]] {
            assert_eq!(numbered(ports), [], "{ports:?}");
        }
    }

    #[test]
    fn more_ports_than_a_file_can_tell_apart_are_refused() {
        let named = |most: usize| song((0..most).map(|index| format!("rack {index}")));
        assert_eq!(numbers(&named(MOST)).unwrap().len(), MOST);
        assert_eq!(numbers(&named(MOST + 1)), Err(ExportError::TooManyPorts(MOST + 1)));
        let high = numbered(&["port 128", "port 129", "port 0"]);
        assert_eq!(high, pairs(&[("port 0", 1), ("port 128", 127), ("port 129", 0)]));
    }
}
