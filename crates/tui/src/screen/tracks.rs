//! Changes of the list of tracks and of the song as a whole. Each is one step of undo.

use super::{Awaited, Effect, Overlay, Screen};
use crate::action::{TrackAction, Vertical};
use crate::desk::DeskState;
use crate::form::{Form, LayerSpec, SongSpec, TrackSpec};
use crate::text;
use chaconne_engine::Command;
use chaconne_song::{Commit, Edit, Label, PassEdit, SectionEdit, Song, TrackEdit, TrackId};

impl Screen {
    pub(super) fn act_on_track(
        &mut self,
        action: TrackAction,
        state: &DeskState,
        out: &mut Vec<Effect>,
    ) {
        let song = &state.status.song;
        let Some(at) = song.tracks.iter().position(|track| Some(track.id) == self.chosen) else {
            return;
        };
        let track = &song.tracks[at];
        match action {
            TrackAction::Edit => {
                self.open(Overlay::Form(Form::edit_track(&state.status.song, track)))
            }
            TrackAction::Remove if state.status.recording => {
                self.say_with_keys("Stop recording first: press {record}.");
            }
            TrackAction::Remove => {
                let next = song.tracks.get(at + 1).or(at.checked_sub(1).map(|up| &song.tracks[up]));
                self.chosen = next.map(|track| track.id);
                out.push(Effect::Command(Command::Edit(removal(song, track.id))));
            }
            TrackAction::Shift(way) => {
                let to = match way {
                    Vertical::Up => at.checked_sub(1),
                    Vertical::Down => Some(at + 1).filter(|&down| down < song.tracks.len()),
                };
                match (to, way) {
                    (Some(to), _) => {
                        let edit = Edit::MoveTrack(track.id, to);
                        out.push(Effect::Command(Command::EditOn(Commit::of(edit))));
                    }
                    (None, Vertical::Up) => self.say("This is the first track."),
                    (None, Vertical::Down) => self.say("This is the last track."),
                }
            }
        }
    }

    /// Changes a track, or says in the form why not.
    pub(super) fn take_track(&mut self, spec: TrackSpec, state: &DeskState, out: &mut Vec<Effect>) {
        let song = &state.status.song;
        let Some(track) = song.track(spec.of) else {
            self.overlays.close();
            return;
        };
        let mut edits = Vec::new();
        if spec.name != track.name {
            edits.push(TrackEdit::Name(spec.name));
        }
        if spec.drums == track.pitched {
            edits.push(TrackEdit::Pitched(!spec.drums));
        }
        if spec.channel != track.channel {
            edits.push(TrackEdit::Channel(spec.channel));
        }
        if spec.port != track.port {
            edits.push(TrackEdit::Port(spec.port));
        }
        if spec.compass != track.compass {
            edits.push(TrackEdit::Compass(spec.compass));
        }
        let edits = edits.into_iter().map(|edit| Edit::Track(spec.of, edit)).collect();
        self.take_edits(edits, song, out);
    }

    /// Changes the song as a whole, or says in the form why not.
    pub(super) fn take_song(&mut self, spec: SongSpec, state: &DeskState, out: &mut Vec<Effect>) {
        let song = &state.status.song;
        let mut edits = Vec::new();
        if spec.title != song.title {
            edits.push(Edit::Title(spec.title));
        }
        if spec.key != song.key {
            edits.push(Edit::Key(spec.key));
        }
        if spec.transpose != song.transpose {
            edits.push(Edit::Transpose(spec.transpose));
        }
        let transposes = spec.transpose != song.transpose;
        if self.take_edits(edits, song, out) && transposes {
            self.awaited = Some(Awaited::Transposed);
        }
    }

    /// Names a layer.
    pub(super) fn take_layer(&mut self, spec: LayerSpec, state: &DeskState, out: &mut Vec<Effect>) {
        let song = &state.status.song;
        let known = song.pass(spec.of).is_some_and(|pass| pass.name != spec.name);
        let edit = Edit::Pass(spec.of, PassEdit::Name(spec.name));
        self.take_edits(if known { vec![edit] } else { Vec::new() }, song, out);
    }

    /// Makes the edits of a form one step of undo, if the song accepts them; returns whether it does.
    fn take_edits(&mut self, edits: Vec<Edit>, song: &Song, out: &mut Vec<Effect>) -> bool {
        if edits.is_empty() {
            self.overlays.close();
            return true;
        }
        let commit = Commit::of_all(edits);
        match commit.clone().apply(&mut Song::clone(song)) {
            Err(error) => {
                self.on_form(|form| form.refuse(form.focus, text::sentence(&error.to_string())));
                false
            }
            Ok(_) => {
                self.overlays.close();
                out.push(Effect::Command(Command::Edit(commit)));
                true
            }
        }
    }
}

/// The edits that remove a track with its passes, from every section.
fn removal(song: &Song, id: TrackId) -> Commit {
    let mut edits = Vec::new();
    for section in &song.sections {
        let of_track = song.layers(section).filter(|(_, pass)| pass.track == id);
        let remove = |pass| Edit::Section(section.letter, SectionEdit::Remove(pass));
        edits.extend(of_track.map(|(layer, _)| remove(layer.pass)));
    }
    edits.push(Edit::RemoveTrack(id));
    Commit::new(Label::RemoveTrack, edits)
}
