//! The states of the transport and the recorder, and what was played.
//!
//! The transport: only `depart` enters `Rolling`, and only `halt` leaves it. All data of a run is inside
//! the run and ends with it.
//!
//! ```text
//!            play, continue, record, the leader's start
//!   Stopped ───────────────────────────────────────────► Rolling
//!   (the position, the last run) ◄────────────────────── (a run; in its count-in until the music
//!                                  stop, end of route     begins)
//! ```
//!
//! The recorder: only `begin`, `wait` and `end` change it. All data of a take is inside the take.
//!
//! ```text
//!              record on                     record off, stop, end of route, new bars
//!   Idle ─────────────────────────► Taking ───────────────────────────────────────────► Idle
//!     └─ record on, led ─► Waiting ──┘  ▲ the leader's start
//! ```
//!
//! What was played is stored from one start to the next. So it outlasts the run, for late input and for
//! *keep*.

use super::late::{Closed, Past};
use super::levels::Level;
use super::position::Parked;
use super::recording::Take;
use super::run::{Rest, Run};
use crate::Entry;
use crate::capture::Capture;
use chaconne_song::{LaneId, Letter, NoteId, PassId, Release, TrackId};
use chaconne_time::{Ns, Tick};
use std::collections::{BTreeMap, BTreeSet, VecDeque};

/// What the transport does.
#[derive(Debug)]
pub(super) enum Transport {
    Stopped(Stopped),
    Rolling(Run),
}

/// A transport that does not roll.
#[derive(Debug, Default)]
pub(super) struct Stopped {
    /// Its position; `None` for the top.
    pub parked: Option<Parked>,
    /// The last run, for late input and for *keep*.
    pub past: Option<Past>,
}

impl Default for Transport {
    fn default() -> Self {
        Transport::Stopped(Stopped::default())
    }
}

impl Transport {
    pub fn rolls(&self) -> bool {
        self.run().is_some()
    }

    pub fn run(&self) -> Option<&Run> {
        match self {
            Transport::Rolling(run) => Some(run),
            Transport::Stopped(_) => None,
        }
    }

    pub fn run_mut(&mut self) -> Option<&mut Run> {
        match self {
            Transport::Rolling(run) => Some(run),
            Transport::Stopped(_) => None,
        }
    }

    pub fn parked(&self) -> Option<&Parked> {
        match self {
            Transport::Stopped(stopped) => stopped.parked.as_ref(),
            Transport::Rolling(_) => None,
        }
    }

    /// The letters of the sections that the run plays and has to come; while stopped, those of the position
    /// and of the last run.
    pub fn letters_mut<'a>(&'a mut self) -> impl Iterator<Item = &'a mut Letter> {
        let (run, parked, past) = match self {
            Transport::Rolling(run) => (Some(run), None, None),
            Transport::Stopped(Stopped { parked, past }) => (None, parked.as_mut(), past.as_mut()),
        };
        let runs = run.into_iter().chain(past.map(|past| &mut past.run));
        let runs = runs.map(|run| (&mut run.entries, &mut run.rest));
        let parked = parked.map(|Parked { spot, .. }| (&mut spot.entries, &mut spot.rest));
        let letters = |(entries, rest): (&'a mut Vec<Entry>, &'a mut Rest)| {
            let entered = entries.iter_mut().map(|entry| &mut entry.section);
            entered.chain(rest.letters_mut())
        };
        runs.chain(parked).flat_map(letters)
    }

    /// The run, and the last one after a stop.
    pub fn runs_mut(&mut self) -> (Option<&mut Run>, Option<&mut Run>) {
        match self {
            Transport::Rolling(run) => (Some(run), None),
            Transport::Stopped(stopped) => (None, stopped.past.as_mut().map(|past| &mut past.run)),
        }
    }

    /// Takes another position; does nothing while it rolls.
    pub fn park(&mut self, parked: Option<Parked>) {
        if let Transport::Stopped(stopped) = self {
            stopped.parked = parked;
        }
    }

    pub fn past(&self) -> Option<&Past> {
        match self {
            Transport::Stopped(stopped) => stopped.past.as_ref(),
            Transport::Rolling(_) => None,
        }
    }

    pub fn past_mut(&mut self) -> Option<&mut Past> {
        match self {
            Transport::Stopped(stopped) => stopped.past.as_mut(),
            Transport::Rolling(_) => None,
        }
    }

    /// Takes the last run out, so that it is forgotten.
    pub fn take_past(&mut self) -> Option<Past> {
        match self {
            Transport::Stopped(stopped) => stopped.past.take(),
            Transport::Rolling(_) => None,
        }
    }

    /// Starts a run.
    pub fn depart(&mut self, run: Run) {
        *self = Transport::Rolling(run);
    }

    /// Ends the run, which stopped at a tick.
    pub fn halt(&mut self, at: Tick) {
        if let Transport::Rolling(run) = std::mem::take(self) {
            *self = Transport::Stopped(Stopped { parked: None, past: Some(Past { run, at }) });
        }
    }
}

