//! Checks a SoundFont 2 file before the player's reader sees it.
//!
//! In: the bytes of a file. Out: the part that is the font, or a sentence about what is wrong. It
//! checks what the reader trusts: that every chunk lies inside the file, that indices never decrease
//! (a small file could otherwise expand without limit), and that frame numbers cannot overflow.
//! Section numbers refer to the SoundFont Technical Specification 2.01.

use super::riff::{Id, name, next};

/// The highest frame number allowed; no file within the size limit has more frames.
const MAX_FRAME: u32 = 1 << 30;

/// Checks a file and returns the part of it that is the font.
pub fn check(bytes: &[u8]) -> Result<&[u8], String> {
    let Some(b"RIFF") = bytes.first_chunk() else {
        return Err("it should begin with the letters RIFF".into());
    };
    let mut rest = bytes;
    let Some((_, body)) = next(&mut rest)? else { return Err("it is empty".into()) };
    let Some((b"sfbk", mut lists)) = body.split_first_chunk() else {
        return Err("it is a RIFF file, but not of the kind 'sfbk'".into());
    };
    list(&mut lists, b"INFO")?;
    let frames = samples(list(&mut lists, b"sdta")?)?;
    let hydra = Hydra::read(list(&mut lists, b"pdta")?)?;
    hydra.check(frames)?;
    Ok(&bytes[..8 + body.len()])
}

/// The contents of the next chunk, which must be a list of this kind (section 4.1).
fn list<'a>(lists: &mut &'a [u8], kind: &Id) -> Result<&'a [u8], String> {
    let wanted = || format!("the list '{}' is missing or not in its place", name(*kind));
    let Some((id, body)) = next(lists)? else { return Err(wanted()) };
    match body.split_first_chunk() {
        Some((found, body)) if &id == b"LIST" && found == kind => {
            let mut chunks = body;
            while next(&mut chunks)?.is_some() {}
            Ok(body)
        }
        _ => Err(wanted()),
    }
}

/// The number of frames of sample data (section 6.1).
fn samples(mut chunks: &[u8]) -> Result<u32, String> {
    let mut frames = None;
    while let Some((id, body)) = next(&mut chunks)? {
        if &id == b"smpl" {
            frames = Some((body.len() / 2) as u32);
        }
    }
    frames.ok_or_else(|| "it has no sample data".into())
}

/// The tables of presets, instruments and samples (chapter 7).
struct Hydra<'a> {
    presets: Records<'a>,
    preset_zones: Records<'a>,
    preset_generators: Records<'a>,
    instruments: Records<'a>,
    instrument_zones: Records<'a>,
    instrument_generators: Records<'a>,
    samples: Records<'a>,
}

impl<'a> Hydra<'a> {
    fn read(chunks: &'a [u8]) -> Result<Hydra<'a>, String> {
        let find = |id: &Id, size: usize| Records::find(chunks, id, size);
        Ok(Hydra {
            presets: find(b"phdr", 38)?,
            preset_zones: find(b"pbag", 4)?,
            preset_generators: find(b"pgen", 4)?,
            instruments: find(b"inst", 22)?,
            instrument_zones: find(b"ibag", 4)?,
            instrument_generators: find(b"igen", 4)?,
            samples: find(b"shdr", 46)?,
        })
    }

    fn check(&self, frames: u32) -> Result<(), String> {
        self.presets.check_order(24, &self.preset_zones)?;
        self.preset_zones.check_order(0, &self.preset_generators)?;
        self.instruments.check_order(20, &self.instrument_zones)?;
        self.instrument_zones.check_order(0, &self.instrument_generators)?;
        self.check_samples(frames)
    }

    /// Checks the frame numbers of samples (section 7.10). The limit only prevents overflow: samples
    /// in ROM, and samples that no zone uses, may point anywhere below it. The reader itself refuses
    /// a zone that plays frames outside the data.
    fn check_samples(&self, frames: u32) -> Result<(), String> {
        for index in 0..self.samples.len() {
            let places = [20, 24, 28, 32].map(|at| self.samples.long(index, at));
            if let Some(beyond) = places.into_iter().find(|&place| place > MAX_FRAME) {
                return Err(format!(
                    "sample {index} extends to frame {beyond}, but the file has {frames} frames"
                ));
            }
        }
        Ok(())
    }
}

/// Records of one size; the last one only terminates the table.
#[derive(Clone, Copy)]
struct Records<'a> {
    id: Id,
    size: usize,
    bytes: &'a [u8],
}

impl<'a> Records<'a> {
    fn find(mut chunks: &'a [u8], id: &Id, size: usize) -> Result<Records<'a>, String> {
        let mut found = None;
        while let Some((other, bytes)) = next(&mut chunks)? {
            if &other == id && found.replace(bytes).is_some() {
                return Err(format!("there are two chunks '{}'", name(*id)));
            }
        }
        let id = *id;
        match found {
            Some(bytes) if !bytes.is_empty() && bytes.len().is_multiple_of(size) => {
                Ok(Records { id, size, bytes })
            }
            Some(bytes) => Err(format!(
                "the chunk '{}' has {} bytes, not a number of records of {size}",
                name(id),
                bytes.len()
            )),
            None => Err(format!("the chunk '{}' is missing", name(id))),
        }
    }

    /// The number of records, without the terminating one.
    fn len(&self) -> usize {
        self.bytes.len() / self.size - 1
    }

    fn word(&self, index: usize, at: usize) -> u16 {
        let at = index * self.size + at;
        u16::from_le_bytes([self.bytes[at], self.bytes[at + 1]])
    }

    fn long(&self, index: usize, at: usize) -> u32 {
        u32::from(self.word(index, at)) | u32::from(self.word(index, at + 2)) << 16
    }

    /// Checks that the indices at `at` never decrease and point into `others` (sections 7.2 and 7.3).
    fn check_order(&self, at: usize, others: &Records) -> Result<(), String> {
        let indices = (0..=self.len()).map(|index| self.word(index, at));
        let rising = indices.clone().is_sorted();
        if rising && indices.max().is_some_and(|last| usize::from(last) <= others.len()) {
            return Ok(());
        }
        let (own, other) = (name(self.id), name(others.id));
        Err(format!("the indices of '{own}' into '{other}' are out of order or out of range"))
    }
}
