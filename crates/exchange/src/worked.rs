//! Example files for the tests of this crate.
//!
//! A is the standard's own worked example, in format 0; A1 is the same music in format 1 (Standard
//! MIDI Files 1.0, pp. 12-14). B, C, D and E are constructed to cover what A does not. Two
//! independent libraries decoded B and E alike, and one decoded C and D; the tests expect what
//! those libraries say.

/// The bytes of a hexadecimal text with blanks.
pub(crate) fn hex(text: &str) -> Vec<u8> {
    let digits: Vec<u8> = text.bytes().filter(|byte| !byte.is_ascii_whitespace()).collect();
    let pairs = digits.chunks(2).map(|pair| std::str::from_utf8(pair).unwrap());
    pairs.map(|pair| u8::from_str_radix(pair, 16).unwrap()).collect()
}

/// A file with a header and track chunks of correct lengths.
pub(crate) fn file(format: u16, claimed: u16, ppq: u16, tracks: &[&str]) -> Vec<u8> {
    let mut bytes = b"MThd\0\0\0\x06".to_vec();
    for figure in [format, claimed, ppq] {
        bytes.extend(figure.to_be_bytes());
    }
    for track in tracks {
        let data = hex(track);
        bytes.extend(b"MTrk");
        bytes.extend((data.len() as u32).to_be_bytes());
        bytes.extend(data);
    }
    bytes
}

/// A file of format 0 with 96 ticks to the quarter and this track.
pub(crate) fn track(data: &str) -> Vec<u8> {
    file(0, 1, 96, &[data])
}

/// The standard's own example, format 0, byte for byte.
pub(crate) fn a() -> Vec<u8> {
    hex("4D546864 00000006 0000 0001 0060 4D54726B 0000003B
         00FF580404021808 00FF510307A120 00C005 00C12E 00C246 00923060 003C60 60914340 60904C20
         8140823040 003C40 00814340 00804C40 00FF2F00")
}

/// The same music in format 1: the tempo track, and one track for each channel.
pub(crate) fn a1() -> Vec<u8> {
    file(
        1,
        4,
        96,
        &[
            "00FF580404021808 00FF510307A120 8300FF2F00",
            "00C005 8140904C20 81404C00 00FF2F00",
            "00C12E 60914340 82204300 00FF2F00",
            "00C246 00923060 003C60 83003000 003C00 00FF2F00",
        ],
    )
}

/// 6/8, C minor, tempo 150, names, a pedal and a bend, with 480 ticks to the quarter.
pub(crate) fn b() -> Vec<u8> {
    file(
        1,
        2,
        480,
        &[
            "00FF030554656D706F 00FF580406032408 00FF5902FD01 00FF5103061A80 00FF2F00",
            "00FF030442617373 00FF200102 00C221 00922450 81702400 002B58 83602B00
             00B2407F 81704000 00E20040 00FF2F00",
        ],
    )
}

/// A header of 8 bytes and a chunk of unknown type.
pub(crate) fn c() -> Vec<u8> {
    hex("4D546864 00000008 0001 0001 0060 DEAD 58464948 00000003 010203
         4D54726B 00000017 00903C40 603C00 00FF010178 00903E40 603E00 00FF2F00")
}

/// A file that counts time in frames.
pub(crate) fn d() -> Vec<u8> {
    hex("4D546864 00000006 0001 0001 E728 4D54726B 00000016
         00FF5405 21172D0C22 00903C64 8768803C40 00FF2F00")
}

/// A system-exclusive message before a note.
pub(crate) fn e() -> Vec<u8> {
    track("00F0057E7F0901F7 00904564 60804540 00FF2F00")
}

mod tests {
    use super::*;

    #[test]
    fn the_example_has_its_81_and_118_bytes() {
        // Standard MIDI Files 1.0, pp. 12-14: the track chunks of format 1 are 14, 10, 0F and 15
        // hexadecimal bytes long.
        assert_eq!((a().len(), a1().len()), (81, 118));
        let lengths: Vec<u8> =
            a1().windows(8).filter(|part| part.starts_with(b"MTrk")).map(|part| part[7]).collect();
        assert_eq!(lengths, [0x14, 0x10, 0x0F, 0x15]);
    }
}
