//! The position of a stopped transport: locate, continue, and what other gear hears about it.
//!
//! In: the position at which it stopped, or a requested one. Out: a run from there, and Song Position
//! and Continue for the ports that get pulses (MIDI 1.0, "Song Position Pointer").

use super::transport::Departure;
use super::{Engine, Refused};
use crate::route::index_at;
use crate::{Entry, Message, Order, Route, Walk};
use chaconne_song::U14;
use chaconne_time::{Ns, Tempo, Tick, pulse};

/// A sixteenth, the unit of a song position: six pulses.
const SIXTEENTH: Tick = Tick(6 * pulse::TICKS_PER_PULSE);

/// A position that is kept while the transport is stopped.
#[derive(Debug, Clone)]
pub(super) struct Parked {
    /// The transport tick, a whole number of sixteenths.
    pub at: Tick,
    /// The sections played and to come, as in a run.
    pub entries: Vec<Entry>,
}

impl Parked {
    /// The entry in force.
    pub fn entry(&self) -> Entry {
        self.entries[index_at(&self.entries, self.at)]
    }
}

impl Engine {
    /// The position that is kept, as a transport tick.
    pub(super) fn parked_at(&self) -> Tick {
        self.transport.parked().map_or(Tick::ZERO, |parked| parked.at)
    }

    /// How long before the position that is kept its section was entered.
    pub(super) fn parked_since(&self) -> Tick {
        self.parked_at() - self.transport.parked().map_or(Tick::ZERO, |parked| parked.entry().at)
    }

    /// The present position of the transport; `None` before bar one.
    pub(super) fn whereabouts_now(&self, now: Ns) -> Option<Parked> {
        let run = self.transport.run()?;
        let at = sixteenth(run.timeline.tick_at(now.max(self.latest)));
        (at > run.entries[0].at).then(|| Parked { at, entries: run.entries.clone() })
    }

    /// Keeps a position, and shows its section.
    pub(super) fn park(&mut self, parked: Option<Parked>) {
        if let Some(parked) = &parked {
            self.shown = parked.entry().section;
        }
        self.transport.park(parked);
    }

    pub(super) fn locate(&mut self, at: Tick) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Err(Refused("a position can only be taken while stopped: stop first".into()));
        }
        self.refuse_if_led()?;
        let letter = self.shown;
        let missing = || Refused(format!("there is no section {letter}"));
        let length = self.section(letter).ok_or_else(missing)?.length();
        let at = sixteenth(at.min(length - Tick(1)).max(Tick::ZERO));
        self.park(Some(Parked { at, entries: Route::open(letter).entries }));
        self.tell_position();
        self.recorders_locate();
        Ok(())
    }

    /// Moves this many bars forward from the current position, or back if negative.
    pub(super) fn locate_bars(&mut self, bars: i32) -> Result<(), Refused> {
        let here = self.parked_since();
        let Some(section) = self.section(self.shown) else { return Ok(()) };
        let (metre, here) = (&section.metre, here.max(Tick::ZERO).cycle(section.length()).1);
        let bar = match bars {
            // Positions are rounded down to a sixteenth, so this one may lie just before its bar.
            0.. => metre.bar_at(here + SIXTEENTH - Tick(1)),
            // The first step back goes to the start of the bar that contains it.
            _ => metre.bar_at(here - Tick(1)) + 1,
        };
        let last = i64::from(metre.bars());
        let at = metre.bar_start((bar + i64::from(bars)).clamp(0, last));
        self.locate(at)
    }

    /// Plays a route from one of its ticks on.
    pub(super) fn play_from(&mut self, now: Ns, route: Route, at: Tick) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Ok(());
        }
        if self.leader.is_some() {
            let name = self.leader_name();
            return Err(Refused(format!("{name} is followed: it says where to begin")));
        }
        let span = route.span();
        if at < span.from || at >= span.to {
            return Err(Refused("this position is outside the route".into()));
        }
        let parked = Parked { at: sixteenth(at), entries: route.entries };
        // This refuses before anything is changed.
        self.departure(parked.clone(), now)?;
        self.park(Some(parked));
        self.go_on(now)
    }

    /// The position that is kept, or the top.
    pub(super) fn parked_or_top(&self) -> Parked {
        let top = || Parked { at: Tick::ZERO, entries: Route::open(self.shown).entries };
        self.transport.parked().cloned().unwrap_or_else(top)
    }

    /// Plays on from the position that was kept.
    pub(super) fn go_on(&mut self, now: Ns) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Ok(());
        }
        self.refuse_if_led()?;
        let departure = self.departure(self.parked_or_top(), now + self.config.lead)?;
        self.tell_position();
        let start = departure.start;
        self.depart(departure);
        self.announce(start, Message::Continue);
        self.say_own_tempo();
        self.record_if_waiting(now)
    }

    /// What a run from a position starts with.
    pub(super) fn departure(&self, parked: Parked, ns: Ns) -> Result<Departure, Refused> {
        let Parked { at: start, ref entries } = parked;
        let missing = |entry: &Entry| self.section(entry.section).is_none();
        if let Some(entry) = [parked.entry(), entries[0]].iter().find(|entry| missing(entry)) {
            return Err(Refused(format!("there is no section {}", entry.section)));
        }
        let walk = Walk::new(&self.song, entries);
        let (tempo, song) = (walk.tempo_at(start).unwrap_or(Tempo::DEFAULT), walk.ns_at(start));
        Ok(Departure { entries: parked.entries, start, ns, tempo, song, led: false })
    }

    /// Sends the position of the stopped transport to the ports that get pulses.
    fn tell_position(&mut self) {
        let message = Message::SongPosition(self.song_position());
        for &port in &self.config.clock_ports {
            self.orders.push_back(Order::Now { port, message });
        }
    }

    /// The position in sixteenths from the top. A position beyond 14 bits is moved back by whole
    /// rounds; if that cannot be done, it is the highest that can be sent.
    fn song_position(&self) -> U14 {
        let Some(parked) = self.transport.parked() else { return U14::default() };
        let (entry, mut at) = (parked.entry(), parked.at.0);
        let most = i64::from(U14::MAX.get()) * SIXTEENTH.0;
        if at > most
            && let Some(section) = self.section(entry.section)
        {
            let length = section.length().0;
            let rounds = SIXTEENTH.0 / common_divisor(length, SIXTEENTH.0);
            let fold = (length * rounds).max(1);
            let folds = (at - most + fold - 1) / fold;
            if at - folds * fold >= entry.at.0.max(0) {
                at -= folds * fold;
            }
        }
        U14::new((at / SIXTEENTH.0).clamp(0, i64::from(U14::MAX.get())) as u16).unwrap_or_default()
    }
}

/// The sixteenth at or before a tick, counted from bar one.
pub(super) fn sixteenth(at: Tick) -> Tick {
    at - at.cycle(SIXTEENTH).1
}

fn common_divisor(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { common_divisor(b, a % b) }
}
