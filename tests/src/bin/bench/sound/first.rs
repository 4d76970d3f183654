//! From starting the program to its first sound: a client of the same JACK server joins itself to
//! the program as soon as it has a port, and notes the first frame that is not silent.

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

/// An amplitude that is heard: 80 dB under full scale.
const HEARD: f32 = 1e-4;

/// Listens, and notes when the first sound came in, in microseconds of the server's clock.
struct Ear {
    port: Port<AudioIn>,
    heard: Arc<AtomicU64>,
}

impl ProcessHandler for Ear {
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

/// How long it takes, a note of the song being due at once.
pub fn sound(song: &Path) -> Result<Duration, Failure> {
    let (client, _) = Client::new("first sound", ClientOptions::NO_START_SERVER)?;
    let port = client.register_port("ear", AudioIn::default())?;
    let ear = port.name()?;
    let heard = Arc::new(AtomicU64::new(0));
    let client = client.activate_async((), Ear { port, heard: heard.clone() })?;
    let (begin, started) = (Instant::now(), client.as_client().time());
    let program = spawn(&["rehearse", &song.to_string_lossy()]);
    let mut joined = false;
    while heard.load(Relaxed) == 0 && begin.elapsed() < PATIENCE {
        joined = joined || join(client.as_client(), &ear);
        sleep(Duration::from_micros(500));
    }
    signal(program.id(), Signal::TERM);
    finish(program, PATIENCE).ends(0);
    match heard.load(Relaxed) {
        0 => Err("nothing was heard of the program".into()),
        heard => Ok(Duration::from_micros(heard.saturating_sub(started))),
    }
}

/// Joins the first output that is not the server's own; whether there is one.
fn join(client: &Client, ear: &str) -> bool {
    let ports = client.ports(None, Some("audio"), PortFlags::IS_OUTPUT);
    let own = ports.into_iter().find(|port| !port.starts_with("system:"));
    own.is_some_and(|own| client.connect_ports_by_name(&own, ear).is_ok())
}
