//! The line under random streams: it matches the naive one, and keeps its guarantees.

use super::naive::{Naive, STEP};
use super::*;
use proptest::prelude::*;

/// Messages likely to conflict: few channels, few keys, every kind of controller.
fn wire() -> impl Strategy<Value = Wire> {
    let number = || prop::sample::select(vec![1u8, 2, 10]);
    let key = || 60u8..64;
    let controllers =
        vec![0u8, 1, 2, 6, 7, 11, 32, 33, 34, 38, 39, 43, 64, 84, 98, 101, 120, 121, 123];
    let touch = (number(), key(), 0u8..128).prop_map(|(n, key, value)| Message::KeyPressure {
        channel: channel(n),
        key: U7::low_bits(key),
        value: U7::low_bits(value),
    });
    let fast = (number(), key()).prop_map(|(n, key)| Message::NoteOff {
        channel: channel(n),
        key: U7::low_bits(key),
        velocity: U7::low_bits(30),
    });
    let system = vec![
        Message::Clock,
        Message::Clock,
        Message::Start,
        Message::Continue,
        Message::Stop,
        Message::QuarterFrame(U7::MAX),
        Message::SongPosition(U14::CENTRE),
        Message::TuneRequest,
    ];
    let message = prop_oneof![
        6 => (number(), key()).prop_map(|(n, key)| on(n, key)),
        6 => (number(), key()).prop_map(|(n, key)| off(n, key)),
        1 => fast,
        6 => (number(), prop::sample::select(controllers), 0u8..128)
            .prop_map(|(n, controller, value)| change(n, controller, value)),
        2 => touch,
        3 => (number(), 0u16..16_384).prop_map(|(n, value)| bend(n, value)),
        1 => (number(), 0u8..128).prop_map(|(n, value)| program(n, value)),
        1 => (number(), 0u8..128).prop_map(|(n, value)| Message::Pressure {
            channel: channel(n),
            value: U7::low_bits(value),
        }),
        2 => prop::sample::select(system),
    ];
    prop_oneof![
        40 => message.prop_map(Wire::Message),
        1 => prop::collection::vec(0u8..0x7F, 0..12)
            .prop_map(|body| sysex(&[&[0xF0, 0x7D][..], &body, &[0xF7]].concat())),
        1 => Just(sysex(&[0xF0, 0x7F, 0x7F, 0x06, 0x02, 0xF7])),
    ]
}

/// Up to 250 items, mostly faster than the line can send, so that some wait beyond the limit; now
/// and then a pause in which the running status expires.
fn stream() -> impl Strategy<Value = Vec<(Ns, Wire)>> {
    let gap = prop_oneof![20 => 0i64..60, 20 => Just(0), 2 => 0i64..400, 1 => Just(21_000)];
    prop::collection::vec((gap, wire()), 1..250).prop_map(|items| {
        let mut at = 0;
        let place = |(gap, wire): (i64, Wire)| {
            at += gap * STEP;
            (at, wire)
        };
        items.into_iter().map(place).collect()
    })
}

/// The items sent, as the receiver's parser reads them.
fn read(bytes: &[u8]) -> Vec<Wire> {
    let mut wires = Vec::new();
    Parser::new().feed(bytes, &mut |parsed| {
        wires.push(match parsed {
            Wire::Message(message) => Wire::Message(message),
            Wire::SysEx(bytes) => Wire::SysEx(bytes.into()),
        });
    });
    wires
}

fn is_release(wire: &Wire) -> bool {
    matches!(wire, Wire::Message(Message::NoteOff { .. }))
}

