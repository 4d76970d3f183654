//! What each action is called: a stable plain id, a line of the finder, and other words that
//! musicians use for it.
//!
//! In: an action, and what its row needs. Out: its words. There is an arm for every action, so a
//! new one does not compile without them.

mod notes;
mod views;

use super::{Binding, Need};
use crate::action::{Action, Answer, Bar, Detail, KeysAction, Move, Side, TrackAction, Vertical};
use crate::desk::LevelStep;
use crate::screen::View;
use notes::note_words;
use views::{groove_words, layer_words, lead_words, level_words, section_words};

/// What an action is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Words {
    /// A plain name that stays the same from version to version, e.g. `add-track`.
    pub id: &'static str,
    /// A line of the finder: what it does, as a request. Empty if it only makes sense where its key
    /// is, such as an arrow in a list.
    pub phrase: &'static str,
    /// Other words for it, which mean it as clearly as its name does, separated by spaces.
    pub best: &'static str,
    /// Other words that may mean it.
    pub also: &'static str,
}

/// What an action is called. Of the other words for it, those before a semicolon are the best; if there is
/// none, the first.
fn words(id: &'static str, phrase: &'static str, also: &'static str) -> Words {
    let (best, also) = also.split_once("; ").or_else(|| also.split_once(' ')).unwrap_or((also, ""));
    Words { id, phrase, best, also }
}

/// An action that the finder leaves out.
fn only_here(id: &'static str) -> Words {
    words(id, "", "")
}

impl Binding {
    /// What the action of the row is called.
    pub fn words(&self) -> Words {
        words_of(self.action, self.need)
    }
}