/// What the recorder does.
#[derive(Debug, Default)]
pub(super) enum Recorder {
    #[default]
    Idle,
    /// Recording begins with the next start of the clock that is followed.
    Waiting,
    Taking(Box<Take>),
}

impl Recorder {
    pub fn takes(&self) -> bool {
        matches!(self, Recorder::Taking(_))
    }

    pub fn waits(&self) -> bool {
        matches!(self, Recorder::Waiting)
    }

    pub fn current(&self) -> Option<&Take> {
        match self {
            Recorder::Taking(take) => Some(take),
            _ => None,
        }
    }

    pub fn current_mut(&mut self) -> Option<&mut Take> {
        match self {
            Recorder::Taking(take) => Some(take),
            _ => None,
        }
    }

    pub fn begin(&mut self, take: Take) {
        *self = Recorder::Taking(Box::new(take));
    }

    pub fn wait(&mut self) {
        *self = Recorder::Waiting;
    }

    /// Ends and returns the take, if there is one; also ends waiting.
    pub fn end(&mut self) -> Option<Take> {
        match std::mem::take(self) {
            Recorder::Taking(take) => Some(*take),
            _ => None,
        }
    }
}

/// What was played since the last start.
#[derive(Debug, Default)]
pub(super) struct Played {
    pub capture: Capture,
    /// The rounds closed last.
    pub closed: VecDeque<Closed>,
    pub held: Held,
    pub completed: Completed,
    /// The rounds that undo discarded; redo brings each back in its turn.
    pub discarded: Vec<Discarded>,
    /// The levels that were moved by steps while their track was recorded.
    pub stepped: BTreeSet<(TrackId, Level)>,
}

impl Played {
    /// Drops everything for another run, which starts at a tick. Pedals and wheels that are away from
    /// rest stay so.
    pub fn restart(&mut self, at: Tick) {
        let mut capture = std::mem::take(&mut self.capture);
        capture.restart(at);
        *self = Played { capture, ..Played::default() };
    }
}

/// Notes and pedals of closed rounds that are still held down.
#[derive(Debug, Default)]
pub(super) struct Held {
    /// Notes, and the pass each is in.
    pub notes: BTreeMap<NoteId, PassId>,
    /// Gestures by number: the pass and the lane each is in, and the tick at which the pass started.
    pub gestures: BTreeMap<u64, (PassId, LaneId, Tick)>,
}

/// Releases and pedal strokes for passes that are already laid. The next poll adds them, all those of
/// a pass at once.
#[derive(Debug, Default)]
pub(super) struct Completed {
    /// Releases, and the earliest start of a note among them.
    pub notes: BTreeMap<PassId, (Tick, Vec<Release>)>,
    /// Gestures that went on, by number, and the tick of the last move that its pass has of each.
    pub gestures: BTreeMap<u64, Tick>,
    /// When gestures are next extended in their passes.
    pub due: Ns,
}

/// A round that undo discarded.
#[derive(Debug, Clone, Copy)]
pub(super) struct Discarded {
    /// Marks its notes and moves in the capture.
    pub number: u32,
    /// How many steps could be redone when it was discarded.
    pub redo: usize,
}
