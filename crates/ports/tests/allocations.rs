//! The scheduler thread neither allocates nor frees while it plays. The test's allocator counts the
//! calls from that thread.
#![cfg(target_os = "linux")]

mod common;

use chaconne_counting::{Counting, unwatch, watch, watched_calls};
use chaconne_engine::{Action, Message, Order, PortIx, Slot};
use chaconne_ports::{PortSpec, Setup, WireSetup, open_output, start};
use chaconne_song::{Channel, U7};
use chaconne_time::{FrameRate, Tempo, Tick};
use common::*;
use std::sync::Arc;

#[global_allocator]
static ALLOCATOR: Counting = Counting;

#[test]
fn the_scheduler_thread_allocates_nothing_while_it_plays() {
    let (_folder, path) = fifo();
    let mut far = reader(&path);
    // Besides the FIFO, a serial line and a port with an offset; both with time code.
    let nowhere = || open_output(&PortSpec::None).unwrap();
    // A watched output, read now and then.
    let (watched, mut captured) = nowhere().watched(1 << 16);
    let outputs = vec![open_output(&spec(&path)).unwrap(), nowhere(), watched];
    let mtc = Some(FrameRate::Drop30);
    let wires = vec![
        WireSetup::default(),
        WireSetup { serial: true, mtc, ..WireSetup::default() },
        WireSetup { offset: 20_000_000, mtc, ..WireSetup::default() },
    ];
    let mut running = start(outputs, Setup { inputs: 1, wires, ..Setup::default() }).unwrap();
    let mut thru = running.thrus.remove(0);
    thru.target().set(Some((PortIx(0), None)));
    let monitor = running.scheduler.monitor();
    let switch = running.scheduler.switch();
    // The song no longer has this message, so the scheduler has the last reference to it.
    let sysex = || -> Arc<[u8]> { [&[0xF0][..], &[1; 300], &[0xF7]].concat().into() };
    let mut bytes = Vec::with_capacity(1 << 20);

    // The thread allocates while it starts, which is over once something has been played.
    thru.play(chaconne_ports::now(), bend());
    eventually("the first message", || monitor.stats().sent == 1);
    watch("scheduler");
    for round in 0..5u32 {
        roll(&mut running.orders);
        for note in 0..400u32 {
            let (at, key) = (i64::from(note) * 7, (note % 128) as u8);
            let note = round * 1000 + note;
            let pulse = play(0, at, Action::Send(Message::Clock));
            let message = play(0, at, Action::SysEx(sysex()));
            let orders = [press(0, at, key, note), lift(0, at + 5, key, note), pulse, message];
            assert_eq!(running.orders.send_all(orders), 0);
            for port in 1..3 {
                let value = U7::low_bits((note % 128) as u8);
                let (channel, controller) = (Channel::default(), U7::low_bits(74));
                let change = Message::Change { channel, controller, value };
                let change = play(port, at, Action::Send(change));
                let message = play(port, at, Action::SysEx(sysex()));
                let note = note + 100_000 * u32::from(port);
                let orders = [press(port, at, key, note), lift(port, at + 5, key, note)];
                assert_eq!(running.orders.send_all(orders), 0);
                assert_eq!(running.orders.send_all([change, message]), 0);
            }
            let channel = Channel::default();
            let (key, velocity) = (U7::low_bits(key), U7::MAX);
            thru.play(chaconne_ports::now(), Message::NoteOn { channel, key, velocity });
            thru.play(chaconne_ports::now(), Message::NoteOff { channel, key, velocity });
            let tempo = Tempo::from_micros(60_000 + note % 2).unwrap();
            running.orders.send(Order::Tempo { at: Tick(at), tempo }).unwrap();
            read_some(&mut far, &mut bytes);
            bytes.clear();
        }
        running.orders.send(Order::Revise { slot: Slot(0), epoch: 0 }).unwrap();
        running.orders.send(Order::Settle { slot: Slot(0) }).unwrap();
        let sent = (u64::from(round) + 1) * 1600;
        eventually("the round", || {
            read_some(&mut far, &mut bytes);
            bytes.clear();
            let stats = monitor.stats();
            stats.ports[0].sent + stats.ports[0].dropped >= sent
        });
        running.orders.send(Order::Halt).unwrap();
        running.orders.send(Order::Silence).unwrap();
    }
    // Now the reader goes and comes back, and the switch is used.
    drop(far);
    let lost = chaconne_ports::PortState::Lost;
    eventually("the loss", || state(&monitor.stats(), 0) == lost);
    let _far = reader(&path);
    eventually("the port again", || state(&monitor.stats(), 0) != lost);
    switch.silence_now();
    assert!(switch.wait_silent(std::time::Duration::from_secs(30)));
    assert!(captured.take().count() > 1000);
    assert_eq!(watched_calls(), 0, "calls to the allocator on the scheduler thread");
    assert!(monitor.stats().sent > 5000);

    // Proof that an allocation would be counted: one is, on a thread whose name starts the same.
    let named = std::thread::Builder::new().name("scheduler too".to_string());
    named.spawn(|| drop(vec![0u8; 64])).unwrap().join().unwrap();
    assert!(watched_calls() > 0);
    unwatch();
}

fn bend() -> Message {
    Message::Bend { channel: Channel::default(), value: chaconne_song::U14::CENTRE }
}
