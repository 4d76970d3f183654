//! The keys: one table of what they do, when, and in which words.
//!
//! In: a key, the scene that has the keys, and how things stand. Out: the action. The same table
//! feeds the line of keys at the foot of the screen, the help, and the manual's page.

mod table;

use crate::desk::View;
use crate::input::Key;
use chaconne_engine::Transport;
use chaconne_song::TrackId;

pub use table::TABLE;

/// Who has the keys.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scene {
    /// The sketch: tracks and transport.
    Sketch,
    /// The sketch, with two rows of letters playing notes.
    Piano,
    /// A form to fill in.
    Form,
    /// A question before something is given up.
    Ask,
    /// The choice of a grid.
    Grids,
    /// The choice of a section.
    Jump,
    /// The choice of a sound.
    Sounds,
    /// The help.
    Help,
}

/// Something a key does. Where several keys share one, which of them it was says the rest.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Action {
    /// Rolls.
    Play,
    /// Stops.
    Stop,
    /// Rolls on from where it stands.
    Continue,
    /// Goes to another bar while stopped.
    Locate,
    /// Starts a go.
    RecordOn,
    /// Ends a go.
    RecordOff,
    /// Keeps what was played.
    Keep,
    /// Takes back the last change.
    Undo,
    /// Makes it again.
    Redo,
    /// Chooses the track above or below.
    Choose,
    /// Arms the chosen track.
    Arm,
    /// Asks for a new track.
    AddTrack,
    /// Mutes the chosen track, or not.
    Mute,
    /// Solos the chosen track, or not.
    Solo,
    /// Takes off the top pass.
    TakeOff,
    /// The next way for a new pass to lie.
    Lay,
    /// The next rule for rounds.
    Rounds,
    /// Quantise on or off.
    Grid,
    /// Opens the choice of a grid.
    GridChoice,
    /// Opens the choice of a sound.
    SoundChoice,
    /// A beat a minute faster or slower.
    Tempo,
    /// The built-in sound softer or louder.
    Level,
    /// A tap.
    Tap,
    /// The next setting of the click.
    Click,
    /// The bars of the count-in.
    CountIn,
    /// Opens the choice of a section.
    Jump,
    /// Piano mode on.
    PianoOn,
    /// Piano mode off.
    PianoOff,
    /// An octave up or down.
    Octave,
    /// Softer or louder.
    Velocity,
    /// Saves.
    Save,
    /// Asks for a new song.
    New,
    /// Releases everything.
    Panic,
    /// Finer or coarser marks.
    Zoom,
    /// Opens the help.
    Help,
    /// Ends the program.
    Quit,
    /// Lets the shell have the terminal.
    Suspend,
    /// Draws everything anew.
    Redraw,
    /// Goes to another field, line or place.
    Move,
    /// Changes a choice, or moves in the text.
    Change,
    /// Clears a field.
    Clear,
    /// Takes what is there.
    Accept,
    /// Leaves it as it was.
    Cancel,
    /// Saves, and goes on.
    SaveFirst,
    /// Goes on without saving.
    Discard,
}

/// What has to be so for a key to apply.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Need {
    /// Nothing.
    Nothing,
    /// The transport is stopped.
    Stopped,
    /// The transport is stopped, and not at the top.
    Parked,
    /// It rolls or counts in.
    Moving,
    /// A track is armed and not being recorded.
    Ready,
    /// A go is on.
    Recording,
    /// There is a track.
    Track,
    /// The chosen track is not the armed one.
    Apart,
    /// The armed track has a pass in this section.
    Layer,
    /// There is something to undo.
    Undo,
    /// There is something to redo.
    Redo,
    /// There is more than one section.
    Sections,
    /// There is something to save.
    Unsaved,
    /// The built-in sound plays.
    Sound,
}

impl Need {
    /// When the key applies, as the manual puts it.
    pub fn when(self) -> &'static str {
        match self {
            Need::Nothing => "always",
            Need::Stopped => "stopped",
            Need::Parked => "stopped, not at the top",
            Need::Moving => "rolling or counting in",
            Need::Ready => "not recording, a track armed",
            Need::Recording => "recording",
            Need::Track => "there is a track",
            Need::Apart => "the chosen track is not armed",
            Need::Layer => "the armed track has a pass here",
            Need::Undo => "there is something to undo",
            Need::Redo => "there is something to redo",
            Need::Sections => "there are two sections or more",
            Need::Unsaved => "something is not saved",
            Need::Sound => "the built-in sound plays",
        }
    }

    /// What to say where it does not apply.
    pub fn missing(self) -> &'static str {
        match self {
            Need::Nothing => "",
            Need::Stopped => "It rolls: stop it first.",
            Need::Parked => "It rolls, or stands at the top already.",
            Need::Moving => "It is stopped already.",
            Need::Ready => "There is no track to record onto.",
            Need::Recording => "It is not recording.",
            Need::Track => "There is no track yet: a adds one.",
            Need::Apart => "This track is armed already.",
            Need::Layer => "There is no pass on the armed track to take off.",
            Need::Undo => "There is nothing to undo.",
            Need::Redo => "There is nothing to redo.",
            Need::Sections => "There is only one section.",
            Need::Unsaved => "Everything is saved.",
            Need::Sound => "The built-in sound does not play: turn the instruments up or down.",
        }
    }
}

