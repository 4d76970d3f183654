//! The screen's own state: what is chosen, what is open, what was last said.
//!
//! In: inputs, the desk's view and the time. Out: [`Effect`]s for whoever runs the screen. It
//! reads no clock and calls no desk, so that a session is a list of inputs and a list of effects.

mod act;
mod choice;
mod leave;
mod sounds;

use crate::desk::{LevelStep, LiveKey, NewSong, SoundLine, View};
use crate::form::{Filled, Form};
use crate::input::{Code, Input, Key, Kind};
use crate::keymap::{self, Action, Facts, Found, Scene};
use crate::options::Options;
use crate::piano::Piano;
use crate::text;
use crate::told;
use chaconne_engine::Command;
use chaconne_song::TrackId;
use chaconne_time::{NoteValue, Tick};
use std::collections::BTreeMap;
use std::time::Duration;

pub use choice::{GridPick, JumpPick};
use leave::Leaving;
pub use leave::{Ask, Next};
pub use sounds::SoundPick;

/// Something for whoever runs the screen to do.
#[derive(Debug, Clone)]
pub enum Effect {
    /// Ask the desk for something about the music.
    Command(Command),
    /// Play a key.
    Play(LiveKey),
    /// Save, to a file or where it was saved last.
    Save(Option<String>),
    /// Turn the sound up or down.
    Level(LevelStep),
    /// Start a new song.
    NewSong(NewSong),
    /// Silence everything and give the terminal back for a while.
    Suspend,
    /// Draw everything anew.
    Redraw,
    /// End.
    Quit,
}

/// What was last said, by the desk or by the screen.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Notice {
    /// One sentence.
    pub text: String,
    /// Whether it tells of something that went wrong.
    pub wrong: bool,
    /// Where there is more to be read, which is not cut off; else empty.
    pub more: String,
}

impl Notice {
    /// What was told on the shell before the screen was there.
    fn before(told: &[String]) -> Notice {
        let Some(first) = told.first() else { return Notice::default() };
        let more = match told.len() - 1 {
            0 => String::new(),
            more => format!("(+{more} on the shell)"),
        };
        Notice { text: text::sentence(first), wrong: true, more }
    }

    fn said(text: &str, wrong: bool) -> Notice {
        Notice { text: text::sentence(text), wrong, more: String::new() }
    }
}

/// What a mark of the picture stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Zoom {
    /// As fine as the whole section fits.
    #[default]
    Fit,
    /// So long, and a page at a time where the section does not fit.
    Cell(Tick),
}

/// The screen's state.
#[derive(Debug)]
pub struct Screen {
    /// The chosen track.
    pub chosen: Option<TrackId>,
    /// Whether letters play notes.
    pub piano_on: bool,
    /// The piano.
    pub piano: Piano,
    /// The form that is open.
    pub form: Option<Form>,
    /// The question that is open.
    pub ask: Option<Ask>,
    /// The choice of a grid that is open.
    pub grids: Option<GridPick>,
    /// The choice of a section that is open.
    pub jump: Option<JumpPick>,
    /// The choice of a sound that is open.
    pub sounds: Option<SoundPick>,
    /// The first line of the help in sight, where it is open.
    pub help: Option<usize>,
    /// What a mark stands for.
    pub zoom: Zoom,
    /// What was last said.
    pub notice: Notice,
    /// Goes up by one whenever something here changed that may be seen.
    pub version: u64,
    /// Columns and rows of the terminal.
    pub size: (u16, u16),
    repeat: Duration,
    last_key: Option<(Key, Duration)>,
    last_grids: BTreeMap<TrackId, NoteValue>,
    leaving: Option<Leaving>,
    /// Whether the level is to be told at the next look.
    level_asked: bool,
    seen: Seen,
}

/// What was already taken notice of.
#[derive(Debug, Default)]
struct Seen {
    armed: Option<TrackId>,
    said: u64,
    attempts: u64,
    revision: u64,
}

