//! Byte ports as inputs, over real FIFOs and pseudo-terminals, and through-play from input to
//! output.
#![cfg(unix)]

mod common;

use chaconne_engine::{Message, PortIx, Wire};
use chaconne_ports::{InputEvent, PortState, Setup, open_input, open_output, start};
use chaconne_song::{Channel, U7};
use chaconne_time::Ns;
use common::*;
use std::fs::OpenOptions;
use std::io::Write;
use std::sync::{Arc, Mutex};

#[derive(Clone, Default)]
struct Heard(Arc<Mutex<Vec<(Ns, InputEvent)>>>);

impl Heard {
    fn sink(&self) -> impl FnMut(Ns, InputEvent) + Send + 'static + use<> {
        let heard = self.clone();
        move |stamp, event| heard.0.lock().unwrap().push((stamp, event))
    }

    fn count(&self) -> usize {
        self.0.lock().unwrap().len()
    }

    fn events(&self) -> Vec<InputEvent> {
        self.0.lock().unwrap().iter().map(|(_, event)| event.clone()).collect()
    }
}

fn on(key: u8) -> InputEvent {
    let (channel, velocity) = (Channel::default(), U7::low_bits(100));
    Message::NoteOn { channel, key: U7::low_bits(key), velocity }.into()
}

#[test]
fn messages_arrive_through_a_fifo_from_one_writer_after_another() {
    let (_folder, path) = fifo();
    let heard = Heard::default();
    let before = chaconne_ports::now();
    let input = open_input(&spec(&path), heard.sink()).unwrap();
    let mut writer = OpenOptions::new().write(true).open(&path).unwrap();
    // Running status, a clock inside a note, and a system-exclusive message in two pieces.
    writer.write_all(&[0x55, 0x90, 60, 100, 62, 0xF8]).unwrap();
    writer.write_all(&[100, 0xF0, 1, 2]).unwrap();
    writer.write_all(&[3, 0xF7]).unwrap();
    eventually("four events", || heard.count() == 4);
    let clock = InputEvent::from(Message::Clock);
    let sysex = InputEvent::Heard(Wire::SysEx(vec![0xF0, 1, 2, 3, 0xF7]));
    assert_eq!(heard.events(), [on(60), clock, on(62), sysex]);
    eventually("the stray", || input.strays() == 1);

    // The writer goes in the middle of a note. That is reported once, and the half note is forgotten.
    writer.write_all(&[0x90, 64]).unwrap();
    drop(writer);
    eventually("the loss", || heard.count() == 5);
    assert_eq!(heard.events()[4], InputEvent::Lost);
    eventually("its state", || input.state() == PortState::Lost);
    let mut writer = OpenOptions::new().write(true).open(&path).unwrap();
    writer.write_all(&[100, 0x90, 65, 100]).unwrap();
    eventually("the next note", || heard.count() == 6);
    assert_eq!(heard.events()[5], on(65));
    assert_eq!(input.state(), PortState::Open);
    let stamps: Vec<Ns> = heard.0.lock().unwrap().iter().map(|(stamp, _)| *stamp).collect();
    assert!(stamps.is_sorted() && stamps[0] >= before);
}

#[test]
fn a_terminal_passes_every_byte_unchanged_and_its_end_is_reported_once() {
    let (mut far, path) = terminal();
    let heard = Heard::default();
    let input = open_input(&spec(&path), heard.sink()).unwrap();
    let body: Vec<u8> = (0..128).collect();
    let sysex = [&[0xF0][..], &body, &[0xF7]].concat();
    far.write_all(&sysex).unwrap();
    eventually("the message", || heard.count() == 1);
    assert_eq!(heard.events(), [InputEvent::Heard(Wire::SysEx(sysex))]);
    drop(far);
    eventually("the loss", || input.state() == PortState::Lost);
    drop(input);
    assert_eq!(heard.events()[1..], [InputEvent::Lost]);
}

#[test]
fn a_device_that_keeps_ending_is_reported_lost_once() {
    let heard = Heard::default();
    let input = open_input(&"bytes:/dev/null".parse().unwrap(), heard.sink()).unwrap();
    eventually("the loss", || input.state() == PortState::Lost);
    // Long enough for two more tries.
    std::thread::sleep(std::time::Duration::from_millis(600));
    drop(input);
    assert_eq!(heard.events(), [InputEvent::Lost]);
}

#[test]
fn a_file_is_read_to_its_end() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bytes");
    std::fs::write(&path, [0x90, 60, 100, 62, 100]).unwrap();
    let heard = Heard::default();
    let input = open_input(&spec(&path), heard.sink()).unwrap();
    eventually("the end", || input.state() == PortState::Silent);
    assert_eq!(heard.events(), [on(60), on(62), InputEvent::Lost]);
}

#[test]
fn a_path_in_a_missing_folder_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let error = open_input(&spec(&folder.path().join("none/at all")), |_, _| {}).unwrap_err();
    assert!(error.to_string().ends_with("the folder does not exist"), "{error}");
    assert!(open_input(&spec(folder.path()), |_, _| {}).is_err());
}

