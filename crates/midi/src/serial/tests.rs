//! The line against the MIDI 1.0 Detailed Specification, case by case. Random streams are in
//! [`streams`].

mod naive;
mod streams;

use super::*;
use crate::moves;
use crate::parser::Parser;
use crate::{Channel, Control, U14};
use std::sync::Arc;

const MS: Ns = 1_000_000;

/// What a line did with items pushed at given times; tags are indexes into the list.
#[derive(Debug, Default, PartialEq, Eq)]
struct Run {
    /// Each write and its time.
    writes: Vec<(Ns, Vec<u8>)>,
    /// Which item started, and when.
    began: Vec<(usize, Ns)>,
    /// Which item finished, and when its last byte was transmitted.
    ended: Vec<(usize, Ns)>,
    /// Which items found no room.
    refused: Vec<usize>,
}

impl Run {
    fn bytes(&self) -> Vec<u8> {
        self.writes.iter().flat_map(|(_, bytes)| bytes.clone()).collect()
    }

    fn ended_at(&self, tag: usize) -> Option<Ns> {
        self.ended.iter().find(|ended| ended.0 == tag).map(|ended| ended.1)
    }

    fn order(&self) -> Vec<usize> {
        self.ended.iter().map(|ended| ended.0).collect()
    }
}

/// More writes than the bytes of any test here.
const MOST_WRITES: usize = 10_000;

/// Pushes the items at their times (in order), and writes whenever the line is free. Fails if the line
/// announces that it is free but offers nothing, or never comes to rest.
fn run(line: &mut SerialLine<usize>, items: &[(Ns, Wire)]) -> Run {
    let mut out = Run::default();
    let (mut now, mut next) = (0, 0);
    loop {
        while let Some((at, wire)) = items.get(next).filter(|(at, _)| *at <= now) {
            let item = Item { wire: wire.clone(), due: *at, tag: next };
            out.refused.extend(line.push(now, item).err().map(|item| item.tag));
            next += 1;
        }
        while let Some(bytes) = line.peek(now) {
            out.writes.push((now, bytes.to_vec()));
            assert!(out.writes.len() < MOST_WRITES, "the line never comes to rest");
            let took = line.took(now);
            out.began.extend(took.began.map(|began| (began.tag, now)));
            out.ended.extend(took.ended.map(|ended| (ended.item.tag, ended.at)));
        }
        let coming = items.get(next).map(|item| item.0);
        let Some(at) = [line.next_deadline(), coming].into_iter().flatten().min() else {
            return out;
        };
        assert!(now < at, "what waits can be sent neither at {now} nor later");
        now = at;
    }
}

impl SerialLine<usize> {
    fn capacities(&self) -> [usize; 2] {
        [self.queue.capacity(), self.real_time.capacity()]
    }
}

fn line() -> SerialLine<usize> {
    SerialLine::new(Grain::Bytes, 512)
}

/// All at time 0.
fn together(messages: impl IntoIterator<Item = Message>) -> Vec<(Ns, Wire)> {
    messages.into_iter().map(|message| (0, Wire::Message(message))).collect()
}

fn channel(number: u8) -> Channel {
    Channel::from_number(number).unwrap()
}

fn on(number: u8, key: u8) -> Message {
    let (key, velocity) = (U7::low_bits(key), U7::low_bits(100));
    Message::NoteOn { channel: channel(number), key, velocity }
}

fn off(number: u8, key: u8) -> Message {
    let key = U7::low_bits(key);
    Message::NoteOff { channel: channel(number), key, velocity: U7::CENTRE }
}

fn change(number: u8, controller: u8, value: u8) -> Message {
    let (controller, value) = (U7::low_bits(controller), U7::low_bits(value));
    Message::Change { channel: channel(number), controller, value }
}

fn bend(number: u8, value: u16) -> Message {
    Message::Bend { channel: channel(number), value: U14::new(value).unwrap() }
}

fn program(number: u8, program: u8) -> Message {
    Message::Program { channel: channel(number), program: U7::low_bits(program) }
}

fn sysex(bytes: &[u8]) -> Wire {
    Wire::SysEx(bytes.into())
}

