//! Shared by the tests: a font of pure tones, a player for it, and measurements.
#![allow(dead_code)]

pub mod measure;
pub mod tiny;

use chaconne_sound::{Font, Instrument};

/// A font whose programs all play the same sine. Program 0 stops within 10 ms of its release; program 1
/// and percussion ring for about 4 s (2400 timecents to fall by 100 dB); program 2 is panned halfway.
pub fn tones() -> Font {
    let mut offset = tiny::tone(0, 2, -12_000);
    offset.generators.insert(0, (tiny::generator::PAN, 250));
    let tones = [tiny::tone(0, 0, -12_000), tiny::tone(0, 1, 2400), offset];
    Font::read(&tiny::font(&[&tones[..], &[tiny::tone(128, 0, 2400)]].concat())).unwrap()
}

/// An instrument that plays [`tones`], and what it has rendered.
pub struct Player {
    pub instrument: Instrument,
    pub rate: u32,
}

impl Player {
    /// A player at 48 kHz without reverb on channel 1, so that only the tone itself is measured.
    pub fn new() -> Player {
        let mut player = Player::at(48_000);
        player.send(&[0xB0, 91, 0]);
        player
    }

    pub fn at(rate: u32) -> Player {
        Player { instrument: Instrument::new(&tones(), rate).unwrap(), rate }
    }

    pub fn send(&mut self, message: &[u8]) {
        self.instrument.message(message);
    }

    /// Renders this many frames; returns left and right.
    pub fn play(&mut self, frames: usize) -> (Vec<f32>, Vec<f32>) {
        let (mut left, mut right) = (vec![0.0; frames], vec![0.0; frames]);
        self.instrument.render(&mut left, &mut right);
        (left, right)
    }

    pub fn play_ms(&mut self, ms: usize) -> (Vec<f32>, Vec<f32>) {
        self.play(self.rate as usize * ms / 1000)
    }

    /// The levels of the next 100 ms in decibels, after 50 ms for glides to finish.
    pub fn levels(&mut self) -> (f64, f64) {
        self.play_ms(50);
        let (left, right) = self.play_ms(100);
        (measure::db(&left), measure::db(&right))
    }

    /// The pitch of the next half second in cents above the root key's.
    pub fn cents(&mut self) -> f64 {
        self.play_ms(50);
        let (left, _) = self.play_ms(500);
        let root = f64::from(tiny::RATE) / tiny::PERIOD as f64;
        1200.0 * (measure::pitch(&left, self.rate) / root).log2()
    }
}

/// A small random number generator (splitmix64), so that every run is the same.
pub struct Dice(pub u64);

impl Dice {
    pub fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        x ^ (x >> 31)
    }

    /// A number below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.roll() % n as u64) as usize
    }

    pub fn seven_bits(&mut self) -> u8 {
        (self.roll() & 127) as u8
    }
}