#[test]
fn an_input_waits_for_a_fifo_that_does_not_exist_yet() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wire");
    let heard = Heard::default();
    let input = open_input(&spec(&path), heard.sink()).unwrap();
    let notice = format!("port {} is not connected yet: nothing has that name", spec(&path));
    assert_eq!((input.state(), input.notice()), (PortState::Waiting, Some(notice.as_str())));
    make_fifo(&path);
    let mut writer = OpenOptions::new().write(true).open(&path).unwrap();
    writer.write_all(&[0x90, 60, 100]).unwrap();
    eventually("the note", || heard.events() == [on(60)]);
    assert_eq!(input.state(), PortState::Open);
    drop(writer);
    eventually("the loss", || heard.events() == [on(60), InputEvent::Lost]);
}

#[cfg(target_os = "linux")]
#[test]
fn a_device_is_heard_once_it_is_plugged_in() {
    // A pseudo-terminal stands in for the serial device: the link to it appears later.
    let (_gone, path) = plug();
    let heard = Heard::default();
    let input = open_input(&spec(&path), heard.sink()).unwrap();
    assert_eq!(input.state(), PortState::Waiting);
    let (mut far, terminal) = terminal();
    std::os::unix::fs::symlink(terminal, &path).unwrap();
    eventually("the device", || input.state() == PortState::Open);
    far.write_all(&[0x90, 60, 100]).unwrap();
    eventually("the note", || heard.events() == [on(60)]);
}

#[test]
fn a_plain_file_that_appears_is_ignored_and_closing_does_not_wait() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("wire");
    let heard = Heard::default();
    let input = open_input(&spec(&path), heard.sink()).unwrap();
    std::fs::write(&path, [0x90, 60, 100]).unwrap();
    // Long enough for two tries.
    std::thread::sleep(std::time::Duration::from_millis(600));
    assert_eq!((input.state(), heard.count()), (PortState::Waiting, 0));
    drop(input);
}

#[test]
fn after_garbage_the_next_note_is_still_heard() {
    let (_folder, path) = fifo();
    let heard = Heard::default();
    let input = open_input(&spec(&path), heard.sink()).unwrap();
    let mut writer = OpenOptions::new().write(true).open(&path).unwrap();
    let mut seed = 7u32;
    let garbage: Vec<u8> = std::iter::repeat_with(|| {
        seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (seed >> 24) as u8
    })
    .take(300_000)
    // After active sensing, a pause would be reported as a loss.
    .filter(|&byte| byte != 0xFE)
    .collect();
    writer.write_all(&garbage).unwrap();
    writer.write_all(&[0xF7, 0x90, 60, 100]).unwrap();
    eventually("the note after it", || heard.events().last() == Some(&on(60)));
    assert!(input.strays() > 0);
}

#[test]
fn a_sender_of_active_sensing_that_falls_silent_is_lost() {
    // MIDI 1.0 Detailed Specification, "Active Sensing".
    let (_folder, path) = fifo();
    let heard = Heard::default();
    let _input = open_input(&spec(&path), heard.sink()).unwrap();
    let mut writer = OpenOptions::new().write(true).open(&path).unwrap();
    writer.write_all(&[0x90, 60, 100, 0xFE]).unwrap();
    eventually("the loss", || heard.count() == 2);
    assert_eq!(heard.events(), [on(60), InputEvent::Lost]);
}

#[test]
fn notes_played_through_are_released_when_the_player_goes() {
    let ((_a, far_in), (_b, far_out)) = (fifo(), fifo());
    let mut receiver = reader(&far_out);
    let output = open_output(&spec(&far_out)).unwrap();
    let mut running = start(vec![output], Setup { inputs: 1, ..Setup::default() }).unwrap();
    let mut thru = running.thrus.remove(0);
    let target = thru.target();
    target.set(Some((PortIx(0), Channel::from_number(3))));
    let _input = open_input(&spec(&far_in), move |stamp, event| match event {
        InputEvent::Heard(Wire::Message(message)) => thru.play(stamp, message),
        InputEvent::Heard(Wire::SysEx(_)) => {}
        InputEvent::Lost => thru.lost(stamp),
    })
    .unwrap();
    let mut player = OpenOptions::new().write(true).open(&far_in).unwrap();
    player.write_all(&[0x90, 60, 99, 0xB0, 1, 64]).unwrap();
    assert_eq!(read_exactly(&mut receiver, 6), [0x92, 60, 99, 0xB2, 1, 64]);
    // The armed track changes: the held key is released on the port where it was pressed.
    target.set(Some((PortIx(0), Channel::from_number(5))));
    player.write_all(&[0x90, 62, 98, 0x80, 60, 5]).unwrap();
    assert_eq!(read_exactly(&mut receiver, 6), [0x94, 62, 98, 0x82, 60, 5]);
    assert_eq!(running.scheduler.stats().sounding, 1);
    drop(player);
    assert_eq!(read_exactly(&mut receiver, 3), [0x84, 62, 64]);
    eventually("silence", || running.scheduler.stats().sounding == 0);
    assert_eq!(running.scheduler.stats().through.count, 5);
}
