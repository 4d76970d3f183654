//! The engine: songs, commands and played notes in, orders and status out.
//!
//! The caller owns the clock. Calls must come in this order in time: [`Engine::command`] with the
//! moment it was made and [`Engine::input`] with the moment it was played, then [`Engine::poll`]
//! with the present one, or with a moment so much before it as inputs may come late, at least
//! every half look-ahead; then the orders are taken out with [`Engine::take_orders`]. A round is
//! closed by the first poll after it, or by a command about passes, whichever is sooner.
//! A simulated clock does as well as a real one, and gives the same orders.

mod armed;
mod changes;
mod clicks;
mod commit;
mod hearing;
mod held;
mod ids;
mod keep;
mod late;
mod late_foot;
mod led;
mod open_round;
mod position;
mod programs;
mod recorders;
mod recording;
mod report;
mod sharing;
mod states;
mod transport;

use crate::performer::Performer;
use crate::plan::Mix;
use crate::{
    Click, Command, Entry, Follow, Message, Mode, Order, PortIx, Rounds, Slot, View, Wire,
};
use armed::Armed;
use chaconne_song::{
    Channel, Commit, Edit, EditError, History, Ids, Label, Letter, PassId, SectionEdit, Song, U7,
};
use chaconne_time::{FrameRate, Ns, Tick};
use commit::How;
use led::Leader;
use states::{Played, Recorder, Transport};
use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;

/// How the click sounds: two keys of a percussion channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClickSound {
    /// Where it goes.
    pub port: PortIx,
    /// The channel.
    pub channel: Channel,
    /// The key of beat one (General MIDI: 76, high wood block).
    pub accent: U7,
    /// The key of the other beats (General MIDI: 77, low wood block).
    pub beat: U7,
}

impl Default for ClickSound {
    fn default() -> Self {
        ClickSound {
            port: PortIx(0),
            channel: Channel::PERCUSSION,
            accent: U7::low_bits(76),
            beat: U7::low_bits(77),
        }
    }
}

/// How an engine is set up.
#[derive(Debug, Clone)]
pub struct Config {
    /// The names of the ports there are; the first serves tracks that name none of them.
    pub ports: Vec<String>,
    /// The ports that get clock pulses, start and stop.
    pub clock_ports: Vec<PortIx>,
    /// The ports that get MIDI Time Code, and how many frames a second. The scheduler must know
    /// them too: it makes the quarter frames.
    pub mtc_ports: Vec<(PortIx, FrameRate)>,
    /// The ports that get MIDI Machine Control, and the frames in which it tells a place.
    pub mmc_ports: Vec<(PortIx, FrameRate)>,
    /// How far ahead of the clock the song is performed, nanoseconds.
    pub lookahead: Ns,
    /// How long after the command the transport starts, nanoseconds: time for the first cues to
    /// reach the scheduler before they are due.
    pub lead: Ns,
    /// How long before the start programs and controllers are sent, nanoseconds; no longer than
    /// the lead.
    pub set_up: Ns,
    /// How the click sounds.
    pub click: ClickSound,
    /// The clock that is followed, where there is one.
    pub follow: Option<Follow>,
}

impl Default for Config {
    fn default() -> Self {
        Config {
            ports: vec![String::new()],
            clock_ports: Vec::new(),
            mtc_ports: Vec::new(),
            mmc_ports: Vec::new(),
            lookahead: 100_000_000,
            lead: 5_000_000,
            set_up: 4_000_000,
            click: ClickSound::default(),
            follow: None,
        }
    }
}

/// What an input brings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A message.
    Heard(Wire<Vec<u8>>),
    /// Whoever played is gone (unplugged, closed, or silent after active sensing): what is held is
    /// released.
    Lost,
}

impl From<Message> for Input {
    fn from(message: Message) -> Input {
        Input::Heard(message.into())
    }
}

/// Where played notes are passed through to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LiveTarget {
    /// The armed track's port.
    pub port: PortIx,
    /// The armed track's channel; `None` keeps the channel a note came in on.
    pub channel: Option<Channel>,
}

/// Why a command was refused, in one sentence. Nothing has changed.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct Refused(pub String);

