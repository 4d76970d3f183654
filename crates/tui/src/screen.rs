//! The screen's own state: what is chosen, what is open, and the last message.
//!
//! In: inputs or actions, the state of the desk, and the time. Out: [`Effect`]s for whoever runs
//! the screen. It reads no clock and calls no desk, so that a session is a list of inputs and a
//! list of effects. `keys` decides which key asks for what, `act` does what an action says, and
//! `overlay` holds what is open over the view.

mod act;
mod arrange;
mod comparison;
mod export;
mod feel;
mod files;
mod finder;
mod grooves;
mod help;
mod inside;
mod key_box;
mod key_steps;
mod keys;
mod keys_box;
mod layers;
mod lead;
mod leave;
mod levels;
mod notes;
mod notice;
mod octaves;
mod overlay;
mod ramp;
mod sections;
mod song_form;
mod songs;
mod sounds;
mod time;
mod tour;
mod tracks;
mod view;

use crate::axis::TimeAxis;
use crate::chords::{key_heard, shift, sounds_words};
use crate::desk::{DeskState, ExportSpec, LevelStep, LiveKey, NewSong, SongRequest, SoundLine};
use crate::form::Purpose;
use crate::input::{Again, Key, Strokes};
use crate::keymap::{Facts, Keymap, Scene};
use crate::keys_play::Played;
use crate::numbers;
use crate::options::Options;
use crate::piano::Piano;
use chaconne_engine::{Command, When};
use chaconne_song::{GrooveId, Letter, PassId, TrackId};
use chaconne_time::NoteValue;
use std::collections::{BTreeMap, VecDeque};
use std::time::Duration;

pub use arrange::SectionMenu;
pub use comparison::Comparison;
use feel::feel_words;
pub use feel::{FeelField, FeelPick};
pub use files::FilePick;
pub use finder::Finder;
pub use grooves::GroovePick;
use grooves::taken_words;
pub use help::HelpPage;
pub use key_box::{KeyBox, KeyRow, hundredths};
pub use keys_box::{KeysBox, KeysField};
pub use layers::{LayersView, Stack, groove_of};
pub use lead::when_word;
use leave::{Leaving, Saving};
pub use leave::{Next, Question};
pub use notes::{LanePick, NoteMenu, NotesView};
pub use notice::{Notice, is_shown_whole};
use octaves::Octaves;
pub use overlay::{Overlay, Overlays};
pub use ramp::{RampField, RampPick};
pub use sections::{SectionPick, Whither};
pub use song_form::{SongFormView, standing, unrolled};
use songs::SongsAsked;
pub use sounds::SoundPick;
pub use tour::Tour;
pub use view::View;

/// Something for whoever runs the screen to do.
#[derive(Debug, Clone)]
pub enum Effect {
    /// Ask the desk for something about the music.
    Command(Command),
    /// Tap the tempo.
    Tap {
        /// When the key came, on the screen's own clock.
        at: Duration,
    },
    /// Play a key.
    Play(LiveKey),
    /// Save.
    Save {
        /// The file; `None` for the one the song was saved to last.
        file: Option<String>,
        /// Whether to replace a file that this program did not write.
        replace: bool,
    },
    /// Turn the sound up or down.
    Level(LevelStep),
    /// Ask for the songs in a folder.
    Browse {
        /// The number of the request.
        number: u64,
        /// The folder; `None` for that of the song.
        path: Option<String>,
    },
    /// Ask for a song to be read.
    Read {
        /// The number of the request.
        number: u64,
        /// What is to be read.
        request: SongRequest,
    },
    /// Export the song.
    Export(ExportSpec),
    /// Cancel the export that runs.
    CancelExport,
    /// Start a new song.
    NewSong(NewSong),
    /// Remove the rescue copy.
    RemoveRescue,
    /// Count how late messages are afresh.
    RestartTiming,
    /// Silence everything and give the terminal back for a while.
    Suspend,
    /// Redraw everything.
    Redraw,
    /// End.
    Quit,
}

