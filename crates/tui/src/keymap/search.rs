//! Finding actions by words.
//!
//! In: where the player is, and what was typed. Out: the actions that fit, the best first; among
//! those that fit as well, actions of the current view come first, then the table decides.

use super::{Binding, Keymap, Need, Scene, Words};
use crate::action::{Action, Arrows, NoteAction, NoteList};
use crate::screen::View;
use std::cmp::Reverse;

/// Where the player is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Here {
    /// The view shown.
    pub view: View,
    /// Whether piano mode is on.
    pub piano: bool,
    /// What the arrows do in the notes.
    pub arrows: Arrows,
    /// The keys in use.
    pub keymap: Keymap,
}

/// Where an action has its key, seen from where the player is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// Here.
    Here,
    /// In this view, but not in piano mode, which is on.
    OutsidePiano,
    /// In another view.
    View(View),
    /// In a list over the view of the notes.
    List(NoteList),
    /// In piano mode, which is off.
    Piano,
}

impl Place {
    /// Where a scene is; `None` if it is nowhere to go to by itself.
    fn of(scene: Scene, here: Here) -> Option<Place> {
        let view = |view| match (here.view == view, here.piano) {
            (true, false) => Place::Here,
            (true, true) => Place::OutsidePiano,
            (false, _) => Place::View(view),
        };
        match scene {
            Scene::Piano if here.piano => Some(Place::Here),
            Scene::Piano => Some(Place::Piano),
            Scene::NoteEdits => Some(Place::List(NoteList::Edit)),
            Scene::NoteSelects => Some(Place::List(NoteList::Select)),
            scene => View::ALL.into_iter().find(|shown| shown.scene() == scene).map(view),
        }
    }

    /// How far it is: nearer is less.
    fn distance(self, here: Here) -> u8 {
        match self {
            Place::Here => 0,
            Place::OutsidePiano => 1,
            Place::List(_) if here.view == View::Notes => 2,
            Place::View(_) | Place::Piano => 3,
            Place::List(_) => 4,
        }
    }

    /// In words; empty if it is here.
    pub fn words(self, keymap: Keymap) -> String {
        match self {
            Place::Here => String::new(),
            Place::OutsidePiano => "outside piano mode".to_string(),
            Place::View(view) => in_view(view, keymap),
            Place::List(_) => in_view(View::Notes, keymap),
            Place::Piano => with_key("in piano mode", Action::Piano(true), keymap),
        }
    }
}

/// An action to choose.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    /// Its row of the table: the nearest, if it has several.
    pub binding: &'static Binding,
    /// Where that row applies.
    pub place: Place,
    /// What the arrows in the notes have to do first, if they do something else now.
    pub turns: Option<Arrows>,
}

impl Entry {
    /// What it needs, including what it takes to get to its place.
    pub fn needs(&self) -> impl Iterator<Item = Need> {
        let way = match self.place {
            Place::List(_) => Need::AnyLayer,
            Place::Piano => Need::Track,
            Place::Here | Place::OutsidePiano | Place::View(_) => Need::Nothing,
        };
        let own = match (self.turns, self.binding.need) {
            (None, need) => need,
            (Some(Arrows::Cursor), Need::Grid) => Need::Track,
            (Some(Arrows::Cursor), _) => Need::Nothing,
            // Arrows that change notes, or are in the lane, need some.
            (Some(_), _) => Need::AnyLayer,
        };
        [way, own].into_iter()
    }

    /// The key to press at its place, after that which opens the list or turns the arrows, if it takes
    /// one.
    pub fn key_words(&self, keymap: Keymap) -> String {
        let first = match (self.place, self.turns) {
            (Place::List(list), _) => Some(NoteAction::Open(list)),
            (_, Some(Arrows::Cursor)) => Some(NoteAction::Release),
            (_, turns) => turns.map(NoteAction::Arrows),
        };
        let opens = first.and_then(|first| keymap.key_of(Action::Note(first)));
        let keys = opens.into_iter().chain(self.binding.keys.first());
        keys.map(ToString::to_string).collect::<Vec<_>>().join(" ")
    }

