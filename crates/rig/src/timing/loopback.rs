//! The way out and back in: notes of our own through an output, heard again on an input that a
//! cable joins to it.
//!
//! In: the two ports, and how many notes. Out: [`RoundTrips`]: from the moment a note was handed to
//! the output, or was due there where it is handed over ahead of time, to the stamp it got on the
//! input. The notes are quiet, and all are released, whatever ends it.

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
/// How long until the first note, so that a cable of bytes finds its reader: 300 ms.
const LEAD: Ns = 300_000_000;
/// How far ahead notes are ordered: 300 ms.
const AHEAD: Ns = 300_000_000;
/// How often it looks.
const LOOK: Duration = Duration::from_millis(10);
/// How long a note that is still under way is waited for after a signal: 200 ms.
const LAST: Ns = 200_000_000;

/// The lowest key, and how many there are. Each comes again only after so many others, that is
/// after 2.8 s: longer than a note may take.
const KEYS: u32 = 84;
const LOW: u8 = 24;
/// The step from key to key; it has no divisor in common with [`KEYS`].
const STEP: u32 = 29;
/// How hard: as quiet as is sure to be heard.
const VELOCITY: U7 = U7::low_bits(8);
/// How long a note is, in ticks of a sixteenth of a millisecond: 8 ms.
const LENGTH: Tick = Tick(128);
/// How far apart notes are, in the same ticks: 33.3 ms on average, never in step with a machine's
/// own turns.
const APART: [i64; 9] = [371, 701, 433, 617, 509, 541, 659, 397, 569];

/// Notes to be sent and heard.
#[derive(Debug, Clone)]
pub struct Loopback {
    /// Where they go out.
    pub out: PortSpec,
    /// Where they are heard.
    pub input: PortSpec,
    /// How many, 1 to 10,000.
    pub count: u32,
}

/// A measurement under way.
pub struct LoopbackRun {
    count: u32,
    scheduler: Scheduler,
    orders: Orders,
    captured: Captured,
    heard: Receiver<Struck>,
    /// Closed when it goes.
    _input: Input,
}

/// A key that was struck, and when.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Struck {
    key: u8,
    at: Ns,
}

/// What came of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct RoundTrips {
    /// How many notes were asked for.
    pub asked: u32,
    /// How many the output took.
    pub sent: u64,
    /// How many of them never came.
    pub lost: u64,
    /// How many notes came that were not sent, or came twice.
    pub extra: u64,
    /// How long the others took; `None` where none came.
    pub trips: Option<Trips>,
}

/// How long notes took out and back in, in nanoseconds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trips {
    /// How many notes.
    pub count: u64,
    /// The shortest.
    pub min: Ns,
    /// Half of them took no longer.
    pub p50: Ns,
    /// 99 in 100 took no longer.
    pub p99: Ns,
    /// The longest.
    pub max: Ns,
}

impl Trips {
    /// How much they vary: from the shortest to what 99 in 100 keep to.
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
    /// Where a port is not there or cannot be opened, or the system gives no thread.
    pub fn start(self) -> Result<LoopbackRun, String> {
        let (tell, heard) = crossbeam_channel::unbounded();
        let sink = move |at, event| {
            if let InputEvent::Heard(Wire::Message(Message::NoteOn { key, .. })) = event {
                // Nobody listens any more once it is over.
                let _ = tell.send(Struck { key: key.get(), at });
            }
        };
        // First the ear: a FIFO's writer looks for its reader.
        let input = open_input(&self.input, sink).map_err(|error| error.to_string())?;
        let output = open_output(&self.out).map_err(|error| error.to_string())?;
        // What is not there cannot be measured.
        if let Some(notice) = input.notice().or(output.notice()) {
            return Err(notice.to_string());
        }
        let (output, captured) = output.watched(4096);
        let setup = Setup { inputs: 0, ..Setup::default() };
        let started = chaconne_ports::start(vec![output], setup);
        let Running { scheduler, orders, .. } =
            started.map_err(|error| format!("the system has no thread left: {error}"))?;
        Ok(LoopbackRun { count: self.count, scheduler, orders, captured, heard, _input: input })
    }
}

impl LoopbackRun {
    /// The way to silence.
    pub fn switch(&self) -> Switch {
        self.scheduler.switch()
    }

    /// Sends and hears, until all notes have come or are given up, or `goes_on` says no.
    ///
    /// # Errors
    /// Where the scheduler takes no orders.
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
            let dumb = heard.is_empty() && now() > start + PATIENCE;
            let back = all && heard.len() >= self.count as usize && now() > last;
            if dumb || back || all && now() > last + PATIENCE {
                return Ok(tell(self.count, &sent, &heard, None));
            }
            if ended.is_none() && !goes_on() {
                ended = Some(now());
            }
            if let Some(ended) = ended.filter(|&ended| now() > ended + LAST) {
                return Ok(tell(self.count, &sent, &heard, Some(ended)));
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
            // What found no room is not sent, and is not missed on the way back either.
            let _ = self.orders.send(Order::Play(cue));
        }
    }
}

/// The key of a note.
fn key(number: u32) -> U7 {
    U7::low_bits(LOW + (number * STEP % KEYS) as u8)
}

/// A press that was handed over, at the moment from which it was under way.
fn struck(handed: Handed) -> Option<Struck> {
    match handed.bytes {
        [0x90..=0x9F, key, 1..=127] => Some(Struck { key, at: handed.at.max(handed.due) }),
        _ => None,
    }
}

/// What came of the notes that were sent. Where it was ended at a moment, those that were still
/// under way then are neither lost nor sent.
fn tell(asked: u32, sent: &[Struck], heard: &[Struck], ended: Option<Ns>) -> RoundTrips {
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
            let late = |at: &&Ns| ended - **at < PATIENCE;
            waiting.values().flatten().filter(late).count() as u64
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
        let told = tell(5, &sent, &heard, None);
        let trips = Trips { count: 4, min: 2 * MS, p50: 3 * MS, p99: 5 * MS, max: 5 * MS };
        let expected = RoundTrips { asked: 5, sent: 5, lost: 1, extra: 2, trips: Some(trips) };
        assert_eq!(told, expected);
        assert_eq!(trips.jitter(), 3 * MS);
    }

    #[test]
    fn what_is_under_way_when_it_is_ended_is_not_lost() {
        let sent = struck(&[(60, 0), (61, 2990), (62, 3000)]);
        let told = tell(200, &sent, &struck(&[(61, 2995)]), Some(3001 * MS));
        assert_eq!((told.sent, told.lost, told.extra), (2, 1, 0));
        assert_eq!(tell(9, &[], &[], None), RoundTrips { asked: 9, ..RoundTrips::default() });
    }

    #[test]
    fn a_key_comes_again_only_when_its_last_note_is_given_up() {
        let keys: BTreeSet<U7> = (0..KEYS).map(key).collect();
        assert_eq!(keys.len(), KEYS as usize);
        // Ticks at 1000 quarters a minute: 60 ms over 960.
        let shortest: i64 = APART.iter().sum::<i64>() * (i64::from(KEYS) / APART.len() as i64);
        assert!(shortest * 62_500 > PATIENCE);
        assert!(APART.iter().all(|&apart| Tick(apart) > LENGTH));
    }
}
