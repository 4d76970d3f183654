//! Compares JACK through midir with JACK through the `jack` crate: how exactly notes are timed, and
//! whether a burst arrives whole.
//!
//! Both use the program's own scheduler and send to a peer that records the frame of each message,
//! on their own server with the dummy driver. In this build a `midi:` port is midir's JACK port.

#[path = "../../../crates/ports/tests/common/peer.rs"]
mod peer;
#[path = "../../../crates/ports/tests/common/server.rs"]
mod server;

use chaconne_ports::{PortSpec, Running, Setup, now, open_output, start};
use chaconne_engine::{Action, Cue, Message, Order, PortIx, Slot, Voice};
use chaconne_song::{Channel, NoteId, U7};
use chaconne_time::{Tempo, Tick};
use peer::{Heard, Peer};
use server::{Server, own_process};
use std::time::{Duration, Instant};

/// The approximate number of ticks between two notes; a quarter has 960.
const STEP: i64 = 80;
/// The tempo: 125 quarter notes per minute, so that a tick is 0.5 ms.
const QUARTER: u32 = 480_000;
/// The number of notes per round.
const NOTES: u32 = 120;
/// The number of rounds; the figures are medians.
const ROUNDS: usize = 5;
/// The number of messages sent at once.
const BURST: usize = 2500;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).collect();
    match words.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        ["one", spec, frames] => measure(spec, frames.parse().expect("a number of frames")),
        _ => all(),
    }
}

/// Measures both ways in turn, round after round, each time in its own process.
fn all() {
    for frames in ["64", "1024"] {
        let specs = ["midi:desk:in", "jack:desk:in"];
        let mut lines = [Vec::new(), Vec::new()];
        for _ in 0..ROUNDS {
            for (spec, lines) in specs.iter().zip(&mut lines) {
                lines.push(one(spec, frames));
            }
        }
        for (way, lines) in ["midir", "the jack crate"].iter().zip(&lines) {
            println!("{way}, {frames} frames a block");
            let middle = |index: usize| {
                let mut all: Vec<u64> = lines.iter().map(|line| line[index]).collect();
                all.sort_unstable();
                all[all.len() / 2]
            };
            println!("  errors of intervals     p50 {} µs, p99 {} µs", middle(0), middle(1));
            let whole = lines.iter().filter(|line| line[2] == BURST as u64).count();
            let least = lines.iter().map(|line| line[2]).min().unwrap_or(0);
            println!(
                "  {BURST} messages at once   whole in {whole} of {ROUNDS} rounds, least {least}"
            );
        }
    }
}

/// One round: p50 and p99 of the errors in microseconds, and how many messages of the burst arrived
/// in order.
fn one(spec: &str, frames: &str) -> [u64; 3] {
    let (mut command, _alone) = own_process();
    let out = command.args(["one", spec, frames]).output().expect("it starts");
    let said = String::from_utf8_lossy(&out.stdout);
    let numbers: Vec<u64> = said.split_whitespace().filter_map(|word| word.parse().ok()).collect();
    assert!(out.status.success(), "{said}{}", String::from_utf8_lossy(&out.stderr));
    numbers.try_into().expect("three numbers")
}

fn measure(spec: &str, frames: u32) {
    let name = std::env::var("JACK_DEFAULT_SERVER").expect("the name of a server");
    let server = Server::with(&name, frames, &["-R"]);
    let peer = Peer::start("desk");
    let mut running = play_to(spec);
    let (p50, p99) = notes(&mut running, &peer);
    drop((running, peer, server));
    // This server waits for its clients, so messages can be lost only in the port.
    let _server = Server::start(&name, frames);
    let peer = Peer::start("desk");
    println!("{p50} {p99} {}", burst(&mut play_to(spec), &peer));
}

fn play_to(spec: &str) -> Running {
    let spec: PortSpec = spec.parse().expect("a port");
    let output = open_output(&spec).expect("the peer is there");
    start(vec![output], Setup { inputs: 0, ..Setup::default() }).expect("the scheduler starts")
}

