//! What an action needs in order to apply.
//!
//! In: a need, and the state. Out: whether it is met, and what to say if not.

use crate::action::Arrows;
use crate::desk::{DeskState, Kits};
use crate::keys_play::armed;
use chaconne_engine::Transport;
use chaconne_song::TrackId;
use chaconne_time::Tick;

/// What an action needs in order to apply.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Need {
    /// Nothing.
    Nothing,
    /// The transport is stopped.
    Stopped,
    /// The transport is stopped, so that the page does not follow it.
    Page,
    /// The transport is stopped, and not at the top.
    Parked,
    /// The song plays or is being counted in.
    Moving,
    /// The same, for what only makes sense then.
    Playing,
    /// The song waits for a tap: at a fermata, or for each beat of a hand that leads.
    Held,
    /// It does not.
    Flowing,
    /// A track is armed and nothing is being recorded.
    Ready,
    /// Recording is to start after the count-in, or when another clock starts.
    AboutToRecord,
    /// What is played is being recorded.
    Recording,
    /// A track is armed, and a take was recorded or begun.
    Again,
    /// There is a track.
    Track,
    /// The chosen track is not the armed one, and in the notes the arrows move the cursor.
    Apart,
    /// The armed track has a pass in this section.
    Layer,
    /// The chosen track has a layer in this section.
    AnyLayer,
    /// In the notes the arrows do this.
    Arrows(Arrows),
    /// There is a track, and in the notes the arrows are not in the lane.
    Grid,
    /// There is something to undo.
    Undo,
    /// There is something to redo.
    Redo,
    /// There is more than one section.
    Sections,
    /// The song has a form.
    SongForm,
    /// There are unsaved changes.
    Unsaved,
    /// There are no unsaved changes.
    Saved,
    /// The built-in instrument plays.
    Sound,
    /// The form has more than one field.
    Fields,
    /// The chords of a section are being written.
    Chart,
    /// The armed track is pitched.
    Pitched,
    /// The song has a groove.
    Groove,
}

impl Need {
    /// When the action applies, as the manual puts it.
    pub fn when(self) -> &'static str {
        match self {
            Need::Nothing => "always",
            Need::Stopped | Need::Page => "stopped",
            Need::Parked => "stopped, not at the top",
            Need::Moving | Need::Playing => "playing or counting in",
            Need::Held => "the song waits for a tap",
            Need::Flowing => "the song does not wait for a tap",
            Need::Ready => "not recording, a track is armed",
            Need::AboutToRecord => "about to record",
            Need::Recording => "recording",
            Need::Again => "after a first take",
            Need::Track => "there is a track",
            Need::Apart => "the chosen track is not armed",
            Need::Layer => "the armed track has a layer here",
            Need::AnyLayer => "the chosen track has a layer here",
            Need::Arrows(Arrows::Cursor) => "the arrows move the cursor",
            Need::Arrows(Arrows::Move) => "the arrows move notes",
            Need::Arrows(Arrows::Length) => "the arrows change lengths",
            Need::Arrows(Arrows::Velocity) => "the arrows change velocities",
            Need::Arrows(Arrows::Lane) => "the arrows are in the lane",
            Need::Grid => "the arrows are not in the lane",
            Need::Undo => "there is something to undo",
            Need::Redo => "there is something to redo",
            Need::Sections => "there are two sections or more",
            Need::SongForm => "the song has a form",
            Need::Unsaved => "there are unsaved changes",
            Need::Saved => "everything is saved",
            Need::Sound => "the built-in instrument plays",
            Need::Fields => "the form has several fields",
            Need::Chart => "writing chords",
            Need::Pitched => "a pitched track is armed",
            Need::Groove => "the song has a groove",
        }
    }

    /// Whether this need and another can never be met together.
    pub fn excludes(self, other: Need) -> bool {
        let are = |one, two| (self, other) == (one, two) || (other, self) == (one, two);
        if let (Need::Arrows(one), Need::Arrows(other)) = (self, other) {
            return one != other;
        }
        if let (Need::Apart, Need::Arrows(arrows)) | (Need::Arrows(arrows), Need::Apart) =
            (self, other)
        {
            return arrows != Arrows::Cursor;
        }
        are(Need::Stopped, Need::Moving)
            || are(Need::Stopped, Need::Playing)
            || are(Need::Page, Need::Playing)
            || are(Need::Page, Need::Moving)
            || are(Need::Held, Need::Flowing)
            || are(Need::Grid, Need::Arrows(Arrows::Lane))
            || are(Need::Ready, Need::Recording)
            || are(Need::Ready, Need::AboutToRecord)
            || are(Need::Recording, Need::AboutToRecord)
            || are(Need::Unsaved, Need::Saved)
    }

    /// What to say if it is not met. In braces are the ids of actions, for their keys.
    pub fn missing(self) -> &'static str {
        match self {
            Need::Nothing => "",
            Need::Stopped => "The song is playing: {play} stops it.",
            Need::Page => "While the song plays, the page follows it: {play} stops it.",
            Need::Parked => "The song is at the top: {play} plays it from there.",
            Need::Moving => "The song is stopped already.",
            Need::Playing => "The song is stopped: {play} plays the section, {play-form} the form.",
            Need::Held => "The song does not wait for a tap.",
            Need::Flowing => "The song waits for a tap: {tap} lets it go on.",
            Need::Ready => "There is no track to record on: press {add-track} to add one.",
            Need::AboutToRecord => "No recording is about to start: {record} starts one.",
            Need::Recording => "Nothing is being recorded: {record} records.",
            Need::Again => "There is no take to record again: {record} records one.",
            Need::Track => "There is no track yet: press {add-track} to add one.",
            Need::Apart => "This track is armed already.",
            Need::Layer => "The armed track has no layer here to remove: {record} records one.",
            Need::AnyLayer => "This track has no layers here: {record} records one.",
            Need::Arrows(Arrows::Cursor) => {
                "The arrows are in the lane: {lane} goes back to the notes."
            }
            Need::Arrows(Arrows::Move) => {
                "The arrows do not move notes: press {move-notes} in the notes first."
            }
            Need::Arrows(Arrows::Length) => {
                "The arrows do not change lengths: press {note-length} in the notes first."
            }
            Need::Arrows(Arrows::Velocity) => {
                "The arrows do not change velocities: press {note-velocity} in the notes first."
            }
            Need::Arrows(Arrows::Lane) => {
                "The arrows are not in the lane: press {lane} in the notes first."
            }
            Need::Grid => "The arrows are in the lane: {lane} goes back to the notes.",
            Need::Undo => "Nothing to undo.",
            Need::Redo => "Nothing to redo.",
            Need::Sections => {
                "There is only one section: {form} shows it, and {add-section} there adds another."
            }
            Need::SongForm => {
                "This song has no form yet: {form} shows its sections, {write-form} writes a form."
            }
            Need::Unsaved => "Everything is saved.",
            Need::Saved => "There are unsaved changes.",
            Need::Sound => "The built-in instrument is not in use: set the level on your own gear.",
            Need::Fields => "There is only one field.",
            Need::Pitched => "On a drum track every key is a drum: arm a pitched track first.",
            Need::Chart => {
                "Open the chords of a section first: {write-chords} in the view of the form."
            }
            Need::Groove => {
                "The song has no grooves yet: {take-groove} takes the groove of what was played."
            }
        }
    }
}