#[test]
fn a_chord_takes_as_long_as_its_bytes() {
    // MIDI 1.0 Detailed Specification, "Hardware" (320 us a byte) and "Running Status": ten
    // notes are 21 bytes with it, 30 without.
    let chord = together((60..70).map(|key| on(1, key)));
    let mut raw = line();
    let out = run(&mut raw, &chord);
    assert_eq!((out.bytes().len(), out.ended_at(9)), (21, Some(6_720_000)));
    assert_eq!(raw.counts().worst, 6_720_000);
    let mut whole = SerialLine::new(Grain::Messages, 512);
    let out = run(&mut whole, &chord);
    assert_eq!((out.bytes().len(), out.ended_at(9)), (30, Some(9_600_000)));
    assert_eq!(out.writes.len(), 10);
    // Eight notes on eight channels share no status byte: 24 bytes.
    let out = run(&mut line(), &together((1..=8).map(|number| on(number, 60))));
    assert_eq!((out.bytes().len(), out.ended_at(7)), (24, Some(7_680_000)));
}

#[test]
fn the_clock_uses_its_share_of_the_line_and_no_pulse_waits() {
    // MIDI 1.0, 24 pulses to the quarter: 48 a second at 120, 1.54 % of the line; 120 at 300.
    for (bpm, share) in [(120, 154), (300, 384)] {
        let a_second = bpm * 24 / 60;
        let pulses: Vec<(Ns, Wire)> = (0..a_second)
            .map(|k| (k * 1_000 * MS / a_second, Wire::Message(Message::Clock)))
            .collect();
        let out = run(&mut line(), &pulses);
        let taken = out.writes.len() as Ns * BYTE;
        assert_eq!((taken * 10_000 + 500 * MS) / (1_000 * MS), share);
        assert!(out.began.iter().all(|&(tag, at)| at == pulses[tag].0));
    }
}

#[test]
fn running_status_is_used_and_broken_as_the_specification_says() {
    // MIDI 1.0, "Running Status", "Note-Off", "System Common", "System Real Time".
    let table: &[(&[Message], &[u8])] = &[
        // A note-off of velocity 64 under a note-on's status needs no status byte of its own.
        (&[on(1, 60), off(1, 60)], &[0x90, 60, 100, 60, 0]),
        (&[off(1, 60), off(1, 61)], &[0x80, 60, 64, 61, 64]),
        (&[on(1, 60), on(2, 60)], &[0x90, 60, 100, 0x91, 60, 100]),
        (&[program(1, 5), program(2, 6), program(2, 7)], &[0xC0, 5, 0xC1, 6, 7]),
        // System common ends it; real-time does not.
        (&[Message::TuneRequest, on(1, 60)], &[0xF6, 0x90, 60, 100]),
    ];
    for (messages, bytes) in table {
        assert_eq!(run(&mut line(), &together(messages.iter().copied())).bytes(), *bytes);
    }
    let fast = Message::NoteOff { channel: channel(1), key: U7::MIN, velocity: U7::MAX };
    let bytes = run(&mut line(), &together([on(1, 0), fast])).bytes();
    assert_eq!(bytes, [0x90, 0, 100, 0x80, 0, 127]);
    let apart = [on(1, 60), Message::Clock, on(1, 61), Message::QuarterFrame(U7::MIN), on(1, 62)];
    let apart: Vec<(Ns, Wire)> =
        apart.into_iter().enumerate().map(|(k, m)| (k as Ns * 2 * MS, Wire::Message(m))).collect();
    let bytes = run(&mut line(), &apart).bytes();
    assert_eq!(bytes, [0x90, 60, 100, 0xF8, 61, 100, 0xF1, 0, 0x90, 62, 100]);
}

#[test]
fn a_parameter_group_stays_together_and_uses_running_status() {
    // MIDI 1.0, "RPN": bend range 12 on channel 1 under running status is 13 bytes, 4.16 ms.
    let range = U14::from_parts(U7::low_bits(12), U7::MIN);
    let group = together(moves(channel(1), Control::Registered(U14::default()), range));
    let out = run(&mut line(), &group);
    let expected = [0xB0, 101, 0, 100, 0, 6, 12, 38, 0, 101, 127, 100, 127];
    assert_eq!((out.bytes(), out.ended_at(5)), (expected.to_vec(), Some(4_160_000)));
}

#[test]
fn real_time_goes_between_any_two_bytes() {
    // MIDI 1.0, "System Real Time": inside a note and inside a system-exclusive message.
    let items = [
        (0, Wire::Message(on(1, 60))),
        (1, sysex(&[0xF0, 0x7D, 1, 2, 0xF7])),
        (400_000, Wire::Message(Message::Clock)),
        (2 * MS, Wire::Message(Message::Stop)),
    ];
    let out = run(&mut line(), &items);
    let expected = [0x90, 60, 0xF8, 100, 0xF0, 0x7D, 1, 0xFC, 2, 0xF7];
    assert_eq!(out.bytes(), expected);
    assert_eq!(out.began[1], (2, 640_000));
    // A port that takes whole messages gets it between them.
    let out = run(&mut SerialLine::new(Grain::Messages, 512), &items);
    assert_eq!(out.bytes(), [0x90, 60, 100, 0xF8, 0xF0, 0x7D, 1, 2, 0xF7, 0xFC]);
}

