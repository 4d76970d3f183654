//! The box for what keys play: the settings, an octave of keys with the chord on each, and what the chosen setting
//! does. On a narrow screen the keys are a list; on a low one only the chosen key is shown.

use super::overlays::bottom;
use super::{Pen, Sight};
use crate::key_names::{pitch, pitch_class};
use crate::keymap::Scene;
use crate::keys_play::{harmony, note_on};
use crate::screen::{KeysBox, KeysField};
use crate::text;
use chaconne_harmony::Harmony;
use chaconne_song::{KeysPlay, U7};
use ratatui::layout::Position;
use ratatui::style::Style;

/// The columns inside.
const WIDTH: u16 = 76;
/// The columns of the name of a setting.
const NAME: u16 = 12;
/// The rows of the settings, in two columns.
const SETTINGS: u16 = 3;
/// The columns from which on the keys lie as on a keyboard.
const KEYBOARD: u16 = 56;
/// The fewest columns of a white key with all of its chord.
const WHITE: u16 = 8;
/// The sign of a chord of its own.
const OWN: char = '=';

/// Draws the box, and returns where the chosen setting is.
pub fn draw(pen: &mut Pen, sight: &Sight, open: &KeysBox) -> Option<Position> {
    let harmony = harmony(&sight.state.status);
    let room = WIDTH.min(pen.width() - 4);
    let layout = Layout::of(room, pen.height());
    let notice = &sight.screen.notice;
    // The box lies over the row of messages.
    let said = match notice.text.is_empty() {
        true => sight.screen.keymap.fill_in(Scene::KeysBox, &open.sentence(harmony)),
        false => notice.text.clone(),
    };
    let style = if notice.wrong { pen.palette.alarm() } else { pen.palette.faint() };
    let lines = text::wrap(&said, room.into());
    let words = if layout == Layout::None || room >= WIDTH { 2 } else { 3 };
    let name = sight.state.status.song.track(open.track).map_or("", |track| track.name.as_str());
    let rows = SETTINGS + layout.rows() + words;
    let (x, y, room) = bottom(pen, WIDTH, rows, &format!("What keys play on {name}"));
    let focus = settings(pen, open, harmony, (x, y, room as u16));
    let keys = Keys { open, harmony, sight };
    match layout {
        Layout::None => {}
        Layout::List => keys.list(pen, x, y + SETTINGS, room as u16),
        Layout::Keyboard => keys.keyboard(pen, x, y + SETTINGS, room as u16),
    }
    let top = y + SETTINGS + layout.rows();
    for (row, line) in (top..top + words).zip(&lines) {
        pen.put_in(x, row, room, line, style);
    }
    focus
}

/// How the keys of an octave are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Layout {
    None,
    List,
    Keyboard,
}

impl Layout {
    /// What a screen of that height has room for, with so many columns inside the box.
    fn of(columns: u16, height: u16) -> Layout {
        match (columns >= KEYBOARD, height) {
            (true, 18..) => Layout::Keyboard,
            (false, 20..) => Layout::List,
            _ => Layout::None,
        }
    }

    fn rows(self) -> u16 {
        match self {
            Layout::None => 0,
            Layout::List => 6,
            Layout::Keyboard => 4,
        }
    }
}

/// The settings in two columns; returns where the chosen one is.
fn settings(
    pen: &mut Pen,
    open: &KeysBox,
    harmony: Harmony,
    (x, y, room): (u16, u16, u16),
) -> Option<Position> {
    let palette = pen.palette;
    let width = room / 2;
    // Where room is short, names and values are close.
    let name_room = if width > 2 * NAME { NAME } else { NAME - 2 };
    let mut focus = None;
    for (index, field) in (0..).zip(KeysField::ALL) {
        let (x, row) = (x + width * (index / SETTINGS), y + index % SETTINGS);
        let chosen = field == open.field;
        if chosen {
            pen.sign(x, row, palette.signs.chosen, palette.strong());
            focus = Some(Position::new(x, row));
        }
        let label = if chosen { palette.strong() } else { palette.faint() };
        let at = pen.put(x + 1, row, field.name(), label).max(x + name_room) + 1;
        let value = match (chosen, is_idle(open, field)) {
            (true, _) => palette.on(),
            (false, true) => palette.faint(),
            (false, false) => palette.text(),
        };
        let columns = usize::from((x + width).saturating_sub(at));
        let words = words(open, field, harmony, columns);
        pen.put(at, row, &text::clip(&words, columns, palette.signs.cut), value);
    }
    focus
}

/// Whether a setting changes nothing of what is heard.
fn is_idle(open: &KeysBox, field: KeysField) -> bool {
    field != KeysField::Plays && !open.plays.has_chords()
}

