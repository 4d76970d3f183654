//! What each action does: to the screen's own state, or as effects for the desk.
//!
//! No key is known here: whatever asks for the same action gets the same. An action without an
//! arm does not compile.

use super::{Effect, GridPick, HelpPage, Next, Overlay, Screen, SectionPick, SoundPick};
use crate::action::{Action, Bar, Vertical};
use crate::axis::SIXTEENTH;
use crate::desk::{DeskState, LevelStep};
use crate::form::Form;
use crate::keymap::{Need, need_of};
use crate::numbers;
use chaconne_engine::{Click, Command, Mode, Rounds, Status};
use chaconne_song::Track;
use chaconne_time::{NoteValue, Tick};
use std::sync::Arc;

impl Screen {
    /// Does what was asked for, where it applies; else says what is missing.
    pub fn ask(&mut self, action: Action, state: &DeskState, out: &mut Vec<Effect>) {
        match self.applies(action, state) || action.is_judged_by_the_engine() {
            true => self.act(action, state, out),
            false => self.say(need_of(action).missing()),
        }
    }

    /// Whether an action applies as things stand.
    pub(super) fn applies(&self, action: Action, state: &DeskState) -> bool {
        self.facts(state).meet(need_of(action))
    }

    fn act(&mut self, action: Action, state: &DeskState, out: &mut Vec<Effect>) {
        let status = &state.status;
        let mut ask = |command| out.push(Effect::Command(command));
        match action {
            Action::Play => ask(Command::Play),
            Action::Stop => ask(Command::Stop),
            Action::Continue => ask(Command::Continue),
            Action::Locate(bar) => out.extend(locate(status, bar)),
            Action::Record(on) => ask(Command::Record(on)),
            Action::Keep => ask(Command::Keep),
            Action::Undo => ask(Command::Undo),
            Action::Redo => ask(Command::Redo),
            Action::RemovePass => ask(Command::RemoveTop),
            Action::Tap => ask(Command::Tap),
            Action::Silence => ask(Command::Panic),
            Action::CountIn(bars) => ask(Command::CountIn(bars)),
            Action::NextMode => ask(Command::Mode(next_mode(status.mode))),
            Action::NextRounds => ask(Command::Rounds(next_rounds(status.rounds))),
            Action::NextClick => ask(Command::Click(next_click(status.click))),
            Action::Tempo(way) => ask(next_tempo(status, way)),
            Action::Arm => out.extend(self.chosen.map(Command::Arm).map(Effect::Command)),
            Action::Mute => self.mute(state, out),
            Action::Solo => self.solo(state, out),
            Action::Quantise => self.quantise(state, out),
            Action::Choose(way) => self.choose(way, state, out),
            Action::AddTrack => {
                self.open(Overlay::Form(Form::new_track(&status.song, &state.kits)))
            }
            Action::ChooseGrid => self.choose_grid(state),
            Action::ChooseSound => self.choose_sound(state),
            Action::ChooseSection => self.open(Overlay::Sections(SectionPick::new(status))),
            Action::Piano(on) => self.turn_piano(on),
            Action::Octave(way) => self.piano.shift_octave(way),
            Action::Velocity(way) => self.piano.shift_velocity(way),
            Action::Zoom(detail) => self.zoom(detail, state),
            Action::Page(side) => self.turn_page(side, state),
            Action::Level(step) => self.change_level(step, out),
            Action::Save => self.save(state, out),
            Action::NewSong => self.leave_for(Next::NewSong, state, out),
            Action::Quit => self.leave_for(Next::Quit, state, out),
            Action::Suspend => self.suspend(state, out),
            Action::Redraw => out.push(Effect::Redraw),
            Action::Help => self.open(Overlay::Help(HelpPage::default())),
            Action::Move(to) => self.move_on_top(to, state, out),
            Action::Field(way) => self.on_form(|form| form.step(way)),
            Action::Adjust(side) => self.on_form(|form| form.adjust(side)),
            Action::Clear => self.clear(),
            Action::Confirm => self.confirm(state, out),
            Action::Cancel => self.cancel(state, out),
            Action::Answer(answer) => self.answer(answer, state, out),
        }
    }

    fn open(&mut self, overlay: Overlay) {
        self.overlays.open(overlay);
    }

    fn turn_piano(&mut self, on: bool) {
        match on {
            true if self.overlays.has_piano() => {}
            true => self.open(Overlay::Piano),
            false => self.overlays.remove_piano(),
        }
    }

