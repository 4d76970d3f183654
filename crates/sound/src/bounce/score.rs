//! The score: what is played, as plain data.
//!
//! In: messages from whoever knows the song. Out: for each stem, the messages that its instrument
//! gets: its own, and whatever moves a channel that it plays on. Two tracks that share a channel
//! share its program, its levels and its pedal, and so must their stems.

use std::sync::Arc;

/// A message, when it is due, on which port and for which stem.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cue {
    /// The frame it is due at.
    pub frame: u64,
    /// The stem it belongs to, as a place among the stems; any other number belongs to none.
    pub stem: usize,
    /// Which instrument it is for; those with the same number hear the same channels.
    pub port: u8,
    /// What.
    bytes: Bytes,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Bytes {
    Short([u8; 3], u8),
    Long(Arc<[u8]>),
    /// The click; whether it is accented.
    Strike(bool),
}

impl Cue {
    /// One whole MIDI message, status byte first.
    pub fn new(frame: u64, stem: usize, port: u8, message: &[u8]) -> Cue {
        let mut short = [0; 3];
        let bytes = match short.get_mut(..message.len()) {
            Some(part) => {
                part.copy_from_slice(message);
                Bytes::Short(short, message.len() as u8)
            }
            None => Bytes::Long(message.into()),
        };
        Cue { frame, stem, port, bytes }
    }

    /// A strike of the click.
    pub fn strike(frame: u64, stem: usize, accent: bool) -> Cue {
        Cue { frame, stem, port: 0, bytes: Bytes::Strike(accent) }
    }

    /// Whether it is a strike of the click, and accented.
    pub fn as_strike(&self) -> Option<bool> {
        if let Bytes::Strike(accent) = self.bytes { Some(accent) } else { None }
    }

    /// The message; empty for a strike of the click.
    pub fn message(&self) -> &[u8] {
        match &self.bytes {
            Bytes::Strike(_) => &[],
            Bytes::Short(bytes, count) => &bytes[..usize::from(*count)],
            Bytes::Long(bytes) => bytes,
        }
    }

    /// Whether it strikes, lifts or presses one key, and whose channel it is, from 0; `None` for
    /// a message to the whole instrument.
    fn channel(&self) -> Option<(u8, bool)> {
        let status = *self.message().first()?;
        (0x80..0xF0).contains(&status).then_some((status & 15, status < 0xB0))
    }
}

/// Everything that is played.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Score {
    /// How many stems there are.
    pub stems: usize,
    /// The messages, in the order in which they are sent; their frames never fall.
    pub cues: Vec<Cue>,
}

/// What one stem hears.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Ear {
    stem: usize,
    /// Port and channel of its notes; empty for a stem that strikes none.
    places: Vec<(u8, u8)>,
    /// Whether it strikes the click.
    clicks: bool,
}

impl Ear {
    /// The ears of all stems.
    pub fn all(score: &Score) -> Vec<Ear> {
        let new = |stem| Ear { stem, ..Ear::default() };
        let mut ears: Vec<Ear> = (0..score.stems).map(new).collect();
        for cue in &score.cues {
            let Some(ear) = ears.get_mut(cue.stem) else { continue };
            ear.clicks |= cue.as_strike().is_some();
            if let Some((channel, true)) = cue.channel() {
                let place = (cue.port, channel);
                if !ear.places.contains(&place) {
                    ear.places.push(place);
                }
            }
        }
        ears
    }

    /// Whether the stem strikes no key at all.
    pub fn is_silent(&self) -> bool {
        self.places.is_empty()
    }

    /// Whether the stem strikes the click.
    pub fn clicks(&self) -> bool {
        self.clicks
    }

    /// Whether the stem hears a message, or a strike.
    pub fn hears(&self, cue: &Cue) -> bool {
        match cue.channel() {
            _ if cue.as_strike().is_some() => cue.stem == self.stem,
            Some((_, true)) => cue.stem == self.stem,
            Some((channel, false)) => self.places.contains(&(cue.port, channel)),
            None => self.places.iter().any(|&(port, _)| port == cue.port),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stem_hears_its_notes_and_what_moves_their_channel() {
        let cues = vec![
            Cue::new(0, 0, 0, &[0xC0, 5]),
            Cue::new(0, 0, 0, &[0x90, 60, 100]),
            Cue::new(0, 1, 0, &[0xB0, 7, 90]),
            Cue::new(0, 1, 0, &[0x90, 64, 100]),
            Cue::new(0, 2, 0, &[0x91, 64, 100]),
            Cue::new(0, 9, 0, &[0xE1, 0, 70]),
            Cue::new(0, 2, 1, &[0xF0, 0x7E, 0x7F, 9, 1, 0xF7]),
            Cue::new(0, 3, 1, &[0xB0, 7, 80]),
        ];
        let score = Score { stems: 4, cues };
        let ears = Ear::all(&score);
        let heard = |stem: usize| -> Vec<usize> {
            let cues = score.cues.iter().enumerate();
            cues.filter(|(_, cue)| ears[stem].hears(cue)).map(|(place, _)| place).collect()
        };
        assert_eq!(heard(0), [0, 1, 2]);
        assert_eq!(heard(1), [0, 2, 3]);
        assert_eq!(heard(2), [4, 5]);
        assert!(ears[3].is_silent() && heard(3).is_empty());
        assert_eq!(score.cues[6].message().len(), 6);
    }

    #[test]
    fn only_its_own_stem_hears_the_click() {
        let cues = vec![
            Cue::new(0, 0, 0, &[0x90, 60, 100]),
            Cue::strike(0, 1, true),
            Cue::new(0, 9, 0, &[0xF0, 0x7E, 0x7F, 9, 1, 0xF7]),
        ];
        let score = Score { stems: 2, cues };
        let ears = Ear::all(&score);
        assert_eq!(ears.iter().map(Ear::clicks).collect::<Vec<_>>(), [false, true]);
        assert!(ears[1].is_silent() && !ears[0].hears(&score.cues[1]));
        assert_eq!(score.cues.iter().filter(|cue| ears[1].hears(cue)).count(), 1);
        assert_eq!(score.cues[1].as_strike(), Some(true));
    }
}
