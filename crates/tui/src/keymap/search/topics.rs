//! What musicians ask for that no single action does: what to say, and which actions come nearest.
//!
//! A topic is about what was typed if all words of one of its keys were typed.

use super::typed::{is_same, split};
use crate::action::{
    Action, Bar, LayerAction, LeadAction, LevelAction, NoteAction, Operation, Picking,
    SectionAction, Vertical,
};
use crate::screen::View;

/// Something to say in place of an action.
#[derive(Debug, PartialEq, Eq)]
pub struct Topic {
    /// What it is about: words, or groups of words of which all are needed, between commas.
    keys: &'static str,
    /// Other words for it.
    also: &'static str,
    /// What to say. In braces are the ids of actions, for their keys.
    pub says: &'static str,
    /// The actions that come nearest, if any does.
    pub see: &'static [Action],
}

const fn topic(
    keys: &'static str,
    also: &'static str,
    says: &'static str,
    see: &'static [Action],
) -> Topic {
    Topic { keys, also, says, see }
}

/// Drums that can be named, with what makes one of them swing.
const SWINGING_DRUMS: &str = "swing hat, swing hihat, swing snare, swing kick, swing cymbal, swing ride, swing tom, \
    swing clap, shuffle hat, shuffle hihat, shuffle snare, shuffle ride, feel hat, feel hihat, feel snare, groove hat";

const TOPICS: [Topic; 18] = [
    topic(
        "chord, chords, harmony, progression",
        "name which find detect write analyse add song suggest guess over bars type",
        "Chords belong to a section: in the form ({form}), {write-chords} writes them, and there Ctrl-T fills in those \
            that the notes suggest; in a shell, chaconne outline SONG lists them. {keys-play} lets one finger play a \
            chord.",
        &[Action::Section(SectionAction::WriteChords), Action::SetKeys],
    ),
    topic(
        SWINGING_DRUMS,
        "only just hi loose own drums notes",
        "Swing belongs to a layer. In the notes ({notes}), on the row of the drum, {select-notes} {select-pitch} \
            selects its notes, {edit-notes} {split-layer} moves them to a layer of their own, and {layer-feel} sets \
            the feel of that layer.",
        &[
            Action::Note(NoteAction::Pick(Picking::Pitch)),
            Action::Note(NoteAction::Do(Operation::SplitOff)),
            Action::Layer(LayerAction::Feel),
        ],
    ),
    topic(
        "copy bar, copy bars, duplicate bar, paste bar",
        "notes one two three four first second last 1 2 3 4 5 6 7 8 after",
        "Bars are copied in the notes ({notes}): {select-notes} {select-bar} selects the notes of a bar, {range} a \
            range; {edit-notes} {copy-notes} copies them, and {edit-notes} {paste-notes} pastes them at the cursor.",
        &[
            Action::Note(NoteAction::Pick(Picking::Bar)),
            Action::Note(NoteAction::Do(Operation::Copy)),
            Action::Note(NoteAction::Do(Operation::Paste)),
        ],
    ),
    topic(
        "record from bar, record at bar, play from bar, start from bar, start at bar",
        "one two three four five six seven eight 1 2 3 4 5 6 7 8 second third fourth last begin playing",
        "While the song is stopped, {bar-before} and {bar-after} go to a bar: {play} plays and {record} records from \
            there, after a count-in.",
        &[Action::Locate(Bar::After), Action::Record, Action::PlayOrStop],
    ),
    topic(
        "ending, coda",
        "song make write add first second third last different",
        "An ending is a section of its own: add it in the form ({form}), and write it last, or in brackets for one \
            time only. While the song plays, {last-time} there leads to it.",
        &[
            Action::Section(SectionAction::WriteForm),
            Action::Lead(LeadAction::LastTime),
            Action::Section(SectionAction::Add),
        ],
    ),
    topic(
        "lyric, lyrics",
        "write type words text sing verse chorus add",
        "A song has no place for lyrics: keep them in a file beside it.",
        &[],
    ),
    topic(
        "fade, fading",
        "out in end song track volume ending coda",
        "To fade a track, turn its volume down in the levels while you record it, or draw a ramp of its \
            volume in the lane under the notes.",
        &[
            Action::Show(View::Levels),
            Action::Level(LevelAction::Volume(Vertical::Down)),
            Action::Note(NoteAction::Range),
        ],
    ),
    topic(
        "sync, synchronise, synchronize, clock, tempo follow",
        "midi drum machine gear external other follow send lead leader slave master computer",
        "Clock belongs to a port, named when the program starts: --clock sends it, --in midi:NAME,follow \
            follows a machine.",
        &[Action::Show(View::Ports)],
    ),
    topic(
        "half tempo, double tempo, half speed, double speed",
        "feel",
        "For half or double speed, type 50 % or 200 % as the tempo.",
        &[Action::Section(SectionAction::Tempo)],
    ),
    topic(
        "loop bar, loop bars, repeat bar, repeat bars",
        "one two first second third fourth last only single just",
        "The loop is always a whole section. While stopped, {bar-before} and {bar-after} go to a bar, and \
            {play} plays from it. To loop some bars, make a section of them.",
        &[Action::Locate(Bar::After), Action::PlayOrStop, Action::Section(SectionAction::Lift)],
    ),
    topic(
        "loop section, loop chorus, loop verse, loop bridge, loop refrain, loop intro, repeat section, repeat chorus, \
            repeat verse, repeat bridge, repeat refrain, only chorus, only verse, only bridge",
        "play just over again",
        "The section shown is the loop: {jump} goes to another one, and {play} loops it. While the form plays, {stay} in \
            the view of the form stays in the section that plays.",
        &[Action::ChooseSection, Action::PlayOrStop, Action::Lead(LeadAction::Stay)],
    ),
    topic(
        "microphone, mic, vocal, vocals, sing, record audio, record sound, record guitar",
        "record add plug voice my",
        "A track holds notes, not recorded sound, so nothing can be recorded from a microphone.",
        &[],
    ),
    topic(
        "reverb, echo, delay, effect, effects, eq, equaliser, equalizer, compressor, distortion, fx",
        "add more turn plugin",
        "There are no effects here. An instrument that has its own may obey controllers, such as 91 for \
            reverb, drawn under the notes.",
        &[Action::Note(NoteAction::ChooseLane)],
    ),
    topic(
        "sheet, score, notation, print, printed, pdf, tab, tablature",
        "music export notes show write",
        "Nothing is printed as notation. An exported MIDI file can be read by a program that does.",
        &[Action::Export],
    ),
    topic(
        "share, send, email, upload, mp3",
        "band bandmate bandmates friend friends singer drummer player somebody someone others song file export it",
        "A song is one text file, which you can send as it is. An export is a WAV or a MIDI file.",
        &[Action::Export, Action::SaveAs],
    ),
    topic(
        "autosave, backup",
        "save automatic copy",
        "Nothing is saved until you ask: the head of the screen says when there are unsaved changes.",
        &[Action::Save, Action::SaveAs],
    ),
    topic(
        "import, open midi, load midi",
        "file song audio wav sample",
        "In a shell, chaconne import FILE SONG makes a song from a Standard MIDI File.",
        &[Action::OpenSong],
    ),
    topic(
        "tune, tuning, tuner, pitch bend range",
        "detune cents concert",
        "The tuning is the instrument's own: nothing here changes it.",
        &[],
    ),
];

