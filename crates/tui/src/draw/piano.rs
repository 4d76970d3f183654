//! The piano above the foot: two rows of letters, the notes or drums that they play, and what leaves
//! piano mode.

use super::{Pen, Sight};
use crate::action::Action;
use crate::chords::key_heard;
use crate::key_names::{Naming, key_name, key_name_in, pitch, pitch_class};
use crate::keymap::Scene;
use crate::keys_play::{armed, chord_on, fingered, harmony, note_on};
use crate::piano::Length;
use crate::text;
use chaconne_song::{KeySignature, KeysPlay, U7, short_drum_name};
use std::ops::Range;

/// Draws it in three rows; in one only what it is.
pub fn draw(pen: &mut Pen, sight: &Sight, rows: &Range<u16>) {
    if rows.is_empty() {
        return;
    }
    let (palette, piano) = (pen.palette, &sight.screen.piano);
    let status = &sight.state.status;
    let armed = status.armed.and_then(|id| status.song.track(id));
    let drums = armed.is_some_and(|track| !track.pitched);
    let velocity = format!("velocity {}", piano.velocity());
    let (low, high) = piano.reach();
    let plays = fingered(status).unwrap_or_default();
    let (sign, line) = match (drums, sounding(sight)) {
        (true, Some(key)) => ("DRUM KEYS", key_name(key, Naming::Drums)),
        (true, None) => ("DRUM KEYS", velocity),
        (false, _) if plays.has_chords() => (sign_of(plays), velocity),
        (false, _) => {
            let [low, high] = [low, high].map(|key| pitch(key, key_heard_now(sight)));
            (sign_of(plays), format!("{low} to {high}, {velocity}"))
        }
    };
    let top = rows.start;
    let end = sight.screen.keymap.key_in(Scene::Piano, Action::Piano(false));
    // The tour takes its key first.
    let end = end.filter(|key| !sight.screen.tour_has(key));
    let end = end.map_or(String::new(), |key| format!("{key} to end"));
    let labelled = drums || plays.has_chords();
    let keys = match labelled {
        true if pen.width() >= DRUM_KEYS + sign.len() as u16 => DRUM_KEYS,
        true if drums => FEW_COLUMNS,
        true => FEW_CHORDS,
        false => PIANO_KEYS,
    };
    if rows.len() < 3 || pen.width() < keys {
        let x = pen.put(1, top, sign, palette.on()) + 2;
        let words = if end.is_empty() { line } else { format!("{end}. {line}") };
        pen.put(x, top, &words, palette.text());
        return;
    }
    match labelled {
        true if keys == DRUM_KEYS => labelled_keys(pen, sight, top, drums),
        true if drums => drum_list(pen, sight, top),
        true => chord_list(pen, sight, top),
        false => piano_keys(pen, sight, top),
    }
    let x = keys;
    let room = usize::from(pen.width() - x);
    if sign.len() + 1 + end.len() > room {
        // Drums leave a few columns, the keys of a piano none: the line of keys has what ends it.
        let sounds = sounding(sight).filter(|_| drums);
        let line = sounds.map_or(line, |key| key_name_in(room, key, Naming::Drums));
        let lines = [(sign, palette.on()), (&*end, palette.strong()), (&*line, palette.text())];
        for ((words, style), y) in lines.into_iter().zip(top..).filter(|_| labelled) {
            if words.len() <= room {
                pen.put(x, y, words, style);
            }
        }
        return;
    }
    let after = pen.put(x, top, sign, palette.on()) + 1;
    pen.put(after, top, &end, palette.strong());
    pen.put(x, top + 1, &line, palette.text());
    let held = match piano.releases {
        // A drum rings as long as it rings.
        _ if drums => "just tap".to_string(),
        true => "notes last while a key is down".to_string(),
        false => match piano.length() {
            Length::Ms(ms) => format!("notes last 0.{} s: just tap", ms / 100),
            Length::UntilNext => "notes last until the next".to_string(),
        },
    };
    pen.put(x, top + 2, &held, palette.faint());
}

/// The columns of the keys of a piano.
const PIANO_KEYS: u16 = 50;
/// Those of the keys of drums.
const DRUM_KEYS: u16 = 66;
/// Those of the keys of drums where they do not fit as they lie.
const FEW_COLUMNS: u16 = 50;
/// Those of the keys of chords, likewise.
const FEW_CHORDS: u16 = 40;

/// The key in which the section shown sounds: what the piano plays is heard as it is played.
fn key_heard_now(sight: &Sight) -> Option<KeySignature> {
    let status = &sight.state.status;
    status.song.section(status.section).and_then(|section| key_heard(&status.song, section))
}

/// What the letters are, in capitals: what they play.
fn sign_of(plays: KeysPlay) -> &'static str {
    match plays {
        KeysPlay::Notes => "KEYS PLAY NOTES",
        KeysPlay::Scale => "KEYS IN SCALE",
        KeysPlay::Chord => "KEYS IN CHORD",
        KeysPlay::Chords => "CHORD KEYS",
        KeysPlay::Chart => "CHART KEYS",
    }
}

