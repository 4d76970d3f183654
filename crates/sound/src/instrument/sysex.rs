//! The universal system-exclusive messages that the instrument obeys.
//!
//! In: a whole message from F0 to F7. Out: what it asks for. The device number is ignored, because
//! there is only one device.

/// What a message asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SysEx {
    /// General MIDI on or off. The instrument has no other mode, so both reset it.
    Restart,
    /// Master volume, 0 to 16383.
    Master(u16),
}

/// Reads a message. MIDI 1.0 Detailed Specification, universal system-exclusive messages: General
/// MIDI (non-real time, 09), device control (real time, 04), master volume (01).
pub fn read(message: &[u8]) -> Option<SysEx> {
    match *message {
        [0xF0, 0x7E, 0..=0x7F, 0x09, 0x01 | 0x02, 0xF7] => Some(SysEx::Restart),
        [0xF0, 0x7F, 0..=0x7F, 0x04, 0x01, fine @ 0..=0x7F, coarse @ 0..=0x7F, 0xF7] => {
            Some(SysEx::Master(u16::from(coarse) << 7 | u16::from(fine)))
        }
        _ => None,
    }
}