    /// Whether it is about what a row of the table asks for.
    pub fn is_about(&self, other: &Binding) -> bool {
        (self.binding.action, self.binding.need) == (other.action, other.need)
    }
}

/// Where the actions of a view are, e.g. `in the notes (F4)`.
pub(super) fn in_view(view: View, keymap: Keymap) -> String {
    with_key(&format!("in the {}", view.name()), Action::Show(view), keymap)
}

/// A place, with the key of the action that leads there.
fn with_key(place: &str, action: Action, keymap: Keymap) -> String {
    keymap.key_of(action).map_or(place.to_string(), |key| format!("{place} ({key})"))
}

/// Every action that can be chosen from here, in the order of the table.
fn entries(here: Here) -> Vec<Entry> {
    let mut entries: Vec<(usize, Entry)> = Vec::new();
    for (at, binding) in
        here.keymap.rows().enumerate().filter(|(_, binding)| is_offered(binding, here))
    {
        let places = binding.scenes.iter().filter_map(|&scene| Place::of(scene, here));
        let Some(place) = places.min_by_key(|place| place.distance(here)) else { continue };
        let found = Entry { binding, place, turns: turns(binding, here) };
        match entries.iter_mut().find(|(_, entry)| entry.is_about(binding)) {
            Some(known) if place.distance(here) < known.1.place.distance(here) => {
                *known = (at, found);
            }
            Some(_) => {}
            None => entries.push((at, found)),
        }
    }
    entries.sort_by_key(|(at, _)| *at);
    entries.into_iter().map(|(_, entry)| entry).collect()
}

fn is_offered(binding: &Binding, here: Here) -> bool {
    // Piano mode is not turned on twice, and not left when it is off.
    let is_so = matches!(binding.action, Action::Piano(on) if on == here.piano);
    !binding.words().phrase.is_empty() && !is_so
}

/// What the arrows in the notes have to do before a row applies, if they do something else.
fn turns(binding: &Binding, here: Here) -> Option<Arrows> {
    let arrows = match binding.need {
        // Nothing ends that is not going on.
        Need::Arrows(arrows) if arrows != Arrows::Cursor && binding.action == ENDS => return None,
        Need::Arrows(arrows) => arrows,
        Need::Grid if here.arrows == Arrows::Lane => Arrows::Cursor,
        _ => return None,
    };
    (arrows != here.arrows).then_some(arrows)
}

/// What gives the arrows back to the cursor.
const ENDS: Action = Action::Note(NoteAction::Release);

/// Words that say nothing about an action.
const FILLERS: [&str; 28] = [
    "a", "an", "the", "to", "of", "or", "my", "this", "that", "it", "its", "i", "want", "would",
    "like", "how", "do", "can", "make", "let", "me", "please", "is", "and", "some", "with", "what",
    "for",
];

/// The actions that fit what was typed, the best first. Nothing typed fits every action.
///
/// An action fits if as many of the typed words as any other's are among its words, so that a word
/// that no action has, such as the name of a track, narrows nothing.
pub fn search(typed: &str, here: Here) -> Vec<Entry> {
    let mut found: Vec<(Fit, Entry)> = Vec::new();
    let typed = meaningful(typed);
    for entry in entries(here) {
        found.push((Fit::of(&typed, &entry, here), entry));
    }
    let most = found.iter().map(|(fit, _)| fit.words).max().unwrap_or(0);
    if !typed.is_empty() && most == 0 {
        return Vec::new();
    }
    found.retain(|(fit, _)| fit.words == most);
    found.sort_by_key(|(fit, _)| Reverse(fit.rank()));
    found.into_iter().map(|(_, entry)| entry).collect()
}

/// The typed words without fillers, unless there are only those.
fn meaningful(typed: &str) -> Vec<String> {
    let all: Vec<String> = split(typed).map(str::to_lowercase).collect();
    let kept: Vec<String> =
        all.iter().filter(|word| !FILLERS.contains(&word.as_str())).cloned().collect();
    if kept.is_empty() { all } else { kept }
}

fn split(text: &str) -> impl Iterator<Item = &str> {
    let words = text.split(|c: char| !c.is_alphanumeric() && c != '\'');
    words.filter(|word| !word.is_empty())
}