impl From<EditError> for Refused {
    fn from(error: EditError) -> Refused {
        Refused(error.to_string())
    }
}

/// The loop-layering engine.
#[derive(Debug)]
pub struct Engine {
    config: Config,
    song: Arc<Song>,
    revision: u64,
    ids: Ids,
    history: History,
    performer: Performer,
    mix: Mix,
    transport: Transport,
    recorder: Recorder,
    played: Played,
    /// What is known of the clock that is followed.
    leader: Option<Leader>,
    /// The section that plays, or would.
    shown: Letter,
    armed: Armed,
    mode: Mode,
    rounds: Rounds,
    click: Click,
    count_in: u8,
    /// The pass whose round was full last.
    full: Option<PassId>,
    /// How many rounds undo has thrown away.
    discards: u32,
    epochs: BTreeMap<Slot, u32>,
    orders: VecDeque<Order>,
    taps: Vec<Ns>,
    said: (u64, String),
    /// The latest moment heard of: what was due by then may have been sent.
    latest: Ns,
}

impl Engine {
    /// An engine with a song, stopped, its first track armed.
    pub fn new(song: Arc<Song>, config: Config) -> Engine {
        let performer = Performer::new(View::Corrected, config.ports.clone());
        let shown = song.sections.first().map_or(Letter::A, |section| section.letter);
        let mut engine = Engine {
            performer,
            revision: 0,
            ids: song.ids(),
            history: History::default(),
            mix: Mix::default(),
            transport: Transport::default(),
            recorder: Recorder::default(),
            played: Played::default(),
            leader: config.follow.as_ref().map(|_| Leader::default()),
            shown,
            armed: Armed::first_of(&song),
            mode: Mode::default(),
            rounds: Rounds::default(),
            click: Click::default(),
            count_in: 1,
            full: None,
            discards: 0,
            epochs: BTreeMap::new(),
            orders: VecDeque::new(),
            taps: Vec::new(),
            said: (0, String::new()),
            latest: Ns::MIN,
            song,
            config,
        };
        engine.set_up_tracks();
        engine
    }

    /// The song as it stands, without the unfinished round.
    pub fn song(&self) -> &Arc<Song> {
        &self.song
    }