impl Screen {
    /// A screen as it is at the start.
    pub fn new(options: &Options, view: &View) -> Screen {
        let repeat = Duration::from_millis(options.repeat_ms);
        let (attempts, revision) = (view.disk.attempts, view.status.revision);
        let seen = Seen { attempts, revision, ..Seen::default() };
        Screen {
            chosen: None,
            piano_on: false,
            piano: Piano::new(options.keyboard, repeat),
            form: None,
            ask: None,
            grids: None,
            jump: None,
            sounds: None,
            help: None,
            zoom: Zoom::Fit,
            notice: Notice::before(&options.told_before),
            version: 0,
            size: (80, 24),
            repeat,
            last_key: None,
            last_grids: BTreeMap::new(),
            leaving: None,
            level_asked: false,
            seen,
        }
    }

    /// Who has the keys.
    pub fn scene(&self) -> Scene {
        if self.help.is_some() {
            Scene::Help
        } else if self.ask.is_some() {
            Scene::Ask
        } else if self.form.is_some() {
            Scene::Form
        } else if self.grids.is_some() {
            Scene::Grids
        } else if self.jump.is_some() {
            Scene::Jump
        } else if self.sounds.is_some() {
            Scene::Sounds
        } else if self.piano_on {
            Scene::Piano
        } else {
            Scene::Sketch
        }
    }

