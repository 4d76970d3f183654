//! What each action does: to the screen's own state, or as effects for the desk.

use super::{Ask, Effect, GridPick, JumpPick, Next, Screen, SoundPick, Zoom};
use crate::desk::{LevelStep, View};
use crate::form::Form;
use crate::input::{Code, Key};
use crate::keymap::{Action, Need, Scene};
use crate::manual;
use crate::ruler::SIXTEENTH;
use crate::told;
use chaconne_engine::{Click, Command, Mode, Rounds, Status};
use chaconne_song::Track;
use chaconne_time::{NoteValue, Tick};
use std::sync::Arc;

/// The key that turns the sound down; the other one turns it up.
pub(super) const SOFTER: Code = Code::Char('(');

impl Screen {
    /// Does what `key` was bound to.
    pub(super) fn act(&mut self, action: Action, key: &Key, view: &View, out: &mut Vec<Effect>) {
        if let Some(command) = self.plain_command(action, key, view) {
            return out.push(Effect::Command(command));
        }
        match action {
            Action::Choose => self.choose(matches!(key.code, Code::Up | Code::PageUp), view, out),
            Action::AddTrack => self.form = Some(Form::new_track(&view.status.song)),
            Action::PianoOn => self.piano_on = true,
            Action::PianoOff => self.piano_on = false,
            Action::Grid => self.toggle_grid(view, out),
            Action::GridChoice => {
                self.grids = self
                    .chosen_track(view)
                    .map(|track| GridPick::new(track, self.last_grid(track)));
            }
            Action::SoundChoice => {
                self.sounds = self.chosen_track(view).map(|track| SoundPick::new(track));
            }
            Action::Jump => self.jump = Some(JumpPick::new(view)),
            Action::Octave => self.piano.shift_octave(if key.code == Code::Left { -1 } else { 1 }),
            Action::Velocity => self.piano.shift_velocity(key.code == Code::Up),
            Action::Level => self.change_level(key, out),
            Action::Save => self.save(view, out),
            Action::New => self.leave_for(Next::NewSong, view, out),
            Action::Quit => self.leave_for(Next::Quit, view, out),
            Action::Zoom => self.turn_zoom(),
            Action::Help => self.help = Some(0),
            Action::Redraw => out.push(Effect::Redraw),
            Action::Suspend => self.suspend(view, out),
            Action::Move | Action::Change | Action::Accept | Action::Cancel | Action::Clear => {
                self.act_inside(action, key, view, out);
            }
            Action::SaveFirst | Action::Discard => self.answer(action, view, out),
            // All the rest are plain commands.
            _ => {}
        }
    }

    /// The actions that ask the desk for one thing, and change nothing on the screen.
    fn plain_command(&self, action: Action, key: &Key, view: &View) -> Option<Command> {
        let status = &view.status;
        Some(match action {
            Action::Play => Command::Play,
            Action::Stop => Command::Stop,
            Action::Continue => Command::Continue,
            Action::Locate => Command::Locate(bar_beside(status, key.code)?),
            Action::RecordOn => Command::Record(true),
            Action::RecordOff => Command::Record(false),
            Action::Keep => Command::Keep,
            Action::Undo => Command::Undo,
            Action::Redo => Command::Redo,
            Action::TakeOff => Command::TakeOff,
            Action::Tap => Command::Tap,
            Action::Panic => Command::Panic,
            Action::Arm => Command::Arm(self.chosen?),
            Action::Mute => {
                let track = self.chosen_track(view)?;
                Command::MuteTrack(track.id, !track.mute)
            }
            Action::Solo => {
                let track = self.chosen_track(view)?;
                Command::SoloTrack(track.id, !status.solo_tracks.contains(&track.id))
            }
            Action::Lay => Command::Mode(match status.mode {
                Mode::Layer => Mode::Replace,
                Mode::Replace => Mode::Punch,
                Mode::Punch => Mode::Layer,
            }),
            Action::Rounds => Command::Rounds(match status.rounds {
                Rounds::All => Rounds::Newest,
                Rounds::Newest => Rounds::One,
                Rounds::One => Rounds::All,
            }),
            Action::Click => Command::Click(match status.click {
                Click::CountIn => Click::Recording,
                Click::Recording => Click::Always,
                Click::Always => Click::CountIn,
            }),
            Action::Tempo => {
                let up = key.code != Code::Char('-');
                Command::Tempo(told::next_tempo(status.tempo, status.metre.tempo_unit(), up))
            }
            Action::CountIn => match key.code {
                Code::Char(c @ '0'..='4') => Command::CountIn(c as u8 - b'0'),
                _ => return None,
            },
            _ => return None,
        })
    }