fn cue(at: i64, action: Action) -> Order {
    Order::Play(Cue { at: Tick(at), slot: Slot(0), epoch: 0, port: PortIx(0), action })
}

fn roll(running: &mut Running) {
    let tempo = Tempo::from_micros(QUARTER).expect("a tempo");
    let ns = now() + 300_000_000;
    running.orders.send(Order::Roll { at: Tick(0), ns, tempo, song: 0 }).expect("room");
}

/// Plays notes and compares the distances between them, in frames, with the intended ones: p50 and
/// p99 of the errors in microseconds.
fn notes(running: &mut Running, peer: &Peer) -> (u64, u64) {
    roll(running);
    let channel = Channel::default();
    for id in 0..NOTES {
        let (at, key) = (tick(id), U7::low_bits((id % 128) as u8));
        // Key and velocity identify the note.
        let velocity = U7::low_bits((id / 128 + 1) as u8);
        let voice = Voice { pass: Voice::NO_PASS, note: NoteId(id), cycle: Tick(0) };
        let orders = [
            cue(at, Action::Press { channel, key, velocity, voice }),
            cue(at + 40, Action::Lift { channel, key, velocity, voice }),
        ];
        running.orders.send_all(orders);
    }
    wait(peer, 2 * NOTES as usize, Duration::from_secs(15));
    let heard = peer.heard();
    // A server that was late lost messages or delivered them twice, whoever sent them.
    let mut presses: Vec<(u32, u32)> = heard.iter().filter_map(press).collect();
    presses.dedup_by_key(|(id, _)| *id);
    let (Some(first), Some(last)) = (presses.first(), presses.last()) else { return (0, 0) };
    let frames = |from: u32, to: u32| f64::from(to.wrapping_sub(from));
    // Measure against the server's actual rate, because the dummy driver only approximates its
    // rate.
    let rate = frames(first.1, last.1) / (tick(last.0) - tick(first.0)) as f64;
    let error = |pair: &[(u32, u32)]| {
        let meant = (tick(pair[1].0) - tick(pair[0].0)) as f64;
        (frames(pair[0].1, pair[1].1) / rate - meant).abs() * f64::from(QUARTER) / 960.0
    };
    let mut errors: Vec<f64> = presses.windows(2).map(error).collect();
    errors.sort_by(f64::total_cmp);
    let at = |percent: usize| errors[(errors.len() - 1) * percent / 100].round() as u64;
    (at(50), at(99))
}

/// The number of the note that a note-on starts, and its frame.
fn press(heard: &Heard) -> Option<(u32, u32)> {
    let &[status, key, velocity] = heard.bytes.as_slice() else { return None };
    (status & 0xF0 == 0x90).then(|| ((u32::from(velocity) - 1) * 128 + u32::from(key), heard.frame))
}

/// When a note is due. The distances vary, so that they are not a whole number of blocks.
fn tick(id: u32) -> i64 {
    i64::from(id) * STEP + i64::from(7 * id * id % 31)
}

/// Sends many messages at once; returns how many arrived as they were sent, in order.
fn burst(running: &mut Running, peer: &Peer) -> usize {
    roll(running);
    let messages: Vec<Message> = (0..BURST)
        .map(|count| {
            let channel = Channel::from_wire((count / 128 % 16) as u8);
            let value = U7::low_bits((count % 128) as u8);
            Message::Change { channel, controller: U7::low_bits(16), value }
        })
        .collect();
    running.orders.send_all(messages.iter().map(|&message| cue(0, Action::Send(message))));
    wait(peer, BURST, Duration::from_secs(3));
    let sent: Vec<Vec<u8>> = messages.iter().map(|message| message.bytes().to_vec()).collect();
    let heard = peer.bytes();
    sent.iter().zip(&heard).take_while(|(sent, heard)| sent == heard).count()
}

fn wait(peer: &Peer, count: usize, most: Duration) {
    let start = Instant::now();
    while peer.count() < count && start.elapsed() < most {
        std::thread::sleep(Duration::from_millis(10));
    }
    std::thread::sleep(Duration::from_millis(200));
}
