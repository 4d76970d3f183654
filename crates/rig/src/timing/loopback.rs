//! Round trips: notes sent through an output, and heard again on an input at the other end of a
//! cable.
//!
//! In: the two ports, and the number of notes. Out: [`RoundTrips`]: the time from the moment a note
//! was handed to the output (or was due, if it was handed over ahead of time) to its stamp on the
//! input. The notes are quiet, and all are released, whatever ends the measurement.

use super::figures::ranked;
use chaconne_engine::{Action, Cue, Message, Order, PortIx, Slot, Voice, Wire};
use chaconne_ports::{
    Captured, Handed, Input, InputEvent, Orders, PortSpec, Running, Scheduler, Setup, Switch, now,
    open_input, open_output,
};
use chaconne_song::{Channel, NoteId, U7};
use chaconne_time::{Ns, Tempo, Tick, Timeline};
use crossbeam_channel::Receiver;
use std::collections::{BTreeMap, VecDeque};
use std::thread;
use std::time::Duration;

/// How long a note may take: 2 s.
pub(super) const PATIENCE: Ns = 2_000_000_000;
/// How long to wait before the first note, so that a byte stream finds its reader: 300 ms.
const LEAD: Ns = 300_000_000;
/// How far ahead notes are ordered: 300 ms.
const AHEAD: Ns = 300_000_000;
/// How often to check for notes that have come back.
const LOOK: Duration = Duration::from_millis(10);
/// How long to wait for notes still under way after a signal: 200 ms.
const LAST: Ns = 200_000_000;

/// The number of keys. Each key comes again only after all the others, that is after 2.8 s: longer
/// than a note may take.
const KEYS: u32 = 84;
/// The lowest key.
const LOW: u8 = 24;
/// The step from key to key; it has no divisor in common with [`KEYS`].
const STEP: u32 = 29;
/// The velocity: quiet, but loud enough for any instrument to play.
const VELOCITY: U7 = U7::low_bits(8);
/// The length of a note, in ticks of a sixteenth of a millisecond: 8 ms.
const LENGTH: Tick = Tick(128);
/// The distance between notes, in the same ticks: 33.3 ms on average, never in step with the
/// machine's own timers.
const APART: [i64; 9] = [371, 701, 433, 617, 509, 541, 659, 397, 569];

/// What to measure.
#[derive(Debug, Clone)]
pub struct Loopback {
    /// The output.
    pub out: PortSpec,
    /// The input.
    pub input: PortSpec,
    /// The number of notes, 1 to 10,000.
    pub count: u32,
}

/// A measurement under way.
pub struct LoopbackRun {
    count: u32,
    scheduler: Scheduler,
    orders: Orders,
    captured: Captured,
    heard: Receiver<Struck>,
    /// Closes when it is dropped.
    _input: Input,
}

/// A key that was sent or came back, and when, in nanoseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Struck {
    key: u8,
    at: Ns,
}

/// The result of measuring round trips.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RoundTrips {
    /// The number of notes asked for.
    pub asked: u32,
    /// The number of notes the output took.
    pub sent: u64,
    /// The number of those that never came back.
    pub lost: u64,
    /// The number of notes that came back without being sent, or came back twice.
    pub extra: u64,
    /// How long the others took; `None` if none came back.
    pub trips: Option<Trips>,
}

/// How long the round trips took, in nanoseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trips {
    /// The number of notes.
    pub count: u64,
    /// The shortest.
    pub min: Ns,
    /// The median.
    pub p50: Ns,
    /// 99 in 100 took no longer than this.
    pub p99: Ns,
    /// The longest.
    pub max: Ns,
}

impl Trips {
    /// How much they vary: from the shortest to [`p99`](Trips::p99).
    pub fn jitter(&self) -> Ns {
        self.p99 - self.min
    }

    fn of(mut trips: Vec<Ns>) -> Option<Trips> {
        trips.sort_unstable();
        let (min, max) = (*trips.first()?, *trips.last()?);
        let (p50, p99) = (ranked(&trips, 500), ranked(&trips, 990));
        Some(Trips { count: trips.len() as u64, min, p50, p99, max })
    }
}

