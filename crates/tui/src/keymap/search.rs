//! Finding actions by words.
//!
//! In: where the player is, and what was typed. Out: the actions that fit, the best first; among
//! those that fit as well, actions of the current view come first, then the table decides.

mod fit;
mod topics;
mod typed;

use super::{Binding, Keymap, Need, Scene};
use crate::action::{Action, Arrows, NoteAction, NoteList, SectionAction};
use crate::screen::View;
use chaconne_song::TrackId;
use fit::Fit;
use std::cmp::Reverse;

pub use topics::Topic;
pub use typed::{Typed, is_filler, is_same, split};

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
    /// In the list over the view of the form.
    SectionList,
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
            Scene::SectionEdits => Some(Place::SectionList),
            scene => View::ALL.into_iter().find(|shown| shown.scene() == scene).map(view),
        }
    }

    /// How far it is: nearer is less.
    fn distance(self, here: Here) -> u8 {
        match self {
            Place::Here => 0,
            Place::OutsidePiano => 1,
            Place::List(_) if here.view == View::Notes => 2,
            Place::SectionList if here.view == View::Form => 2,
            Place::View(_) | Place::Piano => 3,
            Place::List(_) | Place::SectionList => 4,
        }
    }

    /// In words; empty if it is here.
    pub fn words(self, keymap: Keymap) -> String {
        match self {
            Place::Here => String::new(),
            Place::OutsidePiano => "outside piano mode".to_string(),
            Place::View(view) => in_view(view, keymap),
            Place::List(_) => in_view(View::Notes, keymap),
            Place::SectionList => in_view(View::Form, keymap),
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
            Place::Here | Place::OutsidePiano | Place::View(_) | Place::SectionList => {
                Need::Nothing
            }
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
            (Place::List(list), _) => Some(Action::Note(NoteAction::Open(list))),
            (Place::SectionList, _) => Some(Action::Section(SectionAction::Arrange)),
            (_, Some(Arrows::Cursor)) => Some(Action::Note(NoteAction::Release)),
            (_, turns) => turns.map(|turns| Action::Note(NoteAction::Arrows(turns))),
        };
        let opens = first.and_then(|first| keymap.key_of(first));
        let keys = opens.into_iter().chain(self.binding.keys.first());
        keys.map(ToString::to_string).collect::<Vec<_>>().join(" ")
    }

    /// The words that it is found by, but for those of its explanation.
    fn known_by(&self) -> impl Iterator<Item = &'static str> + use<> {
        let (words, label) = (self.binding.words(), self.binding.label);
        [words.phrase, words.best, words.also, label].into_iter().flat_map(split)
    }

    /// Whether it shows or changes one track, so that the name of another one chooses that first.
    pub fn is_about_a_track(&self) -> bool {
        let needs = matches!(
            self.binding.need,
            Need::Track
                | Need::Grid
                | Need::AnyLayer
                | Need::Layer
                | Need::Ready
                | Need::Apart
                | Need::Arrows(_)
        );
        match self.binding.action {
            Action::Choose(_) => false,
            Action::Note(_) => true,
            Action::Show(view) => matches!(view, View::Layers | View::Notes | View::Levels),
            _ => needs,
        }
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

/// A track, as it can be named in the finder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// The track.
    pub id: TrackId,
    /// Its name.
    pub name: String,
    /// Whether its keys are drums.
    pub is_drums: bool,
    /// Whether it is the chosen one.
    pub is_chosen: bool,
}

/// What was found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Found {
    /// The actions that fit, the best first.
    pub entries: Vec<Entry>,
    /// What to say if no single action does what was asked. Its actions are the entries then.
    pub topic: Option<&'static Topic>,
    /// How what was typed was read.
    pub typed: Typed,
    /// The typed words that nothing here is called by.
    pub unknown: Vec<String>,
}

/// The actions that fit what was typed, the best first. Nothing typed fits every action.
#[cfg(test)]
pub fn search(typed: &str, here: Here) -> Vec<Entry> {
    look_up(typed, here, &[]).entries
}

/// What fits what was typed. Nothing typed fits every action.
///
/// An action fits if as many of the typed words as any other's are among its words, and half of them at
/// least. A topic that fits as many comes before the actions.
pub fn look_up(typed: &str, here: Here, parts: &[Part]) -> Found {
    let all = entries(here);
    let known: Vec<&str> = all.iter().flat_map(Entry::known_by).chain(topics::words()).collect();
    let typed = Typed::read(typed, &known, parts);
    // A track called chords must not hide the action that writes chords.
    let unnamed = Typed { words: typed.unnamed.clone(), track: None, ..typed.clone() };
    if !unnamed.words.is_empty() && !is_meant(&typed, &all, here) && is_meant(&unnamed, &all, here)
    {
        return best(unnamed, &all, here);
    }
    best(typed, &all, here)
}

/// Whether an action has all words in its name, or a topic is about all of them.
fn is_meant(typed: &Typed, all: &[Entry], here: Here) -> bool {
    let count = typed.words.len();
    all.iter().any(|entry| Fit::of(typed, entry, here).is_by_name(count))
        || topics::find(&typed.words).is_some_and(|(_, fit)| fit == count)
}

/// The actions that fit best.
fn best(typed: Typed, all: &[Entry], here: Here) -> Found {
    let fits = all.iter().map(|&entry| (Fit::of(&typed, &entry, here), entry));
    let mut found: Vec<(Fit, Entry)> = fits.collect();
    let most = found.iter().map(|(fit, _)| fit.words).max().unwrap_or(0);
    let topic = topics::find(&typed.words).filter(|(_, count)| *count >= most);
    let is_known = |word: &String| {
        topics::words().any(|known| is_same(known, word))
            || all.iter().any(|entry| Fit::has(word, entry))
    };
    let unknown: Vec<String> = match most == typed.words.len() {
        true => Vec::new(),
        false => typed.words.iter().filter(|word| !is_known(word)).cloned().collect(),
    };
    if let Some((topic, _)) = topic {
        let see = topic
            .see
            .iter()
            .filter_map(|&action| all.iter().find(|entry| entry.binding.action == action).copied());
        return Found { entries: see.collect(), topic: Some(topic), typed, unknown };
    }
    if most * 2 < typed.words.len() {
        return Found { typed, unknown, ..Found::default() };
    }
    found.retain(|(fit, _)| fit.words == most);
    found.sort_by_key(|(fit, _)| Reverse(fit.rank()));
    let entries = found.into_iter().map(|(_, entry)| entry).collect();
    Found { entries, topic: None, typed, unknown }
}

#[cfg(test)]
mod tests;
