//! The tour: a minute that ends with a pass of the player's own in the loop.
//!
//! In: the state of the desk. Out: the step that the tour is at, in words. A step is over when what it
//! waits for has happened, however that came about; no step waits for a key. The tour takes one key,
//! the one that leaves it, and leaves all others to the view.

use super::{Overlay, Screen};
use crate::desk::{DeskState, Direction};
use crate::input::Key;
use crate::keymap::Scene;
use chaconne_engine::{Rounds, Status, Transport, Turn};
use chaconne_song::{Label, PassId, U7};
use std::collections::BTreeSet;
use std::time::Duration;

/// How long the last step stays, if nobody leaves it: time to read it twice and to try what it says.
const STAYS: Duration = Duration::from_secs(60);

/// The tour, while it is on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tour {
    /// What it waits for.
    step: Step,
    /// The number of its first step: what was so before is not counted.
    first: Option<u8>,
    /// The passes that are not the player's own.
    others: BTreeSet<PassId>,
    /// The newest pass that the player recorded or kept since the tour began.
    own: Option<PassId>,
    /// Whether that was undone.
    undone: bool,
    /// Whether the player was recording at the last look.
    recording: bool,
    /// When it came to its last step.
    over: Option<Duration>,
}

/// A step of the tour.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Step {
    /// Until there is a track.
    Track,
    /// Until the loop plays.
    Start,
    /// Until something can be played: the piano or a MIDI keyboard.
    Piano,
    /// Until what is played is recorded.
    Record,
    /// Until a note arrives.
    Play,
    /// Until the round becomes a pass.
    Seam,
    /// Until the take has ended.
    Stop,
    /// Until the pass is undone.
    Undo,
    /// Until it is back.
    Redo,
    /// Nothing more to wait for.
    Done,
}

impl Step {
    /// How many steps are counted.
    const COUNT: u8 = 8;

    /// Its number, from 1. Two steps that are one to the player have the same.
    fn number(self) -> u8 {
        match self {
            Step::Track => 1,
            Step::Start => 2,
            Step::Piano => 3,
            Step::Record => 4,
            Step::Play => 5,
            Step::Seam => 6,
            Step::Stop => 7,
            Step::Undo | Step::Redo | Step::Done => 8,
        }
    }
}

/// A step in words, with keys filled in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TourWords {
    /// Which step it is.
    pub place: String,
    /// What to do.
    pub text: String,
    /// What the tour waits for; empty at its end.
    pub waits: String,
    /// The key that leaves it.
    pub leave: String,
}

impl Tour {
    /// The tour from its first step.
    pub(super) fn new(state: &DeskState) -> Tour {
        let status = &state.status;
        Tour {
            step: Step::Track,
            first: None,
            others: status.song.passes.keys().copied().collect(),
            own: None,
            undone: false,
            recording: status.recording,
            over: None,
        }
    }

    /// Takes a look at the desk.
    fn follow(&mut self, state: &DeskState, has_piano: bool, now: Duration) {
        let status = &state.status;
        self.find_own(status);
        self.step = self.next_step(state, has_piano);
        self.first.get_or_insert(self.step.number());
        if self.step == Step::Done {
            self.over.get_or_insert(now);
        }
    }

    /// Finds the player's own pass among those of the song.
    fn find_own(&mut self, status: &Status) {
        let recorded = status.recording || self.recording || is_recorded(status.undo);
        self.recording = status.recording;
        for (id, pass) in &status.song.passes {
            if self.others.contains(id) || self.own == Some(*id) {
                continue;
            }
            // Where nothing can be undone, the song was opened just now.
            let is_own = recorded && status.undo.is_some() && !pass.notes().is_empty();
            let other = if is_own { self.own.replace(*id) } else { Some(*id) };
            self.others.extend(other);
        }
        let Some(own) = self.own else { return };
        let is_there = status.song.pass(own).is_some();
        self.undone |= !is_there;
        let is_gone = if is_there { status.undo.is_none() } else { status.redo.is_none() };
        if is_gone {
            // Another song was opened, or a change was made in place of the redo.
            self.others.extend(status.song.passes.keys());
            self.own = None;
        }
    }

    fn next_step(&self, state: &DeskState, has_piano: bool) -> Step {
        let status = &state.status;
        if self.step == Step::Done {
            return Step::Done;
        }
        if let Some(own) = self.own {
            return match (status.song.pass(own).is_some(), status.recording, self.undone) {
                (false, ..) => Step::Redo,
                (true, true, _) => Step::Stop,
                (true, false, false) => Step::Undo,
                (true, false, true) => Step::Done,
            };
        }
        let can_play = has_piano || (status.recording && has_input(state));
        let has_note = status.unfinished.as_ref().is_some_and(|pass| !pass.notes().is_empty());
        match status.transport {
            // A song that has tracks has an armed one.
            _ if status.armed.is_none() => Step::Track,
            Transport::Stopped => Step::Start,
            _ if !can_play => Step::Piano,
            _ if !status.recording => Step::Record,
            _ if !has_note => Step::Play,
            _ => Step::Seam,
        }
    }

    /// Which step it is, in words.
    fn place(&self) -> String {
        let skipped = self.first.unwrap_or(1) - 1;
        let at = self.step.number().saturating_sub(skipped).max(1);
        match self.step {
            Step::Done => "TOUR done".to_string(),
            _ => format!("TOUR {at} of {}", Step::COUNT - skipped),
        }
    }