/// A setting's value, in so many columns if it can be said in them.
fn words(open: &KeysBox, field: KeysField, harmony: Harmony, columns: usize) -> String {
    const INVERSIONS: [&str; 5] = ["root position", "1st", "2nd", "3rd", "4th"];
    match field {
        KeysField::Plays => open.plays.to_string(),
        KeysField::Stack => open.keys.stack.to_string(),
        KeysField::Inversion => match INVERSIONS[usize::from(open.inversion()).min(4)] {
            long if long.len() > columns => "root",
            words => words,
        }
        .to_string(),
        KeysField::Spacing => if open.keys.open { "open" } else { "close" }.to_string(),
        KeysField::Leading => if open.keys.leading { "on" } else { "off" }.to_string(),
        KeysField::Key => {
            let own = if open.is_own(open.key) { OWN.to_string() } else { String::new() };
            format!("{} {own}{}", pitch(open.key, None), open.chord(open.key, harmony))
        }
    }
}

/// The keys of the octave of the chosen key.
struct Keys<'a> {
    open: &'a KeysBox,
    harmony: Harmony,
    sight: &'a Sight<'a>,
}

/// A key of an octave, as it is shown.
struct Shown {
    key: U7,
    /// The letter that plays it, if one does.
    letter: Option<char>,
    /// Its name; that of C with its octave.
    name: String,
    /// What it plays.
    plays: String,
}

impl Keys<'_> {
    /// The key so many semitones above the C of the octave; `None` beyond the last.
    fn shown(&self, semitones: u8) -> Option<Shown> {
        let c = self.open.key.get() / 12 * 12;
        let key = U7::new(c + semitones)?;
        let keyboard = self.sight.screen.piano.keyboard;
        let mut letters = keyboard.white().into_iter().chain(keyboard.black());
        let letter = letters.find(|&c| self.sight.screen.piano.key_of(c) == Some(key));
        let spelled = self.harmony.key;
        // A key of the keyboard is a C whatever the key signature.
        let name = if semitones == 0 { pitch(key, None) } else { pitch_class(key, None) };
        let own = if self.open.is_own(key) { OWN.to_string() } else { String::new() };
        let plays = match self.open.plays {
            plays @ (KeysPlay::Scale | KeysPlay::Chord) => {
                pitch_class(note_on(key, plays, self.harmony), spelled)
            }
            // Where keys play notes, the chords that they would play.
            KeysPlay::Chords | KeysPlay::Chart | KeysPlay::Notes => {
                format!("{own}{}", self.open.chord(key, self.harmony))
            }
        };
        Some(Shown { key, letter, name, plays })
    }

    /// The style of what a key plays.
    fn style(&self, pen: &Pen, key: U7) -> Style {
        let sounds = |c: char| self.sight.screen.piano.sounds(c);
        let letter = self.shown(key.get() % 12).and_then(|shown| shown.letter);
        match (key == self.open.key, letter.is_some_and(sounds), self.open.plays) {
            (true, ..) | (_, true, _) => pen.palette.on(),
            (.., KeysPlay::Notes) => pen.palette.faint(),
            _ => pen.palette.text(),
        }
    }

    /// White keys with black ones between them, each with its letter, its name and what it plays.
    fn keyboard(&self, pen: &mut Pen, x: u16, y: u16, room: u16) {
        const BLACK: [(u8, u16); 5] = [(1, 1), (3, 2), (6, 4), (8, 5), (10, 6)];
        const WHITES: [u8; 7] = [0, 2, 4, 5, 7, 9, 11];
        let width = ((room - 1) / 7).clamp(WHITE, 10);
        for (semitones, place) in BLACK {
            // Between two white keys.
            self.key(pen, semitones, (x + 1 + width * place - width / 2, y), width - 1);
        }
        for (place, semitones) in (0..).zip(WHITES) {
            self.key(pen, semitones, (x + 1 + width * place, y + 2), width - 1);
        }
    }

    /// A key in two rows.
    fn key(&self, pen: &mut Pen, semitones: u8, (x, y): (u16, u16), columns: u16) {
        let Some(shown) = self.shown(semitones) else { return };
        let palette = pen.palette;
        if shown.key == self.open.key {
            pen.sign(x - 1, y, palette.signs.chosen, palette.strong());
        }
        if let Some(letter) = shown.letter {
            pen.sign(x, y, letter, palette.strong());
        }
        pen.put(x + 2, y, &shown.name, palette.faint());
        let plays = text::clip(&shown.plays, columns.into(), palette.signs.cut);
        let style = self.style(pen, shown.key);
        pen.put(x, y + 1, &plays, style);
    }

    /// The same keys in two columns, each in a row.
    fn list(&self, pen: &mut Pen, x: u16, y: u16, room: u16) {
        let palette = pen.palette;
        for (semitones, index) in (0..12).zip(0..) {
            let Some(shown) = self.shown(semitones) else { continue };
            let (x, row) = (x + room / 2 * (index / 6), y + index % 6);
            if shown.key == self.open.key {
                pen.sign(x, row, palette.signs.chosen, palette.strong());
            }
            if let Some(letter) = shown.letter {
                pen.sign(x + 1, row, letter, palette.strong());
            }
            pen.put(x + 3, row, &shown.name, palette.faint());
            let columns = usize::from(room / 2).saturating_sub(8);
            let plays = text::clip(&shown.plays, columns, palette.signs.cut);
            let style = self.style(pen, shown.key);
            pen.put(x + 7, row, &plays, style);
        }
    }
}