impl Loopback {
    /// Opens the ports; nothing is played yet.
    ///
    /// # Errors
    /// If a port does not exist or cannot be opened, or no thread can be started.
    pub fn start(self) -> Result<LoopbackRun, String> {
        let (sender, heard) = crossbeam_channel::unbounded();
        let sink = move |at, event| {
            if let InputEvent::Heard(Wire::Message(Message::NoteOn { key, .. })) = event {
                // The receiver is gone once the measurement is over.
                let _ = sender.send(Struck { key: key.get(), at });
            }
        };
        // The input first: the writer of a FIFO needs a reader.
        let input = open_input(&self.input, sink).map_err(|error| error.to_string())?;
        let output = open_output(&self.out).map_err(|error| error.to_string())?;
        // A missing port cannot be measured.
        if let Some(notice) = input.notice().or(output.notice()) {
            return Err(notice.to_string());
        }
        let (output, captured) = output.watched(4096);
        let setup = Setup { inputs: 0, ..Setup::default() };
        let started = chaconne_ports::start(vec![output], setup);
        let Running { scheduler, orders, .. } =
            started.map_err(|error| format!("no thread could be started: {error}"))?;
        Ok(LoopbackRun { count: self.count, scheduler, orders, captured, heard, _input: input })
    }
}

impl LoopbackRun {
    /// The switch that silences the output.
    pub fn switch(&self) -> Switch {
        self.scheduler.switch()
    }

    /// Sends and receives until all notes are back or given up, or `goes_on` returns `false`.
    ///
    /// # Errors
    /// If the scheduler takes no orders.
    pub fn measure(mut self, mut goes_on: impl FnMut() -> bool) -> Result<RoundTrips, String> {
        let tempo = Tempo::FASTEST;
        let start = now() + LEAD;
        let timeline = Timeline::new(Tick::ZERO, start, tempo);
        let roll = Order::Roll { at: Tick::ZERO, ns: start, tempo, song: 0 };
        self.orders.send(roll).map_err(|_| "the scheduler takes no orders".to_string())?;
        let (mut sent, mut heard) = (Vec::new(), Vec::new());
        let (mut ordered, mut at) = (0, Tick::ZERO);
        let mut ended = None;
        loop {
            while ended.is_none() && ordered < self.count && timeline.ns_at(at) < now() + AHEAD {
                self.order(ordered, at);
                at += Tick(APART[ordered as usize % APART.len()]);
                ordered += 1;
            }
            sent.extend(self.captured.take().filter_map(struck));
            heard.extend(self.heard.try_iter());
            let (all, last) = (ordered == self.count, timeline.ns_at(at));
            let nothing_came = heard.is_empty() && now() > start + PATIENCE;
            let back = all && heard.len() >= self.count as usize && now() > last;
            if nothing_came || back || all && now() > last + PATIENCE {
                return Ok(round_trips(self.count, &sent, &heard, None));
            }
            if ended.is_none() && !goes_on() {
                ended = Some(now());
            }
            if let Some(ended) = ended.filter(|&ended| now() > ended + LAST) {
                return Ok(round_trips(self.count, &sent, &heard, Some(ended)));
            }
            thread::sleep(LOOK);
        }
    }

    /// Orders one note. The queue holds a thousand times what is ordered ahead.
    fn order(&mut self, number: u32, at: Tick) {
        let (channel, velocity) = (Channel::default(), VELOCITY);
        let key = key(number);
        let voice = Voice { pass: Voice::NO_PASS, note: NoteId(number + 1), cycle: Tick::ZERO };
        let press = Action::Press { channel, key, velocity, voice };
        let lift = Action::Lift { channel, key, velocity: U7::CENTRE, voice };
        for (at, action) in [(at, press), (at + LENGTH, lift)] {
            let cue = Cue { at, slot: Slot(0), epoch: 0, port: PortIx(0), action };
            // A note that found no room counts as not sent, so it is not missed on the way back.
            let _ = self.orders.send(Order::Play(cue));
        }
    }
}