/// The screen's state.
#[derive(Debug)]
pub struct Screen {
    /// The chosen track.
    pub chosen: Option<TrackId>,
    /// What fills the body.
    pub view: View,
    /// Where the view of the layers is.
    pub layers: LayersView,
    /// Where the view of the notes is.
    pub notes: NotesView,
    /// Where the view of the form is.
    pub song_form: SongFormView,
    /// What is open over the view.
    pub overlays: Overlays,
    /// The tour, while it is on.
    pub tour: Option<Tour>,
    /// The piano, whether it is on or not.
    pub piano: Piano,
    /// The keys in use.
    pub keymap: Keymap,
    /// The time axis of the view.
    pub axis: TimeAxis,
    /// The last message.
    pub notice: Notice,
    /// Goes up by one whenever something visible here has changed.
    pub version: u64,
    /// Columns and rows of the terminal.
    pub size: (u16, u16),
    /// When the notice first appeared.
    noticed_at: Option<Duration>,
    /// The notices of the start that are still to be shown.
    waiting: VecDeque<Notice>,
    repeat: Duration,
    /// When the last input came.
    came: Duration,
    /// The last key, and what it did so far.
    last_key: Option<(Key, Strokes)>,
    /// Whether the key that is being taken is pressed or held down.
    again: Again,
    /// Whether the last press changed notes, what is in the lane, or what keys play.
    edited: bool,
    last_grids: BTreeMap<TrackId, NoteValue>,
    /// The chord that was played last.
    pub played: Played,
    /// Where the piano lies on each track.
    octaves: Octaves,
    leaving: Option<Leaving>,
    /// The save that was asked for last.
    saving: Saving,
    /// The title that the song got from its file.
    given_title: Option<String>,
    /// When a change of section takes place.
    pub when: When,
    /// The number of the last request for a folder.
    browsed: u64,
    /// The last request for a song.
    asked: SongsAsked,
    /// The export that was asked for last, until it has ended.
    exporting: Option<ExportSpec>,
    /// The message to show at the next look, when the outcome is known.
    awaited: Option<Awaited>,
    /// The tracks that the screen asked to arm and that the status does not show yet, in order.
    arms: VecDeque<TrackId>,
    seen: Seen,
}

const RESTORED: &str =
    "The unsaved changes are back. They are not in any song file until you save.";

/// A message that depends on the outcome of a request.
#[derive(Debug, Clone, Copy)]
enum Awaited {
    /// The level of the built-in sound.
    Level,
    /// The feel of a track.
    Feel(TrackId),
    /// The feel of a layer.
    LayerFeel(PassId),
    /// A layer of their own for notes.
    SplitOff(PassId),
    /// One layer, in a section, for the two that it was merged from.
    Merged(Letter, PassId, [PassId; 2]),
    /// A groove that was taken.
    Taken(GrooveId),
    /// The key of a section.
    Key(Letter),
    /// The transposition of the song.
    Transposed,
    /// The transposition of a section.
    TransposedSection(Letter),
    /// The volume or the pan of a track that is not the recorded one.
    Beside(TrackId, &'static str),
}

impl Awaited {
    /// The message, with the outcome.
    fn words(self, state: &DeskState) -> Option<String> {
        match self {
            Awaited::Level => state.sound.as_ref().map(level_words),
            Awaited::Taken(groove) => taken_words(state, groove),
            Awaited::Key(letter) => {
                let song = &state.status.song;
                let key = key_heard(song, song.section(letter)?)?;
                Some(format!("Section {letter} is in {key}; {{undo}} undoes that."))
            }
            Awaited::Transposed => {
                let song = &state.status.song;
                let by = i32::from(song.transpose.semitones());
                let sounds = sounds_words(song.key, by);
                Some(format!("The song now sounds {sounds}; {{undo}} undoes that."))
            }
            Awaited::TransposedSection(letter) => {
                let song = &state.status.song;
                let section = song.section(letter)?;
                let sounds = sounds_words(section.key.or(song.key), shift(song, section));
                Some(format!("Section {letter} now sounds {sounds}; {{undo}} undoes that."))
            }
            Awaited::SplitOff(pass) => {
                let count = state.status.song.pass(pass)?.notes().len();
                let (notes, their) = if count == 1 { ("note", "its") } else { ("notes", "their") };
                Some(format!(
                    "{count} {notes} in a layer of {their} own: {{layer-feel}} sets its feel."
                ))
            }
            Awaited::Merged(here, merged, old) => {
                layers::merged_words(&state.status.song, (here, merged), old)
            }
            Awaited::LayerFeel(pass) => {
                let pass = state.status.song.pass(pass)?;
                Some(match &pass.feel {
                    Some(feel) => {
                        format!("feel of this layer: {}", feel_words(&state.status.song, feel))
                    }
                    None => "This layer has the feel of its track.".to_string(),
                })
            }
            Awaited::Feel(track) => {
                let song = &state.status.song;
                let track = song.track(track)?;
                Some(format!("feel of {}: {}", track.name, feel_words(song, &track.feel)))
            }
            Awaited::Beside(track, what) => {
                let song = &state.status.song;
                let (track, armed) = (song.track(track)?, song.track(state.status.armed?)?);
                Some(format!(
                    "Only {} is being recorded: this sets the {what} of {} everywhere.",
                    armed.name, track.name
                ))
            }
        }
    }
}

/// What the desk's state was at the last look.
#[derive(Debug, Default)]
struct Seen {
    armed: Option<TrackId>,
    said: u64,
    attempts: u64,
    exports: u64,
    revision: u64,
    rescue: Option<String>,
    /// Whether the count-in was playing.
    counts_in: bool,
    /// Whether a take was being recorded.
    recording: bool,
}

impl Screen {
    /// The screen at the start.
    pub fn new(options: &Options, state: &DeskState) -> Screen {
        let repeat = Duration::from_millis(options.repeat_ms);
        let (attempts, revision) = (state.disk.attempts, state.status.revision);
        let exports = state.export.ended;
        let seen = Seen { attempts, exports, revision, ..Seen::default() };
        Screen {
            chosen: None,
            view: View::default(),
            layers: LayersView::default(),
            notes: NotesView::default(),
            song_form: SongFormView::default(),
            overlays: Overlays::default(),
            tour: options.tour.then(|| Tour::new(state)),
            piano: Piano::new(options.keyboard, repeat),
            keymap: options.keymap,
            axis: TimeAxis::default(),
            notice: Notice::default(),
            noticed_at: None,
            waiting: Notice::of_start(&options.notices).collect(),
            version: 0,
            size: (80, 24),
            repeat,
            came: Duration::ZERO,
            last_key: None,
            again: Again::Press,
            edited: false,
            last_grids: BTreeMap::new(),
            played: Played::default(),
            octaves: Octaves::default(),
            leaving: None,
            saving: Saving::default(),
            given_title: None,
            when: When::default(),
            browsed: 0,
            asked: SongsAsked::default(),
            exporting: None,
            awaited: None,
            arms: VecDeque::new(),
            seen,
        }
    }