/// The topic that fits most of the typed words, and how many.
pub fn find(typed: &[String]) -> Option<(&'static Topic, usize)> {
    let is_typed = |word: &str| typed.iter().any(|typed| is_same(typed, word));
    let is_about = |topic: &&Topic| topic.keys.split(", ").any(|key| split(key).all(is_typed));
    let has = |topic: &Topic, word: &str| {
        split(topic.keys).chain(split(topic.also)).any(|known| is_same(known, word))
    };
    let count = |topic: &Topic| typed.iter().filter(|word| has(topic, word)).count();
    let about = TOPICS.iter().filter(is_about).map(|topic| (topic, count(topic)));
    about.rev().max_by_key(|(_, count)| *count)
}

/// Every word that a topic is found by.
pub fn words() -> impl Iterator<Item = &'static str> {
    TOPICS.iter().flat_map(|topic| split(topic.keys).chain(split(topic.also)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keymap::{Keymap, table};

    #[test]
    fn a_topic_names_keys_and_actions_that_exist() {
        for topic in &TOPICS {
            let says = Keymap::default().fill(topic.says);
            assert!(!says.contains('{') && says.ends_with('.'), "{says}");
            for action in topic.see {
                assert!(table().any(|row| row.action == *action), "{action:?}");
            }
        }
    }

    #[test]
    fn all_words_of_a_key_are_needed() {
        let find = |typed: &str| find(&split(typed).map(String::from).collect::<Vec<_>>());
        assert_eq!(find("loop bar").map(|(_, count)| count), Some(2));
        assert_eq!(find("loop"), None);
        assert_eq!(find("half tempo").map(|(topic, _)| topic.see.len()), Some(1));
    }
}
