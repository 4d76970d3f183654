//! The controller curves of the standard, and the values that make the player follow them.
//!
//! In: controller values 0 to 127. Out: the values to send to the player, 0 to 16383. The player's
//! own curves are: amplitude = (value/16383)² for volume, angle = value/16383 of a quarter turn for
//! pan. With seven-bit values it would be up to 0.3 dB too quiet at the top, and leave a hundredth
//! of a voice panned hard right on the left.

/// The player's highest value.
pub const FULL: f32 = 16_383.0;

/// The level of a channel from volume and expression: 40 log10(v/127) dB for each, added. General
/// MIDI Level 1 Developer Guidelines, 2nd revision (MMA 1998), volume and expression.
pub fn level(volume: u8, expression: u8) -> f32 {
    FULL * (f32::from(volume) / 127.0) * (f32::from(expression) / 127.0)
}

/// The pan of a channel: 0 and 1 are hard left, 64 is the centre, 127 hard right; left is
/// 20 log10 cos(a), right 20 log10 sin(a), a = π/2 · max(0, v − 1)/126. RP-036 (MMA).
pub fn place(pan: u8) -> f32 {
    FULL * f32::from(pan.saturating_sub(1)) / 126.0
}

/// Depth of vibrato: wheel and pressure add up, but never beyond what the wheel alone reaches,
/// which is 50 cents (SoundFont Technical Specification 2.01, sections 8.4.5 and 8.4.6: modulation
/// wheel and channel pressure to vibrato).
pub fn vibrato(wheel: u8, pressure: u8) -> u16 {
    let depth = u16::from(wheel) + u16::from(pressure);
    (u32::from(depth.min(127)) * 16_383 / 127) as u16
}

/// The amplitude of the whole instrument for a master volume message, 0 to 16383. The standard
/// defines no curve (from memory); this is the curve of channel volume.
pub fn master(volume: u16) -> f32 {
    (f32::from(volume.min(16_383)) / FULL).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The values in the tables of the two papers, to a hundredth of a decibel.
    #[test]
    fn levels_and_pans_match_the_tables() {
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
