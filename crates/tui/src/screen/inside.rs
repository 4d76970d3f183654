//! Moving, confirming and going back in whatever is open on top.

use super::leave::Saving;
use super::{Effect, Overlay, Question, Screen, View};
use crate::action::{Move, Vertical};
use crate::desk::DeskState;
use crate::form::{Filled, Form};
use crate::keymap::Need;
use chaconne_engine::Command;

impl Screen {
    pub(super) fn move_on_top(&mut self, to: Move, state: &DeskState, out: &mut Vec<Effect>) {
        let size = self.size;
        match self.overlays.top_mut() {
            Some(Overlay::Feel(pick)) => pick.go(to),
            Some(Overlay::Grooves(pick)) => pick.go(to, &state.status.song),
            Some(Overlay::Sections(pick)) => pick.go(to, &state.status),
            Some(Overlay::Sounds(pick)) => pick.go(to, out),
            Some(Overlay::SectionEdits(menu)) => menu.go(to),
            Some(Overlay::Key(open)) => open.go(to),
            Some(Overlay::Keys(_)) => self.move_in_keys_box(to),
            Some(Overlay::Notes(menu)) => menu.go(to, &mut self.notes.numbers),
            Some(Overlay::Lanes(_)) => self.move_in_lanes(to),
            Some(Overlay::Ramp(pick)) => pick.go(to, out),
            Some(Overlay::Finder(finder)) => finder.go(to),
            Some(Overlay::Files(pick)) => pick.go(to),
            Some(Overlay::Comparison(page)) => page.go(to),
            Some(Overlay::Help(page)) => page.scroll(to, size),
            None | Some(Overlay::Piano) => self.move_in_view(to, state, out),
            Some(Overlay::Form(_) | Overlay::Question(_)) => {}
        }
    }

    /// Moves the cursor of the view.
    fn move_in_view(&mut self, to: Move, state: &DeskState, out: &mut Vec<Effect>) {
        match self.view {
            // Their cursor is the chosen track.
            View::Loop | View::Levels | View::Ports => {}
            View::Layers => self.move_in_layers(to, state),
            View::Notes => self.arrow_in_notes(to, state, out),
            View::Form => self.move_in_song_form(to, state),
        }
    }

    /// Goes to the next field or setting, or the previous one; from the last to the first.
    pub(super) fn step_field(&mut self, way: Vertical) {
        match self.overlays.top_mut() {
            Some(Overlay::Form(form)) => form.step(way),
            Some(Overlay::Feel(pick)) => pick.step(way),
            Some(Overlay::Ramp(pick)) => pick.step(way),
            Some(Overlay::Keys(_)) => self.step_in_keys_box(way),
            _ => {}
        }
    }

    pub(super) fn on_form(&mut self, change: impl FnOnce(&mut Form)) {
        if let Some(Overlay::Form(form)) = self.overlays.top_mut() {
            change(form);
        }
    }

    pub(super) fn clear(&mut self) {
        match self.overlays.top_mut() {
            Some(Overlay::Form(form)) => form.clear(),
            Some(Overlay::Sounds(pick)) => pick.clear(),
            Some(Overlay::Finder(finder)) => finder.clear(),
            Some(Overlay::Files(pick)) => pick.clear(),
            Some(Overlay::Help(page)) => page.clear(self.size),
            None
            | Some(
                Overlay::Piano
                | Overlay::Feel(_)
                | Overlay::Sections(_)
                | Overlay::SectionEdits(_)
                | Overlay::Key(_)
                | Overlay::Keys(_)
                | Overlay::Grooves(_)
                | Overlay::Notes(_)
                | Overlay::Lanes(_)
                | Overlay::Ramp(_)
                | Overlay::Comparison(_)
                | Overlay::Question(_),
            ) => {}
        }
    }