/// How well an action fits.
#[derive(Debug, Clone, Copy)]
struct Fit {
    /// How many of the typed words it has.
    words: usize,
    /// How well the weakest of them fits: a name or a synonym, or only the explanation.
    weakest: Strength,
    /// Whether the action is here, or in a list that opens here.
    is_near: bool,
    /// Whether the arrows need not be turned first.
    is_direct: bool,
    /// How well all words fit together.
    sum: u32,
    /// How many words of its name were not typed, if any was.
    spare: usize,
    /// How many of the words are spelt as they were typed.
    exact: usize,
}

impl Fit {
    fn of(typed: &[String], entry: &Entry, here: Here) -> Fit {
        let (words, binding) = (entry.binding.words(), entry.binding);
        let fits: Vec<Word> = typed.iter().filter_map(|word| fit(word, words, binding)).collect();
        let is_typed = |word: &str| typed.iter().any(|typed| is_same(word, typed));
        let name: Vec<&str> =
            split(words.phrase).filter(|word| !FILLERS.contains(&&*word.to_lowercase())).collect();
        let spare = name.iter().filter(|word| !is_typed(word)).count();
        Fit {
            words: fits.len(),
            weakest: fits.iter().map(|fit| fit.strength).min().unwrap_or(Strength::Name),
            is_near: entry.place.distance(here) < 3,
            is_direct: entry.turns.is_none(),
            sum: fits.iter().map(|fit| fit.score).sum(),
            spare: if spare == name.len() { 0 } else { spare },
            exact: fits.iter().filter(|fit| fit.is_exact).count(),
        }
    }

    /// More is better.
    fn rank(&self) -> impl Ord + use<> {
        let &Fit { weakest, is_near, is_direct, sum, spare, exact, .. } = self;
        (weakest, is_near, is_direct, sum, Reverse(spare), exact)
    }
}

/// Where a word was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Strength {
    /// Only in the explanation, or inside another word.
    Mention,
    /// Among the other words for the action.
    Other,
    /// At the beginning of a word of its name: *pan* in *panic*.
    Begins,
    /// In its name, or the best of the other words.
    Name,
}

/// How well one word fits.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
struct Word {
    strength: Strength,
    score: u32,
    /// Whether it is spelt as it was typed.
    is_exact: bool,
}

/// How well one word fits, if at all.
fn fit(typed: &str, words: Words, binding: &Binding) -> Option<Word> {
    let begins =
        |word: &str| word.get(..typed.len()).is_some_and(|start| start.eq_ignore_ascii_case(typed));
    let best = |text: &str, strength: Strength, whole: u32, start: u32, first: u32| {
        let each = split(text).enumerate().filter_map(|(at, word)| {
            let first = if at == 0 { first } else { 0 };
            let (strength, score) = match (is_same(word, typed), strength) {
                (true, _) => (strength, whole + first),
                (false, Strength::Name) if begins(word) => (Strength::Begins, start + first),
                (false, _) if begins(word) => (strength, start),
                (false, _) => return None,
            };
            Some(Word { strength, score, is_exact: word.eq_ignore_ascii_case(typed) })
        });
        each.max()
    };
    let has = |text: &str| text.contains(typed);
    let inside = typed.len() >= 3 && [words.phrase, words.best, words.also].into_iter().any(has);
    let found = [
        best(words.phrase, Strength::Name, 12, 8, 1),
        best(binding.label, Strength::Name, 10, 7, 0),
        best(words.best, Strength::Name, 12, 8, 0),
        best(words.also, Strength::Other, 9, 5, 0),
        best(binding.sentence, Strength::Mention, 4, 3, 0),
        inside.then_some(Word { strength: Strength::Mention, score: 2, is_exact: false }),
    ];
    found.into_iter().flatten().max()
}

/// Whether two words are the same but for their endings.
fn is_same(one: &str, other: &str) -> bool {
    stem(one).eq_ignore_ascii_case(stem(other))
}

