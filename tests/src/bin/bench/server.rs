//! A JACK server of the bench's own. Its dummy driver needs no sound card and keeps time like one. It
//! has the name in `JACK_DEFAULT_SERVER`.

use chaconne_ports::list_jack_ports;
use std::process::{Child, Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

/// The server; it ends when this is dropped.
pub struct Server(Child);

impl Server {
    /// Starts one with blocks of this many frames, at 48,000 frames per second, and waits until it
    /// answers. If it does not, prints that and returns `None`.
    pub fn start(frames: u32) -> Option<Server> {
        let server = Server::try_start(frames);
        if server.is_none() {
            eprintln!("jackd does not run: the figures that need it are left out");
        }
        server
    }

    fn try_start(frames: u32) -> Option<Server> {
        let name = std::env::var("JACK_DEFAULT_SERVER").ok()?;
        let mut jackd = Command::new("jackd");
        // In real time, so that it keeps the time of a sound card and waits for no client.
        jackd.args(["-n", &name, "-R", "-P60", "-ddummy", "-r48000", &format!("-p{frames}")]);
        let quiet = jackd.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let mut server = Server(quiet.spawn().ok()?);
        let begin = Instant::now();
        while list_jack_ports().is_err() {
            if begin.elapsed() > Duration::from_secs(20) || server.0.try_wait().ok()?.is_some() {
                return None;
            }
            sleep(Duration::from_millis(20));
        }
        Some(server)
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // It has no data to lose.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}
