//! The silence switch, and the last resort, over real FIFOs.
#![cfg(unix)]

mod common;

use chaconne_engine::{Action, Message};
use chaconne_ports::{Output, Sent, Setup, open_output, start};
use chaconne_song::{Channel, U7};
use common::*;
use std::time::Duration;

const LONG: Duration = Duration::from_secs(30);

#[test]
fn the_switch_releases_everything_at_once_and_keeps_the_port_silent() {
    let (_folder, path) = fifo();
    let mut far = reader(&path);
    let setup = Setup { inputs: 1, ..Setup::default() };
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], setup).unwrap();
    let mut thru = running.thrus.remove(0);
    thru.target().set(Some((chaconne_engine::PortIx(0), None)));
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    let (channel, controller) = (Channel::default(), U7::low_bits(64));
    let pedal = Message::Change { channel, controller, value: U7::MAX };
    running.orders.send(play(0, 1, Action::Send(pedal))).unwrap();
    let hand = |key| {
        let (key, velocity) = (U7::low_bits(key), U7::MAX);
        Message::NoteOn { channel, key, velocity }
    };
    assert_eq!(read_exactly(&mut far, 6), [0x90, 60, 100, 0xB0, 64, 127]);
    thru.play(0, hand(72));
    assert_eq!(read_exactly(&mut far, 3), [0x90, 72, 127]);

    let switch = running.scheduler.switch();
    // From another thread, as a signal handler would.
    let other = switch.clone();
    std::thread::spawn(move || other.silence_now()).join().unwrap();
    assert!(switch.wait_silent(LONG));
    assert_eq!(running.scheduler.stats().sounding, 0);
    let mut released = read_exactly(&mut far, 9);
    released[..6].chunks_exact_mut(3).for_each(|off| off[2] = 0);
    assert!(released == [0x80, 60, 0, 0x80, 72, 0, 0xB0, 64, 0], "{released:?}");

    // The engine and the player do not know of the switch yet, but nothing they send is heard.
    running.orders.send(press(0, 2, 61, 2)).unwrap();
    thru.play(0, hand(73));
    switch.silence_now();
    assert!(switch.wait_silent(LONG));
    switch.resume();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 62, 3)).unwrap();
    running.orders.send(lift(0, 1, 62, 3)).unwrap();
    assert_eq!(read_exactly(&mut far, 6), [0x90, 62, 100, 0x80, 62, 64]);
}

#[test]
fn a_full_port_is_not_reported_silent() {
    let (output, memory) = Output::memory("stuck");
    let mut running = start(vec![output], Setup::default()).unwrap();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    eventually("the note", || running.scheduler.stats().sounding == 1);
    memory.answer(Sent::Full);
    let switch = running.scheduler.switch();
    switch.silence_now();
    assert!(!switch.wait_silent(Duration::from_millis(50)));
    memory.answer(Sent::Done);
    assert!(switch.wait_silent(LONG));
    assert_eq!(memory.sendings().last().unwrap().bytes, [0x80, 60, 64]);
}

#[test]
fn the_last_resort_writes_the_releases_directly() {
    let (_folder, path) = fifo();
    let mut far = reader(&path);
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], Setup::default()).unwrap();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    running.orders.send(press(0, 1, 64, 2)).unwrap();
    assert_eq!(read_exactly(&mut far, 6), [0x90, 60, 100, 0x90, 64, 100]);
    eventually("both notes", || running.scheduler.stats().sounding == 2);
    assert_eq!(running.scheduler.switch().force_note_offs(), 2);
    assert_eq!(read_exactly(&mut far, 6), [0x80, 60, 64, 0x80, 64, 64]);
}
