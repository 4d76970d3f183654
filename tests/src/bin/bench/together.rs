//! Two programs, one leading and one following, for some minutes: how far apart they play.

use crate::measure::line;
use crate::{Extent, Failure};
use chaconne_clock::list_jack_ports;
use chaconne_tests::follow::{Apart, Cable, along};
use std::process::{Child, Command, Stdio};
use std::thread::{self, sleep};
use std::time::{Duration, Instant};

/// How long a round is: 4 s at 120.
const ROUND: u32 = 4;

/// Measures and prints: a minute, or as long as is recorded.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let minutes = match extent {
        Extent::Short => return Ok(()),
        Extent::Full => 1,
        Extent::Together => 10,
    };
    let rounds = minutes * 60 / ROUND;
    let (one, other) = (tempfile::tempdir()?, tempfile::tempdir()?);
    let server = Server::start();
    // Both at a time, which takes half as long.
    let (over_fifo, over_jack) = thread::scope(|scope| {
        let over_fifo = scope.spawn(|| along(one.path(), rounds, Cable::Fifo));
        let over_jack = server.as_ref().map(|_| along(other.path(), rounds, Cable::Jack));
        (over_fifo.join(), over_jack)
    });
    let over_fifo = over_fifo.map_err(|_| "following over a FIFO came to no end")?;
    tell(&format!("following over a FIFO, {minutes} min"), &over_fifo.apart());
    match &over_jack {
        Some(over_jack) => {
            tell(&format!("following over JACK, {minutes} min"), &over_jack.apart());
        }
        None => eprintln!("jackd does not run: following over JACK is not measured"),
    }
    over_fifo.assert_same(rounds);
    over_jack.inspect(|over_jack| over_jack.assert_same(rounds));
    Ok(())
}

/// A JACK server with the dummy driver, under the name that the environment has for the bench.
struct Server(Child);

impl Server {
    fn start() -> Option<Server> {
        let name = std::env::var("JACK_DEFAULT_SERVER").ok()?;
        let mut jackd = Command::new("jackd");
        // In real time, and not waiting for anyone: it keeps the time of a sound card.
        jackd.args(["-n", &name, "-R", "-P60", "-ddummy", "-r48000", "-p128"]);
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
        // It has nothing to lose.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn tell(what: &str, apart: &Apart) {
    let Apart { strikes, rms, mean, worst } = *apart;
    let figures =
        format!("{rms:.3} ms RMS, mean {mean:.3} ms, worst {worst:.3} ms of {strikes} notes");
    line(what, figures);
}
