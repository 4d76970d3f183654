//! What is under the cursor, in a few sentences: in a box its setting, in a view its track, layer, note or
//! section.

use super::super::{Overlay, Screen, View};
use crate::action::Arrows;
use crate::desk::DeskState;
use crate::key_names::{Naming, key_name};
use crate::manual::About;
use crate::numbers::tempo_text;
use crate::text::plural;
use chaconne_song::Letter;

impl Screen {
    /// What is under the cursor, and what can be done with it; `None` if nothing is.
    pub(super) fn under_cursor(&self, state: &DeskState) -> Option<About> {
        let part = self.part();
        let about = |name: &str, sentence: &str| {
            Some(About { part, name: name.to_string(), sentence: sentence.to_string() })
        };
        match self.overlays.top() {
            None => self.in_view(state).map(|(name, sentence)| About { part, name, sentence }),
            Some(Overlay::Form(form)) => {
                about(form.fields.get(form.focus)?.label, form.about_field())
            }
            Some(Overlay::Feel(pick)) => about(pick.field.name(), pick.field.sentence()),
            Some(Overlay::SectionEdits(menu)) => {
                let row = menu.row()?;
                about(row.label, row.sentence)
            }
            Some(Overlay::Notes(menu)) => {
                let rows = menu.rows();
                let row = rows.get(menu.at)?;
                about(row.label, row.sentence)
            }
            Some(Overlay::Ramp(pick)) => about(pick.field.name(), pick.field.sentence()),
            Some(Overlay::Keys(open)) => about(open.field.name(), open.field.sentence()),
            Some(Overlay::Finder(finder)) => {
                let entry = finder.chosen()?;
                about(&entry.key_words(self.keymap), entry.binding.sentence)
            }
            Some(
                Overlay::Piano
                | Overlay::Files(_)
                | Overlay::Comparison(_)
                | Overlay::Key(_)
                | Overlay::Grooves(_)
                | Overlay::Sections(_)
                | Overlay::Sounds(_)
                | Overlay::Lanes(_)
                | Overlay::Question(_)
                | Overlay::Help(_),
            ) => None,
        }
    }

    /// What is under the cursor of the view: a name, and sentences with the ids of actions in braces.
    fn in_view(&self, state: &DeskState) -> Option<(String, String)> {
        match self.view {
            View::Loop => self.about_track(state, &["{feel} sets its feel, {edit-track} its name and channel."]),
            View::Levels => self.about_track(
                state,
                &["{volume-down} and {volume-up} set its volume, {pan-left} and {pan-right} its pan."],
            ),
            View::Ports => self.about_track(state, &["{edit-track} chooses the port it plays on."]),
            View::Layers => self.about_layer(state),
            View::Notes => self.about_notes(state),
            View::Form => self.about_section(state),
        }
    }

    fn about_track(&self, state: &DeskState, last: &[&str]) -> Option<(String, String)> {
        let (status, track) = (&state.status, self.chosen_track(state)?);
        let mut said = vec![
            match (status.armed == Some(track.id), status.recording) {
                (true, true) => "It is armed: you play it, and you are recording it.",
                (true, false) => "It is armed: you play it, and {record} records on it.",
                (false, _) => {
                    "It is not armed: {arm} arms it, so that you play it and record on it."
                }
            }
            .to_string(),
        ];
        let section = status.song.section(status.section)?;
        let layers = status.song.layers_of(section, track.id).count();
        if layers > 0 {
            let layers_here = plural(layers, "layer");
            said.push(format!("It has {layers} {layers_here} here: {{layers}} shows them."));
        }
        if track.mute {
            said.push("It is muted: {mute} unmutes it.".into());
        }
        said.extend(last.iter().map(ToString::to_string));
        Some((track.name.clone(), said.join(" ")))
    }

    fn about_layer(&self, state: &DeskState) -> Option<(String, String)> {
        let stack = self.stack(state)?;
        let at = self.layers.chosen(&stack)?;
        let ((pass, muted), number) = (&stack.layers[at], stack.layers.len() - at);
        let notes = pass.notes().len();
        let mut said = vec![format!("A pass with {notes} {}.", plural(notes, "note"))];
        if *muted {
            said.push("It is muted: {mute-layer} unmutes it.".into());
        }
        if !pass.covers.is_empty() {
            said.push("It replaces the layers under it where it was recorded.".into());
        }
        let others = self.sharing(state, stack.section, pass.id);
        if !others.is_empty() {
            said.push(format!(
                "Section {others} shares it, so a change is heard there too: {{own-layer}} makes it this \
                 section's own."
            ));
        }
        said.push("{layer-feel} gives it a feel of its own, {remove-layer} removes it.".into());
        Some((format!("layer {number}"), said.join(" ")))
    }

    /// The letters of the other sections with a pass, e.g. `B, C`.
    fn sharing(&self, state: &DeskState, here: Letter, pass: chaconne_song::PassId) -> String {
        let others = state.status.song.sections_with(pass).map(|section| section.letter);
        let others: Vec<String> =
            others.filter(|letter| *letter != here).map(|letter| letter.to_string()).collect();
        others.join(", ")
    }

    fn about_notes(&self, state: &DeskState) -> Option<(String, String)> {
        let (notes, sheet) = (&self.notes, self.notes.sheet.as_ref()?);
        let place = sheet.place_of(notes.at);
        let naming = Naming::of(&state.status.song, &sheet.section, &sheet.track);
        if notes.arrows == Arrows::Lane {
            let name = notes.lane.long_name();
            let said = "The lane shows this under the notes; {choose-lane} chooses something else. \
                {arrow-up} and {arrow-down} change what is at the cursor, and {range} at two places \
                draws a ramp between them.";
            return Some((name, said.to_string()));
        }
        let base = sheet.base(state.status.round);
        let Some(lying) = notes.on.and_then(|name| sheet.nearest(name, notes.at, base)) else {
            let name = key_name(notes.key, naming);
            return Some((name, format!("There is no note at {place}: {{draw}} draws one.")));
        };
        let stroke = lying.note.stroke();
        let moved = match lying.played() == lying.on {
            true => "It is heard where you played it.",
            false => "The feel or an edit has moved it from where you played it.",
        };
        let said = format!(
            "A note with velocity {}. {moved} {{move-notes}} lets the arrows move it, {{note-velocity}} \
             makes it louder or softer, {{delete-notes}} deletes it.",
            stroke.velocity.get()
        );
        Some((key_name(stroke.key, naming), said))
    }

    fn about_section(&self, state: &DeskState) -> Option<(String, String)> {
        let status = &state.status;
        let section = status.song.sections.get(self.song_form.chosen(status))?;
        let metre = section.metre.first();
        let bars = section.metre.bars();
        let tempo = tempo_text(section.tempo.first(), metre.tempo_unit());
        let said = format!(
            "{bars} {} of {metre} at tempo {tempo}. {{go}} goes to it, {{edit-section}} changes it, and \
             {{append}} adds it to the end of the form.",
            plural(bars as usize, "bar")
        );
        Some((format!("section {}", section.letter), said))
    }
}
