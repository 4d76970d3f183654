//! How long it takes to open and to list a song of 1,600 tracks.

use crate::measure::{line, median, ms};
use crate::{Extent, Failure, big_song};
use chaconne_engine::{Route, View};
use chaconne_exchange::listing;
use chaconne_song::text;

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let times = if extent == Extent::Short { 3 } else { 9 };
    let song_text = text::write(&big_song::big()?);
    let (reading, song) = median(times, || text::read(&song_text));
    let song = song.map_err(|errors| errors[0].clone())?;
    let route = Route::rounds(&song, song.sections[0].letter, 1).ok_or("no section to list")?;
    let (listing_time, listed) = median(times, || listing(&song, &route, View::Corrected));
    let notes = listed?.lines().filter(|line| line.contains(" note ")).count();

    let tracks = format!("{}, {} of them sounding", big_song::TRACKS, big_song::SOUNDING);
    line("big song, tracks", tracks);
    line("its text", format!("{} bytes", song_text.len()));
    line("notes listed", notes);
    line("opening it", ms(reading));
    line("listing it", ms(listing_time));
    Ok(())
}
