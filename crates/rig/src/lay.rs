//! Laying a take: plays a recorded performance into the recorder, on a simulated clock.
//!
//! In: a song, a take, and the track and section for it. Out: the song with the passes that the
//! recorder made from it. The take's beats line up with the song's; its tempo is not used.
//! Recording starts at the top, without a count-in, and lasts to the end of the round that owns the
//! last note of the take.

use crate::export::missing;
use chaconne_engine::{
    Command, Config, Engine, Input, Message, Mode, Refused, Rounds, When, Wire, half_step,
};
use chaconne_exchange::{Take, TakeEvent};
use chaconne_song::{Edit, Feel, Letter, Pass, Song, Track, TrackId, U7};
use chaconne_time::{NoteValue, Ns, Tick};
use std::sync::Arc;

/// The step of the simulated clock, in nanoseconds.
const STEP: Ns = 50_000_000;

/// How to lay a take.
#[derive(Debug, Clone, Default)]
pub struct HowToLay {
    /// The track, by name; created if the song has none of that name.
    pub track: String,
    /// The section; `None` for the first.
    pub section: Option<Letter>,
    /// What a new pass does to the layers under it.
    pub mode: Mode,
    /// Which rounds to keep.
    pub rounds: Rounds,
    /// The quantise grid of a track created for the take; `None` for as played.
    pub grid: Option<NoteValue>,
}

/// Why a take could not be recorded: one sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayError(pub String);

impl std::fmt::Display for LayError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0)
    }
}

impl std::error::Error for LayError {}

impl From<Refused> for LayError {
    fn from(refused: Refused) -> LayError {
        LayError(refused.0)
    }
}

impl From<String> for LayError {
    fn from(sentence: String) -> LayError {
        LayError(sentence)
    }
}

/// The result of laying a take.
#[derive(Debug, Clone)]
pub struct Laid {
    /// The song with the new passes.
    pub song: Arc<Song>,
    /// The section they are in.
    pub section: Letter,
    /// The new passes, lowest first.
    pub passes: Vec<Arc<Pass>>,
    /// Whether the track was created.
    pub made: bool,
}

impl Laid {
    /// The number of notes in the new passes.
    pub fn notes(&self) -> usize {
        self.passes.iter().map(|pass| pass.notes().len()).sum()
    }
}

/// A take ready to be laid.
#[derive(Debug, Clone)]
pub(crate) struct LayPlan {
    /// The song, with the track.
    pub song: Song,
    pub track: TrackId,
    pub section: Letter,
    pub made: bool,
    /// What is played, without the messages that became settings of a new track.
    pub events: Vec<TakeEvent>,
    /// The seam at which recording ends.
    pub end: Tick,
    mode: Mode,
    rounds: Rounds,
}

impl LayPlan {
    /// Finds the section, finds or creates the track, and works out where recording ends.
    pub fn new(song: &Song, take: &Take, how: &HowToLay) -> Result<LayPlan, LayError> {
        let mut song = song.clone();
        let first = song.sections.first().map(|section| section.letter);
        let letter = how.section.or(first).ok_or_else(|| "the song has no section".to_string())?;
        let section = song.section(letter).cloned().ok_or_else(|| missing(&song, letter))?;
        let mut events = take.events.clone();
        let known = find_track(&song, &how.track);
        let made = known.is_none();
        let track = match known {
            Some(track) => track,
            None => make_track(&mut song, how, &mut events)?,
        };
        // Rule 1: a start within half a grid step before a seam belongs to the round after it.
        let half = half_step(&track.feel);
        let last = events.iter().filter_map(|event| owned_at(event, half)).max();
        let last = last.ok_or_else(|| "the take has nothing to play".to_string())?;
        let length = section.new_pass_length(&track);
        let end = length * (last.cycle(length).0 + 1);
        let (mode, rounds) = (how.mode, how.rounds);
        Ok(LayPlan { song, track: track.id, section: letter, made, events, end, mode, rounds })
    }

    /// The commands to the engine before the take starts.
    pub fn commands(&self) -> [Command; 6] {
        [
            Command::Jump(self.section, When::Seam),
            Command::Arm(self.track),
            Command::CountIn(0),
            Command::Mode(self.mode),
            Command::Rounds(self.rounds),
            Command::Record(true),
        ]
    }

    /// The result, from the song after recording.
    pub fn laid(self, song: Arc<Song>) -> Laid {
        let section = self.song.section(self.section);
        let before = section.map(|section| section.layers.len()).unwrap_or_default();
        let after = song.section(self.section).map(|section| song.passes_in(section));
        let laid = after.into_iter().flatten().skip(before);
        let passes = laid.cloned().collect();
        Laid { song, section: self.section, passes, made: self.made }
    }
}

/// Plays a take into the recorder, on a simulated clock.
///
/// # Errors
/// If the section does not exist, the take is empty, or the engine refuses.
pub fn lay(song: &Song, take: &Take, how: &HowToLay) -> Result<Laid, LayError> {
    let plan = LayPlan::new(song, take, how)?;
    let mut bench = Bench::new(plan.song.clone());
    for command in plan.commands() {
        bench.engine.command(bench.now, command)?;
    }
    let mut events = plan.events.iter().peekable();
    while let Some(event) = events.next_if(|event| event.at <= plan.end) {
        bench.play(event);
    }
    bench.go_past(plan.end);
    bench.engine.command(bench.now, Command::Record(false))?;
    // Keys still held are released when the take releases them; their notes are in passes already.
    events.for_each(|event| bench.play(event));
    bench.engine.command(bench.now, Command::Stop)?;
    let song = Arc::clone(bench.engine.song());
    Ok(plan.laid(song))
}