/// The key of a note.
fn key(number: u32) -> U7 {
    U7::low_bits(LOW + (number * STEP % KEYS) as u8)
}

/// The key of a press that was handed over, with the time at which its trip began.
fn struck(handed: Handed) -> Option<Struck> {
    match handed.bytes {
        [0x90..=0x9F, key, 1..=127] => Some(Struck { key, at: handed.at.max(handed.due) }),
        _ => None,
    }
}

/// The result for the notes that were sent. If the measurement was ended early, notes still under
/// way at that time count neither as sent nor as lost.
fn round_trips(asked: u32, sent: &[Struck], heard: &[Struck], ended: Option<Ns>) -> RoundTrips {
    let mut waiting: BTreeMap<u8, VecDeque<Ns>> = BTreeMap::new();
    for one in sent {
        waiting.entry(one.key).or_default().push_back(one.at);
    }
    let (mut trips, mut extra) = (Vec::new(), 0);
    for one in heard {
        let left = waiting.entry(one.key).or_default();
        while left.front().is_some_and(|&at| one.at - at > PATIENCE) {
            left.pop_front();
        }
        match left.front() {
            Some(&at) if at <= one.at => {
                trips.push(one.at - at);
                left.pop_front();
            }
            _ => extra += 1,
        }
    }
    let under_way = match ended {
        Some(ended) => {
            let may_come = |at: &&Ns| ended - **at < PATIENCE;
            waiting.values().flatten().filter(may_come).count() as u64
        }
        None => 0,
    };
    let sent = sent.len() as u64 - under_way;
    let lost = sent - trips.len() as u64;
    RoundTrips { asked, sent, lost, extra, trips: Trips::of(trips) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    const MS: Ns = 1_000_000;

    fn struck(of: &[(u8, Ns)]) -> Vec<Struck> {
        of.iter().map(|&(key, ms)| Struck { key, at: ms * MS }).collect()
    }

    #[test]
    fn notes_are_matched_by_their_key_and_the_rest_is_lost_or_extra() {
        let sent = struck(&[(60, 0), (61, 30), (62, 60), (60, 2800), (61, 2830)]);
        // 61 is lost at first; 62 comes twice; 70 was never sent.
        let heard = struck(&[(60, 4), (62, 65), (62, 66), (70, 80), (60, 2802), (61, 2833)]);
        let found = round_trips(5, &sent, &heard, None);
        let trips = Trips { count: 4, min: 2 * MS, p50: 3 * MS, p99: 5 * MS, max: 5 * MS };
        let expected = RoundTrips { asked: 5, sent: 5, lost: 1, extra: 2, trips: Some(trips) };
        assert_eq!(found, expected);
        assert_eq!(trips.jitter(), 3 * MS);
    }

    #[test]
    fn notes_under_way_at_an_early_end_are_not_lost() {
        let sent = struck(&[(60, 0), (61, 2990), (62, 3000)]);
        let found = round_trips(200, &sent, &struck(&[(61, 2995)]), Some(3001 * MS));
        assert_eq!((found.sent, found.lost, found.extra), (2, 1, 0));
        assert_eq!(
            round_trips(9, &[], &[], None),
            RoundTrips { asked: 9, ..RoundTrips::default() }
        );
    }

    #[test]
    fn a_key_is_reused_only_after_its_last_note_is_given_up() {
        let keys: BTreeSet<U7> = (0..KEYS).map(key).collect();
        assert_eq!(keys.len(), KEYS as usize);
        // Ticks at 1000 quarters a minute: 60 ms over 960.
        let shortest: i64 = APART.iter().sum::<i64>() * (i64::from(KEYS) / APART.len() as i64);
        assert!(shortest * 62_500 > PATIENCE);
        assert!(APART.iter().all(|&apart| Tick(apart) > LENGTH));
    }
}
