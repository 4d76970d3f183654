//! What each action does: to the screen's own state, or as effects for the desk.
//!
//! No key is known here: whatever asks for the same action gets the same. An action without an
//! arm does not compile.

use super::{Awaited, Effect, FeelPick, Next, Overlay, Screen, SectionPick, SoundPick};
use crate::action::{Action, Bar, Vertical};
use crate::desk::{DeskState, LevelStep};
use crate::form::Form;
use crate::keymap::{Need, needs_of};
use chaconne_engine::{Command, Setting};
use chaconne_song::{Track, TrackId};
use chaconne_time::{NoteValue, Tick};
use std::sync::Arc;

impl Screen {
    /// Does what was asked for if it applies; otherwise says why not.
    pub fn ask(&mut self, action: Action, state: &DeskState, out: &mut Vec<Effect>) {
        match self.applies(action, state) || action.is_judged_by_the_engine() {
            true => self.act(action, state, out),
            false => {
                let need = needs_of(action).next().unwrap_or(Need::Nothing);
                self.say_with_keys(self.facts(state).missing(need));
            }
        }
    }

    /// Whether an action applies now.
    pub(super) fn applies(&self, action: Action, state: &DeskState) -> bool {
        needs_of(action).any(|need| self.facts(state).meet(need))
    }

    fn act(&mut self, action: Action, state: &DeskState, out: &mut Vec<Effect>) {
        let status = &state.status;
        let mut ask = |command| out.push(Effect::Command(command));
        match action {
            Action::PlayOrStop => ask(Command::Next(Setting::Playing)),
            Action::Continue => ask(Command::Continue),
            Action::Locate(Bar::Top) => ask(Command::Locate(Tick::ZERO)),
            Action::Locate(Bar::Before) => ask(Command::LocateBars(-1)),
            Action::Locate(Bar::After) => ask(Command::LocateBars(1)),
            Action::Record => ask(Command::Next(Setting::Recording)),
            Action::RecordAgain => ask(Command::RecordAgain),
            Action::Keep => ask(Command::Keep),
            Action::Undo => ask(Command::Undo),
            Action::Redo => ask(Command::Redo),
            Action::RemovePass => ask(Command::RemoveTop),
            Action::TapExactly => out.push(Effect::Command(Command::TapExactly)),
            Action::ByHand => ask(Command::Next(Setting::ByHand)),
            Action::Tap => out.push(Effect::Tap { at: self.came }),
            Action::Silence => ask(Command::Panic),
            Action::CountIn(bars) => ask(Command::CountIn(bars)),
            Action::NextMode => ask(Command::Next(Setting::Mode)),
            Action::NextRounds => ask(Command::Next(Setting::Rounds)),
            Action::NextClick => ask(Command::Next(Setting::Click)),
            Action::Tempo(Vertical::Up) => ask(Command::StepTempo(1)),
            Action::Tempo(Vertical::Down) => ask(Command::StepTempo(-1)),
            Action::SongTempo(Vertical::Up) => ask(Command::StepSongTempo(1)),
            Action::SongTempo(Vertical::Down) => ask(Command::StepSongTempo(-1)),
            Action::Arm => self.arm(self.chosen, out),
            Action::Mute => self.next(Setting::MuteTrack, out),
            Action::Solo => {
                let status = &state.status;
                let track = self.chosen.and_then(|id| status.song.track(id));
                if track.is_some_and(|it| it.mute && !status.solo_tracks.contains(&it.id)) {
                    self.say_with_keys("The track is muted: {mute} unmutes it.");
                }
                self.next(Setting::SoloTrack, out);
            }
            Action::Quantise => self.quantise(state, out),
            Action::Show(view) => self.go_to(view),
            Action::ShowBeside(side) => self.go_beside(side),
            Action::Level(action) => self.act_on_levels(action, state, out),
            Action::Layer(action) => self.act_on_layer(action, state, out),
            Action::Groove(action) => self.act_on_groove(action, state, out),
            Action::Note(action) => self.act_on_notes(action, state, out),
            Action::PlayForm => self.play_form(state, out),
            Action::Section(action) => self.act_on_section(action, state, out),
            Action::Lead(action) => self.lead(action, out),
            Action::Choose(way) => self.choose(way, state, out),
            Action::AddTrack => {
                self.open(Overlay::Form(Form::new_track(&status.song, &state.kits)))
            }
            Action::Track(action) => self.act_on_track(action, state, out),
            Action::EditSong => self.open(Overlay::Form(Form::edit_song(&status.song))),
            Action::SetFeel => self.set_feel(state),
            Action::SetKeys => self.open_keys_box(state),
            Action::Keys(action) => self.act_on_keys(action, state, out),
            Action::ChooseSound => self.choose_sound(state),
            Action::ChooseSection => self.open(Overlay::Sections(SectionPick::new(status))),
            Action::Piano(on) => self.turn_piano(on),
            Action::NextLength => self.piano.next_length(),
            Action::Octave(way) => {
                self.shift_octave(way);
                self.settle_octave(state);
            }
            Action::Velocity(way) => self.piano.shift_velocity(way),
            Action::Zoom(detail) => self.zoom(detail, state),
            Action::Page(side) => self.turn_page(side, state),
            Action::RestartTiming => out.push(Effect::RestartTiming),
            Action::SoundLevel(step) => self.change_level(step, out),
            Action::Save => self.save(state, out),
            Action::SaveAs => self.save_as(state),
            Action::Export => self.ask_to_export(state),
            Action::OpenSong => self.ask_for_song(out),
            Action::NewSong => self.leave_for(Next::NewSong, state, out),
            Action::Quit => self.leave_for(Next::Quit, state, out),
            Action::Suspend => self.suspend(state, out),
            Action::Redraw => out.push(Effect::Redraw),
            Action::Find => self.open_finder(state),
            Action::Help => self.open_help(state),
            Action::SearchHelp => self.search_help(),
            Action::NextMatch(way) => self.next_match(way),
            Action::Tour(true) => self.start_tour(state),
            Action::Tour(false) => self.leave_tour(),
            Action::Move(to) => self.move_on_top(to, state, out),
            Action::Field(way) => self.step_field(way),
            Action::Adjust(side) => self.adjust(side, out),
            Action::Clear => self.clear(),
            Action::Suggest => self.suggest_chords(state),
            Action::Confirm => self.confirm(state, out),
            Action::Cancel => self.cancel(out),
            Action::Answer(answer) => self.answer(answer, state, out),
        }
    }

