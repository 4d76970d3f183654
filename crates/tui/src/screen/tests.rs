//! A person at the screen, for the tests: keys in, effects out, with a real engine behind it. The
//! tests are in a file for each subject.

mod arrange;
mod changed;
mod changed_keys;
mod export;
mod files;
mod finder;
mod grooves;
mod help;
mod key_box;
mod keys;
mod keys_box;
mod lane;
mod layers;
mod leaving;
mod levels;
mod notes;
mod notices;
mod octaves;
mod ports;
mod reshape;
mod settings;
mod song_form;
mod sounds;
mod tour;
mod tracks;
mod transport;

use super::*;
use crate::action::{Action, Vertical};
use crate::desk::SongRead;
use crate::input::{Code, Input};
use crate::testing::{Bench, empty_song, four_parts};
use chaconne_engine::{Click, Mode, Rounds, Transport};
use chaconne_song::{Feel, Letter, Section, Song, U7};
use chaconne_time::{Metre, MetreMap, NoteKind, Tempo};

/// A save to the song's file.
const SAVE: &str = "Save { file: None, replace: false }";
/// A request for a song: the number of the request, and what is asked for.
fn reads(number: u64, request: &str) -> String {
    format!("Read {{ number: {number}, request: {request} }}")
}

/// A save under the name that the form proposes.
const SAVE_AS: &str = "Save { file: Some(\"low-tide.ron\"), replace: false }";

/// A person at the screen: keys in, effects out, commands obeyed by a real engine.
struct Player {
    bench: Bench,
    screen: Screen,
    now: Duration,
    effects: Vec<Effect>,
}

impl Player {
    fn new(song: Song) -> Player {
        let bench = Bench::new(song);
        let screen = Screen::new(&Options::from_environment(|_| None), &bench.state());
        let mut player = Player { bench, screen, now: Duration::ZERO, effects: Vec::new() };
        player.follow();
        player
    }

    fn follow(&mut self) {
        let mut out = Vec::new();
        self.screen.follow(&self.bench.state(), self.now, &mut out);
        self.obey(out);
    }

    fn obey(&mut self, effects: Vec<Effect>) {
        for effect in effects {
            match &effect {
                Effect::Command(command) => {
                    let _ = self.bench.engine.command(self.bench.now, command.clone());
                }
                Effect::Tap { at } => {
                    let ago = (self.now - *at).as_nanos() as i64;
                    let _ = self.bench.engine.tapped(self.bench.now, self.bench.now - ago, None);
                }
                Effect::Level(step) => self.bench.level(*step),
                Effect::Read { number, request: SongRequest::Restore } => {
                    self.bench.command(Command::Open(Box::new(empty_song(2, "3/4"))));
                    self.bench.disk.unsaved = true;
                    self.bench.answer_song(*number, Ok(SongRead::Restored));
                }
                _ => {}
            }
            self.effects.push(effect);
        }
    }

    /// Presses keys 300 ms apart.
    fn press(&mut self, keys: impl IntoIterator<Item = Key>) {
        for key in keys {
            self.now += Duration::from_millis(300);
            self.bench.wait(300);
            self.strike(key);
        }
    }

    fn strike(&mut self, key: Key) {
        let mut out = Vec::new();
        self.screen.take(&Input::Key(key), &self.bench.state(), self.now, &mut out);
        self.obey(out);
        self.follow();
    }

    /// Holds down a key that was just pressed, for this many repeats.
    fn hold(&mut self, key: Key, repeats: u64) {
        self.now += Duration::from_millis(470);
        for _ in 0..repeats {
            self.now += Duration::from_millis(30);
            self.strike(key);
        }
    }

    /// Presses a key ten times before the screen sees another state.
    fn press_ten_times(&mut self, key: Key) {
        let (state, mut out) = (self.bench.state(), Vec::new());
        (0..10).for_each(|_| self.screen.take(&Input::Key(key), &state, self.now, &mut out));
        self.obey(out);
        self.follow();
    }

    fn type_text(&mut self, text: &str) {
        self.press(text.chars().map(Key::char));
    }

    fn enter(&mut self) {
        self.press([Key::new(Code::Enter)]);
    }

    fn last(&self) -> String {
        self.effects.last().map_or(String::new(), |effect| format!("{effect:?}"))
    }

    fn saved(&mut self, error: Option<&str>) {
        self.bench.disk.attempts += 1;
        self.bench.disk.error = error.map(str::to_string);
        self.bench.disk.unsaved = error.is_some();
        self.follow();
    }
}