    pub(super) fn chosen_track<'a>(&self, state: &'a DeskState) -> Option<&'a Arc<Track>> {
        state.status.song.track(self.chosen?)
    }

    fn mute(&self, state: &DeskState, out: &mut Vec<Effect>) {
        let mute = |track: &Arc<Track>| Command::MuteTrack(track.id, !track.mute);
        out.extend(self.chosen_track(state).map(mute).map(Effect::Command));
    }

    fn solo(&self, state: &DeskState, out: &mut Vec<Effect>) {
        let is_soloed = |track: &Track| state.status.solo_tracks.contains(&track.id);
        let solo = |track: &Arc<Track>| Command::SoloTrack(track.id, !is_soloed(track));
        out.extend(self.chosen_track(state).map(solo).map(Effect::Command));
    }

    fn choose(&mut self, way: Vertical, state: &DeskState, out: &mut Vec<Effect>) {
        let tracks = &state.status.song.tracks;
        let Some(at) = tracks.iter().position(|track| Some(track.id) == self.chosen) else {
            return;
        };
        let next = match way {
            Vertical::Up => at.saturating_sub(1),
            Vertical::Down => (at + 1).min(tracks.len() - 1),
        };
        self.chosen = Some(tracks[next].id);
        if !state.status.recording && state.status.armed != self.chosen {
            out.push(Effect::Command(Command::Arm(tracks[next].id)));
        }
    }

    fn choose_grid(&mut self, state: &DeskState) {
        if let Some(track) = self.chosen_track(state) {
            let pick = GridPick::new(track, self.last_grid(track));
            self.open(Overlay::Grids(pick));
        }
    }

    fn choose_sound(&mut self, state: &DeskState) {
        if let Some(track) = self.chosen_track(state) {
            let pick = SoundPick::new(track, &state.kits);
            self.open(Overlay::Sounds(pick));
        }
    }

    /// The grid a track had last, or sixteenths.
    fn last_grid(&self, track: &Track) -> NoteValue {
        let known = track.feel.grid.or_else(|| self.last_grids.get(&track.id).copied());
        known.unwrap_or(NoteValue::SIXTEENTH)
    }

    fn quantise(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(track) = self.chosen_track(state) else { return };
        let mut feel = track.feel;
        feel.grid = match feel.grid {
            Some(_) => None,
            None => Some(self.last_grid(track)),
        };
        self.last_grids.insert(track.id, self.last_grid(track));
        out.push(Effect::Command(Command::Feel(track.id, feel)));
    }

    fn change_level(&mut self, step: LevelStep, out: &mut Vec<Effect>) {
        out.push(Effect::Level(step));
        self.level_asked = true;
    }

    fn suspend(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        out.extend(self.piano.lift_all().into_iter().map(Effect::Play));
        if self.facts(state).meet(Need::Moving) {
            out.push(Effect::Command(Command::Stop));
        }
        out.push(Effect::Suspend);
    }
}

/// The command that goes to another bar.
fn locate(status: &Status, bar: Bar) -> Option<Effect> {
    let (metre, here) = (&status.song.section(status.section)?.metre, status.in_section);
    let at = match bar {
        Bar::Top => Tick::ZERO,
        Bar::Before if here <= Tick::ZERO => Tick::ZERO,
        Bar::Before => metre.bar_start(metre.bar_at(here - Tick(1))),
        Bar::After => {
            // A position is a whole sixteenth: it may lie just before the bar that was meant.
            let bar = metre.bar_at(here + SIXTEENTH - Tick(1));
            metre.bar_start((bar + 1).min(i64::from(metre.bars())))
        }
    };
    Some(Effect::Command(Command::Locate(at)))
}

fn next_mode(mode: Mode) -> Mode {
    match mode {
        Mode::Layer => Mode::Replace,
        Mode::Replace => Mode::Punch,
        Mode::Punch => Mode::Layer,
    }
}

fn next_rounds(rounds: Rounds) -> Rounds {
    match rounds {
        Rounds::All => Rounds::Newest,
        Rounds::Newest => Rounds::One,
        Rounds::One => Rounds::All,
    }
}

fn next_click(click: Click) -> Click {
    match click {
        Click::CountIn => Click::Recording,
        Click::Recording => Click::Always,
        Click::Always => Click::CountIn,
    }
}

fn next_tempo(status: &Status, way: Vertical) -> Command {
    let unit = status.metre.tempo_unit();
    Command::Tempo(numbers::next_tempo(status.tempo, unit, way == Vertical::Up))
}