    pub(super) fn open(&mut self, overlay: Overlay) {
        self.overlays.open(overlay);
    }

    pub(super) fn turn_piano(&mut self, on: bool) {
        match on {
            true if self.overlays.has_piano() => {}
            true => self.open(Overlay::Piano),
            false => self.overlays.remove_piano(),
        }
    }

    pub(super) fn chosen_track<'a>(&self, state: &'a DeskState) -> Option<&'a Arc<Track>> {
        state.status.song.track(self.chosen?)
    }

    /// Moves a setting of the chosen track on. The engine knows what it is now; what the screen knows
    /// may be a moment old.
    fn next(&self, setting: impl FnOnce(TrackId) -> Setting, out: &mut Vec<Effect>) {
        let next = |track| Effect::Command(Command::Next(setting(track)));
        out.extend(self.chosen.map(next));
    }

    fn arm(&mut self, track: Option<TrackId>, out: &mut Vec<Effect>) {
        self.arms.extend(track);
        out.extend(track.map(Command::Arm).map(Effect::Command));
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
        let track = tracks[next].id;
        // An earlier request may still be on its way, so a move always asks again.
        let is_armed = next == at && state.status.armed == Some(track);
        match is_armed {
            true => self.chosen = Some(track),
            false => self.choose_track(track, state, out),
        }
    }

    /// Chooses a track, and arms it unless something is being recorded.
    pub(super) fn choose_track(
        &mut self,
        track: TrackId,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        self.chosen = Some(track);
        if !state.status.recording {
            self.arm(self.chosen, out);
        }
    }

    fn set_feel(&mut self, state: &DeskState) {
        if let Some(track) = self.chosen_track(state) {
            let pick = FeelPick::new(track, &state.status.song);
            self.open(Overlay::Feel(pick));
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
        let (id, grid) = (track.id, self.last_grid(track));
        self.last_grids.insert(id, grid);
        out.push(Effect::Command(Command::Next(Setting::Quantise(id, grid))));
    }

    fn change_level(&mut self, step: LevelStep, out: &mut Vec<Effect>) {
        out.push(Effect::Level(step));
        self.awaited = Some(Awaited::Level);
    }

    /// Says how the song goes on, once the shell has brought the program back.
    pub fn welcome_back(&mut self) {
        self.say_with_keys(
            "Back, and stopped: {play} plays from the top, {continue} from where it was.",
        );
    }

    fn suspend(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        out.extend(self.piano.lift_all().into_iter().map(Effect::Play));
        if self.facts(state).meet(Need::Moving) {
            out.push(Effect::Command(Command::Stop));
        }
        out.push(Effect::Suspend);
    }
}
