//! The screen's own loop: reads keys, follows the desk, draws.
//!
//! In: a desk and options. Out: requests to the desk, and how the screen ended. It waits for the
//! terminal only as long as a frame lasts, so a slow or lost terminal delays drawing and nothing
//! else.

use crate::desk::{Desk, DeskState, Health};
use crate::draw::{Sight, draw, playhead_step};
use crate::glance::Glance;
use crate::input::{Input, Parser};
use crate::options::Options;
use crate::output::Output;
use crate::palette::Palette;
use crate::picture::Pictures;
use crate::screen::{Effect, Screen, View};
use crate::terminal::{RELEASES_OFF, RELEASES_ON, Read, Terminal};
use ratatui::buffer::Buffer;
use ratatui::layout::Rect;
use std::io;
use std::time::{Duration, Instant};

/// How the screen ended. The terminal has been given back, unless it is gone.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// The player left.
    Quit,
    /// The terminal is gone.
    LostTerminal,
    /// The desk was asked to end.
    Signal,
    /// A thread panicked.
    Crashed,
}

/// Shows the desk on the terminal until the player leaves, the terminal is gone, the desk asks to
/// end, or a thread panics. Blocks; calls the desk from this thread only.
///
/// All keys the screen pressed are lifted when it returns.
///
/// # Errors
/// If there is no terminal, or it cannot be set up.
pub fn run(desk: &dyn Desk, options: Options) -> io::Result<Ended> {
    let terminal = Terminal::enter(options.may_ask)?;
    let mut session = Session::new(desk, options, terminal);
    let ended = session.turn();
    for lift in session.screen.piano.lift_all() {
        desk.play(lift);
    }
    match ended {
        Ended::LostTerminal => session.terminal.forget(),
        Ended::Quit | Ended::Signal => session.settle(),
        Ended::Crashed => {}
    }
    Ok(ended)
}

struct Session<'a> {
    desk: &'a dyn Desk,
    options: Options,
    terminal: Terminal,
    started: Instant,
    parser: Parser,
    screen: Screen,
    pictures: Pictures,
    palette: Palette,
    output: Output,
    buffer: Buffer,
    /// What the last frame showed.
    seen: Option<(Glance, u64, Option<Health>)>,
    next_frame: Duration,
    releases_on: bool,
}

