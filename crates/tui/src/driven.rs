//! A screen without a terminal, for tests of what keys do to a whole desk.
//!
//! In: the bytes that a terminal sends, and the state of the desk. Out: the commands that they lead to.
//! Everything between is as in the program: the parser, the keymap, the views and the boxes.

use crate::desk::DeskState;
use crate::draw::{Sight, draw};
use crate::input::{Input, Parser};
use crate::options::Options;
use crate::palette::Palette;
use crate::picture::Pictures;
use crate::screen::{Effect, Screen};
use chaconne_engine::Command;
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::time::Duration;

/// Somebody at the keys.
pub struct Hands {
    screen: Screen,
    parser: Parser,
    options: Options,
    pictures: Pictures,
}

impl Hands {
    /// Hands at the keys of a screen of 80 by 24.
    pub fn new(state: &DeskState) -> Hands {
        let options = Options::from_environment(|_| None);
        let screen = Screen::new(&options, state);
        Hands { screen, parser: Parser::default(), options, pictures: Pictures::default() }
    }

    /// Types bytes at a time on the screen's own clock; returns the commands they lead to. Requests that are
    /// not about the music, such as a save, are left out.
    pub fn types(&mut self, bytes: &[u8], state: &DeskState, now: Duration) -> Vec<Command> {
        let mut inputs = Vec::new();
        self.parser.feed(bytes, now, &mut inputs);
        self.take(&inputs, state, now)
    }

    /// Looks at the desk, as the screen does from time to time; returns the commands that follow.
    pub fn follow(&mut self, state: &DeskState, now: Duration) -> Vec<Command> {
        let mut inputs = Vec::new();
        self.parser.expire(now, &mut inputs);
        self.take(&inputs, state, now)
    }

    fn take(&mut self, inputs: &[Input], state: &DeskState, now: Duration) -> Vec<Command> {
        let mut effects = Vec::new();
        self.screen.follow(state, now, &mut effects);
        for input in inputs {
            self.screen.take(input, state, now, &mut effects);
        }
        let command = |effect| match effect {
            Effect::Command(command) => Some(command),
            _ => None,
        };
        effects.into_iter().filter_map(command).collect()
    }

    /// Draws the screen, and returns its text.
    pub fn text(&mut self, state: &DeskState) -> String {
        let (width, height) = self.screen.size;
        let mut buffer = Buffer::empty(Rect::new(0, 0, width, height));
        let palette = Palette::new(&self.options, false);
        let sight = Sight { state, screen: &self.screen, palette: &palette, calm: false };
        draw(&mut buffer, &sight, &mut self.pictures);
        let row = |y| (0..width).map(|x| buffer[(x, y)].symbol()).collect::<String>() + "\n";
        (0..height).map(row).collect()
    }
}