    /// How things stand, for the keymap.
    pub fn facts<'a>(&self, view: &'a View) -> Facts<'a> {
        Facts { view, chosen: self.chosen }
    }

    /// When [`follow`](Self::follow) is needed even if nothing comes in.
    pub fn deadline(&self) -> Option<Duration> {
        self.piano.deadline()
    }

    /// Takes notice of how things stand now.
    pub fn follow(&mut self, view: &View, now: Duration, out: &mut Vec<Effect>) {
        out.extend(self.piano.lift_due(now).into_iter().map(Effect::Play));
        self.follow_tracks(view);
        if view.status.revision != self.seen.revision {
            // What was said of the song as it was is no longer so.
            self.seen.revision = view.status.revision;
            self.notice = Notice::default();
            self.version += 1;
        }
        if view.status.said.0 != self.seen.said {
            self.seen.said = view.status.said.0;
            self.say(&view.status.said.1);
        }
        if std::mem::take(&mut self.level_asked)
            && let Some(sound) = &view.sound
        {
            self.say(&told_level(sound));
        }
        if view.disk.attempts != self.seen.attempts {
            self.seen.attempts = view.disk.attempts;
            match (&view.disk.error, &view.disk.path) {
                (Some(error), _) => self.complain(error),
                (None, Some(path)) => self.say(&format!("Saved to {path}.")),
                (None, None) => self.say("Saved."),
            }
        }
        self.follow_leaving(view, out);
    }

    /// Keeps the chosen track one that exists, and goes along when another one gets armed.
    fn follow_tracks(&mut self, view: &View) {
        let status = &view.status;
        let before = self.chosen;
        if status.armed != self.seen.armed {
            self.seen.armed = status.armed;
            self.chosen = status.armed.or(self.chosen);
        }
        let exists = |id: &TrackId| status.song.track(*id).is_some();
        self.chosen = self
            .chosen
            .filter(exists)
            .or_else(|| status.armed.filter(exists))
            .or_else(|| status.song.tracks.first().map(|track| track.id));
        self.version += u64::from(self.chosen != before);
    }

    /// Takes an input that came at `now`.
    pub fn take(&mut self, input: &Input, view: &View, now: Duration, out: &mut Vec<Effect>) {
        self.version += 1;
        match input {
            Input::Key(key) => self.take_key(key, view, now, out),
            Input::Paste(text) => {
                if let Some(form) = self.form.as_mut().filter(|_| self.ask.is_none()) {
                    form.paste(text);
                }
            }
            Input::Releases => self.piano.releases = true,
            Input::CursorReply | Input::Background { .. } => {}
        }
        if self.scene() != Scene::Piano {
            out.extend(self.piano.lift_all().into_iter().map(Effect::Play));
        }
    }

    fn take_key(&mut self, key: &Key, view: &View, now: Duration, out: &mut Vec<Effect>) {
        let scene = self.scene();
        if scene == Scene::Piano
            && let Some(played) = self.piano.take(key, now)
        {
            return out.extend(played.into_iter().map(Effect::Play));
        }
        if key.kind == Kind::Release {
            return;
        }
        let repeated = self.is_repeat(key, now);
        match self.look_up(scene, key, view) {
            Found::Does(action) if repeated && !action.repeats(key) => {}
            Found::Does(action) => self.act(action, key, view, out),
            Found::NotNow(..) if repeated => {}
            Found::NotNow(action, _) if action.is_judged_by_the_engine() => {
                self.act(action, key, view, out);
            }
            Found::NotNow(_, need) => self.say(need.missing()),
            Found::Nothing => self.take_typed(scene, key, view, out),
        }
    }

    /// What a key means. In piano mode letters keep with Shift what they meant without.
    fn look_up(&self, scene: Scene, key: &Key, view: &View) -> Found {
        let facts = self.facts(view);
        let found = keymap::find(scene, key, &facts);
        match (found, key.code) {
            (Found::Nothing, Code::Char(c)) if scene == Scene::Piano && c.is_uppercase() => {
                let lower = c.to_lowercase().next().unwrap_or(c);
                keymap::find(scene, &Key { code: Code::Char(lower), ..*key }, &facts)
            }
            (found, _) => found,
        }
    }

    /// Whether the key is the keyboard's own repetition of the one before.
    fn is_repeat(&mut self, key: &Key, now: Duration) -> bool {
        let chord = key.chord();
        let before = self.last_key.replace((chord, now));
        let soon =
            |(last, at): (Key, Duration)| last == chord && now.saturating_sub(at) < self.repeat;
        key.kind == Kind::Repeat || before.is_some_and(soon)
    }

    /// Takes a key that is bound to nothing: it may be typed.
    fn take_typed(&mut self, scene: Scene, key: &Key, view: &View, out: &mut Vec<Effect>) {
        match (scene, key.code) {
            (Scene::Form, _) => {
                if let Some(form) = &mut self.form {
                    form.type_key(key);
                }
            }
            (Scene::Sounds, _) => self.type_sound(key, out),
            (Scene::Jump, Code::Char(c)) if c.is_ascii_alphabetic() => {
                self.type_letter(c.to_ascii_uppercase(), view, out);
            }
            _ => {}
        }
    }

    /// Takes what was filled in.
    fn take_form(&mut self, view: &View, out: &mut Vec<Effect>) {
        let Some(filled) = self.form.as_mut().and_then(Form::accept) else { return };
        self.form = None;
        match filled {
            Filled::NewSong(spec) => {
                if self.facts(view).meet(keymap::Need::Moving) {
                    out.push(Effect::Command(Command::Stop));
                }
                out.push(Effect::NewSong(spec));
            }
            Filled::NewTrack { name, drums, program } => {
                out.push(Effect::Command(Command::AddTrack { name, drums, program }));
            }
            Filled::SaveAs(file) => {
                self.save_to(Some(file), view, out);
            }
        }
    }

    /// Says something.
    pub fn say(&mut self, text: &str) {
        self.notice = Notice::said(text, false);
        self.version += 1;
    }

    /// Says that something went wrong.
    pub fn complain(&mut self, text: &str) {
        self.notice = Notice::said(text, true);
        self.version += 1;
    }
}

/// The level, once it has been changed.
fn told_level(sound: &SoundLine) -> String {
    match sound.level.and_then(told::tenths) {
        None => "The sound is off: ) turns it up".to_string(),
        Some(0..) => "The sound is at full scale, as loud as it goes".to_string(),
        Some(_) => {
            let under = told::level_text(sound.level.map(f32::abs));
            format!("The sound is {under} under full scale")
        }
    }
}

impl Action {
    /// Whether the engine is asked even where it seems to be in vain. What is seen here may be a
    /// moment old, and the engine says itself what it refuses.
    fn is_judged_by_the_engine(self) -> bool {
        matches!(self, Action::RecordOn | Action::Undo | Action::Redo | Action::TakeOff)
    }

    /// Whether a key that is held does it again and again. Sound grows loud by single strokes only.
    fn repeats(self, key: &Key) -> bool {
        if self == Action::Level {
            return key.code == act::SOFTER;
        }
        matches!(
            self,
            Action::Choose
                | Action::Locate
                | Action::Tempo
                | Action::Octave
                | Action::Velocity
                | Action::Move
                | Action::Change
        )
    }
}

#[cfg(test)]
mod tests;
