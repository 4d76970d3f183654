//! The position of a stopped transport: locate, continue, where a start begins, and what other gear hears
//! about it.
//!
//! In: the position at which it stopped, a requested one, or where the last take began. Out: a run from there,
//! and Song Position and Continue for the ports that get pulses (MIDI 1.0, "Song Position Pointer").

use super::run::{Departure, Leads, Rest};
use super::{Engine, Refused};
use crate::route::index_at;
use crate::{Entry, Message, Order, Route, Walk};
use chaconne_song::{Letter, PassId, Section, Song, TrackId, U14};
use chaconne_time::{Ns, Tempo, Tick, Timeline, pulse};

/// A sixteenth, the unit of a song position: six pulses.
const SIXTEENTH: Tick = Tick(6 * pulse::TICKS_PER_PULSE);

/// A position that is kept while the transport is stopped.
#[derive(Debug, Clone)]
pub(super) struct Parked {
    pub spot: Spot,
    /// Whether the player went there: a start begins there, not at the top.
    pub chosen: bool,
}

/// A tick of a route.
#[derive(Debug, Clone)]
pub(super) struct Spot {
    /// The transport tick.
    pub at: Tick,
    /// The sections played and to come, as in a run; never empty.
    pub entries: Vec<Entry>,
    /// What comes after them.
    pub rest: Rest,
}

/// What recording again goes back to.
#[derive(Debug, Clone)]
pub(super) struct Again {
    /// Where the last take began.
    pub spot: Spot,
    /// The passes of that take, except those that its own later rounds have muted.
    pub made: Vec<PassId>,
    /// If that take was itself recorded again: the passes of the takes before that it has not muted.
    pub before: Vec<PassId>,
}

impl Spot {
    /// A tick of a route.
    pub fn on(song: &Song, route: Route, at: Tick) -> Spot {
        let entries = route.entries;
        Spot { at, rest: Rest::of(song, &entries), entries }
    }

    /// The start of a route.
    pub fn top(song: &Song, route: Route) -> Spot {
        let at = route.span().from;
        Spot::on(song, route, at)
    }

    /// A section from a tick after its top on, which goes round from there.
    pub fn inside(section: Letter, at: Tick) -> Spot {
        Spot { at, entries: Route::open(section).entries, rest: Rest::default() }
    }

    /// The entry in force.
    pub fn entry(&self) -> Entry {
        self.entries[index_at(&self.entries, self.at)]
    }

    /// As the position to which the player went.
    pub fn chosen(self) -> Parked {
        Parked { spot: self, chosen: true }
    }
}

impl Engine {
    /// The position that is kept, as a transport tick.
    pub(super) fn parked_at(&self) -> Tick {
        self.transport.parked().map_or(Tick::ZERO, |parked| parked.spot.at)
    }

    /// The position that is kept, in ticks since the top of a section that is shown.
    pub(super) fn parked_inside(&self, section: &Section) -> Tick {
        let Spot { at, entries, .. } = self.parked_or_top();
        (at - entries[index_at(&entries, at)].at).max(Tick::ZERO).cycle(section.length()).1
    }

    /// The present position of the transport; in the count-in, where it leads to. `None` at the top and
    /// before.
    pub(super) fn whereabouts_now(&self, now: Ns) -> Option<Parked> {
        let run = self.transport.run()?;
        let (at, entries) = (run.timeline.tick_at(now.max(self.latest)), run.entries.clone());
        let chosen = run.counts_in(at);
        let at = if chosen { run.music() } else { sixteenth(at) };
        let rest = run.rest.clone();
        (at > run.entries[0].at).then_some(Parked { spot: Spot { at, entries, rest }, chosen })
    }

    /// Keeps a position, and shows its section.
    pub(super) fn park(&mut self, parked: Option<Parked>) {
        if let Some(parked) = &parked {
            self.shown = parked.spot.entry().section;
        }
        self.transport.park(parked);
    }

    pub(super) fn locate(&mut self, at: Tick) -> Result<(), Refused> {
        self.go_to(sixteenth(at))
    }

