//! Byte ports as outputs, over real FIFOs and pseudo-terminals: messages arrive whole and in order,
//! and readers that go or come back are noticed.
#![cfg(unix)]

mod common;

use chaconne_engine::{Action, Order};
use chaconne_ports::{Output, PortSpec, PortState, Setup, open_output, start};
use common::*;
use std::sync::Arc;
use std::time::Duration;

fn setup() -> Setup {
    Setup { inputs: 0, ..Setup::default() }
}

#[test]
fn messages_through_a_fifo_arrive_whole_and_in_order() {
    let (_folder, path) = fifo();
    let mut far = reader(&path);
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], setup()).unwrap();
    roll(&mut running.orders);
    let mut expected = Vec::new();
    for note in 0..500u32 {
        let (at, key) = (i64::from(note) * 20, (note % 128) as u8);
        running.orders.send(press(0, at, key, note)).unwrap();
        running.orders.send(lift(0, at + 20, key, note)).unwrap();
        // This lift goes before the next press at the same tick.
        expected.extend([0x90, key, 100, 0x80, key, 64]);
    }
    assert_eq!(read_exactly(&mut far, expected.len()), expected);
    let stats = running.scheduler.stats();
    assert_eq!((stats.sent, stats.sounding, stats.dropped), (1000, 0, 0));
    assert_eq!(stats.ports[0].bytes, 3000);
}

#[test]
fn a_notice_says_that_a_plain_file_was_created() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wier");
    let output = open_output(&spec(&path)).unwrap();
    assert_eq!(output.state(), PortState::Open);
    let notice = output.notice().unwrap();
    assert!(notice.contains("is a new plain file") && notice.contains("mkfifo '"), "{notice}");
    // A file created beforehand to be filled is what the user asked for.
    drop(output);
    assert_eq!(open_output(&spec(&path)).unwrap().notice(), None);
    let (_folder, path) = fifo();
    assert_eq!(open_output(&spec(&path)).unwrap().notice(), None);
}

#[test]
fn a_terminal_changes_no_byte() {
    let (mut far, path) = terminal();
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], setup()).unwrap();
    roll(&mut running.orders);
    // Every data byte, including those a terminal would act on (03, 0A, 0D, 11, 13, 7F).
    let body: Vec<u8> = (0..128).collect();
    let sysex: Arc<[u8]> = [&[0xF0][..], &body, &[0xF7]].concat().into();
    running.orders.send(play(0, 0, Action::SysEx(sysex.clone()))).unwrap();
    assert_eq!(read_exactly(&mut far, sysex.len()), &*sysex);
}

#[test]
fn a_message_accepted_in_part_is_finished_before_the_next() {
    let (mut far, path) = terminal();
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], setup()).unwrap();
    roll(&mut running.orders);
    // More than a terminal buffers: the first message is accepted in part, and the far end reads
    // slowly.
    let sysex: Arc<[u8]> = [&[0xF0][..], &[0x55; 30_000], &[0xF7]].concat().into();
    running.orders.send(play(0, 0, Action::SysEx(sysex.clone()))).unwrap();
    eventually("the first part", || running.scheduler.stats().sent == 1);
    // Meanwhile the port is full: a press is dropped, and its lift with it.
    running.orders.send(press(0, 1, 60, 1)).unwrap();
    running.orders.send(lift(0, 2, 60, 1)).unwrap();
    eventually("the drop", || running.scheduler.stats().ports[0].dropped == 1);
    assert_eq!(read_exactly(&mut far, sysex.len()), &*sysex);
    running.orders.send(press(0, 3, 61, 2)).unwrap();
    running.orders.send(lift(0, 3, 61, 2)).unwrap();
    assert_eq!(read_exactly(&mut far, 6), [0x90, 61, 100, 0x80, 61, 64]);
}

#[test]
fn releases_wait_for_a_reader_that_has_stopped_reading() {
    let (_folder, path) = fifo();
    let mut far = reader(&path);
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], setup()).unwrap();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    eventually("the note", || running.scheduler.stats().sounding == 1);
    let sysex: Arc<[u8]> = [&[0xF0][..], &[0x55; 4000], &[0xF7]].concat().into();
    eventually("a full port", || {
        let _ = running.orders.send(play(0, 1, Action::SysEx(sysex.clone())));
        running.scheduler.stats().ports[0].dropped > 0
    });
    running.orders.send(lift(0, 2, 60, 1)).unwrap();
    running.orders.send(Order::Halt).unwrap();
    // The release goes out as soon as there is room, without anything else being sent.
    let mut bytes = Vec::new();
    eventually("the release", || {
        read_some(&mut far, &mut bytes);
        running.scheduler.stats().sounding == 0 && bytes.ends_with(&[0x80, 60, 64])
    });
}

