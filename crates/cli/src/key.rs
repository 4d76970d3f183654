//! `key`: the written key and the transposition of a song or a section, shown or changed.

use crate::args::{KeyOf, KeyOrNone};
use crate::arrange::{apply, save, told};
use crate::chords::found;
use crate::exit::{Ended, Failure};
use crate::files::read_song;
use crate::say;
use chaconne_exchange::{compass_advice, key_outline};
use chaconne_harmony::{ToKeyError, shift, sounds_words, transposition_to};
use chaconne_rig::Guard;
use chaconne_song::{Commit, KeySignature, Letter, Song, Transpose, set_key, set_transpose};

/// Shows the keys of a song or of one section, or changes key or transposition and saves the song.
pub fn key(asked: &KeyOf) -> Result<Ended, Failure> {
    let song = read_song(&asked.song)?;
    let Some(commit) = commit(&song, asked)? else { return shown(&song, asked.section) };
    let guard = Guard::of_song_at(&asked.song);
    let changed = apply(&song, &commit)?;
    let ended = save(&asked.song, &changed, guard, &said(&song, &changed, asked.section))?;
    if said_of_compass(&song)? != said_of_compass(&changed)? {
        said_of_compass(&changed)?.iter().for_each(|line| say::message(line));
    }
    Ok(ended)
}

fn said_of_compass(song: &Song) -> Result<Vec<String>, Failure> {
    compass_advice(song).map_err(|error| error.to_string().into())
}

fn shown(song: &Song, section: Option<Letter>) -> Result<Ended, Failure> {
    let text = match section {
        Some(letter) => key_outline(song, [found(song, letter)?]),
        None => key_outline(song, song.sections.iter().map(|section| &**section)),
    };
    say::answer(&text.map_err(|error| error.to_string())?)?;
    Ok(Ended::Ok)
}

/// The change that is asked for, if any.
fn commit(song: &Song, asked: &KeyOf) -> Result<Option<Commit>, Failure> {
    let section = asked.section;
    let commit = match (asked.how.key, asked.how.transpose, asked.how.to) {
        (Some(KeyOrNone(key)), ..) => set_key(song, section, key),
        (_, Some(by), _) => set_transpose(song, section, by),
        (_, _, Some(to)) => set_transpose(song, section, semitones(song, section, to)?),
        (None, None, None) => return Ok(None),
    };
    commit.map(Some).map_err(told)
}

/// The transposition to a key.
fn semitones(song: &Song, section: Option<Letter>, to: KeySignature) -> Result<Transpose, Failure> {
    let section = section.map(|letter| found(song, letter)).transpose()?;
    transposition_to(song, section, to).map_err(|error| match error {
        ToKeyError::NoKey => {
            let key = if to.minor() { "A minor" } else { "C major" };
            format!("{error}: write the key first, e.g. 'chaconne key SONG \"{key}\"'").into()
        }
        other => other.to_string().into(),
    })
}

/// What has changed, and how it sounds now.
fn said(song: &Song, changed: &Song, section: Option<Letter>) -> String {
    let one = section.and_then(|letter| changed.section(letter));
    let (key, by, was) = match one {
        Some(one) => (one.key, one.transpose, song.section(one.letter).map(|one| one.transpose)),
        None => (changed.key, changed.transpose, Some(song.transpose)),
    };
    let what = match (Some(by) == was, key, one) {
        (false, ..) => format!("transposed by {}", by.semitones()),
        (true, Some(key), _) => format!("written in {key}"),
        (true, None, Some(_)) => "has the song's key".to_string(),
        (true, None, None) => "has no key now".to_string(),
    };
    let (whose, written, shift) = match one {
        Some(one) => {
            (format!("section {} ", one.letter), one.key.or(changed.key), shift(changed, one))
        }
        None => (String::new(), changed.key, changed.transpose.semitones().into()),
    };
    format!("{whose}{what}, sounds {}", sounds_words(written, shift))
}