#[test]
fn time_code_goes_next_and_a_continue_waits_for_its_song_position() {
    let frame = Message::QuarterFrame(U7::low_bits(0x11));
    let mut items = together([on(1, 60), on(1, 61), on(10, 38)]);
    items.push((100_000, Wire::Message(frame)));
    assert_eq!(run(&mut line(), &items).order(), [2, 3, 0, 1]);
    // MIDI 1.0, "Song Position Pointer": position, continue, then the first pulse.
    let position = Message::SongPosition(U14::new(16).unwrap());
    let messages = [on(1, 60), Message::Stop, position, Message::Continue, Message::Clock];
    let bytes = run(&mut line(), &together(messages)).bytes();
    assert_eq!(bytes, [0xFC, 0xF2, 0x10, 0x00, 0xFB, 0xF8, 0x90, 60, 100]);
    // Machine control keeps its order with time code: a locate goes before the time code that
    // follows it.
    let locate = sysex(&[0xF0, 0x7F, 0x7F, 0x06, 0x44, 0x06, 0x01, 0x21, 0, 0, 0, 0, 0xF7]);
    let items = [(0, Wire::Message(on(1, 60))), (0, locate), (0, Wire::Message(frame))];
    assert_eq!(run(&mut line(), &items).order(), [1, 2, 0]);
}

#[test]
fn the_status_is_repeated_after_a_while() {
    let items: Vec<(Ns, Wire)> =
        (0..5).map(|k| (k * 100 * MS, Wire::Message(on(1, 60 + k as u8)))).collect();
    let bytes = run(&mut line(), &items).bytes();
    assert_eq!(bytes, [0x90, 60, 100, 61, 100, 0x90, 62, 100, 63, 100, 0x90, 64, 100]);
}

#[test]
fn note_offs_pedals_and_drums_go_first_then_note_ons_then_controllers() {
    let pedal = change(2, 64, 0);
    let messages = [bend(1, 0), on(1, 60), on(1, 61), off(3, 50), pedal, on(10, 38), program(4, 1)];
    assert_eq!(run(&mut line(), &together(messages)).order(), [3, 4, 5, 1, 2, 6, 0]);
}

#[test]
fn conflicting_messages_keep_their_order() {
    // The note-off is sent after its note-on, and both are sent.
    assert_eq!(run(&mut line(), &together([on(1, 60), off(1, 60)])).order(), [0, 1]);
    // A pedal that goes down before a note-off holds the note.
    let messages = [on(1, 60), change(1, 64, 127), off(1, 60), off(2, 60)];
    assert_eq!(run(&mut line(), &together(messages)).order(), [3, 0, 1, 2]);
    // A program change stays before the note it is for, and a later bend stays later.
    let messages = [on(1, 60), program(1, 5), on(1, 61), bend(1, 0), off(1, 60)];
    assert_eq!(run(&mut line(), &together(messages)).order(), [0, 1, 4, 2, 3]);
    // A key pressure stays between the notes of its key.
    let touch = Message::KeyPressure { channel: channel(1), key: U7::low_bits(60), value: U7::MAX };
    let messages = [on(1, 60), touch, off(1, 60), on(1, 61)];
    assert_eq!(run(&mut line(), &together(messages)).order(), [0, 1, 2, 3]);
    // A system-exclusive message can mean anything: only note-offs overtake it.
    let mut items = together([change(1, 7, 90), on(1, 60)]);
    items.push((0, sysex(&[0xF0, 0x7E, 0x7F, 0x09, 0x01, 0xF7])));
    items.extend(together([on(10, 38), change(1, 7, 80), off(2, 60)]));
    assert_eq!(run(&mut line(), &items).order(), [5, 0, 1, 2, 3, 4]);
}