/// How things stand, as far as keys depend on it.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// The desk's view.
    pub view: &'a View,
    /// The chosen track.
    pub chosen: Option<TrackId>,
}

impl Facts<'_> {
    /// Whether a need is met.
    pub fn meet(&self, need: Need) -> bool {
        let status = &self.view.status;
        let moving = status.transport != Transport::Stopped;
        match need {
            Need::Nothing => true,
            Need::Stopped => !moving,
            Need::Parked => !moving && status.at > chaconne_time::Tick::ZERO,
            Need::Moving => moving,
            Need::Ready => !status.recording && status.armed.is_some(),
            Need::Recording => status.recording,
            Need::Track => self.chosen.is_some(),
            Need::Apart => self.chosen.is_some() && self.chosen != status.armed,
            Need::Layer => status.armed.is_some_and(|armed| {
                let section = status.song.section(status.section);
                section.is_some_and(|section| section.passes_of(armed).next().is_some())
            }),
            Need::Undo => status.undo.is_some() || status.unfinished.is_some(),
            Need::Redo => status.redo.is_some(),
            Need::Sections => status.song.sections.len() > 1,
            Need::Unsaved => self.view.disk.unsaved || status.recording,
            Need::Sound => self.view.sound.is_some(),
        }
    }
}

/// A line of the table.
#[derive(Debug, Clone, Copy)]
pub struct Binding {
    /// What is done.
    pub action: Action,
    /// By which keys.
    pub keys: &'static [Key],
    /// How the keys are written where their names one by one would be too long; else empty.
    pub shown: &'static str,
    /// In a word or two, for the line of keys.
    pub label: &'static str,
    /// In a sentence.
    pub sentence: &'static str,
    /// Where.
    pub scenes: &'static [Scene],
    /// What it needs.
    pub need: Need,
}

/// What a key comes to.
#[derive(Debug, Clone, Copy)]
pub enum Found {
    /// This.
    Does(Action),
    /// It would do this, but something it needs is missing.
    NotNow(Action, Need),
    /// Nothing here.
    Nothing,
}

/// Looks a key up.
pub fn find(scene: Scene, key: &Key, facts: &Facts) -> Found {
    let chord = key.chord();
    let mut missing = None;
    for binding in here(scene).filter(|binding| binding.keys.contains(&chord)) {
        if facts.meet(binding.need) {
            return Found::Does(binding.action);
        }
        missing = missing.or(Some((binding.action, binding.need)));
    }
    missing.map_or(Found::Nothing, |(action, need)| Found::NotNow(action, need))
}

/// The lines of the table that hold in a scene, in the table's order.
pub fn here(scene: Scene) -> impl Iterator<Item = &'static Binding> {
    TABLE.iter().filter(move |binding| binding.scenes.contains(&scene))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Whether two needs can never hold together.
    fn exclude(one: Need, other: Need) -> bool {
        let opposite = |a, b| (one, other) == (a, b) || (other, one) == (a, b);
        opposite(Need::Stopped, Need::Moving) || opposite(Need::Ready, Need::Recording)
    }

    #[test]
    fn no_key_means_two_things_at_once() {
        for (index, binding) in TABLE.iter().enumerate() {
            for other in &TABLE[index + 1..] {
                let shared = binding.keys.iter().find(|key| other.keys.contains(key));
                let meet = binding.scenes.iter().any(|scene| other.scenes.contains(scene));
                if let Some(key) = shared.filter(|_| meet) {
                    let apart = exclude(binding.need, other.need);
                    assert!(apart, "{key}: {:?} and {:?}", binding.action, other.action);
                }
            }
        }
    }

    #[test]
    fn every_line_says_what_it_does() {
        for binding in TABLE {
            assert!(!binding.keys.is_empty() && !binding.scenes.is_empty(), "{binding:?}");
            assert!(!binding.label.is_empty() && binding.label.len() <= 12, "{binding:?}");
            assert!(binding.sentence.ends_with('.'), "{binding:?}");
        }
    }

    #[test]
    fn keys_that_play_notes_are_used_for_nothing_else_that_only_they_can_do() {
        // In piano mode notes come first. Whatever a letter meant is still there with Shift.
        for keyboard in [crate::Keyboard::Us, crate::Keyboard::De, crate::Keyboard::Fr] {
            for binding in here(Scene::Piano) {
                let reachable = binding.keys.iter().any(|key| match key.code {
                    crate::input::Code::Char(c) if !key.ctrl => {
                        let upper = Key::char(c.to_ascii_uppercase());
                        let taken = here(Scene::Piano).any(|other| {
                            other.action != binding.action && other.keys.contains(&upper)
                        });
                        keyboard.semitones(c).is_none() || (c.is_ascii_lowercase() && !taken)
                    }
                    _ => true,
                });
                assert!(reachable, "{keyboard:?}: {:?}", binding.action);
            }
        }
    }
}