    /// The keys of whatever is open over the sketch.
    fn act_inside(&mut self, action: Action, key: &Key, view: &View, out: &mut Vec<Effect>) {
        match (self.scene(), action) {
            (Scene::Form, Action::Move) => {
                if let Some(form) = &mut self.form {
                    form.step(matches!(key.code, Code::Up | Code::BackTab));
                }
            }
            (Scene::Form, Action::Change) => {
                if let Some(form) = &mut self.form {
                    form.type_key(key);
                }
            }
            (Scene::Form, Action::Clear) => {
                if let Some(form) = &mut self.form {
                    form.clear();
                }
            }
            (Scene::Form, Action::Accept) => self.take_form(view, out),
            (Scene::Form, _) => {
                self.form = None;
                self.stay();
            }
            (Scene::Ask, _) => self.stay(),
            (Scene::Grids, _) => self.act_on_grids(action, key, view, out),
            (Scene::Jump, _) => self.act_on_jump(action, key, view, out),
            (Scene::Sounds, _) => self.act_on_sounds(action, key, view, out),
            (Scene::Help, Action::Move) => self.turn_help(key),
            (Scene::Help, _) => self.help = None,
            _ => {}
        }
    }

    pub(super) fn chosen_track<'a>(&self, view: &'a View) -> Option<&'a Arc<Track>> {
        view.status.song.track(self.chosen?)
    }

    fn choose(&mut self, back: bool, view: &View, out: &mut Vec<Effect>) {
        let tracks = &view.status.song.tracks;
        let Some(at) = tracks.iter().position(|track| Some(track.id) == self.chosen) else {
            return;
        };
        let next = if back { at.saturating_sub(1) } else { (at + 1).min(tracks.len() - 1) };
        self.chosen = Some(tracks[next].id);
        if !view.status.recording && view.status.armed != self.chosen {
            out.push(Effect::Command(Command::Arm(tracks[next].id)));
        }
    }

    /// The grid a track had last, or sixteenths.
    fn last_grid(&self, track: &Track) -> NoteValue {
        let known = track.feel.grid.or_else(|| self.last_grids.get(&track.id).copied());
        known.unwrap_or(NoteValue::SIXTEENTH)
    }

    fn toggle_grid(&mut self, view: &View, out: &mut Vec<Effect>) {
        let Some(track) = self.chosen_track(view) else { return };
        let mut feel = track.feel;
        feel.grid = match feel.grid {
            Some(_) => None,
            None => Some(self.last_grid(track)),
        };
        self.last_grids.insert(track.id, self.last_grid(track));
        out.push(Effect::Command(Command::Feel(track.id, feel)));
    }

    fn change_level(&mut self, key: &Key, out: &mut Vec<Effect>) {
        let step = if key.code == SOFTER { LevelStep::Softer } else { LevelStep::Louder };
        out.push(Effect::Level(step));
        self.level_asked = true;
    }

    fn turn_zoom(&mut self) {
        self.zoom = match self.zoom {
            Zoom::Fit => Zoom::Cell(SIXTEENTH),
            Zoom::Cell(cell) if cell < SIXTEENTH * 4 => Zoom::Cell(cell * 2),
            Zoom::Cell(_) => Zoom::Fit,
        };
    }

    fn turn_help(&mut self, key: &Key) {
        let (columns, rows) = self.size;
        let lines = manual::help(columns).len();
        let page = manual::page(rows);
        let last = lines.saturating_sub(page);
        let at = self.help.unwrap_or(0).min(last);
        self.help = Some(match key.code {
            Code::Up => at.saturating_sub(1),
            Code::Down => at + 1,
            Code::PageUp => at.saturating_sub(page),
            Code::PageDown => at + page,
            Code::Home => 0,
            _ => last,
        });
        self.help = self.help.map(|at| at.min(last));
    }

    fn suspend(&mut self, view: &View, out: &mut Vec<Effect>) {
        out.extend(self.piano.lift_all().into_iter().map(Effect::Play));
        if self.facts(view).meet(Need::Moving) {
            out.push(Effect::Command(Command::Stop));
        }
        out.push(Effect::Suspend);
    }

    fn leave_for(&mut self, next: Next, view: &View, out: &mut Vec<Effect>) {
        self.form = None;
        self.help = None;
        let facts = self.facts(view);
        if facts.meet(Need::Unsaved) || (next == Next::Quit && facts.meet(Need::Moving)) {
            self.ask = Some(Ask { next });
        } else {
            self.go(next, out);
        }
    }
}

/// The start of the bar before or after where a stopped transport stands, or the top.
fn bar_beside(status: &Status, code: Code) -> Option<Tick> {
    let (metre, here) = (&status.song.section(status.section)?.metre, status.in_section);
    Some(match code {
        Code::Left if here > Tick::ZERO => metre.bar_start(metre.bar_at(here - Tick(1))),
        Code::Right => {
            // A position is a whole sixteenth: it may lie just before the bar it stands for.
            let bar = metre.bar_at(here + SIXTEENTH - Tick(1));
            metre.bar_start((bar + 1).min(i64::from(metre.bars())))
        }
        _ => Tick::ZERO,
    })
}
