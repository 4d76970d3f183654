//! How many events per second `perform` and the export process, compared with the least that an
//! export can cost: the write of the same events by the library alone.

use crate::measure::{line, median, rate};
use crate::{Extent, Failure, big_song};
use chaconne_engine::{Route, View, perform};
use chaconne_exchange::export;
use midly::Smf;

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let (rounds, times) = if extent == Extent::Short { (50, 3) } else { (1000, 9) };
    let song = big_song::demo()?;
    let letter = song.sections[0].letter;
    let route = Route::rounds(&song, letter, rounds).ok_or("the demo song has no section")?;

    let (performing, events) =
        median(times, || perform(&song, &route, route.span(), View::Corrected).events.len());
    let (exporting, bytes) = median(times, || export(&song, &route, View::Corrected));
    let bytes = bytes?;
    let file = Smf::parse(&bytes)?;
    let (writing, written) = median(times, || {
        let mut out = Vec::new();
        midly::write_std(&file.header, &file.tracks, &mut out).map(|()| out)
    });

    line("demo song, rounds of its first section", rounds);
    line("events performed", events);
    line("perform", rate(events, performing));
    line("export, performing included", rate(events, exporting));
    line("bare write of the same events", rate(events, writing));
    let ratio = |time: std::time::Duration| time.as_secs_f64() / writing.as_secs_f64();
    line("time of perform : bare write", format!("{:.1} : 1", ratio(performing)));
    line("time of export : bare write", format!("{:.1} : 1", ratio(exporting)));
    line("bytes of both files are the same", written? == bytes);
    Ok(())
}