    /// What to do, and what it waits for. In braces are the ids of actions, for their keys.
    fn words(&self, screen: &Screen, state: &DeskState) -> (String, String) {
        let status = &state.status;
        let piano = screen.overlays.has_piano();
        let bars = status.song.section(status.section).map_or(1, |section| section.metre.bars());
        let in_one = status.rounds == Rounds::One;
        let (text, waits) = match self.step {
            Step::Track => (
                "{add-track} adds a track, such as drums or bass; {confirm} confirms it.",
                "a track",
            ),
            Step::Start => ("{play} starts the loop. It goes round until you stop it.", "the loop"),
            Step::Piano if has_input(state) => (
                "{piano} turns letters into a piano; {record} records your MIDI keyboard.",
                "the piano",
            ),
            Step::Piano => ("{piano} turns two rows of letters into a piano.", "the piano"),
            Step::Record => ("{record} records what you play. The loop plays on.", "recording"),
            Step::Play if status.transport == Transport::CountingIn => {
                ("This is the count-in: play when it is over.", "a note")
            }
            Step::Play if !piano => ("Play something on your MIDI keyboard.", "a note"),
            Step::Play if has_kit_below(screen, state) => (
                "Tap the letters shown; {piano-octave-down} goes down to bass drum and snare.",
                "a note",
            ),
            Step::Play => ("Play something: tap the letters shown.", "a note"),
            Step::Seam if in_one => {
                ("Play on. {record} stops, and your pass becomes a layer.", "you to stop")
            }
            Step::Seam => ("", "the seam"),
            Step::Stop => {
                ("Your pass plays by itself now. {record} stops recording.", "you to stop")
            }
            Step::Undo => ("{undo} undoes the last change, whatever it was: try it.", "the undo"),
            Step::Redo => ("{redo} brings your pass back.", "the redo"),
            Step::Done => (
                "That is your own pass. For the next part press {add-track}. {find} finds everything else.",
                "",
            ),
        };
        if self.step == Step::Seam && !in_one {
            let end = if bars == 1 { "the bar".to_string() } else { format!("bar {bars}") };
            let text = format!("Play on. At the seam, the end of {end}, it becomes a layer.");
            return (text, "waiting for the seam".to_string());
        }
        let waits = if waits.is_empty() { String::new() } else { format!("waiting for {waits}") };
        (text.to_string(), waits)
    }
}

/// Whether undo would undo a pass that was recorded or kept.
fn is_recorded(undo: Option<Turn>) -> bool {
    matches!(undo, Some(Turn::Step(Label::NewPass | Label::KeepPlayed, ..)))
}

/// Whether something may come in on a port.
fn has_input(state: &DeskState) -> bool {
    state.ports.iter().any(|port| port.direction == Direction::In && port.state.is_open())
}

/// Whether the armed track is one of drums and the piano lies above the bass drum and the snare, which
/// are on the keys 36 and 38 (General MIDI System Level 1, RP-003, "Percussion Key Map").
fn has_kit_below(screen: &Screen, state: &DeskState) -> bool {
    let armed = state.status.armed.and_then(|id| state.status.song.track(id));
    let snare = U7::low_bits(38);
    armed.is_some_and(|track| !track.pitched) && screen.piano.reach().0 > snare
}

impl Screen {
    /// Starts the tour, or starts it again. The help closes: the tour is about what is under it.
    pub(super) fn start_tour(&mut self, state: &DeskState) {
        if matches!(self.overlays.top(), Some(Overlay::Help(_))) {
            self.overlays.close();
        }
        self.tour = Some(Tour::new(state));
    }

    /// Leaves the tour, and says how to come back to it.
    pub(super) fn leave_tour(&mut self) {
        self.tour = None;
        self.say_with_keys("You have left the tour: {tour} starts it again.");
    }

    /// Whether the tour takes a key. What is open over the view has its keys first.
    pub fn tour_has(&self, key: &Key) -> bool {
        let is_free = matches!(self.overlays.top(), None | Some(Overlay::Piano));
        let chord = key.chord();
        let has = || self.keymap.here(Scene::Tour).any(|row| row.keys.contains(&chord));
        self.tour.is_some() && is_free && has()
    }

    /// The step of the tour in words, if it is on.
    pub fn tour_words(&self, state: &DeskState) -> Option<TourWords> {
        let tour = self.tour.as_ref()?;
        let scene = match self.overlays.has_piano() {
            true => Scene::Piano,
            false => self.view.scene(),
        };
        let (text, waits) = tour.words(self, state);
        Some(TourWords {
            place: tour.place(),
            text: self.keymap.fill_in(scene, &text),
            waits,
            leave: self.keymap.fill("{leave-tour}"),
        })
    }

    /// Keeps the tour at the step that the state of the desk calls for.
    pub(super) fn follow_tour(&mut self, state: &DeskState, now: Duration) {
        let has_piano = self.overlays.has_piano();
        let is_answered =
            matches!(self.overlays.top(), Some(Overlay::Finder(_) | Overlay::Help(_)));
        let Some(tour) = &mut self.tour else { return };
        let before = tour.step;
        tour.follow(state, has_piano, now);
        let is_over = tour.over.is_some_and(|at| is_answered || now >= at + STAYS);
        self.version += u64::from(tour.step != before || is_over);
        if is_over {
            self.tour = None;
        }
    }
}