    /// Goes up by one at each change of the song.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// The orders for the scheduler, in the order in which it must get them.
    pub fn take_orders(&mut self) -> impl Iterator<Item = Order> + '_ {
        self.orders.drain(..)
    }

    /// Where played notes are to be passed through to.
    pub fn live_target(&self) -> Option<LiveTarget> {
        let track = self.song.track(self.armed.track()?)?;
        Some(LiveTarget { port: self.port_of(track), channel: track.channel })
    }

    fn port_of(&self, track: &chaconne_song::Track) -> PortIx {
        let place = self.config.ports.iter().position(|port| *port == track.port);
        PortIx(place.unwrap_or(0) as u8)
    }

    /// Does what is asked. A refusal is also shown in the status.
    pub fn command(&mut self, now: Ns, command: Command) -> Result<(), Refused> {
        if command.is_about_passes() {
            self.catch_up(now);
        } else {
            self.keep_up(now);
        }
        self.bring_up_all(now);
        let done = self.obey(now, command);
        self.recorders_follow(now);
        self.tell(done)
    }

    /// A tap that was made at `at`, a little before `now`, when it is heard of: the taps' distance
    /// tells the tempo, which holds from `now` on. A refusal is also shown in the status.
    pub fn tapped(&mut self, now: Ns, at: Ns) -> Result<(), Refused> {
        self.keep_up(now);
        let done = self.tap(now, at);
        self.tell(done)
    }

    fn tell(&mut self, done: Result<(), Refused>) -> Result<(), Refused> {
        if let Err(refused) = &done {
            self.say(refused.0.clone());
        }
        done
    }

    fn obey(&mut self, now: Ns, command: Command) -> Result<(), Refused> {
        match command {
            Command::Play => self.play(now),
            Command::PlayRoute(route) => self.play_route(now, route),
            Command::PlayFrom(route, at) => self.play_from(now, route, at),
            Command::Stop => self.stop(now),
            Command::Continue => self.go_on(now),
            Command::Locate(at) => self.locate(at),
            Command::LocateBars(bars) => self.locate_bars(bars),
            Command::CountIn(bars) => self.set_count_in(bars),
            Command::Click(click) => self.set_click(now, click),
            Command::Record(true) => self.record_when_due(now),
            Command::Record(false) => self.record_no_more(now),
            Command::Mode(mode) => self.set_mode(now, mode),
            Command::Rounds(rounds) => self.set_rounds(rounds),
            Command::Keep => self.keep(now),
            Command::Undo => self.undo(now),
            Command::Redo => self.redo(now),
            Command::RemoveTop => self.remove_top(now),
            Command::Arm(track) => self.arm(now, track),
            Command::MuteTrack(track, mute) => self.mute_track(now, track, mute),
            Command::MutePass(section, pass, mute) => {
                let edit = Edit::Section(section, SectionEdit::Mute(pass, mute));
                self.commit(now, Commit::of(edit), How::Step)
            }
            Command::SoloTrack(track, solo) => self.solo_track(now, track, solo),
            Command::SoloPass(pass, solo) => self.solo_pass(now, pass, solo),
            Command::Feel(track, feel) => self.set_feel(now, track, feel),
            Command::Program(track, program) => self.set_program(now, track, program),
            Command::Audition(track, program) => self.audition(track, program),
            Command::Tempo(tempo) => self.set_tempo(now, Label::Tempo, tempo),
            Command::StepTempo(steps) => self.step_tempo(now, steps),
            Command::Next(setting) => self.next(now, setting),
            Command::Tap => self.tap(now, now),
            Command::Jump(letter) => self.jump(now, letter),
            Command::Edit(commit) => self.commit(now, commit, How::Step),
            Command::EditOn(commit) => self.commit(now, commit, How::Run),
            Command::AddTrack { name, drums, program } => {
                self.add_track(now, &name, drums, program)
            }
            Command::Open(song) => self.open_song(now, *song),
            Command::Panic => {
                self.orders.push_back(Order::Silence);
                Ok(())
            }
        }
    }

    /// How many notes, moves and messages recording has looked at so far: its work, which does not
    /// depend on the machine.
    pub fn work(&self) -> u64 {
        self.played.capture.work()
    }

    /// Takes what an input brought at the moment it was stamped. `source` tells inputs apart.
    /// Inputs may be slower than others, so this closes no round: what was played before a seam
    /// and is brought after something that was played behind it is still in its round.
    pub fn input(&mut self, stamp: Ns, source: u8, input: Input) {
        self.latest = self.latest.max(stamp);
        self.played(stamp, source, input);
    }

    /// Performs so much further ahead than before, and starts so much later after a command, in
    /// nanoseconds; less where it is negative. For a scheduler that needs its orders earlier than
    /// it did.
    pub fn be_earlier(&mut self, more: Ns) {
        let Config { lookahead, lead, .. } = &mut self.config;
        *lookahead = lookahead.saturating_add(more).max(0);
        *lead = lead.saturating_add(more).max(0);
    }

    /// Performs up to the look-ahead from `now`, and closes the rounds that are over.
    pub fn poll(&mut self, now: Ns) {
        self.catch_up(now);
        self.settle_as_it_goes(now);
        self.recorders_follow(now);
        if let Some(until) = self.horizon(now) {
            self.bring_up(now, until);
        }
        self.extend(now);
        self.forget(now);
    }

    /// The transport tick at a moment, while the transport runs.
    pub fn tick_at(&self, now: Ns) -> Option<Tick> {
        self.transport.run().map(|run| run.timeline.tick_at(now))
    }

    /// The moment a transport tick falls, while the transport runs and as far as tempi are known.
    pub fn ns_at(&self, at: Tick) -> Option<Ns> {
        self.transport.run().map(|run| run.timeline.ns_at(at))
    }

    /// The sections that the run has taken and will take, in order; the last may be open. Empty
    /// while nothing runs.
    pub fn entries(&self) -> &[Entry] {
        self.transport.run().map_or(&[], |run| &run.entries)
    }

    fn say(&mut self, sentence: String) {
        self.said = (self.said.0 + 1, sentence);
    }
}
