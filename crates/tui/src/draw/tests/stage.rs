//! A stage for the tests of pictures: a screen, a desk with a real engine, and somebody at the
//! keys.

use super::super::*;
use crate::input::{Input, Key};
use crate::options::Options;
use crate::screen::Effect;
use crate::testing::Bench;
use chaconne_song::Song;
use ratatui::layout::Rect;
use ratatui::style::{Color, Modifier};
use std::fmt::Write;
use std::time::Duration;

/// A screen, a desk with a real engine, and somebody at the keys.
pub struct Stage {
    pub bench: Bench,
    pub screen: Screen,
    pub options: Options,
    pub now: Duration,
    pictures: Pictures,
}

impl Stage {
    pub fn new(song: Song) -> Stage {
        let full = |name: &str| match name {
            "LANG" => Some("C.UTF-8".to_string()),
            "TERM" => Some("xterm-256color".to_string()),
            _ => None,
        };
        let options = Options::from_environment(full);
        let bench = Bench::new(song);
        let screen = Screen::new(&options, &bench.state());
        let pictures = Pictures::default();
        let mut stage = Stage { bench, screen, options, now: Duration::ZERO, pictures };
        stage.follow(Vec::new());
        stage
    }

    /// Carries out the effects, and shows the screen the new state. Returns the effects that
    /// follow.
    pub fn follow(&mut self, mut effects: Vec<Effect>) -> Vec<Effect> {
        for effect in effects.drain(..) {
            match effect {
                Effect::Command(command) => {
                    let _ = self.bench.engine.command(self.bench.now, command);
                }
                Effect::Tap { at } => {
                    let ago = (self.now - at).as_nanos() as i64;
                    let _ = self.bench.engine.tapped(self.bench.now, self.bench.now - ago, None);
                }
                Effect::Level(step) => self.bench.level(step),
                _ => {}
            }
        }
        self.screen.follow(&self.bench.state(), self.now, &mut effects);
        effects
    }

    pub fn press(&mut self, keys: impl IntoIterator<Item = Key>) {
        for key in keys {
            self.now += Duration::from_millis(300);
            let mut effects = Vec::new();
            self.screen.take(&Input::Key(key), &self.bench.state(), self.now, &mut effects);
            self.follow(effects);
        }
    }

    pub fn type_text(&mut self, text: &str) {
        self.press(text.chars().map(Key::char));
    }

    /// Lets this many milliseconds pass.
    pub fn wait(&mut self, ms: i64) {
        self.bench.wait(ms);
        self.follow(Vec::new());
    }

    pub fn draw(&mut self, width: u16, height: u16) -> (Buffer, Option<Position>) {
        let mut buffer = Buffer::empty(Rect::new(0, 0, width, height));
        self.screen.size = (width, height);
        let palette = Palette::new(&self.options, self.options.light.unwrap_or(false));
        let state = self.bench.state();
        let calm = self.options.calm;
        let sight = Sight { state: &state, screen: &self.screen, palette: &palette, calm };
        let cursor = draw(&mut buffer, &sight, &mut self.pictures);
        (buffer, cursor)
    }

    /// The screen as text, then its styles and the cursor.
    pub fn picture(&mut self, width: u16, height: u16) -> String {
        let (buffer, cursor) = self.draw(width, height);
        let cursor = cursor.map_or("none".into(), |at| format!("{}.{}", at.x, at.y));
        format!("{}\ncursor {cursor}\n{}", text_of(&buffer), styles_of(&buffer))
    }

    pub fn text(&mut self, width: u16, height: u16) -> String {
        text_of(&self.draw(width, height).0)
    }
}

pub fn text_of(buffer: &Buffer) -> String {
    let mut text = String::new();
    for y in 0..buffer.area.height {
        let mut row = String::new();
        let mut x = 0;
        while x < buffer.area.width {
            let symbol = buffer[(x, y)].symbol();
            row.push_str(symbol);
            x += crate::text::width(symbol).max(1) as u16;
        }
        text.push_str(row.trim_end());
        text.push('\n');
    }
    text
}

/// Runs of cells that are not plain: `row: from-to style`.
fn styles_of(buffer: &Buffer) -> String {
    let mut text = String::new();
    for y in 0..buffer.area.height {
        let mut runs: Vec<(u16, u16, String)> = Vec::new();
        for x in 0..buffer.area.width {
            let cell = &buffer[(x, y)];
            let style = style_word(cell.fg, cell.modifier);
            match runs.last_mut().filter(|run| run.2 == style && run.1 + 1 == x) {
                Some(run) => run.1 = x,
                None if !style.is_empty() => runs.push((x, x, style)),
                None => {}
            }
        }
        if !runs.is_empty() {
            let _ = write!(text, "{y}:");
            for (from, to, style) in runs {
                let _ = write!(text, " {from}-{to} {style}");
            }
            text.push('\n');
        }
    }
    text
}

fn style_word(colour: Color, modifier: Modifier) -> String {
    let mut word = String::new();
    for (flag, letter) in [(Modifier::BOLD, 'B'), (Modifier::DIM, 'D'), (Modifier::REVERSED, 'R')] {
        if modifier.contains(flag) {
            word.push(letter);
        }
    }
    match colour {
        Color::Reset => {}
        Color::Indexed(index) => word.push_str(&index.to_string()),
        named => word.push_str(&named.to_string()),
    }
    word
}