/// The state that actions depend on.
#[derive(Debug, Clone, Copy)]
pub struct Facts<'a> {
    /// The state of everything.
    pub state: &'a DeskState,
    /// The chosen track.
    pub chosen: Option<TrackId>,
    /// How many fields the form on top has; 0 if there is none.
    pub fields: usize,
    /// Whether the form on top is that for the chords of a section.
    pub chart: bool,
    /// What the arrows do in the notes.
    pub arrows: Arrows,
}

impl Facts<'_> {
    /// What to say if a need is not met. In braces are the ids of actions, for their keys.
    pub fn missing(&self, need: Need) -> &'static str {
        let status = &self.state.status;
        match need {
            // The built-in instrument is to play, but it has nothing to play on.
            Need::Sound if matches!(self.state.kits, Kits::Font(_)) => {
                "No audio device, so there is no level to set."
            }
            Need::Ready if status.recording => "You are recording already.",
            Need::Parked if status.transport != Transport::Stopped => {
                "The song is playing already."
            }
            Need::Apart | Need::Layer | Need::AnyLayer | Need::Pitched
                if status.song.tracks.is_empty() =>
            {
                Need::Track.missing()
            }
            Need::Apart if self.arrows != Arrows::Cursor => {
                self.missing(Need::Arrows(Arrows::Cursor))
            }
            Need::Arrows(Arrows::Cursor) => match self.arrows {
                Arrows::Cursor | Arrows::Lane => need.missing(),
                Arrows::Move => "The arrows move the notes: {deselect} ends that.",
                Arrows::Length => {
                    "{arrow-left} and {arrow-right} change the length: {deselect} ends that."
                }
                Arrows::Velocity => "The arrows change the velocity: {deselect} ends that.",
            },
            Need::Grid if self.arrows != Arrows::Lane => Need::Track.missing(),
            _ => need.missing(),
        }
    }

    /// Whether a need is met.
    pub fn meet(&self, need: Need) -> bool {
        let status = &self.state.status;
        let moving = status.transport != Transport::Stopped;
        match need {
            Need::Nothing => true,
            Need::Stopped | Need::Page => !moving,
            Need::Parked => !moving && status.at > Tick::ZERO,
            Need::Moving | Need::Playing => moving,
            // While a hand leads, the song waits again and again: what applies should not change with each beat.
            Need::Held => status.waits.is_some() || moving && status.by_hand.is_some(),
            Need::Flowing => !self.meet(Need::Held),
            Need::Ready => !status.recording && status.armed.is_some(),
            Need::AboutToRecord => status.recording && !self.state.is_playing(),
            Need::Recording => status.recording && self.state.is_playing(),
            Need::Again => status.again.is_some() && status.armed.is_some(),
            Need::Track => self.chosen.is_some(),
            Need::Apart => {
                let apart = self.chosen.is_some() && self.chosen != status.armed;
                apart && self.arrows == Arrows::Cursor
            }
            Need::Layer => self.has_layer(status.armed),
            Need::AnyLayer => self.has_layer(self.chosen),
            Need::Arrows(arrows) => self.arrows == arrows,
            Need::Grid => self.chosen.is_some() && self.arrows != Arrows::Lane,
            Need::Undo => status.undo.is_some() || status.unfinished.is_some(),
            Need::Redo => status.redo.is_some(),
            Need::Sections => status.song.sections.len() > 1,
            Need::SongForm => !status.song.form.is_empty(),
            Need::Unsaved => self.state.disk.unsaved || status.recording,
            Need::Saved => !self.meet(Need::Unsaved),
            Need::Fields => self.fields > 1,
            Need::Chart => self.chart,
            Need::Pitched => armed(status).is_some(),
            Need::Groove => !status.song.grooves.is_empty(),
            Need::Sound => self.state.sound.is_some(),
        }
    }

    fn has_layer(&self, track: Option<TrackId>) -> bool {
        let status = &self.state.status;
        let section = status.song.section(status.section);
        let on = |track| {
            section.is_some_and(|section| status.song.layers_of(section, track).next().is_some())
        };
        track.is_some_and(on)
    }
}