/// What an action is called. The need tells the rows of a switch apart: play and stop.
fn words_of(action: Action, need: Need) -> Words {
    match action {
        Action::PlayOrStop if need == Need::Moving => {
            words("play", "Stop", "halt end pause silence")
        }
        Action::PlayOrStop => {
            words("play", "Play the section", "start; go loop run from the top bar again")
        }
        Action::Continue => {
            words("continue", "Continue from where it stopped", "resume go on play unpause")
        }
        Action::Locate(Bar::Before) => {
            words("bar-before", "Go to the previous bar", "back rewind left measure")
        }
        Action::Locate(Bar::After) => {
            words("bar-after", "Go to the next bar", "forward wind right measure")
        }
        Action::Locate(Bar::Top) => {
            words("top", "Go back to the top", "start beginning; rewind first bar return zero over")
        }
        Action::Record if need == Need::AboutToRecord => {
            words("record", "Cancel the recording", "abort don't")
        }
        Action::Record if need == Need::Recording => {
            words("record", "Stop recording", "end finish done")
        }
        Action::Record => {
            words("record", "Record", "rec track; capture lay down take overdub new pass")
        }
        Action::RecordAgain => words(
            "record-again",
            "Record again from the same place",
            "retake; another try once more take repeat restart rec overdub",
        ),
        Action::Keep => {
            words("keep", "Keep what you just played", "capture save idea missed afterwards pass")
        }
        Action::Undo => words(
            "undo",
            "Undo the last change",
            "revert mistake scrap; back wrong take cancel last thing bad oops bring restore deleted removed layer track",
        ),
        Action::Redo => words("redo", "Redo the last change you undid", "restore; again forward"),
        Action::Show(view) => view_words(view),
        Action::ShowBeside(Side::Right) => words("next-view", "Show the next view", "tab switch"),
        Action::ShowBeside(Side::Left) => {
            words("previous-view", "Show the previous view", "tab switch back")
        }
        Action::Level(action) => level_words(action),
        Action::Layer(action) => layer_words(action),
        Action::Groove(action) => groove_words(action),
        Action::PlayForm => {
            words("play-form", "Play the form", "song arrangement whole all sections structure")
        }
        Action::Section(action) => section_words(action),
        Action::Lead(action) => lead_words(action),
        Action::Note(action) => note_words(action, need),
        Action::Choose(Vertical::Up) => {
            words("track-above", "Choose the track above", "previous up select part instrument arm")
        }
        Action::Choose(Vertical::Down) => {
            words("track-below", "Choose the track below", "next down select part instrument arm")
        }
        Action::Arm => {
            words("arm", "Arm the chosen track", "record enable ready input play select part")
        }
        Action::Track(TrackAction::Edit) => words(
            "edit-track",
            "Edit the track",
            "rename name channel port kind drums pitched change part instrument",
        ),
        Action::Track(TrackAction::Remove) => {
            words("remove-track", "Remove the track", "delete erase rid; part instrument")
        }
        Action::Track(TrackAction::Shift(Vertical::Up)) => {
            words("track-up", "Move the track up the list", "reorder order part")
        }
        Action::Track(TrackAction::Shift(Vertical::Down)) => {
            words("track-down", "Move the track down the list", "reorder order part")
        }
        Action::EditSong => words(
            "edit-song",
            "Edit the song",
            "key title; rename name transpose change higher lower pitch singer semitones tone step whole up down capo",
        ),
        Action::AddTrack => words(
            "add-track",
            "Add a track",
            "new create; part instrument insert drums hats bass chords",
        ),
        Action::Mute => {
            words("mute", "Mute or unmute the track", "silence off quiet part hide unmute")
        }
        Action::Solo => {
            words("solo", "Solo the track, or end its solo", "alone only; isolate hear just")
        }
        Action::RemovePass => words(
            "remove-pass",
            "Remove the top layer",
            "delete erase; take pass last overdub clear scrap rid",
        ),
        Action::NextMode => words(
            "new-pass",
            "Change what a new pass does",
            "overdub punch overwrite over; add replace mode layer record existing",
        ),
        Action::NextRounds => words(
            "keep-rounds",
            "Change which rounds of a take to keep",
            "all newest one loop passes record rounds",
        ),
        Action::NextClick => {
            words("click", "Change when the click plays", "metronome off; tick beat on no count")
        }
        Action::CountIn(bars) => count_in_words(bars),
        Action::Quantise => words(
            "quantise",
            "Quantise the track, or play it as played",
            "quantize snap tighten late early; grid tight timing fix correct align straighten out time sloppy even rushed \
                rushing dragging behind ahead",
        ),
        Action::SetFeel => words(
            "feel",
            "Set the feel of the track",
            "swing groove shuffle triplet stiff robotic mechanical; quantise quantize grid pull reach rolls timing feel human humanise humanize loose looser straight",
        ),
        Action::SetKeys => words(
            "keys-play",
            "Set what keys play: chords, or in key",
            "chord chords scale harmony finger fingers key snap; one play in stay don't keys wrong notes only nearest \
             simple easy easily left hand chart triad triads seventh sevenths ninth ninths inversion voicing leading \
             lay pick up set can't no pianist assist smart auto",
        ),
        Action::Keys(action) => keys_words(action),
        Action::ChooseSound => words(
            "sound",
            "Choose the sound of the track",
            "instrument program patch; preset voice timbre kit change different piano guitar organ strings brass \
                violin viola cello harp trumpet trombone horn sax saxophone flute clarinet oboe choir marimba synth",
        ),
        Action::ChooseSection => {
            words("jump", "Jump to another section", "switch; verse chorus next part cue go where")
        }
        Action::Tempo(Vertical::Up) => {
            words("tempo-up", "Raise the tempo", "faster quicker; speed up bpm increase too slow")
        }
        Action::Tempo(Vertical::Down) => {
            words("tempo-down", "Lower the tempo", "slower slow; speed down bpm decrease too fast")
        }
        Action::SongTempo(Vertical::Up) => words(
            "song-tempo-up",
            "Raise the tempo of every section",
            "faster quicker; speed up bpm increase whole song all",
        ),
        Action::SongTempo(Vertical::Down) => words(
            "song-tempo-down",
            "Lower the tempo of every section",
            "slower slow; speed down bpm decrease whole song all too fast",
        ),
        Action::TapExactly => {
            words("tap-exactly", "Set the exact tempo of the taps", "decimals; unrounded bpm speed")
        }
        Action::ByHand => words(
            "by-hand",
            "Lead the song by hand, beat by beat",
            "conduct conductor lead give beats wait for me follow me rubato; tap rehearse bars",
        ),
        Action::Tap if need == Need::Held => {
            words("tap", "Let the song go on", "fermata; beat wait continue next hand release")
        }
        Action::Tap => words("tap", "Tap the tempo", "beat; bpm speed set"),
        Action::SoundLevel(LevelStep::Softer) => words(
            "sound-down",
            "Turn the built-in sound down",
            "softer quieter; lower volume level gain headphones too loud",
        ),
        Action::SoundLevel(LevelStep::Louder) => words(
            "sound-up",
            "Turn the built-in sound up",
            "louder raise volume level gain headphones",
        ),
        Action::Piano(true) => words(
            "piano",
            "Turn on piano mode",
            "keyboard; letters computer keys play notes type perform",
        ),
        Action::Piano(false) => words("end-piano", "Leave piano mode", "off end stop commands"),
        Action::NextLength => words(
            "piano-length",
            "Change how long a piano note lasts",
            "duration hold release sustain",
        ),
        Action::Octave(Vertical::Up) => {
            words("piano-octave-up", "Move the piano up an octave", "higher transpose raise")
        }
        Action::Octave(Vertical::Down) => {
            words("piano-octave-down", "Move the piano down an octave", "lower transpose")
        }
        Action::Velocity(Vertical::Up) => {
            words("piano-harder", "Play the piano's notes harder", "louder velocity stronger")
        }
        Action::Velocity(Vertical::Down) => {
            words("piano-softer", "Play the piano's notes softer", "quieter velocity gentler")
        }
        Action::RestartTiming => words(
            "zero-figures",
            "Reset the count of late messages",
            "zero clear timing lateness figures latency jitter histogram",
        ),
        Action::Zoom(Detail::Finer) => {
            words("zoom-in", "Zoom in", "finer closer magnify bigger detail fewer bars")
        }
        Action::Zoom(Detail::Coarser) => {
            words("zoom-out", "Zoom out", "coarser wider smaller overview more bars")
        }
        Action::Page(Side::Left) => {
            words("page-before", "Show the previous page of bars", "scroll back left earlier")
        }
        Action::Page(Side::Right) => {
            words("page-after", "Show the next page of bars", "scroll forward right later")
        }
        Action::Save => words("save", "Save the song", "write store file disk"),
        Action::SaveAs => words(
            "save-as",
            "Save the song to another file",
            "write store rename copy version name",
        ),
        Action::Export => words(
            "export",
            "Export the song",
            "bounce wav mixdown; midi render stems file audio save studio",
        ),
        Action::OpenSong => {
            words("open", "Open another song", "load; file recent folder browse songs")
        }
        Action::NewSong => {
            words("new-song", "Begin a new song", "create blank; start empty fresh file")
        }
        Action::Silence => {
            words("silence", "Silence everything now", "panic stuck hanging; notes off stop quiet")
        }
        Action::Find => only_here("find"),
        Action::SearchHelp => only_here("search-help"),
        Action::NextMatch(Vertical::Down) => only_here("next-match"),
        Action::NextMatch(Vertical::Up) => only_here("previous-match"),
        Action::Help => {
            words("help", "Show the help", "keys manual shortcuts; commands what marks hearing")
        }
        Action::Tour(true) => words(
            "tour",
            "Take the tour",
            "learn tutorial; beginner introduction guide steps help teach",
        ),
        Action::Tour(false) => only_here("leave-tour"),
        Action::Quit => words("quit", "Quit", "exit leave; close end bye"),
        Action::Suspend => words("suspend", "Suspend to the shell", "background pause terminal"),
        Action::Redraw => words("redraw", "Redraw the screen", "refresh garbled repair clean"),
        Action::Move(to) => only_here(match to {
            Move::Up => "up",
            Move::Down => "down",
            Move::Left => "left",
            Move::Right => "right",
            Move::PageUp => "page-up",
            Move::PageDown => "page-down",
            Move::First => "first",
            Move::Last => "last",
        }),
        Action::Field(Vertical::Up) => only_here("previous-field"),
        Action::Field(Vertical::Down) => only_here("next-field"),
        Action::Adjust(Side::Left) => only_here("less"),
        Action::Adjust(Side::Right) => only_here("more"),
        Action::Suggest => only_here("suggest-chords"),
        Action::Clear => only_here("clear"),
        Action::Confirm => only_here("confirm"),
        Action::Cancel => only_here("back"),
        Action::Answer(answer) => only_here(match answer {
            Answer::Save => "answer-save",
            Answer::DontSave => "answer-discard",
            Answer::Leave => "answer-leave",
            Answer::Replace => "answer-replace",
            Answer::Reload => "answer-reload",
            Answer::Compare => "answer-compare",
            Answer::SaveAs => "answer-save-as",
            Answer::Restore => "answer-restore",
            Answer::Remove => "answer-delete-copy",
            Answer::CancelExport => "answer-cancel-export",
        }),
    }
}