/// The chord that a letter plays, in so many columns.
fn chord_name(sight: &Sight, letter: char, columns: usize) -> String {
    let status = &sight.state.status;
    let key = sight.screen.piano.key_of(letter);
    let Some((key, track)) = key.zip(armed(status)) else { return "-".to_string() };
    let chord = chord_on(key, track.keys_play, &track.chord_keys, harmony(status));
    let name = chord.to_string();
    if text::width(&name) <= columns {
        return name;
    }
    // Part of a name would be another chord: only its root is sure.
    let root = name.find(|c| !matches!(c, 'A'..='G' | '#' | 'b')).unwrap_or(name.len());
    let cut = sight.palette.signs.cut;
    text::clip(&format!("{}{cut}", &name[..root]), columns, cut)
}

/// White keys with the names of the notes that they sound, black ones between them.
fn piano_keys(pen: &mut Pen, sight: &Sight, top: u16) {
    let (palette, piano) = (pen.palette, &sight.screen.piano);
    let (white, black) = (piano.keyboard.white(), piano.keyboard.black());
    let (of, now) = (key_heard_now(sight), harmony(&sight.state.status));
    let plays = fingered(&sight.state.status).unwrap_or_default();
    // A key lights while it sounds.
    let lit = |c: char| if piano.sounds(c) { palette.on() } else { palette.strong() };
    for (index, (white, black)) in std::iter::zip(white, black).enumerate() {
        let x = 2 + 4 * index as u16;
        if piano.keyboard.semitones(black).is_some() {
            pen.sign(x, top, black, lit(black));
        }
        let is_c = piano.keyboard.semitones(white) == Some(0);
        pen.sign(x + 2, top + 1, white, lit(white));
        let key = piano.key_of(white).map(|key| note_on(key, plays, now));
        let name = key.map_or(String::new(), |key| pitch_class(key, of));
        let name = if is_c { key.map_or(name, |key| pitch(key, of)) } else { name };
        pen.put(x + 2, top + 2, &name, palette.faint());
    }
}

/// Every key with the short name of its drum or its chord: beside the letters of the upper row, under those of the
/// lower.
fn labelled_keys(pen: &mut Pen, sight: &Sight, top: u16, drums: bool) {
    let (palette, piano) = (pen.palette, &sight.screen.piano);
    let (white, black) = (piano.keyboard.white(), piano.keyboard.black());
    let lit = |c: char| if piano.sounds(c) { palette.on() } else { palette.strong() };
    let drum = |c: char| piano.key_of(c).and_then(short_drum_name).unwrap_or("-").to_string();
    // A column after the name is empty.
    let name = |c: char, columns| if drums { drum(c) } else { chord_name(sight, c, columns) };
    for (index, (white, black)) in std::iter::zip(white, black).enumerate() {
        let x = 6 * index as u16;
        if piano.keyboard.semitones(black).is_some() {
            pen.sign(x, top, black, lit(black));
            pen.put(x + 2, top, &name(black, 3), palette.faint());
        }
        pen.sign(x + 2, top + 1, white, lit(white));
        pen.put(x + 2, top + 2, &name(white, 5), palette.faint());
    }
}

/// The letters of an octave with their chords, in three rows: the black keys, and the white ones in two.
fn chord_list(pen: &mut Pen, sight: &Sight, top: u16) {
    let (palette, piano) = (pen.palette, &sight.screen.piano);
    let is_in_octave = |c: &char| {
        piano.keyboard.semitones(*c).is_some_and(|semitones| (0..12).contains(&semitones))
    };
    let white: Vec<char> = piano.keyboard.white().into_iter().filter(is_in_octave).collect();
    let black: Vec<char> = piano.keyboard.black().into_iter().filter(is_in_octave).collect();
    let (first, last) = white.split_at(white.len() / 2 + 1);
    for (row, keys) in (top..).zip([&black[..], first, last]) {
        for (x, &c) in (0..).step_by(8).zip(keys) {
            let style = if piano.sounds(c) { palette.on() } else { palette.strong() };
            pen.sign(x, row, c, style);
            pen.put(x + 2, row, &chord_name(sight, c, 5), palette.faint());
        }
    }
}

/// The same without their places: the upper row, and the lower one in two.
fn drum_list(pen: &mut Pen, sight: &Sight, top: u16) {
    let (palette, piano) = (pen.palette, &sight.screen.piano);
    let (white, black) = (piano.keyboard.white(), piano.keyboard.black());
    let upper: Vec<char> =
        black.into_iter().filter(|c| piano.keyboard.semitones(*c).is_some()).collect();
    let (first, last) = white.split_at(white.len() / 2 + 1);
    for (row, keys) in (top..).zip([&upper[..], first, last]) {
        for (x, &c) in (0..).step_by(6).zip(keys) {
            let style = if piano.sounds(c) { palette.on() } else { palette.strong() };
            let name = piano.key_of(c).and_then(short_drum_name);
            pen.sign(x, row, c, style);
            pen.put(x + 2, row, name.unwrap_or("-"), palette.faint());
        }
    }
}

/// The lowest key of the two rows that sounds.
fn sounding(sight: &Sight) -> Option<U7> {
    let piano = &sight.screen.piano;
    let all = piano.keyboard.white().into_iter().chain(piano.keyboard.black());
    all.filter(|c| piano.sounds(*c)).filter_map(|c| piano.key_of(c)).min()
}