    /// Accepts what is on top and closes it, if it can be accepted. The form of a save closes once the
    /// save has gone well.
    pub(super) fn confirm(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        match self.overlays.top_mut() {
            Some(Overlay::Help(page)) => page.end_typing(),
            Some(Overlay::Form(_)) => self.confirm_form(state, out),
            Some(Overlay::Feel(_)) => self.confirm_feel(),
            Some(Overlay::Grooves(_)) => self.give_groove(state, out),
            Some(Overlay::Sections(_)) => self.confirm_section(state, out),
            Some(Overlay::Sounds(_)) => self.confirm_sound(state, out),
            Some(Overlay::SectionEdits(_)) => self.confirm_section_menu(state, out),
            Some(Overlay::Key(_)) => self.confirm_key_box(state, out),
            Some(Overlay::Keys(_)) => self.confirm_keys_box(state, out),
            Some(Overlay::Notes(_)) => self.confirm_notes_menu(state, out),
            Some(Overlay::Lanes(_)) => self.confirm_lanes(),
            Some(Overlay::Ramp(_)) => self.confirm_ramp(out),
            Some(Overlay::Finder(_)) => self.confirm_finder(state, out),
            Some(Overlay::Files(_)) => self.confirm_file(state, out),
            None | Some(Overlay::Piano | Overlay::Comparison(_) | Overlay::Question(_)) => {}
        }
    }

    /// Closes what is on top and leaves everything as it was. If the name just given belongs to a
    /// file, returns to the form.
    pub(super) fn cancel(&mut self, out: &mut Vec<Effect>) {
        if let Some(Overlay::Help(page)) = self.overlays.top_mut()
            && page.is_typing()
        {
            return page.drop_search();
        }
        match self.overlays.close() {
            Some(Overlay::Question(Question::Replace { form: Some(form), .. })) => {
                self.overlays.open(Overlay::Form(*form));
            }
            Some(Overlay::Question(question)) => {
                self.leaving = None;
                match question {
                    Question::Replace { .. } => self.say("Not saved."),
                    Question::ReplaceExport { .. } => self.say("Not exported."),
                    Question::Leave(_) | Question::Export(_) | Question::Rescue(_) => {}
                }
            }
            Some(Overlay::Form(_)) => self.leaving = None,
            Some(Overlay::Feel(mut pick)) => pick.put_back(out),
            Some(Overlay::Lanes(pick)) => self.put_lane_back(&pick),
            Some(Overlay::Ramp(_)) => {
                out.push(Effect::Command(Command::EndTry { keep: false }));
            }
            Some(Overlay::Sounds(pick)) => pick.end_audition(out),
            Some(Overlay::Keys(open)) => self.cancel_keys_box(open, out),
            None
            | Some(
                Overlay::Piano
                | Overlay::Sections(_)
                | Overlay::SectionEdits(_)
                | Overlay::Key(_)
                | Overlay::Grooves(_)
                | Overlay::Notes(_)
                | Overlay::Finder(_)
                | Overlay::Files(_)
                | Overlay::Comparison(_)
                | Overlay::Help(_),
            ) => {}
        }
    }

    fn confirm_form(&mut self, state: &DeskState, out: &mut Vec<Effect>) {
        let Some(Overlay::Form(form)) = self.overlays.top_mut() else { return };
        match form.accept() {
            None => {}
            Some(Filled::NewSong(spec)) => {
                self.overlays.close();
                if self.facts(state).meet(Need::Moving) {
                    out.push(Effect::Command(Command::Stop));
                }
                out.push(Effect::NewSong(spec));
            }
            Some(Filled::NewTrack { name, drums, program }) => {
                self.overlays.close();
                out.push(Effect::Command(Command::AddTrack { name, drums, program }));
            }
            Some(Filled::Section(spec)) => self.take_section(&spec, state, out),
            Some(Filled::Arrange(arrange)) => self.take_arrange(arrange, state, out),
            Some(Filled::Track(spec)) => self.take_track(spec, state, out),
            Some(Filled::Song(spec)) => self.take_song(spec, state, out),
            Some(Filled::Layer(spec)) => self.take_layer(spec, state, out),
            Some(Filled::ChordKey(chord)) => {
                self.overlays.close();
                self.put_chord(chord, out);
            }
            Some(Filled::Groove(spec)) => self.take_the_groove(spec, state, out),
            Some(Filled::GrooveName(of, name)) => self.name_the_groove((of, name), state, out),
            Some(Filled::SongForm(typed)) => self.take_song_form(&typed, state, out),
            Some(Filled::Chords(letter, typed)) => self.take_chords(letter, &typed, state, out),
            Some(Filled::Export(spec)) => {
                self.overlays.close();
                self.export(spec, out);
            }
            Some(Filled::SaveAs(file)) => {
                form.is_waiting = true;
                self.give_title(&file, state, out);
                self.saving = Saving { file: Some(file), before: None };
                self.save_now(false, state, out);
            }
        }
    }
}