/// Whether two items must keep their order, according to the header's table for notes and state.
fn conflict(a: &Wire, b: &Wire) -> bool {
    let (Wire::Message(a), Wire::Message(b)) = (a, b) else { return false };
    let key = |message: &Message| match *message {
        Message::NoteOn { key, .. } | Message::NoteOff { key, .. } => Some(key),
        _ => None,
    };
    let state = |message: &Message| match *message {
        Message::Program { .. } => true,
        Message::Change { controller, .. } => {
            [0, 6, 32, 38, 64, 98, 101, 120, 121, 123].contains(&controller.get())
        }
        _ => false,
    };
    if a.channel().is_none() || a.channel() != b.channel() {
        return false;
    }
    (key(a).is_some() && key(a) == key(b))
        || (state(a) && (state(b) || key(b).is_some()))
        || (key(a).is_some() && state(b))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn the_line_matches_a_byte_by_byte_simulation(items in stream()) {
        let mut line = line();
        let out = run(&mut line, &items);
        let naive = Naive::run(&items);
        let bytes: Vec<(Ns, u8)> = out.writes.iter().map(|(at, bytes)| (*at, bytes[0])).collect();
        prop_assert_eq!(&bytes, &naive.bytes);
        prop_assert_eq!(&out.ended, &naive.ended);
        let counts = LineCounts { thinned: naive.thinned, worst: naive.worst };
        prop_assert_eq!(line.counts(), counts);
        prop_assert!(out.writes.iter().all(|(_, bytes)| bytes.len() == 1));
    }

    #[test]
    fn the_receiver_reads_the_items_that_were_sent(items in stream(), whole in any::<bool>()) {
        let grain = if whole { Grain::Messages } else { Grain::Bytes };
        let mut line = SerialLine::new(grain, 512);
        let out = run(&mut line, &items);
        let sent: Vec<Wire> = out.order().into_iter().map(|tag| items[tag].1.clone()).collect();
        prop_assert_eq!(read(&out.bytes()), sent);
        let lost = items.len() - out.ended.len();
        prop_assert_eq!((lost as u64, out.refused.len()), (line.counts().thinned, 0));
        prop_assert_eq!(out.began.len(), out.ended.len());
    }

    #[test]
    fn conflicting_items_keep_their_order(items in stream()) {
        let order = run(&mut line(), &items).order();
        for (place, &later) in order.iter().enumerate() {
            for &earlier in &order[..place] {
                let turned = earlier > later && conflict(&items[later].1, &items[earlier].1);
                prop_assert!(!turned, "{later} went after {earlier}");
            }
        }
    }

    #[test]
    fn a_short_line_loses_no_note_off_and_counts_the_rest(items in stream()) {
        let mut line = SerialLine::new(Grain::Bytes, 8);
        let out = run(&mut line, &items);
        let lost = items.len() - out.ended.len() - out.refused.len();
        prop_assert_eq!(lost as u64, line.counts().thinned);
        for (tag, (_, wire)) in items.iter().enumerate().filter(|(_, (_, wire))| is_release(wire)) {
            prop_assert!(out.ended_at(tag).is_some() || out.refused.contains(&tag), "{wire:?}");
        }
    }

    #[test]
    fn a_pulse_is_never_more_than_a_byte_late(items in stream(), apart in 33i64..5_000) {
        let is_real_time = |wire: &Wire| super::is_real_time(wire);
        let mut items: Vec<(Ns, Wire)> =
            items.into_iter().filter(|(_, wire)| !is_real_time(wire)).collect();
        let last = items.last().map_or(0, |item| item.0);
        let pulses = (0..200).map(|k| k * apart * STEP).take_while(|&at| at <= last);
        items.extend(pulses.map(|at| (at, Wire::Message(Message::Clock))));
        items.sort_by_key(|item| item.0);
        let out = run(&mut line(), &items);
        for (tag, (at, wire)) in items.iter().enumerate().filter(|(_, (_, wire))| is_real_time(wire)) {
            let began = out.began.iter().find(|began| began.0 == tag).map(|began| began.1 - at);
            prop_assert!(began.is_some_and(|late| (0..=BYTE).contains(&late)), "{wire:?} {began:?}");
        }
    }

    #[test]
    fn no_item_waits_longer_than_the_bound(items in stream()) {
        // The bound in the header: the waiting limit, plus the time for everything that arrived
        // before, is being sent, or is a system message. Counted generously: all the stream's bytes
        // before it, and all its system and real-time bytes.
        let length = |wire: &Wire| match wire {
            Wire::Message(message) => message.bytes().len(),
            Wire::SysEx(bytes) => bytes.len(),
        };
        let system = |wire: &Wire| match wire {
            Wire::Message(message) => message.channel().is_none(),
            Wire::SysEx(bytes) => bytes[1] == 0x7F,
        };
        let out = run(&mut line(), &items);
        for &(tag, at) in &out.ended {
            let before: usize = items.iter().take(tag + 1).map(|(_, wire)| length(wire)).sum();
            let others: usize = items.iter().map(|(_, wire)| if system(wire) { length(wire) } else { 0 }).sum();
            let bytes = (before + others + 16 + 6) as Ns;
            prop_assert!(at - items[tag].0 <= PATIENCE + bytes * BYTE);
        }
    }
}