#[test]
fn only_the_newest_of_a_continuous_value_waits() {
    let mut thin = line();
    let messages =
        [on(1, 60), bend(1, 1), change(1, 7, 1), bend(1, 2), change(1, 7, 2), bend(2, 9)];
    assert_eq!(run(&mut thin, &together(messages)).order(), [0, 3, 4, 5]);
    assert_eq!(thin.counts().thinned, 2);
    // A program change between two values keeps both in their places.
    let messages = [on(2, 60), change(1, 7, 1), program(1, 5), change(1, 7, 2)];
    assert_eq!(run(&mut line(), &together(messages)).order(), [0, 1, 2, 3]);
}

#[test]
fn the_halves_of_a_value_stay_together() {
    // MIDI 1.0, "Control Change": a coarse value sets the fine one to 0, so it is sent first.
    let (coarse, fine) = (|value| change(1, 1, value), |value| change(1, 33, value));
    let mut thin = line();
    let messages = [on(1, 60), coarse(5), fine(120), coarse(6), fine(3), fine(4)];
    assert_eq!(run(&mut thin, &together(messages)).order(), [0, 3, 5]);
    assert_eq!(thin.counts().thinned, 3);
    // Once the coarse half is sent, the fine half is next, whatever else has arrived.
    let mut items = together([coarse(5), fine(120)]);
    items.push((100_000, Wire::Message(on(10, 38))));
    assert_eq!(run(&mut line(), &items).order(), [0, 1, 2]);
    // What arrives while a coarse half is being sent.
    let meanwhile = |wires: Vec<Wire>| {
        let mut items = together([coarse(5)]);
        items.extend(wires.into_iter().map(|wire| (100_000, wire)));
        run(&mut line(), &items).order()
    };
    // A fine half behind a newer coarse half belongs to that one.
    let newer = [on(1, 60), coarse(6), fine(3)].map(Wire::Message);
    assert_eq!(meanwhile(newer.to_vec()), [0, 1, 2, 3]);
    // One behind state of its channel, or behind a system-exclusive message, waits for that.
    for before in [Wire::Message(program(1, 5)), sysex(&[0xF0, 0x7D, 1, 0xF7])] {
        assert_eq!(meanwhile(vec![before, Wire::Message(fine(3))]), [0, 1, 2]);
    }
    let other = vec![Wire::Message(program(2, 5)), Wire::Message(fine(3))];
    assert_eq!(meanwhile(other), [0, 2, 1]);
}

#[test]
fn a_reset_drops_the_values_it_resets_and_no_others() {
    // MMA RP-015: 121 resets modulation, expression, bend and pressure, but not volume or pan.
    let mut thin = line();
    let messages =
        [on(1, 60), change(1, 1, 9), change(1, 7, 9), bend(1, 9), bend(2, 9), change(1, 121, 0)];
    assert_eq!(run(&mut thin, &together(messages)).order(), [0, 2, 5, 4]);
    assert_eq!(thin.counts().thinned, 2);
}

#[test]
fn nothing_waits_for_ever() {
    // More drum notes than the line can carry, for a second: a bend and a note-on are still sent
    // once they have waited 100 ms and everything that arrived before them is out.
    let mut items: Vec<(Ns, Wire)> =
        (0..1200).map(|k| (k * 600_000, Wire::Message(on(10, (k % 100) as u8)))).collect();
    items.insert(200, (items[200].0, Wire::Message(bend(1, 0))));
    items.insert(201, (items[201].0, Wire::Message(on(1, 60))));
    let out = run(&mut SerialLine::new(Grain::Bytes, 4096), &items);
    // By then 200 drum notes have arrived in 120 ms; the line has carried 187 (two bytes each).
    let before = 14 * 3 * BYTE;
    for tag in [200, 201] {
        let late = out.ended_at(tag).unwrap() - items[tag].0;
        assert!(late > PATIENCE && late <= PATIENCE + before + 6 * BYTE, "{late}");
    }
}

#[test]
fn a_full_line_refuses_items_and_reserves_places_for_note_offs() {
    let mut full: SerialLine<usize> = SerialLine::new(Grain::Bytes, 16);
    let room = full.capacities();
    let mut push = |wire, tag| full.push(0, Item { wire, due: 0, tag }).is_ok();
    let taken = (0..20).filter(|&key| push(Wire::Message(on(1, key)), 0)).count();
    assert_eq!(taken, 12);
    assert!(!push(Wire::Message(change(1, 64, 127)), 0) && !push(sysex(&[0xF0, 0xF7]), 0));
    assert!(push(Wire::Message(change(1, 64, 0)), 0));
    assert_eq!((0..20).filter(|&key| push(Wire::Message(off(1, key)), 0)).count(), 3);
    let pulses = (0..100).filter(|_| push(Wire::Message(Message::Clock), 0)).count();
    assert_eq!(pulses, 48);
    assert!(push(Wire::Message(Message::Stop), 0));
    run(&mut full, &[]);
    // None of it allocated.
    assert_eq!(full.capacities(), room);
    // An incomplete system-exclusive message is never accepted.
    let mut line = line();
    for bytes in [&[][..], &[0xF0], &[0xF7], &[1, 2, 3], &[0xF0, 1]] {
        assert!(line.push(0, Item { wire: sysex(bytes), due: 0, tag: 0 }).is_err());
    }
}

