//! Clients of a JACK server that play and listen, for tests.
#![allow(dead_code, reason = "each test program uses a part of it")]

use crate::server::Guest;
use chaconne_ports::Rest;
use jack::{Client, Control, MidiIn, MidiOut, Port, ProcessScope};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A received message: its frame on the server, and its place in the block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    pub frame: u32,
    pub time: u32,
    pub bytes: Vec<u8>,
}

#[derive(Default)]
struct Box {
    heard: Vec<Heard>,
    /// What to play, one entry per block: frames within it, and bytes.
    to_play: VecDeque<Vec<(u32, Vec<u8>)>>,
}

/// A client with a port `in` that listens and a port `out` that plays. For tests only: its callback
/// locks and allocates.
pub struct Peer {
    inside: Arc<Mutex<Box>>,
    guest: Guest<Process>,
}

struct Process {
    inside: Arc<Mutex<Box>>,
    input: Port<MidiIn>,
    output: Port<MidiOut>,
    rest: Rest,
}

impl jack::ProcessHandler for Process {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        if self.rest.is_asked() {
            // The writer empties the buffer.
            self.output.writer(scope);
            return Control::Continue;
        }
        let mut inside = self.inside.lock().unwrap();
        let start = scope.last_frame_time();
        for event in self.input.iter(scope) {
            let (time, bytes) = (event.time, event.bytes.to_vec());
            inside.heard.push(Heard { frame: start.wrapping_add(time), time, bytes });
        }
        let mut writer = self.output.writer(scope);
        for (time, bytes) in inside.to_play.pop_front().into_iter().flatten() {
            writer.write(&jack::RawMidi { time, bytes: &bytes }).unwrap();
        }
        Control::Continue
    }
}

impl Peer {
    pub fn start(name: &str) -> Peer {
        let inside = Arc::new(Mutex::new(Box::default()));
        let start = Instant::now();
        loop {
            let process = |client: &Client, rest| {
                let input = client.register_port("in", MidiIn::default()).unwrap();
                let output = client.register_port("out", MidiOut::default()).unwrap();
                Process { inside: inside.clone(), input, output, rest }
            };
            if let Some(guest) = Guest::open(name, process) {
                return Peer { inside, guest };
            }
            assert!(start.elapsed() < Duration::from_secs(30), "old clients are not closed");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    /// Everything received so far.
    pub fn heard(&self) -> Vec<Heard> {
        self.inside.lock().unwrap().heard.clone()
    }

    /// Whether a port with that name is connected to ours.
    pub fn hears(&self, port: &str) -> bool {
        let client = self.guest.client();
        let input = client.port_by_name(&format!("{}:in", client.name())).unwrap();
        input.is_connected_to(port).unwrap()
    }

    /// Makes the server continue with blocks of this many frames.
    pub fn set_block(&self, frames: u32) {
        self.guest.client().set_buffer_size(frames).unwrap();
    }

    /// How many messages were received.
    pub fn count(&self) -> usize {
        self.inside.lock().unwrap().heard.len()
    }

    /// The bytes of everything received.
    pub fn bytes(&self) -> Vec<Vec<u8>> {
        self.heard().into_iter().map(|heard| heard.bytes).collect()
    }

    /// Plays messages, each at its frame, in a later block.
    pub fn play(&self, block: &[(u32, &[u8])]) {
        let block = block.iter().map(|(frame, bytes)| (*frame, bytes.to_vec())).collect();
        self.inside.lock().unwrap().to_play.push_back(block);
    }
}
