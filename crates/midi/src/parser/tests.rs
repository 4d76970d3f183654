//! The parser against the tables of the MIDI 1.0 Detailed Specification, and its guarantees against
//! random bytes.

use super::*;
use crate::Channel;
use proptest::prelude::*;

fn parse(bytes: &[u8]) -> Vec<Wire<Vec<u8>>> {
    let mut out = Vec::new();
    Parser::new().feed(bytes, &mut |parsed| out.push(parsed.to_owned()));
    out
}

/// The messages in hexadecimal, one word per message.
fn spell(bytes: &[u8]) -> String {
    let hex = |bytes: &[u8]| bytes.iter().map(|byte| format!("{byte:02X}")).collect::<String>();
    let words: Vec<String> = parse(bytes)
        .iter()
        .map(|kept| match kept {
            Wire::Message(message) => hex(&message.bytes()),
            Wire::SysEx(bytes) => hex(bytes),
        })
        .collect();
    words.join(" ")
}

#[test]
fn streams_parse_as_the_specification_says() {
    // MIDI 1.0 Detailed Specification: "Running Status", "System Real Time", "System Exclusive",
    // "Note-Off" (velocity 0 in a note-on), and tables I and V for the lengths.
    let table: &[(&[u8], &str)] = &[
        (&[0x90, 0x3C, 0xF8, 0x64], "F8 903C64"),
        (&[0x90, 0x3C, 0x64, 0x40, 0x64, 0x3C, 0x00], "903C64 904064 803C40"),
        (&[0x90, 0x3C, 0x64, 0xF8, 0x40, 0x64], "903C64 F8 904064"),
        (&[0xF0, 0x7E, 0xF8, 0x7F, 0x09, 0x01, 0xF7], "F8 F07E7F0901F7"),
        (&[0x90, 0x3C, 0x64, 0xF6, 0x40, 0x64], "903C64 F6"),
        (&[0x90, 0x3C, 0xB0, 0x07, 0x64], "B00764"),
        (&[0xC0, 0x05, 0x06], "C005 C006"),
        (&[0x40, 0x64, 0x90, 0x3C, 0x64], "903C64"),
        (&[0x90, 0x3C, 0x64, 0xFD, 0x40, 0x64], "903C64 904064"),
        // Song position, then continue and the first pulse, each as soon as its last byte arrives.
        (&[0xF2, 0x10, 0x00, 0xFB, 0xF8], "F21000 FB F8"),
        // The undefined system common bytes F4 and F5 are ignored, but end running status.
        (&[0x90, 0x3C, 0x64, 0xF4, 0x40, 0x64], "903C64"),
        (&[0xF5, 0xF9, 0xFD, 0xF7], ""),
        // Any status byte that is not real-time ends a system-exclusive message.
        (&[0xF0, 0x01, 0x02, 0x90, 0x3C, 0x64], "F00102F7 903C64"),
        (&[0xF0, 0x01, 0xF0, 0x02, 0xF7], "F001F7 F002F7"),
        (&[0xF0, 0x01, 0xF6, 0x02], "F001F7 F6"),
        (&[0xF0, 0x01, 0xFE, 0xF7, 0x3C, 0x64], "FE F001F7"),
        // Song position 10 and 16,383; quarter frame; song select.
        (&[0xF2, 0x0A, 0x00, 0xF2, 0x7F, 0x7F], "F20A00 F27F7F"),
        (&[0xF1, 0x04, 0x11, 0xF3, 0x05, 0x06], "F104 F305"),
    ];
    for (bytes, expected) in table {
        assert_eq!(spell(bytes), *expected, "{bytes:02X?}");
    }
}

#[test]
fn every_status_byte_has_its_length() {
    // MIDI 1.0 Detailed Specification, tables I and V: data bytes by status.
    for status in 0x80..=0xFFu8 {
        let data = match status {
            0xC0..=0xDF | 0xF1 | 0xF3 => 1,
            0x80..=0xEF | 0xF2 => 2,
            0xF6 | 0xF8 | 0xFA..=0xFC | 0xFE | 0xFF => 0,
            _ => continue,
        };
        let whole: Vec<u8> = std::iter::once(status).chain([0x15, 0x2A]).take(data + 1).collect();
        let message = match parse(&whole).as_slice() {
            [Wire::Message(message)] => *message,
            other => panic!("{status:02X}: {other:?}"),
        };
        assert_eq!(message.bytes().to_vec(), whole);
        assert!(data == 0 || parse(&whole[..data]).is_empty(), "{status:02X} came early");
    }
}

#[test]
fn dropped_bytes_are_counted() {
    let mut parser = Parser::new();
    // Two strays, half a note cut off by a controller, and two strays after a tune request.
    parser.feed(&[1, 2, 0x90, 3, 0xB0, 7, 100, 0xF6, 4, 5], &mut |_| {});
    assert_eq!(parser.stray(), 5);
}