    /// Goes to a tick of the section shown. The start of a bar need not be a whole sixteenth.
    fn go_to(&mut self, at: Tick) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Err(Refused("the song is playing: stop it first to go to another bar".into()));
        }
        self.refuse_if_led()?;
        let letter = self.shown;
        let missing = || Refused(format!("there is no section {letter}"));
        let length = self.section(letter).ok_or_else(missing)?.length();
        let at = if at < length { at.max(Tick::ZERO) } else { sixteenth(length - Tick(1)) };
        let spot = Spot::inside(letter, at);
        self.tell_position(at, &spot.entries);
        self.park(Some(spot.chosen()));
        self.recorders_locate();
        Ok(())
    }

    /// Moves this many bars forward from the current position, or back if negative.
    pub(super) fn locate_bars(&mut self, bars: i32) -> Result<(), Refused> {
        let Some(section) = self.section(self.shown) else { return Ok(()) };
        let (metre, here) = (&section.metre, self.parked_inside(section));
        let bar = match bars {
            // Where it stopped was rounded down to a sixteenth, so it may lie just before its bar.
            0.. if self.transport.parked().is_some() && !self.is_chosen() => {
                metre.bar_at(here + SIXTEENTH - Tick(1))
            }
            0.. => metre.bar_at(here),
            // The first step back goes to the start of the bar that contains it.
            _ => metre.bar_at(here - Tick(1)) + 1,
        };
        let last = i64::from(metre.bars());
        let at = metre.bar_start((bar + i64::from(bars)).clamp(0, last));
        self.go_to(at)
    }

    /// Plays a route from one of its ticks on.
    pub(super) fn play_from(&mut self, now: Ns, route: Route, at: Tick) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Ok(());
        }
        let spot = self.spot_on(route, at)?;
        // This refuses before anything is changed.
        self.departure(spot.clone(), now, 0)?;
        self.park(Some(spot.chosen()));
        self.go_on(now)
    }

    /// Plays a route from a tick on, after the count-in.
    pub(super) fn play_counted(&mut self, now: Ns, route: Route, at: Tick) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Ok(());
        }
        let spot = self.spot_on(route, at)?;
        self.roll(now, spot, true)
    }

    /// A tick of a route, to begin there.
    fn spot_on(&self, route: Route, at: Tick) -> Result<Spot, Refused> {
        if self.leader.is_some() {
            let name = self.leader_name();
            return Err(Refused(format!("{name} is followed: it sets the position")));
        }
        let span = route.span();
        if at < span.from || at >= span.to {
            return Err(Refused("this position is outside the route".into()));
        }
        Ok(Spot::on(&self.song, route, sixteenth(at)))
    }

    /// The position that is kept, or the top.
    pub(super) fn parked_or_top(&self) -> Spot {
        let parked = self.transport.parked().map(|parked| parked.spot.clone());
        parked.unwrap_or_else(|| Spot::inside(self.shown, Tick::ZERO))
    }

    /// Whether the player went to the position that is kept.
    pub(super) fn is_chosen(&self) -> bool {
        self.transport.parked().is_some_and(|parked| parked.chosen)
    }

    /// Where a start begins: where the player went, else at the top of the section shown.
    pub(super) fn beginning(&self) -> Spot {
        let chosen = self.transport.parked().filter(|parked| parked.chosen);
        let spot = chosen.map(|parked| parked.spot.clone());
        spot.unwrap_or_else(|| Spot::inside(self.shown, Tick::ZERO))
    }

    /// Remembers where a take begins, to record again from there: at the bar that contains its first tick. In a
    /// route without an end every round is alike, so the first one counts.
    /// `before` are the passes that it replaces.
    pub(super) fn remember_beginning(&mut self, start: Tick, before: Vec<PassId>) {
        let (Some(run), Some(visit)) = (self.transport.run(), self.visit(start)) else { return };
        let at = visit.bar_start(start);
        let beginning = if run.end() < Tick::MAX {
            Spot { at, entries: run.entries.clone(), rest: run.rest.clone() }
        } else {
            Spot::inside(visit.entry.section, visit.inside(start) - (start - at))
        };
        self.again = Some(Again { spot: beginning, made: Vec::new(), before });
    }

    /// Stops what plays, and records once more from where the last take began, after the count-in.
    pub(super) fn record_again(&mut self, now: Ns) -> Result<(), Refused> {
        let none = || Refused("there is no take to record again: record one first".into());
        let beginning = self.again.as_ref().ok_or_else(none)?.spot.clone();
        self.refuse_if_followed()?;
        let track = self.track_to_record()?.id;
        self.stop(now)?;
        // Stopping has made a pass of the unfinished round.
        let passes = |again: &Again| [&again.before[..], &again.made].concat();
        let made = self.again.as_ref().map(passes).unwrap_or_default();
        let is_heard = |id: &PassId| {
            let section = self.section(beginning.entry().section);
            let layer = section.and_then(|section| section.layer(*id));
            let is_own = self.song.pass(*id).is_some_and(|pass| pass.track == track);
            is_own && layer.is_some_and(|layer| !layer.mute)
        };
        let sounds = made.iter().any(is_heard);
        self.park(Some(beginning.chosen()));
        self.begin_take(now, made)?;
        if sounds {
            self.say(
                "retake: your new take replaces the last one as soon as you play; undo brings it back"
                    .into(),
            );
        }
        self.say_own_tempo();
        Ok(())
    }

    /// The passes that a take which is recorded again replaces in a section: those of the takes before it, until it
    /// has a pass there itself.
    pub(super) fn replaced_in(&self, section: &Section, track: TrackId) -> Vec<PassId> {
        let Some(Again { made, before, .. }) = &self.again else { return Vec::new() };
        if made.iter().any(|&id| section.layer(id).is_some()) {
            return Vec::new();
        }
        let on_track = |id| self.song.pass(id).is_some_and(|pass| pass.track == track);
        let here = |id: &PassId| section.layer(*id).is_some() && on_track(*id);
        before.iter().copied().filter(here).collect()
    }

    /// Remembers that the take has a pass more, which has muted others.
    pub(super) fn remember_pass(&mut self, id: PassId, muted: &[PassId]) {
        let Some(Again { made, before, .. }) = &mut self.again else { return };
        made.retain(|id| !muted.contains(id));
        before.retain(|id| !muted.contains(id));
        made.push(id);
    }

    /// After a change of the bars or a section: a take that began in bars that are no more is recorded again from
    /// the top of its section, if that is still there.
    pub(super) fn settle_again(&mut self, changed: impl Fn(&[Entry]) -> bool) {
        let Some(again) = self.again.take() else { return };
        if !changed(&again.spot.entries) {
            self.again = Some(again);
            return;
        }
        let letter = again.spot.entry().section;
        let top = self.section(letter).map(|_| Spot::inside(letter, Tick::ZERO));
        self.again = top.map(|spot| Again { spot, ..again });
    }

    /// Plays on from the position that was kept.
    pub(super) fn go_on(&mut self, now: Ns) -> Result<(), Refused> {
        if self.transport.rolls() {
            return Ok(());
        }
        self.refuse_if_led()?;
        let departure = self.departure(self.parked_or_top(), now + self.config.lead, 0)?;
        let start = self.tell_position(departure.start, &departure.entries);
        self.depart(departure);
        self.announce(start, Message::Continue);
        self.say_own_tempo();
        self.record_if_waiting(now)
    }

    /// What a run starts with whose first tick falls at `ns`, with `bars` of count-in: they have the metre and the
    /// tempo of the bar that they lead into. What is counted in begins with a whole bar.
    pub(super) fn departure(
        &self,
        beginning: Spot,
        ns: Ns,
        bars: u8,
    ) -> Result<Departure, Refused> {
        let Spot { at, ref entries, .. } = beginning;
        let first = entries.first().ok_or_else(|| Refused("the route is empty".into()))?;
        let missing = |entry: &&Entry| self.section(entry.section).is_none();
        if let Some(entry) = [&beginning.entry(), first].into_iter().find(missing) {
            return Err(Refused(format!("there is no section {}", entry.section)));
        }
        let walk = Walk::new(&self.song, entries);
        let visit = walk.visit_at(at).filter(|_| bars > 0);
        let music = visit.map_or(at, |visit| visit.bar_start(at));
        let start = visit
            .map_or(at, |visit| music - visit.section.metre.count_in_to(visit.bar(music), bars));
        let tempo = walk.tempo_at(music).unwrap_or(Tempo::DEFAULT);
        let song = Timeline::new(music, walk.ns_at(music), tempo).ns_at(start);
        let Spot { entries, rest, .. } = beginning;
        Ok(Departure { entries, rest, start, music, ns, tempo, song, leads: Leads::Song })
    }

    /// Sends a position of the stopped transport to the ports that get pulses. A position counts sixteenths, so
    /// one inside a sixteenth is sent as the next whole one, and other gear begins there. Returns that tick.
    pub(super) fn tell_position(&mut self, at: Tick, entries: &[Entry]) -> Tick {
        let at = at.round_up(SIXTEENTH);
        let message = Message::SongPosition(self.song_position(at, entries[index_at(entries, at)]));
        for &port in &self.config.clock_ports {
            self.orders.push_back(Order::Now { port, message });
        }
        at
    }

    /// A position in sixteenths from the top. A position beyond 14 bits is moved back by whole
    /// rounds; if that cannot be done, it is the highest that can be sent.
    fn song_position(&self, at: Tick, entry: Entry) -> U14 {
        let mut at = at.0;
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
