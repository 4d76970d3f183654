//! What the fields of the forms are for, as the help explains them.

use super::{Form, Purpose};

const BARS: &str =
    "How many bars the section has, from 1 to 999. The loop goes round after the last of them.";
const METRE: &str = "The metre, e.g. 4/4, 6/8 or 7/8: 1 to 64 beats, each a whole note divided by 1, 2, 4, 8, \
    16 or 32.";
const METRES: &str = "The metre, e.g. 7/8; one that changes, e.g. 4/4, 3/4 from 5; or with a pickup, e.g. \
    pickup 1/4, 4/4. The pickup is bar 1, and the last bar is shorter by it.";
const TEMPO: &str = "How fast it goes, in beats per minute: quarter notes, but dotted quarters in 6/8, 9/8 and \
    12/8. From 10 to 1000 quarters, e.g. 96 or 96.5. + and - change it later, t taps it.";
const FILE: &str = "The file to write the song to. A name without a folder goes into the folder you started the \
    program from. A file that this program did not write is replaced only if you say so.";
const LETTER: &str =
    "The section's rehearsal letter, A to ZZZ; the form is written with these letters.";

impl Form {
    /// What Enter does with the form, in a word.
    pub fn verb(&self) -> &'static str {
        match self.purpose {
            Purpose::NewSong => "create",
            Purpose::NewTrack | Purpose::Section(None) => "add",
            Purpose::SaveAs => "save",
            Purpose::Export => "export",
            Purpose::Section(Some(_)) | Purpose::Track(_) | Purpose::Song => "change",
            Purpose::SongForm | Purpose::Chords(_) => "write",
            Purpose::Split(_) => "split",
            Purpose::Lift(_) => "copy",
            Purpose::Length(_) | Purpose::Tempo(_) | Purpose::ChordKey(_) => "set",
            Purpose::Layer(_) => "name",
            Purpose::Reshape(..) => "change",
            Purpose::TakeGroove => "take it",
            Purpose::Groove(_) => "rename",
        }
    }

    /// What the field under the cursor is for, in a sentence or two; the words beside it, if there is
    /// no more to say.
    pub fn about_field(&self) -> &'static str {
        let about: &[&str] = match self.purpose {
            Purpose::NewSong => &[
                "What the song is called. The file gets its name from this, too.",
                BARS,
                METRE,
                TEMPO,
                "Which tracks the song starts with: none, drums and bass, a piano in 6/8, or drums, bass, chords and \
                    a lead.",
            ],
            Purpose::NewTrack => &[
                "What the part is called, e.g. bass. The name suggests the kind and the sound.",
                "Pitched, or drums: a drum track plays on channel 10, its keys are drums, and transposing \
                    leaves them alone.",
                "The sound: part of a General MIDI name such as cello, or its number from 1 to 128. Clear \
                    it to leave the choice to the instrument.",
            ],
            Purpose::SaveAs => &[FILE],
            Purpose::Export => &[
                "MIDI: a Standard MIDI File, for other programs. WAV: the sound of the built-in instrument.",
                "One file of the whole song, or also one for each track, in a folder beside it.",
                "The file to write; its folder must exist. A file that exists is replaced only if you say so.",
            ],
            Purpose::Section(_) => &[
                LETTER,
                "A name of your own for the section, e.g. Verse; it may be empty.",
                BARS,
                METRES,
                TEMPO,
                "The key that the section is written in, if it is not that of the song; it does not change what is \
                    played.",
                "By how many semitones the pitched tracks of this section sound higher or lower, besides the song; \
                    or the key that it is to sound in, e.g. to F minor. Drums stay.",
                "Where fermatas stand, bar and beat, e.g. 8.4: at the end of that beat the song waits, with what \
                    sounds there, until you tap t. Exports play on.",
            ],
            Purpose::Track(_) => &[
                "What the part is called.",
                "Pitched, or drums: a track that becomes a drum track gets channel 10, and is not transposed.",
                "The MIDI channel the track plays on, 1 to 16. If it is empty, each note keeps the channel it was \
                    played on.",
                "The name of the port the track plays on, as F7 lists it. Without a name, or if no port has it, the \
                    track plays on the first port.",
                "The lowest and the highest note that its singer or player reaches, e.g. A3 to E5; C4 is middle C. \
                    Y in the view of the form says where the part goes beyond, and which transposition fits.",
            ],
            Purpose::Song => &[
                "What the song is called. Its file keeps its name.",
                "The key that parts are written in, e.g. A minor or Eb major; it does not change what is played.",
                "By how many semitones all pitched tracks sound higher or, if negative, lower; or the key that the song is \
                    to sound in, e.g. to F minor. Drums stay as they are.",
            ],
            Purpose::ChordKey(_) => &[
                "The chord that this key plays, in every key signature: a root and a kind, such as Am7, Bb or F#m7b5/E. \
                    Clear it to give back the chord in the key.",
            ],
            Purpose::Layer(_) => &[
                "What the layer is called, e.g. hats or fill. Every section that shares the layer shows the name.",
            ],
            Purpose::TakeGroove => &[
                "What the groove is called, e.g. after its player.",
                "The steps of the groove: every note belongs to the nearest. 1/8t is for triplets.",
                "After how many bars it repeats, 1 to 16. With more than one, the bars may differ.",
            ],
            Purpose::Groove(_) => &["What the groove is called."],
            Purpose::Split(_) => &[
                "The first bar of the new section. It gets the next free letter, and the form plays both where it \
                    played the one.",
            ],
            Purpose::Lift(_) => &[
                "The first of the bars that are copied into a new section.",
                "The last of them. A note that begins in these bars is copied, however long it rings.",
            ],
            Purpose::Length(_) => &[
                "How many bars the section is to have, from 1 to 999. What begins after the new end is removed.",
                "What added bars play: what is there once more, or only loops that are shorter than the section.",
            ],
            Purpose::Reshape(..) => &[
                "Length cuts the layer or lets it go on empty, double plays it twice, halve keeps its first half; in half \
                    time every note takes twice as long, in double time half as long. Own ends what it shares \
                    with other sections. The bars of the section stay.",
                "How many bars the layer is to have, from 1 to 999. What begins after its new end is removed; a layer \
                    shorter than the section goes round in it.",
                "Only the chosen layer, or every layer of its track in this section.",
            ],
            Purpose::Tempo(_) => &[
                "96 sets the tempo, 95 % slows it down by a twentieth, 3:20 makes it last so long, and 104 to 92 \
                    over 2 bars is a ramp: a ritardando or, the other way round, an accelerando. No ramp removes \
                    one.",
                "Where a tempo or a ramp begins. If it is empty, a tempo is that of all bars, and a ramp ends with \
                    the section.",
                "The section under the cursor, or every section of the song. A duration is that of one round of the \
                    section, or of the form.",
            ],
            Purpose::Chords(_) => &[
                "A chord for each bar, with | between bars: C | Am7 | F/A | G7. Several chords share their bar \
                    evenly; if yours don't, write one symbol per beat, with / to hold a chord: C / / G7. % repeats the \
                    bar before, N.C. is no chord. Fewer bars than the section repeat if they divide it.",
            ],
            Purpose::SongForm => &[
                "The order in which sections are played, by their letters: A A B A. A x2 plays A twice, (A B) \
                    x2 a group twice, and (A [1 B] [2 C]) has an ending for each time: A B A C. An empty form is \
                    no form: the song loops one section.",
            ],
        };
        about.get(self.focus).copied().unwrap_or(self.fields[self.focus].hint)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::action::Vertical;
    use crate::desk::Kits;
    use crate::testing::four_parts;

    #[test]
    fn every_field_is_explained() {
        let song = four_parts();
        for mut form in [
            Form::new_song(),
            Form::new_track(&song, &Kits::Any),
            Form::save_as("x"),
            Form::save_beside("x.ron"),
            Form::new_section(&song, &song.sections[0]),
            Form::write_form(&song),
            Form::write_chords(&song, &song.sections[0]),
            Form::split(&song.sections[0], None),
            Form::lift(&song.sections[0], None),
            Form::length(&song.sections[0]),
            Form::tempo(&song, &song.sections[0]),
            Form::export(None, &song),
            Form::edit_track(&song, &song.tracks[0]),
            Form::edit_song(&song),
            Form::reshape(&song, &song.sections[0], song.passes.values().next().unwrap(), false),
            Form::name_layer(song.passes.values().next().unwrap()),
        ] {
            let mut seen = Vec::new();
            for _ in 0..form.fields.len() {
                let about = form.about_field();
                assert!(about.ends_with('.') && !seen.contains(&about), "{about}");
                seen.push(about);
                form.step(Vertical::Down);
            }
        }
    }
}
