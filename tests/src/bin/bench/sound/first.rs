//! The time from the program's start to its first sound. A client of the same JACK server connects
//! itself to the program as soon as it has a port, and records the first frame that is not silent.

use crate::Failure;
use chaconne_tests::program::{PATIENCE, finish, signal, spawn};
use jack::{
    AudioIn, Client, ClientOptions, Control, Port, PortFlags, ProcessHandler, ProcessScope,
};
use rustix::process::Signal;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// The least amplitude that counts as sound: 80 dB below full scale.
const HEARD: f32 = 1e-4;

struct Listener {
    port: Port<AudioIn>,
    /// When the first sound came in, in microseconds on the server's clock; 0 before that.
    heard: Arc<AtomicU64>,
}

impl ProcessHandler for Listener {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        let first = self.port.as_slice(scope).iter().position(|sample| sample.abs() > HEARD);
        if let Some(frame) = first
            && self.heard.load(Relaxed) == 0
        {
            let frame = scope.last_frame_time().wrapping_add(frame as u32);
            self.heard.store(client.frames_to_time(frame), Relaxed);
        }
        Control::Continue
    }
}

/// How long the first sound takes, for a song that starts with a note.
pub fn sound(song: &Path) -> Result<Duration, Failure> {
    let (client, _) = Client::new("first sound", ClientOptions::NO_START_SERVER)?;
    let port = client.register_port("in", AudioIn::default())?;
    let input = port.name()?;
    let heard = Arc::new(AtomicU64::new(0));
    let client = client.activate_async((), Listener { port, heard: heard.clone() })?;
    let (begin, started) = (Instant::now(), client.as_client().time());
    let program = spawn(&["rehearse", &song.to_string_lossy()]);
    let mut connected = false;
    while heard.load(Relaxed) == 0 && begin.elapsed() < PATIENCE {
        connected = connected || connect(client.as_client(), &input);
        sleep(Duration::from_micros(500));
    }
    signal(program.id(), Signal::TERM);
    finish(program, PATIENCE).ends(0);
    match heard.load(Relaxed) {
        0 => Err("the program made no sound".into()),
        heard => Ok(Duration::from_micros(heard.saturating_sub(started))),
    }
}

/// Connects `input` to the first output that is not the server's own. Returns whether it succeeded.
fn connect(client: &Client, input: &str) -> bool {
    let ports = client.ports(None, Some("audio"), PortFlags::IS_OUTPUT);
    let output = ports.into_iter().find(|port| !port.starts_with("system:"));
    output.is_some_and(|output| client.connect_ports_by_name(&output, input).is_ok())
}
