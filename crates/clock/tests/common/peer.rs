//! Clients of a JACK server that play and listen, for tests.
#![allow(dead_code, reason = "each test program uses a part of it")]

use chaconne_clock::{JackGuest, jack_guest};
use jack::{
    AsyncClient, Client, ClientOptions, ClientStatus, Control, MidiIn, MidiOut,
    NotificationHandler, Port, ProcessScope,
};
use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// A message with the server's frame it was heard at, and its place in the block.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    pub frame: u32,
    pub time: u32,
    pub bytes: Vec<u8>,
}

#[derive(Default)]
struct Box {
    heard: Vec<Heard>,
    /// What is to be played, a block each: frames within it, and bytes.
    to_play: VecDeque<Vec<(u32, Vec<u8>)>>,
}

/// A client with a port `in` that listens and a port `out` that plays. For tests: it locks and
/// allocates in its callback.
pub struct Peer {
    inside: Arc<Mutex<Box>>,
    client: Option<AsyncClient<End, Process>>,
    /// Dropped after the client: until then our ports wait with clients for another server, with
    /// which the library would crash.
    guest: JackGuest,
}

struct Process {
    inside: Arc<Mutex<Box>>,
    ear: Port<MidiIn>,
    mouth: Port<MidiOut>,
}

impl jack::ProcessHandler for Process {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let mut inside = self.inside.lock().unwrap();
        let start = scope.last_frame_time();
        for event in self.ear.iter(scope) {
            let (time, bytes) = (event.time, event.bytes.to_vec());
            inside.heard.push(Heard { frame: start.wrapping_add(time), time, bytes });
        }
        let mut writer = self.mouth.writer(scope);
        for (time, bytes) in inside.to_play.pop_front().into_iter().flatten() {
            writer.write(&jack::RawMidi { time, bytes: &bytes }).unwrap();
        }
        Control::Continue
    }
}

/// Told when the server goes.
struct End(Arc<dyn Fn() + Send + Sync>);

// Sound: it is called on a thread of the library's, where this may be.
#[allow(unsafe_code)]
impl NotificationHandler for End {
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        (self.0)();
    }
}

impl Drop for Peer {
    fn drop(&mut self) {
        self.guest.wait_for_end();
        self.client = None;
    }
}

impl Peer {
    pub fn start(name: &str) -> Peer {
        jack::set_logger(jack::LoggerType::None);
        let options = ClientOptions::NO_START_SERVER | ClientOptions::USE_EXACT_NAME;
        let start = Instant::now();
        let guest = loop {
            assert!(start.elapsed() < Duration::from_secs(30), "clients of a dead server stay");
            match jack_guest() {
                Some(guest) => break guest,
                None => std::thread::sleep(Duration::from_millis(5)),
            }
        };
        let (client, _) = Client::new(name, options).unwrap();
        let ear = client.register_port("in", MidiIn::default()).unwrap();
        let mouth = client.register_port("out", MidiOut::default()).unwrap();
        let inside = Arc::new(Mutex::new(Box::default()));
        let process = Process { inside: inside.clone(), ear, mouth };
        let client = Some(client.activate_async(End(guest.on_end()), process).unwrap());
        Peer { inside, client, guest }
    }

    fn client(&self) -> &Client {
        self.client.as_ref().unwrap().as_client()
    }

    /// Everything heard so far.
    pub fn heard(&self) -> Vec<Heard> {
        self.inside.lock().unwrap().heard.clone()
    }

    /// Whether a port of that name plays into ours.
    pub fn hears(&self, port: &str) -> bool {
        let client = self.client();
        let ear = client.port_by_name(&format!("{}:in", client.name())).unwrap();
        ear.is_connected_to(port).unwrap()
    }

    /// Has the server go on with blocks of so many frames.
    pub fn set_block(&self, frames: u32) {
        self.client().set_buffer_size(frames).unwrap();
    }

    /// How many messages were heard.
    pub fn count(&self) -> usize {
        self.inside.lock().unwrap().heard.len()
    }

    /// The bytes of everything heard.
    pub fn bytes(&self) -> Vec<Vec<u8>> {
        self.heard().into_iter().map(|heard| heard.bytes).collect()
    }

    /// Plays messages, each at its frame, in a block to come.
    pub fn play(&self, block: &[(u32, &[u8])]) {
        let block = block.iter().map(|(frame, bytes)| (*frame, bytes.to_vec())).collect();
        self.inside.lock().unwrap().to_play.push_back(block);
    }
}