/// A word without its ending, so that `notes`, `muting` and `quantised` are found.
fn stem(word: &str) -> &str {
    let without = |word: &'_ str, ending: &str| {
        word.strip_suffix(ending).filter(|rest| rest.len() >= 3).map(str::len)
    };
    let mut kept = word.len();
    if let Some(length) = ["ing", "ed"].iter().find_map(|ending| without(word, ending)) {
        return &word[..length];
    }
    for ending in ["s", "e"] {
        kept = without(&word[..kept], ending).unwrap_or(kept);
    }
    &word[..kept]
}

#[cfg(test)]
mod tests {
    use super::super::table;
    use super::*;

    fn at(view: View) -> Here {
        Here { view, piano: false, arrows: Arrows::Cursor, keymap: Keymap::default() }
    }

    /// The first lines found.
    fn found(typed: &str, here: Here) -> Vec<&'static str> {
        search(typed, here).iter().map(|entry| entry.binding.words().phrase).collect()
    }

    #[test]
    fn what_musicians_say_is_found_first() {
        let (here, notes) = (at(View::Loop), at(View::Notes));
        for (typed, here, first) in [
            ("louder", here, "Turn the built-in sound up"),
            ("make the bass louder", here, "Turn the built-in sound up"),
            ("volume", at(View::Levels), "Turn the track's volume down"),
            ("quantise", here, "Quantise the track, or play it as played"),
            ("quantize", here, "Quantise the track, or play it as played"),
            ("pan", here, "Pan the track to the left"),
            ("quantising", here, "Quantise the track, or play it as played"),
            ("swing", here, "Set the feel of the track"),
            ("copy verse", here, "Copy the section"),
            ("delete", here, "Remove the top layer"),
            ("delete", notes, "Delete notes"),
            ("delete", at(View::Layers), "Remove the layer"),
            ("copy", notes, "Copy notes"),
            ("copy", here, "Copy notes"),
            ("metronome", here, "Change when the click plays"),
            ("faster", here, "Raise the tempo"),
            ("slow down", here, "Lower the tempo"),
            ("stop", here, "Stop"),
            ("stop recording", here, "Stop recording"),
            ("rec", here, "Record"),
            ("start", here, "Play the section"),
            ("undo", here, "Undo the last change"),
            ("mistake", here, "Undo the last change"),
            ("panic", here, "Silence everything now"),
            ("new track", here, "Add a track"),
            ("instrument", here, "Choose the sound of the track"),
            ("backwards", here, "Reverse notes in time"),
            ("time signature", here, "Edit the section"),
            ("exit", here, "Quit"),
            ("mixer", here, "Show the levels"),
            ("muting", here, "Mute or unmute the track"),
            ("hats", here, "Add a track"),
            ("hats", notes, "Set the feel of the layer"),
            ("swing only the hats", notes, "Set the feel of the layer"),
            ("swing only the hats", at(View::Layers), "Set the feel of the layer"),
        ] {
            assert_eq!(
                found(typed, here).first(),
                Some(&first),
                "{typed}: {:?}",
                found(typed, here)
            );
        }
    }

    #[test]
    fn everyday_phrases_find_what_they_mean() {
        let (here, layers, notes) = (at(View::Loop), at(View::Layers), at(View::Notes));
        let (levels, form, piano) =
            (at(View::Levels), at(View::Form), Here { piano: true, ..here });
        let lane = Here { arrows: Arrows::Lane, ..notes };
        let mut wrong = Vec::new();
        for (typed, here, first) in [
            ("swell", here, "Draw a ramp"),
            ("crescendo", notes, "Draw a ramp"),
            ("crescendo", lane, "Draw a ramp"),
            ("automation", here, "Draw velocities and controllers"),
            ("delete note", here, "Delete notes"),
            ("delete a note", notes, "Delete notes"),
            ("velocity", here, "Make notes louder or softer"),
            ("velocity", notes, "Make notes louder or softer"),
            ("key", here, "Edit the song"),
            ("change key", here, "Edit the song"),
            ("keys", here, "Show the help"),
            ("transpose the song", here, "Edit the song"),
            ("transpose", notes, "Transpose notes"),
            ("song title", here, "Edit the song"),
            ("rename the track", here, "Edit the track"),
            ("rename", layers, "Name the layer"),
            ("delete track", here, "Remove the track"),
            ("next track", here, "Choose the track below"),
            ("instrument", layers, "Choose the sound of the track"),
            ("change instrument", here, "Choose the sound of the track"),
            ("volume up", here, "Turn the track's volume up"),
            ("quieter", levels, "Turn the track's volume down"),
            ("pan left", levels, "Pan the track to the left"),
            ("headphones", here, "Turn the built-in sound down"),
            ("retake", here, "Record again from the same place"),
            ("overdub", here, "Change what a new pass does"),
            ("punch in", here, "Change what a new pass does"),
            ("delete take", layers, "Remove the layer"),
            ("erase", here, "Remove the top layer"),
            ("keep what I played", here, "Keep what you just played"),
            ("go back to the start", here, "Go back to the top"),
            ("no metronome", here, "Change when the click plays"),
            ("tap tempo", here, "Tap the tempo"),
            ("speed up", here, "Raise the tempo"),
            ("shuffle", here, "Set the feel of the track"),
            ("triplets", here, "Set the feel of the track"),
            ("tighten", here, "Quantise the track, or play it as played"),
            ("time signature", form, "Edit the section"),
            ("number of bars", form, "Edit the section"),
            ("add a chorus", form, "Add a section"),
            ("duplicate the section", here, "Copy the section"),
            ("arrangement", here, "Show the sections and the form"),
            ("play the song", here, "Play the form"),
            ("draw a note", here, "Draw a note"),
            ("paste", notes, "Paste notes"),
            ("legato", notes, "Join notes"),
            ("accent", notes, "Make notes louder or softer"),
            ("select all", notes, "Select all notes"),
            ("octave up", piano, "Move the piano up an octave"),
            ("keyboard", here, "Turn on piano mode"),
            ("stuck note", here, "Silence everything now"),
            ("latency", here, "Show the ports and the timing"),
            ("export midi", here, "Export the song"),
            ("wav", here, "Export the song"),
            ("load", here, "Open another song"),
            ("save under another name", here, "Save the song to another file"),
            ("tutorial", here, "Take the tour"),
            ("shortcuts", here, "Show the help"),
        ] {
            let found = found(typed, here);
            if found.first() != Some(&first) {
                wrong.push(format!("{typed}: {:?}", &found[..found.len().min(4)]));
            }
        }
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }

    #[test]
    fn nothing_typed_gives_every_action_those_of_the_view_first() {
        for view in View::ALL {
            for piano in [false, true] {
                let here = Here { piano, ..at(view) };
                let all = search("", here);
                let is_sorted = all.is_sorted_by_key(|entry| entry.place.distance(here) >= 3);
                assert!(is_sorted, "{here:?}");
                let offered = table().filter(|binding| is_offered(binding, here));
                for binding in offered {
                    let entries = all.iter().filter(|entry| entry.is_about(binding));
                    assert_eq!(entries.count(), 1, "{here:?} {:?}", binding.action);
                }
            }
        }
    }

    #[test]
    fn each_line_finds_its_own_action_first() {
        for view in [View::Loop, View::Notes] {
            let here = at(view);
            for entry in entries(here) {
                let phrase = entry.binding.words().phrase;
                assert!(
                    found(phrase, here).iter().take(3).any(|found| *found == phrase),
                    "{phrase}"
                );
            }
        }
    }

    #[test]
    fn words_that_no_action_has_find_nothing() {
        assert!(found("xylophone zebra", at(View::Loop)).is_empty());
        assert!(!found("zebra tempo", at(View::Loop)).is_empty());
    }

    #[test]
    fn an_action_with_several_keys_is_shown_with_the_one_that_works_here() {
        let key = |typed, here| search(typed, here)[0].key_words(Keymap::default());
        assert_eq!(key("record", at(View::Loop)), "r");
        assert_eq!(key("record", Here { piano: true, ..at(View::Loop) }), "Enter");
        let reverse = search("reverse notes", at(View::Loop))[0];
        assert_eq!(
            (
                reverse.key_words(Keymap::default()).as_str(),
                reverse.place.words(Keymap::default()).as_str()
            ),
            ("e b", "in the notes (F4)")
        );
    }
}
