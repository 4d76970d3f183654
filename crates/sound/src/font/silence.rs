//! Makes silence in a font cost no more than sound.
//!
//! In: the bytes of a font. Out: the same bytes with long runs of zero samples raised by one step,
//! a constant -90 dB that nobody hears. Otherwise a held key whose sample has ended in silence
//! would leave its filter ringing at numbers so small (denormals) that some processors are a
//! hundred times slower with them.

use super::riff::find;
use std::io::{self, Read};
use std::ops::Range;

/// A run of more zero bytes than this is silence: 16 samples.
const RUN: usize = 32;

/// Reads a font and raises its silence. See the header.
pub struct Silence<'a> {
    rest: &'a [u8],
    at: usize,
    samples: Range<usize>,
    zeros: usize,
}

impl<'a> Silence<'a> {
    /// A reader of these bytes, which must be a whole font.
    pub fn new(font: &'a [u8]) -> Silence<'a> {
        let samples = find(font, b"sdta", b"smpl").unwrap_or(0..0);
        Silence { rest: font, at: 0, samples, zeros: 0 }
    }

    fn pass(&mut self, byte: &mut u8) {
        let at = self.at;
        self.at += 1;
        if !self.samples.contains(&at) {
            return;
        }
        self.zeros = if *byte == 0 { self.zeros + 1 } else { 0 };
        // The lower byte of a sample comes first (section 6.1).
        if self.zeros > RUN && (at - self.samples.start).is_multiple_of(2) {
            *byte = 1;
        }
    }
}

impl Read for Silence<'_> {
    fn read(&mut self, to: &mut [u8]) -> io::Result<usize> {
        let count = self.rest.read(to)?;
        to[..count].iter_mut().for_each(|byte| self.pass(byte));
        Ok(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn chunk(id: &[u8], body: &[u8]) -> Vec<u8> {
        [id, &(body.len() as u32).to_le_bytes(), body].concat()
    }

    #[test]
    fn only_long_silence_among_the_samples_is_raised() {
        let zeros = |count: usize| vec![0u8; count];
        let samples = [vec![7, 1], zeros(32), vec![9, 0], zeros(40), vec![0, 3], zeros(2)].concat();
        let lists = [
            chunk(b"LIST", &[b"INFO".to_vec(), zeros(100)].concat()),
            chunk(b"LIST", &[b"sdta".to_vec(), chunk(b"smpl", &samples)].concat()),
            chunk(b"LIST", &[b"pdta".to_vec(), zeros(100)].concat()),
        ];
        let font = chunk(b"RIFF", &[b"sfbk".to_vec(), lists.concat()].concat());
        let from = font.windows(4).position(|four| four == b"smpl").unwrap() + 8;
        for part in [1, 3, 64, 1000] {
            let mut lifted = vec![0; font.len()];
            let mut reader = Silence::new(&font);
            lifted.chunks_mut(part).for_each(|part| reader.read_exact(part).unwrap());
            let changed: Vec<usize> =
                (0..font.len()).filter(|&at| lifted[at] != font[at]).collect();
            // The first run is too short. The second begins with the upper byte of the 9;
            // everything after its first 32 bytes is raised: four samples, and the lower byte of
            // the 768.
            assert_eq!(changed, [from + 68, from + 70, from + 72, from + 74, from + 76]);
            assert!(changed.iter().all(|&at| lifted[at] == 1));
        }
        assert!(Silence::new(&font[..20]).samples.is_empty());
    }
}