fn view_words(view: View) -> Words {
    match view {
        View::Loop => words("loop", "Show the loop", "tracks main home view all"),
        View::Layers => words("layers", "Show the layers", "passes takes overdubs stack view"),
        View::Notes => {
            words("notes", "Show the notes", "edit wrong; fix pitches grid view see track")
        }
        View::Levels => words("levels", "Show the levels", "mixer mix balance; volume pan view"),
        View::Form => words(
            "form",
            "Show the sections and the form",
            "arrangement structure; song verse chorus parts view",
        ),
        View::Ports => words(
            "ports",
            "Show the ports and the timing",
            "latency devices; health lateness jitter midi clock connections view",
        ),
    }
}

fn keys_words(action: KeysAction) -> Words {
    only_here(match action {
        KeysAction::PickUp => "pick-up-chord",
        KeysAction::Strike => "choose-key",
        KeysAction::Reset => "reset-chord",
    })
}

fn count_in_words(bars: u8) -> Words {
    const ALSO: &str = "lead in before recording clicks";
    match bars {
        0 => words("count-in-none", "No count-in", "off lead in before recording clicks"),
        1 => words("count-in-1", "Count in one bar", ALSO),
        2 => words("count-in-2", "Count in two bars", ALSO),
        3 => words("count-in-3", "Count in three bars", ALSO),
        _ => words("count-in-4", "Count in four bars", ALSO),
    }
}