#[test]
fn the_longest_system_exclusive_message_is_accepted_and_a_longer_one_dropped() {
    let whole = |length: usize| {
        let mut bytes = vec![0x11; length];
        bytes[0] = 0xF0;
        bytes[length - 1] = 0xF7;
        bytes
    };
    assert_eq!(parse(&whole(SYSEX_MOST)), [Wire::SysEx(whole(SYSEX_MOST))]);
    let mut parser = Parser::new();
    let mut out = Vec::new();
    let mut emit = |parsed: Wire<&[u8]>| out.push(parsed.to_owned());
    parser.feed(&whole(SYSEX_MOST + 1), &mut emit);
    parser.feed(&whole(4_000_000), &mut emit);
    parser.feed(&[0xF0, 1, 0xF7], &mut emit);
    assert_eq!(out, [Wire::SysEx(vec![0xF0, 1, 0xF7])]);
    assert_eq!(parser.overlong(), 2);
    assert!(parser.sysex.capacity() <= SYSEX_MOST * 2);
}

#[test]
fn an_interrupted_stream_starts_over() {
    let mut parser = Parser::new();
    let mut out = Vec::new();
    for bytes in [&[0x90, 0x3C][..], &[0xF0, 1, 2], &[0x90, 0x3C, 0x64]] {
        parser.feed(bytes, &mut |parsed| out.push(parsed.to_owned()));
        parser.reset();
    }
    parser.feed(&[0x40, 0x64], &mut |parsed| out.push(parsed.to_owned()));
    assert_eq!(out.len(), 1);
}

/// Random bytes, with enough status bytes to form messages.
fn stream() -> impl Strategy<Value = Vec<u8>> {
    let byte = prop_oneof![
        4 => 0u8..0x80,
        2 => 0x80u8..0xF0,
        1 => 0xF0u8..=0xFF,
    ];
    prop::collection::vec(byte, 0..200)
}

fn seven() -> impl Strategy<Value = U7> {
    (0u8..128).prop_map(U7::low_bits)
}

fn message() -> impl Strategy<Value = Message> {
    let channel = || (0u8..16).prop_map(Channel::from_wire);
    let voice = (0x80u8..0xF0, seven(), seven())
        .prop_filter_map("channel voice", |(status, a, b)| Message::channel_voice(status, a, b));
    let position = (0u16..16_384).prop_filter_map("14 bits", U14::new);
    prop_oneof![
        6 => voice,
        1 => (channel(), seven()).prop_map(|(channel, program)| Message::Program { channel, program }),
        1 => position.prop_map(Message::SongPosition),
        1 => seven().prop_map(Message::QuarterFrame),
        1 => seven().prop_map(Message::SongSelect),
        1 => prop::sample::select(vec![
            Message::TuneRequest, Message::Clock, Message::Start, Message::Continue,
            Message::Stop, Message::ActiveSensing, Message::Reset,
        ]),
    ]
}

proptest! {
    #[test]
    fn splitting_the_bytes_changes_nothing(bytes in stream(), cuts in prop::collection::vec(any::<prop::sample::Index>(), 0..8)) {
        let whole = parse(&bytes);
        let mut cuts: Vec<usize> = cuts.iter().map(|cut| cut.index(bytes.len() + 1)).collect();
        cuts.sort_unstable();
        cuts.push(bytes.len());
        let mut parser = Parser::new();
        let mut out = Vec::new();
        let mut from = 0;
        for cut in cuts {
            parser.feed(&bytes[from..cut], &mut |parsed| out.push(parsed.to_owned()));
            from = cut;
        }
        prop_assert_eq!(out, whole);
    }

    #[test]
    fn real_time_bytes_anywhere_change_nothing_else(
        bytes in stream(),
        extra in prop::collection::vec((any::<prop::sample::Index>(), 0xF8u8..=0xFF), 0..20),
    ) {
        let plain = |kept: &Wire<Vec<u8>>| !matches!(kept, Wire::Message(message) if message.bytes()[0] >= 0xF8);
        let expected: Vec<Wire<Vec<u8>>> = parse(&bytes).into_iter().filter(plain).collect();
        let mut mixed = bytes;
        for (place, byte) in extra {
            let place = place.index(mixed.len() + 1);
            mixed.insert(place, byte);
        }
        let read: Vec<Wire<Vec<u8>>> = parse(&mixed).into_iter().filter(plain).collect();
        prop_assert_eq!(read, expected);
    }

    #[test]
    fn written_messages_are_read_back(messages in prop::collection::vec(message(), 0..40), running in any::<bool>()) {
        let mut bytes = Vec::new();
        let mut status = 0;
        for message in &messages {
            let whole = message.bytes();
            let same = running && whole[0] == status && status < 0xF0;
            bytes.extend_from_slice(&whole[usize::from(same)..]);
            if whole[0] < 0xF8 {
                status = whole[0];
            }
        }
        let expected: Vec<Wire<Vec<u8>>> = messages.into_iter().map(Wire::Message).collect();
        prop_assert_eq!(parse(&bytes), expected);
    }

    #[test]
    fn system_exclusive_messages_come_back_whole(body in prop::collection::vec(0u8..0x80, 0..300)) {
        let mut bytes = vec![0xF0];
        bytes.extend(&body);
        bytes.push(0xF7);
        prop_assert_eq!(parse(&bytes), [Wire::SysEx(bytes.clone())]);
    }
}
