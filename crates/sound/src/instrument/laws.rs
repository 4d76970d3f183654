//! The laws of the standard that the player has differently, and the values that make it keep them.
//!
//! In: controller values 0 to 127. Out: what to send to the player, 0 to 16383, where the player's
//! own laws are: amplitude = (value/16383)² for volume, angle = value/16383 of a quarter turn for
//! pan. Its own reading of the seven-bit values is up to 0.3 dB low at the top, and keeps a
//! hundredth of a voice that is hard right on the left.

/// The highest value that the player knows.
pub const FULL: f32 = 16_383.0;

/// The level of a channel by volume and expression: 40 log10(v/127) dB for each, added.
/// General MIDI Level 1 Developer Guidelines, 2nd revision (MMA 1998), volume and expression.
pub fn level(volume: u8, expression: u8) -> f32 {
    FULL * (f32::from(volume) / 127.0) * (f32::from(expression) / 127.0)
}

/// The place of a channel: 0 and 1 are hard left, 64 is the centre, 127 hard right; left is
/// 20 log10 cos(a), right 20 log10 sin(a), a = π/2 · max(0, v − 1)/126. RP-036 (MMA).
pub fn place(pan: u8) -> f32 {
    FULL * f32::from(pan.saturating_sub(1)) / 126.0
}

/// Depth of vibrato: the wheel and pressure add up to what the wheel alone can reach, which is
/// 50 cents (SoundFont Technical Specification 2.01, section 8.4.5 and 8.4.6: modulation wheel
/// and channel pressure, each to vibrato).
pub fn vibrato(wheel: u8, pressure: u8) -> u16 {
    let depth = u16::from(wheel) + u16::from(pressure);
    (u32::from(depth.min(127)) * 16_383 / 127) as u16
}

/// The amplitude of the whole instrument by the master volume of a system-exclusive message, 0 to
/// 16383. The standard names no law (from memory); it is that of the channel's volume here.
pub fn master(volume: u16) -> f32 {
    (f32::from(volume.min(16_383)) / FULL).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The figures of the tables in the two papers, to a hundredth of a decibel.
    #[test]
    fn levels_and_places_are_those_of_the_tables() {
        let level = |volume| 40.0 * (level(volume, 127) / FULL).log10();
        for (volume, db) in [(127, 0.0), (100, -4.15), (90, -5.98), (64, -11.90), (32, -23.95)] {
            assert!((level(volume) - db).abs() < 0.01, "{volume}: {}", level(volume));
        }
        let left = |pan| 20.0 * (place(pan) / FULL * std::f32::consts::FRAC_PI_2).cos().log10();
        for (pan, db) in [(0, 0.0), (1, 0.0), (32, -0.67), (64, -3.01), (96, -8.48)] {
            assert!((left(pan) - db).abs() < 0.01, "{pan}: {}", left(pan));
        }
        assert_eq!(place(127), FULL);
    }
}
