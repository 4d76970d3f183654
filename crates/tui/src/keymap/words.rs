//! What each action is called: a stable plain id, a line of the finder, and other words that
//! musicians use for it.
//!
//! In: an action, and what its row needs. Out: its words. There is an arm for every action, so a
//! new one does not compile without them.

use super::{Binding, Need};
use crate::action::{
    Action, Answer, Arrows, Bar, Detail, LayerAction, LevelAction, Move, NoteAction, NoteList,
    Operation, Picking, SectionAction, Side, TrackAction, Vertical,
};
use crate::desk::LevelStep;
use crate::screen::View;

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
            words("play", "Play the section", "start go loop run from the top bar")
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
            words("top", "Go back to the top", "start beginning rewind first bar return zero")
        }
        Action::Record if need == Need::AboutToRecord => {
            words("record", "Call off the recording", "cancel abort don't")
        }
        Action::Record if need == Need::Recording => {
            words("record", "Stop recording", "end finish done")
        }
        Action::Record => words("record", "Record", "rec; capture lay down take overdub new pass"),
        Action::RecordAgain => words(
            "record-again",
            "Record again from the same place",
            "retake; another try once more take repeat restart rec overdub",
        ),
        Action::Keep => {
            words("keep", "Keep what you just played", "capture save idea missed afterwards pass")
        }
        Action::Undo => {
            words("undo", "Undo the last change", "back revert mistake wrong take cancel")
        }
        Action::Redo => words("redo", "Redo the last change you undid", "again forward restore"),
        Action::Show(view) => view_words(view),
        Action::ShowBeside(Side::Right) => words("next-view", "Show the next view", "tab switch"),
        Action::ShowBeside(Side::Left) => {
            words("previous-view", "Show the previous view", "tab switch back")
        }
        Action::Level(action) => level_words(action),
        Action::Layer(action) => layer_words(action),
        Action::PlayForm => {
            words("play-form", "Play the form", "song arrangement whole all sections structure")
        }
        Action::Section(action) => section_words(action),
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
            words("remove-track", "Remove the track", "delete erase; part instrument")
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
            "key title; rename name transpose higher lower pitch singer semitones",
        ),
        Action::AddTrack => words(
            "add-track",
            "Add a track",
            "new create; part instrument insert drums hats bass chords",
        ),
        Action::Mute => {
            words("mute", "Mute or unmute the track", "silence off quiet part hide unmute")
        }
        Action::Solo => words("solo", "Solo the track, or end its solo", "alone only isolate hear"),
        Action::RemovePass => words(
            "remove-pass",
            "Remove the top layer",
            "delete erase; take pass last overdub clear",
        ),
        Action::NextMode => words(
            "new-pass",
            "Change what a new pass does",
            "overdub punch overwrite; add replace mode layer record",
        ),
        Action::NextRounds => words(
            "keep-rounds",
            "Change which rounds of a take to keep",
            "all newest one loop passes record",
        ),
        Action::NextClick => {
            words("click", "Change when the click plays", "metronome; tick beat off on no count")
        }
        Action::CountIn(bars) => count_in_words(bars),
        Action::Quantise => words(
            "quantise",
            "Quantise the track, or play it as played",
            "quantize snap tighten; grid tight timing fix correct align straighten",
        ),
        Action::SetFeel => words(
            "feel",
            "Set the feel of the track",
            "swing groove shuffle triplet; quantise quantize grid pull reach rolls timing human humanise",
        ),
        Action::ChooseSound => words(
            "sound",
            "Choose the sound of the track",
            "instrument program patch; preset voice timbre kit change",
        ),
        Action::ChooseSection => {
            words("jump", "Jump to another section", "switch verse chorus next part cue go")
        }
        Action::Tempo(Vertical::Up) => {
            words("tempo-up", "Raise the tempo", "faster quicker; speed up bpm increase")
        }
        Action::Tempo(Vertical::Down) => {
            words("tempo-down", "Lower the tempo", "slower slow; speed down bpm decrease")
        }
        Action::SongTempo(Vertical::Up) => words(
            "song-tempo-up",
            "Raise the tempo of every section",
            "faster quicker; speed up bpm increase whole song all",
        ),
        Action::SongTempo(Vertical::Down) => words(
            "song-tempo-down",
            "Lower the tempo of every section",
            "slower slow; speed down bpm decrease whole song all",
        ),
        Action::TapExactly => {
            words("tap-exactly", "Set the exact tempo of the taps", "bpm decimals unrounded speed")
        }
        Action::Tap => words("tap", "Tap the tempo", "bpm; beat speed set"),
        Action::SoundLevel(LevelStep::Softer) => words(
            "sound-down",
            "Turn the built-in sound down",
            "softer quieter; lower volume level gain headphones",
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
            "Count late messages afresh",
            "zero reset clear timing lateness figures latency jitter histogram",
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
        Action::Export => {
            words("export", "Export the song", "bounce wav mixdown; midi render stems file audio")
        }
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
        View::Notes => words("notes", "Show the notes", "edit pitches grid view"),
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

fn level_words(action: LevelAction) -> Words {
    match action {
        LevelAction::Volume(Vertical::Up) => words(
            "volume-up",
            "Turn the track's volume up",
            "louder raise increase gain mix level fade in ride fader",
        ),
        LevelAction::Volume(Vertical::Down) => words(
            "volume-down",
            "Turn the track's volume down",
            "softer quieter; lower decrease gain mix level fade out ride fader",
        ),
        LevelAction::Pan(Side::Left) => {
            words("pan-left", "Pan the track to the left", "balance stereo position move")
        }
        LevelAction::Pan(Side::Right) => {
            words("pan-right", "Pan the track to the right", "balance stereo position move")
        }
        LevelAction::Clear => words(
            "clear-levels",
            "Clear the track's volume and pan",
            "reset default delete remove unset level",
        ),
    }
}

fn layer_words(action: LayerAction) -> Words {
    match action {
        LayerAction::Mute => {
            words("mute-layer", "Mute or unmute the layer", "silence off pass unmute take")
        }
        LayerAction::Solo => {
            words("solo-layer", "Solo the layer, or end its solo", "alone only pass hear take")
        }
        LayerAction::Shift(Vertical::Up) => {
            words("layer-up", "Move the layer up", "reorder raise order pass stack")
        }
        LayerAction::Shift(Vertical::Down) => {
            words("layer-down", "Move the layer down", "reorder lower order pass stack")
        }
        LayerAction::Own => words(
            "own-layer",
            "Make the layer this section's own",
            "unshare separate copy detach independent pass",
        ),
        LayerAction::Name => {
            words("name-layer", "Name the layer", "rename call label title pass take hats fill")
        }
        LayerAction::Merge => words(
            "merge-layers",
            "Merge the layer with the one below",
            "join combine glue flatten bounce together pass takes one",
        ),
        LayerAction::Feel => words(
            "layer-feel",
            "Set the feel of the layer",
            "swing groove shuffle own quantise quantize grid pass only hats timing",
        ),
        LayerAction::Remove => {
            words("remove-layer", "Remove the layer", "delete erase; pass take clear")
        }
    }
}

fn section_words(action: SectionAction) -> Words {
    match action {
        SectionAction::Go => {
            words("go", "Go to the chosen section", "jump switch verse chorus part play show")
        }
        SectionAction::Add => {
            words("add-section", "Add a section", "new create verse chorus bridge part insert")
        }
        SectionAction::Copy => {
            words("copy-section", "Copy the section", "duplicate clone verse chorus bridge part")
        }
        SectionAction::Vary => words(
            "vary-section",
            "Make a variation of the section",
            "copy duplicate verse chorus bridge different independent own",
        ),
        SectionAction::Edit => words(
            "edit-section",
            "Edit the section",
            "metre meter bars; rename name letter length time signature tempo bpm change",
        ),
        SectionAction::Remove => {
            words("remove-section", "Remove the section", "delete erase verse chorus bridge part")
        }
        SectionAction::Shift(Vertical::Up) => {
            words("section-up", "Move the section up the list", "reorder order earlier")
        }
        SectionAction::Shift(Vertical::Down) => {
            words("section-down", "Move the section down the list", "reorder order later")
        }
        SectionAction::Append => words(
            "append",
            "Append the section to the form",
            "add arrangement song end order verse chorus",
        ),
        SectionAction::DropLast => words(
            "drop-last",
            "Drop the last entry of the form",
            "remove delete shorten arrangement song",
        ),
        SectionAction::WriteForm => words(
            "write-form",
            "Write the form as text",
            "arrangement structure type edit order repeat ending song",
        ),
    }
}

fn note_words(action: NoteAction, need: Need) -> Words {
    if let Some(words) = changing_words(action, need) {
        return words;
    }
    match action {
        NoteAction::Arrows(Arrows::Move) => words(
            "move-notes",
            "Move notes with the arrows",
            "shift nudge drag pitch earlier later higher lower",
        ),
        NoteAction::Arrows(Arrows::Length) => words(
            "note-length",
            "Make notes longer or shorter",
            "length duration hold sustain shorten lengthen arrows",
        ),
        NoteAction::Arrows(Arrows::Velocity) => words(
            "note-velocity",
            "Make notes louder or softer",
            "velocity dynamics; harder quieter accent arrows",
        ),
        NoteAction::Arrows(Arrows::Lane) => words(
            "lane",
            "Draw velocities and controllers",
            "automation curve; bend pedal expression modulation volume pan swell draw below cc",
        ),
        NoteAction::Arrows(Arrows::Cursor) => only_here("cursor"),
        NoteAction::Arrow(Move::Up) => only_here("arrow-up"),
        NoteAction::Arrow(Move::Down) => only_here("arrow-down"),
        NoteAction::Arrow(Move::Left) => only_here("arrow-left"),
        NoteAction::Arrow(Move::Right) => only_here("arrow-right"),
        NoteAction::Arrow(Move::PageUp) => only_here("arrow-page-up"),
        NoteAction::Arrow(Move::PageDown) => only_here("arrow-page-down"),
        NoteAction::Arrow(Move::First) => only_here("arrow-first"),
        NoteAction::Arrow(Move::Last) => only_here("arrow-last"),
        NoteAction::Step(Side::Left) => {
            words("previous-note", "Go to the previous note", "back left cursor earlier")
        }
        NoteAction::Step(Side::Right) => {
            words("next-note", "Go to the next note", "forward right cursor later")
        }
        NoteAction::Octave(Vertical::Up) => {
            words("octave-up", "Move up an octave in the notes", "higher transpose cursor raise")
        }
        NoteAction::Octave(Vertical::Down) => {
            words("octave-down", "Move down an octave in the notes", "lower transpose cursor")
        }
        NoteAction::Draw => words("draw", "Draw a note", "add insert; write new pencil enter step"),
        NoteAction::Delete => words("delete-notes", "Delete notes", "remove erase; clear wrong"),
        NoteAction::Range => {
            words("range", "Select a range of notes", "mark block area several from")
        }
        NoteAction::Release => words("deselect", "Select nothing", "escape cancel end clear none"),
        NoteAction::ChooseLane => words(
            "choose-lane",
            "Choose what the lane shows",
            "controller velocity bend pedal expression modulation volume pan curve add hide",
        ),
        NoteAction::Layers => {
            words("all-layers", "Show one layer or all layers", "passes filter only")
        }
        NoteAction::Keys => {
            words("all-keys", "Show every key, or only those used", "rows fold pitches drums")
        }
        NoteAction::Open(NoteList::Edit) => {
            words("edit-notes", "Open the list of note edits", "operations change more")
        }
        NoteAction::Open(NoteList::Select) => {
            words("select-notes", "Open the list of ways to select", "selection choose mark notes")
        }
        NoteAction::Do(operation) => operation_words(operation),
        NoteAction::Pick(picking) => picking_words(picking),
    }
}

/// The words of what an action does while the arrows change something, or are in the lane.
fn changing_words(action: NoteAction, need: Need) -> Option<Words> {
    let Need::Arrows(arrows) = need else { return None };
    Some(match (action, arrows) {
        (_, Arrows::Cursor) => return None,
        (NoteAction::Release, Arrows::Move) => {
            words("deselect", "Finish moving notes", "escape cancel end done arrows")
        }
        (NoteAction::Release, Arrows::Length) => {
            words("deselect", "Finish changing lengths", "escape cancel end done arrows")
        }
        (NoteAction::Release, Arrows::Velocity) => {
            words("deselect", "Finish changing velocities", "escape cancel end done arrows")
        }
        (NoteAction::Release, Arrows::Lane) => {
            words("deselect", "Leave the lane", "escape cancel end done arrows")
        }
        (NoteAction::Draw, Arrows::Lane) => {
            words("draw", "Draw a point in the lane", "add insert write new pencil")
        }
        (NoteAction::Delete, Arrows::Lane) => {
            words("delete-notes", "Delete points in the lane", "remove erase clear")
        }
        (NoteAction::Range, Arrows::Lane) => words(
            "range",
            "Draw a ramp",
            "swell crescendo decrescendo diminuendo fade; glide slope curve line",
        ),
        (NoteAction::Step(Side::Left), Arrows::Move) => {
            words("previous-note", "Move notes earlier by a tick", "nudge left before")
        }
        (NoteAction::Step(Side::Right), Arrows::Move) => {
            words("next-note", "Move notes later by a tick", "nudge right after")
        }
        (NoteAction::Step(Side::Left), Arrows::Velocity) => {
            words("previous-note", "Go to the velocity of the previous note", "previous left")
        }
        (NoteAction::Step(Side::Right), Arrows::Velocity) => {
            words("next-note", "Go to the velocity of the next note", "right")
        }
        (NoteAction::Step(Side::Left), Arrows::Length) => {
            words("previous-note", "Make notes shorter by a tick", "shorten trim")
        }
        (NoteAction::Step(Side::Right), Arrows::Length) => {
            words("next-note", "Make notes longer by a tick", "lengthen extend")
        }
        (NoteAction::Step(Side::Left), Arrows::Lane) => {
            words("previous-note", "Go to the previous point of the lane", "back left")
        }
        (NoteAction::Step(Side::Right), Arrows::Lane) => {
            words("next-note", "Go to the next point of the lane", "forward right")
        }
        (NoteAction::Octave(Vertical::Up), Arrows::Move) => {
            words("octave-up", "Move notes up an octave", "higher transpose raise")
        }
        (NoteAction::Octave(Vertical::Down), Arrows::Move) => {
            words("octave-down", "Move notes down an octave", "lower transpose")
        }
        (NoteAction::Octave(Vertical::Up), Arrows::Lane) => {
            words("octave-up", "Raise the value in the lane by ten steps", "more louder")
        }
        (NoteAction::Octave(Vertical::Down), Arrows::Lane) => {
            words("octave-down", "Lower the value in the lane by ten steps", "less softer")
        }
        _ => return None,
    })
}

fn operation_words(operation: Operation) -> Words {
    match operation {
        Operation::Copy => words("copy-notes", "Copy notes", "duplicate clone"),
        Operation::Cut => words("cut-notes", "Cut notes", "remove delete move"),
        Operation::Paste => words("paste-notes", "Paste notes", "insert copy put"),
        Operation::Repeat => words(
            "repeat-notes",
            "Repeat notes right after the originals",
            "duplicate again copy double",
        ),
        Operation::Transpose => words(
            "transpose-notes",
            "Transpose notes",
            "semitones pitch shift key higher lower octave up down",
        ),
        Operation::Reverse => {
            words("reverse-notes", "Reverse notes in time", "backwards retrograde; mirror")
        }
        Operation::Invert => {
            words("invert-notes", "Turn notes upside down", "inversion mirror flip")
        }
        Operation::InvertFirst => words(
            "invert-notes-first",
            "Turn notes upside down from the first",
            "invert inversion mirror flip",
        ),
        Operation::Split => {
            words("split-notes", "Split notes at the cursor", "cut divide slice halve")
        }
        Operation::Join => words("join-notes", "Join notes", "merge glue tie legato combine"),
        Operation::Thin => {
            words("thin-notes", "Delete every nth note", "thin out remove reduce sparse fewer")
        }
        Operation::SplitOff => words(
            "split-layer",
            "Move notes to a layer of their own",
            "split separate extract own feel swing hats hi-hat drum part pass",
        ),
        Operation::AsPlayed => words(
            "as-played",
            "Put notes back as they were played",
            "reset original restore undo edits timing",
        ),
    }
}

fn picking_words(picking: Picking) -> Words {
    match picking {
        Picking::All => words("select-all", "Select all notes", "everything mark whole"),
        Picking::None => words("select-none", "Select no notes", "deselect nothing clear"),
        Picking::Others => {
            words("select-others", "Select the other notes", "invert opposite rest selection")
        }
        Picking::Pitch => words(
            "select-pitch",
            "Select the notes of this pitch",
            "row key same hats hi-hat snare kick drum cymbal one",
        ),
        Picking::Bar => words("select-bar", "Select the notes of this bar", "measure"),
        Picking::Beat => words("select-beat", "Select the notes of this beat", "crotchet pulse"),
        Picking::Every => words("select-every", "Select every nth note", "second other pattern"),
        Picking::Louder => words(
            "select-louder",
            "Select the louder notes",
            "loud; velocity harder strong accents",
        ),
        Picking::Softer => {
            words("select-softer", "Select the softer notes", "quiet ghost; velocity quieter weak")
        }
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