#[cfg(test)]
mod tests {
    use super::super::table;
    use std::collections::BTreeMap;

    #[test]
    fn every_action_has_an_id_of_its_own() {
        let mut known = BTreeMap::new();
        for binding in table() {
            let id = binding.words().id;
            let plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
            assert!(!id.is_empty() && id.chars().all(plain), "{id}");
            let first = *known.entry(id).or_insert(binding.action);
            assert_eq!(first, binding.action, "{id}");
        }
    }

    #[test]
    fn every_phrase_is_short_and_means_one_thing() {
        let mut known = BTreeMap::new();
        for binding in table() {
            let words = binding.words();
            if words.phrase.is_empty() {
                continue;
            }
            let phrase = words.phrase;
            assert!(phrase.len() <= super::super::PHRASE && !phrase.ends_with('.'), "{phrase}");
            assert!(phrase.starts_with(char::is_uppercase), "{phrase}");
            let plain = |c: char| !c.is_uppercase() && !",;".contains(c);
            assert!(words.also.chars().chain(words.best.chars()).all(plain), "{phrase}");
            assert!(!words.best.is_empty(), "{phrase}");
            let meant = (binding.action, binding.need);
            let first = *known.entry(phrase).or_insert(meant);
            assert_eq!(first, meant, "{phrase}");
        }
    }
}
