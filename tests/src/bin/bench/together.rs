//! Two programs, one leading and one following, for some minutes: how far apart they play.

use crate::measure::line;
use crate::{Extent, Failure};
use chaconne_tests::follow::{Apart, along};

/// How long a round is: 4 s at 120.
const ROUND: u32 = 4;

/// Measures and prints: a minute, or as long as is recorded.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let minutes = match extent {
        Extent::Short => return Ok(()),
        Extent::Full => 1,
        Extent::Together => 10,
    };
    let folder = tempfile::tempdir()?;
    let apart = along(folder.path(), minutes * 60 / ROUND).apart();
    tell(&format!("following over a FIFO, {minutes} min"), &apart);
    Ok(())
}

fn tell(what: &str, apart: &Apart) {
    let Apart { strikes, rms, mean, worst } = *apart;
    let figures =
        format!("{rms:.3} ms RMS, mean {mean:.3} ms, worst {worst:.3} ms of {strikes} notes");
    line(what, figures);
}