#[test]
fn silence_removes_note_ons_and_ends_a_long_message_at_once() {
    let bytes: Arc<[u8]> = [&[0xF0][..], &[1; 1000], &[0xF7]].concat().into();
    let fill = |line: &mut SerialLine<usize>| {
        let messages = [on(1, 60), off(1, 60), program(2, 1), bend(3, 1), change(4, 64, 0)];
        let mut wires = vec![Wire::SysEx(bytes.clone())];
        wires.extend(messages.into_iter().chain([Message::Clock]).map(Wire::Message));
        for (tag, wire) in wires.into_iter().enumerate() {
            line.push(0, Item { wire, due: 0, tag }).unwrap();
            // The system-exclusive message is being sent before the rest arrives.
            if tag == 0 {
                for k in 0..3 {
                    assert_eq!(line.peek(k * BYTE).map(<[u8]>::len), Some(1));
                    line.took(k * BYTE);
                }
            }
        }
    };
    for (what, given, left) in [
        (Clear::Presses, vec![1], vec![6, 0, 2, 5, 3, 4]),
        (Clear::Music, vec![1, 3, 4], vec![6, 0, 2, 5]),
        (Clear::Everything, vec![1, 2, 3, 4, 5, 0, 6], vec![]),
    ] {
        let mut line = line();
        fill(&mut line);
        let mut back = Vec::new();
        line.clear(what, |item| back.push(item.tag));
        assert_eq!(back, given);
        let out = run(&mut line, &[]);
        assert_eq!(out.order(), left);
        if what != Clear::Everything {
            assert_eq!(out.bytes()[..2], [0xF8, 0xF7]);
        }
        assert!(line.is_empty() && line.next_deadline().is_none());
    }
    // Nothing was freed.
    assert_eq!(Arc::strong_count(&bytes), 1);
}

#[test]
fn a_message_that_was_offered_but_not_sent_is_cleared_like_one_that_waits() {
    for (message, stays) in [(on(1, 60), false), (off(1, 60), true)] {
        let mut line = line();
        line.push(0, Item { wire: Wire::Message(message), due: 0, tag: 0 }).unwrap();
        assert!(line.peek(0).is_some());
        let mut back = Vec::new();
        line.clear(Clear::Presses, |item| back.push(item.tag));
        assert_eq!((back.is_empty(), !line.is_empty()), (stays, stays), "{message:?}");
    }
}

#[test]
fn a_half_sent_note_or_control_message_is_finished_at_a_silence() {
    // MIDI Machine Control 1.0: stop, to all devices.
    let stop = [0xF0, 0x7F, 0x7F, 0x06, 0x01, 0xF7];
    let note = [0x90, 60, 100];
    for (wire, whole) in [(sysex(&stop), &stop[..]), (Wire::Message(on(1, 60)), &note)] {
        let mut line = line();
        line.push(0, Item { wire, due: 0, tag: 0 }).unwrap();
        assert_eq!(line.peek(0), Some(&whole[..1]));
        line.took(0);
        line.clear(Clear::Presses, |item| panic!("{item:?} is half sent"));
        assert_eq!(run(&mut line, &[]).bytes(), whole[1..]);
    }
}

#[test]
fn a_late_writer_leaves_no_gap_when_bytes_are_offered_early() {
    let mut line = line().ahead(BYTE);
    for (tag, key) in (60..70).enumerate() {
        line.push(0, Item { wire: Wire::Message(on(1, key)), due: 0, tag }).unwrap();
    }
    // The caller is always 100 us late; the port buffers one byte. Ten notes are 21 bytes.
    let mut through = 0;
    for _ in 0..21 {
        let now = line.next_deadline().unwrap().max(0) + 100_000;
        assert!(line.peek(now).is_some());
        through = line.took(now).ended.map_or(through, |ended| ended.at);
    }
    assert_eq!((through, line.next_deadline()), (100_000 + 21 * BYTE, None));
}