/// The engine on a simulated clock.
struct Bench {
    engine: Engine,
    lookahead: Ns,
    now: Ns,
}

impl Bench {
    fn new(song: Song) -> Bench {
        let config = Config { lead: 0, silent: true, ..Config::default() };
        let lookahead = config.lookahead;
        Bench { engine: Engine::new(Arc::new(song), config), lookahead, now: 0 }
    }

    /// Advances the clock until tick `at` is due. Tempi are known as far as the engine looks ahead.
    fn go_to(&mut self, at: Tick) {
        while self.engine.tick_at(self.now + self.lookahead).is_some_and(|known| known <= at) {
            self.now += STEP;
            self.poll();
        }
        if let Some(due) = self.engine.ns_at(at) {
            self.now = self.now.max(due);
        }
        // Only polling closes a round, and between dense events the clock may not move a whole
        // step.
        self.poll();
    }

    /// Advances the clock until the round that ends at `seam` is closed.
    fn go_past(&mut self, seam: Tick) {
        self.go_to(seam + Tick(1));
    }

    fn poll(&mut self) {
        self.engine.poll(self.now);
        self.engine.take_orders().for_each(drop);
    }

    fn play(&mut self, event: &TakeEvent) {
        self.go_to(event.at);
        let stamp = self.engine.ns_at(event.at).unwrap_or(self.now);
        self.engine.input(stamp, 0, input(&event.wire));
        self.engine.take_orders().for_each(drop);
    }
}

/// The input that would have come from a port.
pub(crate) fn input(wire: &Wire) -> Input {
    Input::Heard(wire.to_owned())
}

/// The tick that decides which round owns an event. For a note this is later by half a grid step,
/// so that an early one falls into the round that begins after it. `None` for events that only end
/// something, which need no round of their own.
fn owned_at(event: &TakeEvent, half: Tick) -> Option<Tick> {
    const PEDAL: u8 = 64;
    match &event.wire {
        Wire::Message(Message::NoteOn { .. }) => Some(event.at + half),
        Wire::Message(Message::NoteOff { .. }) => None,
        Wire::Message(Message::Change { controller, value, .. }) => {
            let ends = match controller.get() {
                PEDAL => value.get() < 64,
                number => number >= 120,
            };
            (!ends).then_some(event.at)
        }
        _ => Some(event.at),
    }
}

/// The track the user means: the one with that name; else the only one whose name differs only in
/// capitals; else the one with that number on the screen.
pub fn find_track(song: &Song, meant: &str) -> Option<Arc<Track>> {
    let exact = song.track_named(meant);
    let alike = || {
        let lower = meant.to_lowercase();
        let mut alike = song.tracks.iter().filter(|track| track.name.to_lowercase() == lower);
        alike.next().filter(|_| alike.next().is_none())
    };
    let numbered = || song.tracks.get(meant.parse::<usize>().ok()?.checked_sub(1)?);
    exact.or_else(alike).or_else(numbered).cloned()
}

/// Creates the track for a take: a drum track if the whole take is on the percussion channel, else
/// a pitched one on the take's channel and program.
fn make_track(
    song: &mut Song,
    how: &HowToLay,
    events: &mut Vec<TakeEvent>,
) -> Result<Arc<Track>, LayError> {
    let name = how.track.trim();
    if name.bytes().all(|letter| letter.is_ascii_digit()) && !name.is_empty() {
        let count = song.tracks.len();
        return Err(LayError(format!(
            "there is no track {name}: the song has {count}; a new one needs a name with letters"
        )));
    }
    if name.is_empty() || name.chars().count() > 64 {
        return Err(LayError("a track needs a name of 1 to 64 characters".into()));
    }
    let channels = events.iter().filter_map(|event| match &event.wire {
        Wire::Message(message) => message.channel(),
        Wire::SysEx(_) => None,
    });
    let mut channels: Vec<_> = channels.collect();
    channels.sort_unstable();
    channels.dedup();
    let id = song.ids().track();
    let mut track = match channels.as_slice() {
        [chaconne_song::Channel::PERCUSSION] => Track::drums(id, name),
        [one] => Track { channel: Some(*one), ..Track::pitched(id, name) },
        _ => Track { channel: None, ..Track::pitched(id, name) },
    };
    if let [_] = channels.as_slice() {
        track.program = take_program(events);
    }
    track.feel = Feel { grid: how.grid, ..track.feel };
    let track = Arc::new(track);
    let edit = Edit::AddTrack { at: song.tracks.len(), track: track.clone() };
    edit.apply(song).map_err(|error| LayError(error.to_string()))?;
    Ok(track)
}

/// Removes the program change before the first note and returns its program, which becomes the
/// track's setting. If the take also selects banks, everything stays as it was played.
fn take_program(events: &mut Vec<TakeEvent>) -> Option<U7> {
    let banked = events.iter().any(|event| {
        matches!(event.wire, Wire::Message(Message::Change { controller, .. })
            if matches!(controller.get(), 0 | 32))
    });
    let note = |event: &TakeEvent| matches!(event.wire, Wire::Message(Message::NoteOn { .. }));
    let before = events.iter().position(note).unwrap_or(events.len());
    let chosen = events[..before]
        .iter()
        .rposition(|event| matches!(event.wire, Wire::Message(Message::Program { .. })));
    let index = chosen.filter(|_| !banked)?;
    match events.remove(index).wire {
        Wire::Message(Message::Program { program, .. }) => Some(program),
        _ => None,
    }
}

#[cfg(test)]
mod tests;