impl<'a> Session<'a> {
    fn new(desk: &'a dyn Desk, options: Options, terminal: Terminal) -> Session<'a> {
        let size = terminal.size();
        let mut screen = Screen::new(&options, &desk.state());
        screen.size = size;
        Session {
            desk,
            palette: Palette::new(&options, options.light.unwrap_or(false)),
            options,
            terminal,
            started: Instant::now(),
            parser: Parser::default(),
            screen,
            pictures: Pictures::default(),
            output: Output::new(size),
            buffer: Buffer::empty(Rect::new(0, 0, size.0, size.1)),
            seen: None,
            next_frame: Duration::ZERO,
            releases_on: false,
        }
    }

    fn now(&self) -> Duration {
        self.started.elapsed()
    }

    /// Turns until there is a reason to end.
    fn turn(&mut self) -> Ended {
        let mut waited_until = self.now();
        loop {
            if self.terminal.crashed() {
                return Ended::Crashed;
            }
            if self.desk.quit_requested() {
                return Ended::Signal;
            }
            if self.now() > waited_until + Duration::from_secs(1) {
                // Somebody else stopped and continued this process, and may have left the terminal
                // in any state.
                let _ = self.terminal.take_over();
                self.output.start_over(self.screen.size);
                self.seen = None;
            }
            let state = self.desk.state();
            if let Some(ended) = self.step(&state) {
                return ended;
            }
            let limit = self.patience();
            waited_until = self.now() + limit;
            self.terminal.wait(!self.output.waiting().is_empty(), limit);
        }
    }

    /// Reads, follows, draws and writes once.
    fn step(&mut self, state: &DeskState) -> Option<Ended> {
        let came = self.now();
        let Some(inputs) = self.read() else { return Some(Ended::LostTerminal) };
        let fresh = match self.take(inputs, came, state) {
            Ok(fresh) => fresh,
            Err(ended) => return Some(ended),
        };
        let state = fresh.as_ref().unwrap_or(state);
        let now = self.now();
        let mut effects = Vec::new();
        self.screen.follow(state, now, &mut effects);
        if let Some(ended) = self.obey(effects) {
            return Some(ended);
        }
        self.follow_size();
        self.follow_releases();
        self.draw(state, now);
        self.write()
    }

    /// How long nothing has to be done, if nothing comes in.
    fn patience(&self) -> Duration {
        let frame = Duration::from_millis(1000 / u64::from(self.options.fps.clamp(1, 60)));
        let now = self.now();
        let deadlines = [self.parser.deadline(), self.screen.deadline()];
        let next = deadlines.into_iter().flatten().map(|at| at.saturating_sub(now)).min();
        next.unwrap_or(frame).min(frame)
    }

    /// Everything that came in; `None` if the terminal is gone.
    fn read(&mut self) -> Option<Vec<Input>> {
        let mut bytes = [0; 1024];
        let mut inputs = Vec::new();
        // A flood of input must not keep the screen from following: the rest is read next time.
        for _ in 0..16 {
            match self.terminal.read(&mut bytes) {
                Read::Gone => return None,
                Read::Nothing => break,
                Read::Bytes(count) => {
                    let now = self.now();
                    self.parser.expire(now, &mut inputs);
                    self.parser.feed(&bytes[..count], now, &mut inputs);
                }
            }
        }
        self.parser.expire(self.now(), &mut inputs);
        Some(inputs)
    }

    /// Takes what came in at `now`, however long the desk takes over each: two keys of one read
    /// came together. A key that did something may change what the next one means: gives the
    /// latest state that was fetched for that, if any.
    fn take(
        &mut self,
        inputs: Vec<Input>,
        now: Duration,
        state: &DeskState,
    ) -> Result<Option<DeskState>, Ended> {
        let mut fresh: Option<DeskState> = None;
        for input in inputs {
            match input {
                Input::CursorReply => self.output.acks.answer(),
                // The player's choice counts more than the terminal's answer.
                Input::Background { .. } if self.options.light.is_some() => {}
                Input::Background { light } => {
                    self.palette = Palette::new(&self.options, light);
                    self.seen = None;
                }
                Input::Key(_) | Input::Paste(_) | Input::Releases => {
                    self.output.acks.key(now);
                    let mut effects = Vec::new();
                    let state = fresh.as_ref().unwrap_or(state);
                    self.screen.follow(state, now, &mut effects);
                    self.screen.take(&input, state, now, &mut effects);
                    if effects.is_empty() {
                        continue;
                    }
                    if let Some(ended) = self.obey(effects) {
                        return Err(ended);
                    }
                    fresh = Some(self.desk.state());
                }
            }
        }
        Ok(fresh)
    }

    fn obey(&mut self, effects: Vec<Effect>) -> Option<Ended> {
        for effect in effects {
            match effect {
                Effect::Command(command) => self.desk.command(command),
                Effect::Tap { at } => self.desk.tap(self.now().saturating_sub(at)),
                Effect::Play(key) => self.desk.play(key),
                Effect::Save { file, replace } => self.desk.save(file.as_deref(), replace),
                Effect::Level(step) => self.desk.level(step),
                Effect::RestartTiming => self.desk.restart_timing(),
                Effect::Browse { number, path } => self.desk.browse(number, path.as_deref()),
                Effect::Read { number, request } => self.desk.read(number, request),
                Effect::Export(spec) => self.desk.export(spec),
                Effect::CancelExport => self.desk.cancel_export(),
                Effect::NewSong(spec) => self.desk.new_song(spec),
                Effect::RemoveRescue => self.desk.remove_rescue(),
                Effect::Suspend => self.suspend(),
                Effect::Redraw => {
                    self.output.start_over(self.screen.size);
                    self.seen = None;
                }
                Effect::Quit => return Some(Ended::Quit),
            }
        }
        None
    }

    fn suspend(&mut self) {
        self.desk.silence();
        self.output.drop_waiting();
        self.releases_on = false;
        match self.terminal.suspend() {
            Ok(()) => self.screen.welcome_back(),
            Err(error) => {
                self.screen.complain(&format!("the program cannot be suspended here: {error}"));
            }
        }
        self.output = Output::new(self.screen.size);
        self.seen = None;
    }

    fn follow_size(&mut self) {
        let size = self.terminal.size();
        if size != self.screen.size {
            self.screen.size = size;
            self.buffer = Buffer::empty(Rect::new(0, 0, size.0, size.1));
            self.output.start_over(size);
            self.seen = None;
        }
    }

    /// Key releases are asked for in piano mode only: they change how text is typed.
    fn follow_releases(&mut self) {
        let wanted = self.screen.piano.releases && self.screen.scene().plays_letters();
        if wanted != self.releases_on {
            self.releases_on = wanted;
            self.terminal.note_releases(wanted);
            self.output.raw(if wanted { RELEASES_ON } else { RELEASES_OFF });
        }
    }

    fn draw(&mut self, state: &DeskState, now: Duration) {
        if now < self.next_frame || !self.output.waiting().is_empty() {
            return;
        }
        let step = playhead_step(state, &self.screen);
        // Its figures change all the time; only one view shows them.
        let health = (self.screen.view == View::Ports).then(|| state.health.clone());
        let glance = (Glance::new(state, self.options.calm, step), self.screen.version, health);
        if self.seen.as_ref() == Some(&glance) || !self.output.acks.may_draw(now) {
            return;
        }
        let sight =
            Sight { state, screen: &self.screen, palette: &self.palette, calm: self.options.calm };
        let cursor = draw(&mut self.buffer, &sight, &mut self.pictures);
        self.output.frame(&self.buffer, cursor, now);
        self.seen = Some(glance);
        let frame = Duration::from_millis(1000 / u64::from(self.options.fps.clamp(1, 60)));
        self.next_frame = now + frame;
    }

    fn write(&mut self) -> Option<Ended> {
        if self.output.waiting().is_empty() {
            return None;
        }
        match self.terminal.write(self.output.waiting()) {
            Some(count) => {
                self.output.written(count);
                None
            }
            None => Some(Ended::LostTerminal),
        }
    }

    /// Waits a moment for answers that are still on the way, so that the shell does not get them.
    fn settle(&mut self) {
        let until = self.now() + Duration::from_millis(150);
        let mut bytes = [0; 256];
        while self.output.acks.expects() && self.now() < until {
            self.terminal.wait(false, Duration::from_millis(20));
            let mut inputs = Vec::new();
            if let Read::Bytes(count) = self.terminal.read(&mut bytes) {
                self.parser.feed(&bytes[..count], self.now(), &mut inputs);
            }
            let answers = inputs.iter().filter(|input| matches!(input, Input::CursorReply));
            answers.for_each(|_| self.output.acks.answer());
        }
    }
}
