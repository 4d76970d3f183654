//! Two programs, one leading and one following, for some minutes: how far apart they play.

use crate::measure::line;
use crate::server::Server;
use crate::{Extent, Failure};
use chaconne_tests::follow::{Apart, Cable, along};
use std::thread;

/// How long a round is: 4 s at 120.
const ROUND: u32 = 4;

/// Measures for one minute, or for ten with `--together`, and prints. A short bench skips it.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let minutes = match extent {
        Extent::Short => return Ok(()),
        Extent::Full => 1,
        Extent::Together => 10,
    };
    let rounds = minutes * 60 / ROUND;
    let (one, other) = (tempfile::tempdir()?, tempfile::tempdir()?);
    let server = Server::start(128);
    // At the same time, which takes half as long.
    let (over_fifo, over_jack) = thread::scope(|scope| {
        let over_fifo = scope.spawn(|| along(one.path(), rounds, Cable::Fifo));
        let over_jack = server.as_ref().map(|_| along(other.path(), rounds, Cable::Jack));
        (over_fifo.join(), over_jack)
    });
    let over_fifo = over_fifo.map_err(|_| "the part that follows over a FIFO panicked")?;
    print_apart(&format!("following over a FIFO, {minutes} min"), &over_fifo.apart());
    if let Some(over_jack) = &over_jack {
        print_apart(&format!("following over JACK, {minutes} min"), &over_jack.apart());
    }
    over_fifo.assert_same(rounds);
    over_jack.inspect(|over_jack| over_jack.assert_same(rounds));
    Ok(())
}

fn print_apart(what: &str, apart: &Apart) {
    let Apart { strikes, rms, mean, worst } = *apart;
    let figures =
        format!("{rms:.3} ms RMS, mean {mean:.3} ms, worst {worst:.3} ms of {strikes} notes");
    line(what, figures);
}
