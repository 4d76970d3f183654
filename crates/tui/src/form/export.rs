//! The form of an export.

use super::save::plain_stem;
use super::{Field, Form, Line, Purpose, Value, text_field};
use crate::desk::{ExportKind, ExportSpec};
use chaconne_song::Song;

const KINDS: &[&str] = &["MIDI", "WAV"];
const FILES: &[&str] = &["one", "each track too"];
/// The indices of the fields.
const KIND: usize = 0;
const TRACKS: usize = 1;
const FILE: usize = 2;
const ENDINGS: [&str; 2] = [".mid", ".wav"];

impl Form {
    /// An export of a song: beside its file, if it has one, else under its title. What is exported is its
    /// form or, if it has none, its first section, once.
    pub fn export(path: Option<&str>, song: &Song) -> Form {
        let stem = path.map(|path| path.strip_suffix(".ron").unwrap_or(path).to_string());
        let stem = stem.unwrap_or_else(|| plain_stem(&song.title));
        let choice =
            |label, hint, words| Field { label, hint, value: Value::Choice { words, at: 0 } };
        let file = format!("{stem}{}", ENDINGS[0]);
        let fields = vec![
            choice("kind", "", KINDS),
            choice("files", "", FILES),
            Field { value: Value::Text(Line::whole(&file)), ..text_field("file", "", "") },
        ];
        let what = match (song.form.is_empty(), song.sections.first()) {
            (true, Some(first)) => format!("Export section {}: no form yet", first.letter),
            _ => format!("Export the form: {}", song.form),
        };
        Form::of(Purpose::Export, what, fields)
    }

    fn chosen_of(&self, field: usize) -> usize {
        match self.fields[field].value {
            Value::Choice { at, .. } => at,
            Value::Text(_) => 0,
        }
    }

    /// Gives the file the ending of its kind, if it has the ending of the other one.
    pub(super) fn follow_kind(&mut self) {
        if self.purpose != Purpose::Export || self.focus != KIND {
            return;
        }
        let kind = self.chosen_of(KIND);
        if let Some(stem) = self.text(FILE).strip_suffix(ENDINGS[1 - kind]) {
            let file = format!("{stem}{}", ENDINGS[kind]);
            self.fields[FILE].value = Value::Text(Line::whole(&file));
        }
    }

    /// The export, with the ending of its kind.
    pub(super) fn export_spec(&self) -> Result<ExportSpec, (usize, String)> {
        let file =
            self.filled(FILE, "The file needs a name.").map_err(|(_, error)| (FILE, error))?;
        let at = self.chosen_of(KIND);
        let lower = file.to_lowercase();
        let known: &[&str] = if at == 0 { &[".mid", ".midi"] } else { &[".wav", ".wave"] };
        let file = match known.iter().any(|ending| lower.ends_with(ending)) {
            true => file,
            false => file + ENDINGS[at],
        };
        let kind = if at == 0 { ExportKind::Midi } else { ExportKind::Wav };
        Ok(ExportSpec { kind, file, tracks: self.chosen_of(TRACKS) == 1, replace: false })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::action::Side;
    use crate::form::Filled;
    use crate::input::Key;
    use crate::testing::empty_song;
    use chaconne_song::{Form as SongForm, Letter};

    #[test]
    fn an_export_lies_beside_the_song_and_its_ending_follows_the_kind() {
        let mut form = Form::export(Some("sketches/low-tide.ron"), &empty_song(4, "4/4"));
        let spec = |form: &mut Form| match form.accept() {
            Some(Filled::Export(spec)) => (spec.kind, spec.file, spec.tracks),
            other => panic!("{other:?}"),
        };
        assert_eq!(spec(&mut form), (ExportKind::Midi, "sketches/low-tide.mid".into(), false));
        form.adjust(Side::Right);
        form.focus = TRACKS;
        form.adjust(Side::Right);
        assert_eq!(spec(&mut form), (ExportKind::Wav, "sketches/low-tide.wav".into(), true));
        form.focus = FILE;
        "mix".chars().for_each(|c| form.type_key(&Key::char(c)));
        assert_eq!(spec(&mut form).1, "mix.wav");
        form.clear();
        assert_eq!(form.accept(), None);
        assert_eq!((form.focus, form.error.as_deref()), (FILE, Some("The file needs a name.")));
    }

    #[test]
    fn a_song_without_a_file_is_exported_under_its_title() {
        let mut form =
            Form::export(None, &Song { title: "Low tide, again".into(), ..empty_song(4, "4/4") });
        let Some(Filled::Export(spec)) = form.accept() else { panic!() };
        assert_eq!(spec.file, "low-tide-again.mid");
    }

    #[test]
    fn an_export_says_which_form_or_section_it_is_of() {
        let mut song = empty_song(4, "4/4");
        assert_eq!(Form::export(None, &song).title, "Export section A: no form yet");
        song.form = SongForm::of(vec![Letter::A, Letter::A]);
        assert_eq!(Form::export(None, &song).title, "Export the form: A A");
    }
}
