//! The score: the music to render, as plain data.
//!
//! In: messages, from a caller that knows the song. Out: the messages for each stem's instrument:
//! the stem's own, and those that change a channel it plays on. Two tracks on one channel share its
//! program, levels and pedal, so their stems must share them too.

use std::sync::Arc;

/// A message with its due frame, its port and its stem.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScoreEvent {
    /// The frame at which it is due.
    pub frame: u64,
    /// The index of its stem; an index past the last stem means none.
    pub stem: usize,
    /// Its port; messages with the same number share sixteen channels.
    pub port: u8,
    bytes: Bytes,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Bytes {
    Short([u8; 3], u8),
    Long(Arc<[u8]>),
    /// A click, and whether it is accented.
    Strike(bool),
}

impl ScoreEvent {
    /// An event for one whole MIDI message, status byte first.
    pub fn new(frame: u64, stem: usize, port: u8, message: &[u8]) -> ScoreEvent {
        let mut short = [0; 3];
        let bytes = match short.get_mut(..message.len()) {
            Some(part) => {
                part.copy_from_slice(message);
                Bytes::Short(short, message.len() as u8)
            }
            None => Bytes::Long(message.into()),
        };
        ScoreEvent { frame, stem, port, bytes }
    }

    /// An event for a click.
    pub fn strike(frame: u64, stem: usize, accent: bool) -> ScoreEvent {
        ScoreEvent { frame, stem, port: 0, bytes: Bytes::Strike(accent) }
    }

    /// Whether the click is accented; `None` if this is not a click.
    pub fn as_strike(&self) -> Option<bool> {
        if let Bytes::Strike(accent) = self.bytes { Some(accent) } else { None }
    }

    /// The message; empty for a click.
    pub fn message(&self) -> &[u8] {
        match &self.bytes {
            Bytes::Strike(_) => &[],
            Bytes::Short(bytes, count) => &bytes[..usize::from(*count)],
            Bytes::Long(bytes) => bytes,
        }
    }

    /// Its channel, counted from 0, and whether it concerns a single key (press, release or key
    /// pressure); `None` for a message to the whole instrument.
    fn channel(&self) -> Option<(u8, bool)> {
        let status = *self.message().first()?;
        (0x80..0xF0).contains(&status).then_some((status & 15, status < 0xB0))
    }
}

/// Everything to be rendered.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Score {
    /// The number of stems.
    pub stems: usize,
    /// The messages in sending order; their frames never decrease.
    pub events: Vec<ScoreEvent>,
}

/// Selects the messages that one stem needs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct StemFilter {
    stem: usize,
    /// Port and channel of its notes; empty for a stem without notes.
    places: Vec<(u8, u8)>,
    /// Whether it has clicks.
    clicks: bool,
}

impl StemFilter {
    /// The filters of all stems, in their order.
    pub fn all(score: &Score) -> Vec<StemFilter> {
        let new = |stem| StemFilter { stem, ..StemFilter::default() };
        let mut filters: Vec<StemFilter> = (0..score.stems).map(new).collect();
        for event in &score.events {
            let Some(filter) = filters.get_mut(event.stem) else { continue };
            filter.clicks |= event.as_strike().is_some();
            if let Some((channel, true)) = event.channel() {
                let place = (event.port, channel);
                if !filter.places.contains(&place) {
                    filter.places.push(place);
                }
            }
        }
        filters
    }

    /// Whether the stem has no notes.
    pub fn is_silent(&self) -> bool {
        self.places.is_empty()
    }

    /// Whether the stem has clicks.
    pub fn clicks(&self) -> bool {
        self.clicks
    }

    /// Whether the stem needs a message or a click.
    pub fn takes(&self, event: &ScoreEvent) -> bool {
        match event.channel() {
            _ if event.as_strike().is_some() => event.stem == self.stem,
            Some((_, true)) => event.stem == self.stem,
            Some((channel, false)) => self.places.contains(&(event.port, channel)),
            None => self.places.iter().any(|&(port, _)| port == event.port),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stem_takes_its_notes_and_what_changes_their_channel() {
        let events = vec![
            ScoreEvent::new(0, 0, 0, &[0xC0, 5]),
            ScoreEvent::new(0, 0, 0, &[0x90, 60, 100]),
            ScoreEvent::new(0, 1, 0, &[0xB0, 7, 90]),
            ScoreEvent::new(0, 1, 0, &[0x90, 64, 100]),
            ScoreEvent::new(0, 2, 0, &[0x91, 64, 100]),
            ScoreEvent::new(0, 9, 0, &[0xE1, 0, 70]),
            ScoreEvent::new(0, 2, 1, &[0xF0, 0x7E, 0x7F, 9, 1, 0xF7]),
            ScoreEvent::new(0, 3, 1, &[0xB0, 7, 80]),
        ];
        let score = Score { stems: 4, events };
        let filters = StemFilter::all(&score);
        let taken = |stem: usize| -> Vec<usize> {
            let events = score.events.iter().enumerate();
            events.filter(|(_, event)| filters[stem].takes(event)).map(|(place, _)| place).collect()
        };
        assert_eq!(taken(0), [0, 1, 2]);
        assert_eq!(taken(1), [0, 2, 3]);
        assert_eq!(taken(2), [4, 5]);
        assert!(filters[3].is_silent() && taken(3).is_empty());
        assert_eq!(score.events[6].message().len(), 6);
    }

    #[test]
    fn only_its_own_stem_takes_the_click() {
        let events = vec![
            ScoreEvent::new(0, 0, 0, &[0x90, 60, 100]),
            ScoreEvent::strike(0, 1, true),
            ScoreEvent::new(0, 9, 0, &[0xF0, 0x7E, 0x7F, 9, 1, 0xF7]),
        ];
        let score = Score { stems: 2, events };
        let filters = StemFilter::all(&score);
        assert_eq!(filters.iter().map(StemFilter::clicks).collect::<Vec<_>>(), [false, true]);
        assert!(filters[1].is_silent() && !filters[0].takes(&score.events[1]));
        assert_eq!(score.events.iter().filter(|event| filters[1].takes(event)).count(), 1);
        assert_eq!(score.events[1].as_strike(), Some(true));
    }
}