#[test]
fn a_reader_that_goes_is_noticed_and_a_new_one_is_used() {
    let (_folder, path) = fifo();
    let far = reader(&path);
    let (kept, memory) = Output::memory("kept");
    let outputs = vec![open_output(&spec(&path)).unwrap(), kept];
    let mut running = start(outputs, setup()).unwrap();
    roll(&mut running.orders);
    for port in [0, 1] {
        running.orders.send(press(port, 0, 60, port.into())).unwrap();
    }
    let monitor = running.scheduler.monitor();
    eventually("both notes", || monitor.stats().sounding == 2);
    drop(far);
    // Nothing is sent meanwhile; the loss is noticed anyway.
    eventually("the loss", || state(&monitor.stats(), 0) == PortState::Lost);
    eventually("one note left", || monitor.stats().sounding == 1);
    for port in [0, 1] {
        running.orders.send(lift(port, 1, 60, port.into())).unwrap();
    }
    eventually("no note left", || monitor.stats().sounding == 0);
    assert_eq!(memory.take().len(), 2);

    let mut far = reader(&path);
    eventually("the port again", || state(&monitor.stats(), 0) == PortState::Open);
    running.orders.send(press(0, 2, 62, 7)).unwrap();
    running.orders.send(lift(0, 3, 62, 7)).unwrap();
    // First silence whatever kept sounding there: pedal up, all notes off, all sound off.
    let silenced = [0xB0, 64, 0, 0xB0, 123, 0, 0xB0, 120, 0];
    let expected = [&silenced[..], &[0x90, 62, 100, 0x80, 62, 64]].concat();
    // The last reader may have left unread data before it.
    let mut bytes = Vec::new();
    eventually("silence, then the note", || {
        read_some(&mut far, &mut bytes);
        bytes.ends_with(&expected)
    });
}

#[test]
fn waiting_for_a_fifo_delays_nothing() {
    let (_folder, path) = fifo();
    let waiting = open_output(&spec(&path)).unwrap();
    assert_eq!(waiting.state(), PortState::Waiting);
    let patience = Duration::from_millis(1);
    let mut running = start(vec![waiting], Setup { patience, ..setup() }).unwrap();
    let monitor = running.scheduler.monitor();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    eventually("the end of patience", || state(&monitor.stats(), 0) == PortState::Silent);
    eventually("the drop", || monitor.stats().ports[0].dropped == 1);
    assert_eq!(monitor.stats().sounding, 0);
    let mut far = reader(&path);
    eventually("the reader", || state(&monitor.stats(), 0) == PortState::Open);
    running.orders.send(press(0, 1, 61, 2)).unwrap();
    running.orders.send(lift(0, 2, 61, 2)).unwrap();
    assert_eq!(read_exactly(&mut far, 6), [0x90, 61, 100, 0x80, 61, 64]);
}

#[test]
fn stopping_the_scheduler_releases_notes_and_closes_the_stream() {
    let (_folder, path) = fifo();
    let mut far = reader(&path);
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], setup()).unwrap();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    eventually("the note", || running.scheduler.stats().sounding == 1);
    // A switch that outlives the scheduler keeps no stream open.
    let switch = running.scheduler.switch();
    drop(running);
    let mut bytes = Vec::new();
    std::io::Read::read_to_end(&mut far, &mut bytes).unwrap();
    assert_eq!(bytes, [0x90, 60, 100, 0x80, 60, 64]);
    assert_eq!(switch.force_note_offs(), 0);
}

#[test]
fn a_new_file_is_created_and_one_with_content_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bytes");
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], setup()).unwrap();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    eventually("the note", || running.scheduler.stats().sounding == 1);
    drop(running);
    assert_eq!(std::fs::read(&path).unwrap(), [0x90, 60, 100, 0x80, 60, 64]);
    let error = open_output(&spec(&path)).unwrap_err().to_string();
    let expected = format!(
        "port bytes:{} cannot be opened: the file is not empty; name a new one",
        path.display()
    );
    assert_eq!(error, expected);
}

#[test]
fn a_path_that_cannot_be_a_port_is_refused_in_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    for (path, why) in [
        (folder.path().to_path_buf(), "it is not a FIFO, terminal, serial line, raw MIDI device"),
        (folder.path().join("none/at/all"), "No such file or directory"),
    ] {
        let error = open_output(&spec(&path)).unwrap_err().to_string();
        assert!(error.contains(why) && error.lines().count() == 1, "{error}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_device_is_used_once_it_is_plugged_in() {
    // A pseudo-terminal stands in for the serial device: the link to it appears later.
    let (_gone, path) = plug();
    let output = open_output(&spec(&path)).unwrap();
    let notice = format!("port {} is not connected yet: nothing has that name", spec(&path));
    assert_eq!((output.state(), output.notice()), (PortState::Waiting, Some(notice.as_str())));
    let mut running = start(vec![output], setup()).unwrap();
    let monitor = running.scheduler.monitor();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    eventually("the drop", || monitor.stats().ports[0].dropped == 1);
    let (mut far, terminal) = terminal();
    std::os::unix::fs::symlink(terminal, &path).unwrap();
    eventually("the device", || state(&monitor.stats(), 0) == PortState::Open);
    running.orders.send(press(0, 1, 62, 2)).unwrap();
    assert_eq!(read_exactly(&mut far, 3), [0x90, 62, 100]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_plain_file_that_appears_instead_of_a_device_is_left_alone() {
    let (_gone, path) = plug();
    let mut running = start(vec![open_output(&spec(&path)).unwrap()], setup()).unwrap();
    std::fs::write(&path, [1, 2, 3]).unwrap();
    // Long enough for two tries.
    std::thread::sleep(std::time::Duration::from_millis(600));
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    eventually("the drop", || running.scheduler.stats().ports[0].dropped == 1);
    drop(running);
    assert_eq!(std::fs::read(&path).unwrap(), [1, 2, 3]);
}

#[test]
fn the_none_port_counts_messages_and_playing_continues() {
    let mut running = start(vec![open_output(&PortSpec::None).unwrap()], setup()).unwrap();
    roll(&mut running.orders);
    running.orders.send(press(0, 0, 60, 1)).unwrap();
    running.orders.send(lift(0, 1, 60, 1)).unwrap();
    eventually("both messages", || running.scheduler.stats().sent == 2);
    let stats = running.scheduler.stats();
    assert_eq!((state(&stats, 0), stats.ports[0].dropped), (PortState::Silent, 0));
    assert_eq!(stats.ports[0].name, "none");
}
