//! Writes samples as a WAV file.
//!
//! In: frames from -1.0 to 1.0, and a writer for the bytes. Out: a stereo file. 16-bit samples are
//! dithered with triangular noise of two steps peak to peak, the same every time; exact silence
//! stays silent. Integers are clipped at full scale; floats are not.

use super::cut::Stereo;
use hound::{SampleFormat, WavSpec, WavWriter};
use std::io::{self, Seek, Write};

/// The most bytes of samples in a WAV file: a little less than its 32-bit sizes can count.
pub const MOST_WAV_BYTES: u64 = u32::MAX as u64 - 1024;

/// The sample format.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Bits {
    /// Integers of 16 bits, dithered: the format of a CD.
    #[default]
    Sixteen,
    /// Integers of 24 bits.
    TwentyFour,
    /// Floats of 32 bits.
    Float,
}

impl Bits {
    /// Bits per sample.
    pub fn count(self) -> u16 {
        match self {
            Bits::Sixteen => 16,
            Bits::TwentyFour => 24,
            Bits::Float => 32,
        }
    }

    /// Bytes per frame of two samples.
    pub fn frame_bytes(self) -> u64 {
        u64::from(self.count()) / 4
    }
}

/// A WAV file being written.
pub struct WavFile<W: Write + Seek> {
    writer: WavWriter<W>,
    bits: Bits,
    noise: Noise,
}

impl<W: Write + Seek> WavFile<W> {
    /// Starts a file at the start of `to`, which should be buffered. Files with a different `seed`
    /// get different dither noise, so that it does not add up when they are mixed.
    ///
    /// # Errors
    /// If the file's header cannot be written.
    pub fn new(to: W, rate: u32, bits: Bits, seed: u64) -> io::Result<WavFile<W>> {
        let sample_format =
            if bits == Bits::Float { SampleFormat::Float } else { SampleFormat::Int };
        let bits_per_sample = bits.count();
        let spec = WavSpec { channels: 2, sample_rate: rate, bits_per_sample, sample_format };
        let writer = WavWriter::new(to, spec).map_err(plain)?;
        Ok(WavFile { writer, bits, noise: Noise(seed) })
    }

    /// Writes the next frames.
    ///
    /// # Errors
    /// If they cannot be written.
    pub fn write(&mut self, frames: &Stereo) -> io::Result<()> {
        for (&left, &right) in frames.left.iter().zip(&frames.right) {
            self.put(left).and_then(|()| self.put(right)).map_err(plain)?;
        }
        Ok(())
    }

    /// Completes the file.
    ///
    /// # Errors
    /// If its sizes cannot be written.
    pub fn finish(self) -> io::Result<()> {
        self.writer.finalize().map_err(plain)
    }

    fn put(&mut self, sample: f32) -> hound::Result<()> {
        match self.bits {
            Bits::Float => self.writer.write_sample(sample),
            Bits::TwentyFour => self.writer.write_sample(whole(f64::from(sample), 24)),
            Bits::Sixteen => {
                let noise = self.noise.triangle() / 32_768.0;
                let dithered = if sample == 0.0 { 0.0 } else { f64::from(sample) + noise };
                self.writer.write_sample(whole(dithered, 16))
            }
        }
    }
}

/// The nearest integer with this many bits, clipped; NaN becomes silence.
fn whole(sample: f64, bits: u32) -> i32 {
    let full = f64::from(1 << (bits - 1));
    (sample * full).round().clamp(-full, full - 1.0) as i32
}

fn plain(error: hound::Error) -> io::Error {
    match error {
        hound::Error::IoError(error) => error,
        other => io::Error::other(other.to_string()),
    }
}

/// Reproducible noise (S. Vigna, "splitmix64", public domain, from memory).
struct Noise(u64);

impl Noise {
    /// A number from -1 to 1, most often near 0: the sum of two uniform ones.
    fn triangle(&mut self) -> f64 {
        self.even() + self.even()
    }

    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((bits ^ (bits >> 31)) >> 11) as f64 / (1u64 << 53) as f64 - 0.5
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn bytes(frames: &Stereo, bits: Bits, seed: u64) -> Vec<u8> {
        let mut to = Cursor::new(Vec::new());
        let mut file = WavFile::new(&mut to, 44_100, bits, seed).unwrap();
        file.write(frames).unwrap();
        file.finish().unwrap();
        to.into_inner()
    }

    fn flat(sample: f32, frames: usize) -> Stereo {
        Stereo { left: vec![sample; frames], right: vec![sample; frames] }
    }

    fn samples(bytes: &[u8]) -> Vec<i16> {
        bytes[44..].chunks(2).map(|pair| i16::from_le_bytes([pair[0], pair[1]])).collect()
    }

    #[test]
    fn dither_preserves_the_mean_of_sounds_smaller_than_a_step() {
        // Triangular noise of two steps makes mean and variance of the error independent of the
        // sound: variance 1/4 of a step squared (Lipshitz, Wannamaker and Vanderkooy,
        // "Quantization and Dither: A Theoretical Survey", JAES 40(5), 1992; from memory).
        for part in [0.1, 0.3, 0.5] {
            let out = samples(&bytes(&flat(part / 32_768.0, 100_000), Bits::Sixteen, 1));
            let count = out.len() as f64;
            let mean = out.iter().map(|&x| f64::from(x)).sum::<f64>() / count;
            assert!((mean - f64::from(part)).abs() < 0.01, "{mean}");
            let spread = out.iter().map(|&x| (f64::from(x) - f64::from(part)).powi(2)).sum::<f64>();
            assert!((spread / count - 0.25).abs() < 0.01, "{}", spread / count);
        }
    }

    #[test]
    fn silence_is_silent_and_noise_is_the_same_each_time() {
        assert!(samples(&bytes(&flat(0.0, 1000), Bits::Sixteen, 1)).iter().all(|&x| x == 0));
        let quiet = flat(1e-5, 1000);
        assert_eq!(bytes(&quiet, Bits::Sixteen, 1), bytes(&quiet, Bits::Sixteen, 1));
        assert_ne!(bytes(&quiet, Bits::Sixteen, 1), bytes(&quiet, Bits::Sixteen, 2));
    }

    #[test]
    fn integers_clip_and_floats_do_not() {
        let loud = bytes(&flat(2.0, 4), Bits::Sixteen, 1);
        assert_eq!(samples(&loud), [i16::MAX; 8]);
        let floats = bytes(&flat(2.0, 1), Bits::Float, 1);
        assert!(floats.ends_with(&[2f32.to_le_bytes(), 2f32.to_le_bytes()].concat()));
        let halves = bytes(&flat(-0.5, 1), Bits::TwentyFour, 1);
        assert!(halves.ends_with(&[0, 0, 0xC0, 0, 0, 0xC0]));
        assert_eq!(whole(f64::NAN, 16), 0);
    }
}
