//! `outline` and `chords`: the harmony of a song, read and written.

use crate::args::{Chords, Outline};
use crate::exit::{Ended, Failure};
use crate::files::read_song;
use crate::say;
use chaconne_rig::{Guard, Replace, save_guarded};
use chaconne_song::{Letter, Section, Song, replace_chords};

/// Prints the outline of a song or of one section.
pub fn outline(asked: &Outline) -> Result<Ended, Failure> {
    let song = read_song(&asked.song)?;
    let text = match asked.section {
        Some(letter) => chaconne_exchange::outline(&song, [found(&song, letter)?]),
        None => chaconne_exchange::outline(&song, song.sections.iter().map(|section| &**section)),
    };
    say::answer(&text.map_err(|error| error.to_string())?)?;
    Ok(Ended::Ok)
}

/// Writes the chords of a section into the song's file.
pub fn chords(asked: &Chords) -> Result<Ended, Failure> {
    let mut song = read_song(&asked.song)?;
    let mut guard = Guard::of_song_at(&asked.song);
    let first = song.sections.first().map(|section| section.letter);
    let letter = asked.section.or(first).unwrap_or(Letter::A);
    let section = found(&song, letter)?;
    let chart = chaconne_harmony::chart(&asked.chart, &section.metre)
        .map_err(|error| format!("section {letter}: {error}"))?;
    let commit = replace_chords(section, &chart);
    if commit.edits.is_empty() {
        say::message(&format!("section {letter} has these chords already"));
        return Ok(Ended::Ok);
    }
    commit.apply(&mut song).map_err(|error| error.to_string())?;
    save_guarded(&asked.song, &song, &mut guard, Replace::No)?;
    let path = asked.song.display();
    say::message(&match chart.is_empty() {
        true => format!("{path}: the chords of section {letter} are cleared"),
        false => format!("{path}: section {letter} has its chords"),
    });
    Ok(Ended::Ok)
}

/// A section of the song.
pub fn found(song: &Song, letter: Letter) -> Result<&Section, Failure> {
    let missing = || {
        let letters = song.sections.iter().map(|section| section.letter.to_string());
        let letters: Vec<String> = letters.collect();
        Failure::from(format!("there is no section {letter}; sections: {}", letters.join(", ")))
    };
    song.section(letter).map(|section| &**section).ok_or_else(missing)
}
