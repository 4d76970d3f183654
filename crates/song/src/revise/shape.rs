//! Turning a line round: backwards in time, or upside down in pitch. Doing either twice gives back the
//! same notes.

use super::{Picked, ReviseError, key, start};
use crate::{Commit, Label, Note};
use chaconne_time::Tick;

/// What is mirrored when notes are reversed in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mirror {
    /// Notes with their lengths: the end of each becomes its start.
    Notes,
    /// Only the moments at which they are struck, as for drums, which ring as long as they like.
    Strokes,
}

/// The key that stays when notes are turned upside down.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Around {
    /// The middle between the lowest and the highest, which change places.
    Middle,
    /// That of the first note.
    First,
}

impl Picked {
    /// Plays them backwards within the time that they take.
    ///
    /// # Errors
    /// If one would begin outside its pass, which takes a note that is held past the end.
    pub fn reverse(&self, mirror: Mirror) -> Result<Commit, ReviseError> {
        let end = |note: &Note| match mirror {
            Mirror::Notes => note.stroke().end(),
            Mirror::Strokes => note.stroke().start,
        };
        let first = self.notes().map(|note| note.stroke().start).min();
        let last = self.notes().map(end).max();
        let (Some(first), Some(last)) = (first, last) else { return Err(ReviseError::Nothing) };
        let mirrored = |note: &Note| first + last - end(note);
        let mut with_pass = self
            .passes
            .iter()
            .flat_map(|(pass, notes)| notes.iter().map(move |note| (mirrored(note), pass.length)));
        if with_pass.any(|(start, length)| start >= length || start <= Tick(-length.0)) {
            return Err(ReviseError::Outside);
        }
        self.place(Label::Reverse, |_, note| start(note, mirrored(note)))
    }

    /// Turns them upside down: what was a step up becomes a step down.
    ///
    /// # Errors
    /// If one would leave the keys 0..=127.
    pub fn invert(&self, around: Around) -> Result<Commit, ReviseError> {
        let of = |note: &Note| i32::from(note.stroke().key.get());
        let ends = self.notes().map(of).min().zip(self.notes().map(of).max());
        let (low, high) = ends.ok_or(ReviseError::Nothing)?;
        // Twice the key that stays. Of several notes that begin together, the id decides, which stays
        // when the chord is turned.
        let first = || {
            let first = self
                .passes
                .iter()
                .flat_map(|(pass, notes)| notes.iter().map(move |note| (pass.id, note)))
                .min_by_key(|(pass, note)| (note.stroke().start, *pass, note.id));
            first.map_or(low, |(_, note)| of(note))
        };
        let twice = match around {
            Around::Middle => low + high,
            Around::First => 2 * first(),
        };
        if twice - low > 127 {
            return Err(ReviseError::TooHigh);
        }
        if twice - high < 0 {
            return Err(ReviseError::TooLow);
        }
        self.place(Label::Invert, |_, note| key(note, twice - of(note)))
    }
}