    /// The scene that gets the keys.
    pub fn scene(&self) -> Scene {
        self.overlays.top().map_or(self.view.scene(), Overlay::scene)
    }

    /// The state, for the keymap.
    pub fn facts<'a>(&self, state: &'a DeskState) -> Facts<'a> {
        let (chosen, fields) = (self.chosen, self.overlays.fields());
        let chart = matches!(
            self.overlays.top(),
            Some(Overlay::Form(form)) if matches!(form.purpose, Purpose::Chords(_))
        );
        Facts { state, chosen, fields, chart, arrows: self.notes.arrows }
    }

    /// When [`follow`](Self::follow) is needed even if nothing comes in.
    pub fn deadline(&self) -> Option<Duration> {
        self.piano.deadline()
    }

    /// Takes a look at the desk.
    pub fn follow(&mut self, state: &DeskState, now: Duration, out: &mut Vec<Effect>) {
        let lifted = self.piano.lift_due(now);
        self.version += u64::from(!lifted.is_empty());
        out.extend(lifted.into_iter().map(Effect::Play));
        if std::mem::replace(&mut self.seen.recording, state.status.recording)
            && !state.status.recording
        {
            out.extend(self.piano.lift_waiting().into_iter().map(Effect::Play));
        }
        self.follow_tracks(state);
        self.version += u64::from(self.played.follow(&state.status));
        self.follow_position(state);
        self.follow_notes(state);
        if state.status.revision != self.seen.revision {
            // A message about the song as it was before is out of date.
            self.seen.revision = state.status.revision;
            self.clear_notice();
            if state.status.undo.is_none() && state.status.redo.is_none() {
                // Where nothing can be undone or redone, another song was opened just now.
                self.forget_octaves();
            }
        }
        self.follow_octave(state);
        if state.status.said.0 != self.seen.said {
            self.seen.said = state.status.said.0;
            self.say(&state.status.said.1);
        }
        if let Some(sentence) = self.awaited.take().and_then(|awaited| awaited.words(state)) {
            self.say_with_keys(&sentence);
        }
        self.follow_save(state);
        self.follow_rescue(state);
        self.follow_export(state);
        self.follow_folder(state);
        self.follow_song(state);
        self.follow_leaving(state, out);
        self.follow_tour(state, now);
        self.follow_preview(state);
        self.follow_keys_box(state, out);
        self.follow_key_box(state);
        self.follow_notice(now);
    }

    /// Keeps the chosen track one that exists, and follows when another one is armed.
    fn follow_tracks(&mut self, state: &DeskState) {
        let status = &state.status;
        let before = self.chosen;
        if status.armed != self.seen.armed {
            self.seen.armed = status.armed;
            match self.arms.iter().position(|asked| Some(*asked) == status.armed) {
                // It was asked for here; meanwhile another track may be chosen.
                Some(at) => drop(self.arms.drain(..=at)),
                None => {
                    self.arms.clear();
                    self.chosen = status.armed.or(self.chosen);
                }
            }
        }
        let exists = |id: &TrackId| status.song.track(*id).is_some();
        self.chosen = self
            .chosen
            .filter(exists)
            .or_else(|| status.armed.filter(exists))
            .or_else(|| status.song.tracks.first().map(|track| track.id));
        self.version += u64::from(self.chosen != before);
    }
}

/// The new level, in words.
fn level_words(sound: &SoundLine) -> String {
    match sound.level.and_then(numbers::tenths) {
        None => "The sound is off: press {sound-up} to turn it up".to_string(),
        Some(0..) => "The sound is at full scale, as loud as it goes".to_string(),
        Some(_) => {
            let under = numbers::level_text(sound.level.map(f32::abs));
            format!("The sound is {under} under full scale")
        }
    }
}

#[cfg(test)]
mod tests;
