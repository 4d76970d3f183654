//! The engine: songs, commands and played notes in, orders and status out.
//!
//! The caller owns the clock, which may be real or simulated; the orders are the same. In each turn it
//! calls, in this order:
//!
//! 1. [`Engine::command`] with the moment of the command, and [`Engine::input`] with the moment at
//!    which the input was played;
//! 2. [`Engine::poll`] with the present moment, or earlier by as much as inputs may be late; at least
//!    twice per look-ahead;
//! 3. [`Engine::take_orders`].
//!
//! The first poll after the end of a round closes it, or a command about passes if that comes sooner.

mod armed;
mod by_hand;
mod changes;
mod clicks;
mod commit;
mod directions;
mod grounds;
mod hearing;
mod held;
mod holds;
mod ids;
mod keep;
mod key_changes;
mod late;
mod late_foot;
mod led;
mod levels;
mod open_round;
mod position;
mod programs;
mod recorders;
mod recording;
mod report;
mod run;
mod settings;
mod sharing;
mod states;
mod struck;
mod transport;

use crate::performer::Performer;
use crate::plan::Mix;
use crate::{Command, Entry, Follow, Message, Order, PortIx, Slot, View, Waits, Wire};
use armed::Armed;
use by_hand::Conductor;
use chaconne_song::{Channel, EditError, History, Ids, Label, Letter, PassId, Song, U7};
use chaconne_time::{FrameRate, Ns, Tempo, Tick};
use commit::How;
pub use grounds::Ground;
use led::Leader;
use position::Again;
use settings::HowToRecord;
use states::{Played, Recorder, Transport};
use std::collections::{BTreeMap, VecDeque};
use std::sync::Arc;
use struck::Struck;

/// How the click sounds: two keys of a percussion channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClickSound {
    /// The port it goes to.
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
    /// The names of the ports. Tracks that name none of them play on the first.
    pub ports: Vec<String>,
    /// The ports that get clock pulses, Start, Stop and Continue.
    pub clock_ports: Vec<PortIx>,
    /// The ports that get MIDI Time Code, and their frame rates. The scheduler must know them too,
    /// because it generates the quarter frames.
    pub mtc_ports: Vec<(PortIx, FrameRate)>,
    /// The ports that get MIDI Machine Control, and the frame rates of their positions.
    pub mmc_ports: Vec<(PortIx, FrameRate)>,
    /// How far ahead of the clock the song is performed, in nanoseconds.
    pub lookahead: Ns,
    /// How long after the command the transport starts, in nanoseconds, so that the first cues reach
    /// the scheduler before they are due.
    pub lead: Ns,
    /// How long before the start programs and controllers are sent, in nanoseconds; at most `lead`.
    pub set_up: Ns,
    /// How the click sounds.
    pub click: ClickSound,
    /// The clock to follow, if any.
    pub follow: Option<Follow>,
    /// Whether nobody listens: passes are recorded, but no layer is performed, so that the layers
    /// already there cost a recording nothing.
    pub silent: bool,
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
            silent: false,
        }
    }
}

/// News from an input.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Input {
    /// A message arrived.
    Heard(Wire<Vec<u8>>),
    /// The input is gone (unplugged, closed, or silent after active sensing), so the keys it held are
    /// released.
    Lost,
}

impl From<Message> for Input {
    fn from(message: Message) -> Input {
        Input::Heard(message.into())
    }
}

/// Where through-played notes go.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LiveTarget {
    /// The armed track's port.
    pub port: PortIx,
    /// The armed track's channel; `None` keeps the channel a note came in on.
    pub channel: Option<Channel>,
}

/// Why a command was refused, in one sentence. A refused command changes nothing.
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
    /// What recording again goes back to; `None` before the first take.
    again: Option<Again>,
    /// Whether a route with an end starts again at its end.
    repeats: bool,
    played: Played,
    struck: Struck,
    /// What is known of the clock that is followed.
    leader: Option<Leader>,
    /// Who leads by hand, if anyone.
    hand: Option<Conductor>,
    /// The section that plays; while stopped, the one that would play.
    shown: Letter,
    armed: Armed,
    how: HowToRecord,
    /// The unfinished pass for which the user was last told that its round is full.
    full: Option<PassId>,
    /// How many unfinished rounds undo has discarded.
    discards: u32,
    epochs: BTreeMap<Slot, u32>,
    orders: VecDeque<Order>,
    taps: Vec<Ns>,
    /// The tempo of the last taps, not rounded.
    tapped: Option<Tempo>,
    said: (u64, String),
    /// The latest moment of any call. Cues that were due by then may have been sent.
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
            again: None,
            repeats: false,
            played: Played::default(),
            struck: Struck::default(),
            leader: config.follow.as_ref().map(|_| Leader::default()),
            hand: None,
            shown,
            armed: Armed::first_of(&song),
            how: HowToRecord::default(),
            full: None,
            discards: 0,
            epochs: BTreeMap::new(),
            orders: VecDeque::new(),
            taps: Vec::new(),
            tapped: None,
            said: (0, String::new()),
            latest: Ns::MIN,
            song,
            config,
        };
        engine.set_up_tracks();
        engine
    }

    /// The song, without the unfinished round.
    pub fn song(&self) -> &Arc<Song> {
        &self.song
    }

    /// The number of changes of the song so far.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// The orders for the scheduler, in the order in which it must get them.
    pub fn take_orders(&mut self) -> impl Iterator<Item = Order> + '_ {
        self.orders.drain(..)
    }

    /// Where through-played notes go; `None` if no track is armed.
    pub fn live_target(&self) -> Option<LiveTarget> {
        let track = self.song.track(self.armed.track()?)?;
        Some(LiveTarget { port: self.port_of(track), channel: track.channel })
    }

    fn port_of(&self, track: &chaconne_song::Track) -> PortIx {
        let place = self.config.ports.iter().position(|port| *port == track.port);
        PortIx(place.unwrap_or(0) as u8)
    }

    /// Obeys a command. A refusal is also shown in the status.
    pub fn command(&mut self, now: Ns, command: Command) -> Result<(), Refused> {
        self.catch_up(now);
        self.bring_up_all(now);
        let done = self.obey(now, command);
        // The route, or the metre, may be another now.
        self.keep_hold(now);
        self.recorders_update(now);
        self.report(done)
    }

    /// A tap that was made at `at`, a little before the present moment `now`, and how hard it was struck, if
    /// that is known. At a fermata it lets the song go on; while the time is led by hand it is the next beat; else the distance between taps sets the
    /// tempo from `now` on. A refusal is also shown in the status.
    pub fn tapped(&mut self, now: Ns, at: Ns, struck: Option<U7>) -> Result<(), Refused> {
        self.catch_up(now);
        let done = match self.waits(now) {
            Some(Waits::Fermata) => {
                self.end_fermata(now);
                Ok(())
            }
            _ if self.hand.is_some() => self.give_beat(now, at, struck),
            _ => self.tap(now, at),
        };
        self.report(done)
    }

    fn report(&mut self, done: Result<(), Refused>) -> Result<(), Refused> {
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
            Command::PlayCounted(route, at) => self.play_counted(now, route, at),
            Command::Stop => self.stop(now),
            Command::Continue => self.go_on(now),
            Command::Locate(at) => self.locate(at),
            Command::LocateBars(bars) => self.locate_bars(bars),
            Command::CountIn(bars) => self.choose_count_in(bars),
            Command::Click(click) => self.set_click(now, click),
            Command::Record(true) => self.start_recording(now),
            Command::Record(false) => self.stop_recording(now),
            Command::RecordAgain => self.record_again(now),
            Command::Mode(mode) => self.set_mode(now, mode),
            Command::Rounds(rounds) => self.set_rounds(rounds),
            Command::Keep => self.keep(now),
            Command::Undo => self.undo(now),
            Command::Redo => self.redo(now),
            Command::RemoveTop => self.remove_top(now),
            Command::Arm(track) => self.arm(now, track),
            Command::MuteTrack(track, mute) => self.mute_track(now, track, mute),
            Command::MutePass(section, pass, mute) => self.mute_pass(now, section, pass, mute),
            Command::SoloTrack(track, solo) => self.solo_track(now, track, solo),
            Command::SoloPass(pass, solo) => self.solo_pass(now, pass, solo),
            Command::StepVolume(track, by) => self.step_volume(now, track, by),
            Command::StepPan(track, by) => self.step_pan(now, track, by),
            Command::Feel(track, feel) => self.set_feel(now, track, feel),
            Command::Program(track, program) => self.set_program(now, track, program),
            Command::Audition(track, program) => self.audition(track, program),
            Command::Transpose(of, new, when) => self.transpose(now, of, new, when),
            Command::Tempo(tempo) => self.set_tempo(now, Label::Tempo, tempo),
            Command::StepTempo(steps) => self.step_tempo(now, steps),
            Command::StepSongTempo(steps) => self.step_song_tempo(now, steps),
            Command::ByHand(how) => self.lead_by_hand(now, how),
            Command::TapExactly => self.tap_exactly(now),
            Command::Next(setting) => self.next(now, setting),
            Command::Jump(letter, when) => self.jump(now, letter, when),
            Command::Stay => self.stay_here(now),
            Command::BackToForm(when) => self.back_to_form(now, when),
            Command::LastTime => self.last_time(now),
            Command::Repeat(on) => self.set_repeat(now, on),
            Command::KeepForm => self.keep_form(now),
            Command::AppendToForm(letter) => self.append_to_form(now, letter),
            Command::DropFromForm => self.drop_from_form(now),
            Command::Arrange(arrange) => self.arrange(now, &arrange),
            Command::Edit(commit) => self.edit(now, commit, How::Step),
            Command::EditOn(commit) => self.edit(now, commit, How::Run),
            Command::JoinSteps => {
                self.history.join_newest();
                Ok(())
            }
            Command::Try(commit) => self.commit(now, commit, How::Trial),
            Command::EndTry { keep: true } => {
                self.history.keep_tried();
                Ok(())
            }
            Command::EndTry { keep: false } => self.withdraw(now),
            Command::AddTrack { name, drums, program } => {
                self.add_track(now, &name, drums, program)
            }
            Command::Open(song) => self.open_song(now, *song),
            Command::Panic => {
                self.orders.push_back(Order::Silence);
                if let Some(at) = self.tick_at(now.max(self.latest)) {
                    self.performer.silenced(at);
                    let slots = self.all_slots();
                    self.revise(now, &slots);
                }
                self.say_silenced();
                Ok(())
            }
        }
    }

    /// How many notes, moves and messages recording has looked at so far. This measures its work
    /// whatever the speed of the machine.
    pub fn work(&self) -> u64 {
        self.played.capture.work()
    }

    /// Takes news from the input `source`, played at the moment `stamp`. This closes no round, because
    /// another input may be slower and still bring something that was played before the seam.
    pub fn input(&mut self, stamp: Ns, source: u8, input: Input) {
        self.latest = self.latest.max(stamp);
        self.struck.take(source, &input);
        self.played(stamp, source, input);
    }

    /// Performs `more` nanoseconds further ahead, and starts that much later after a command; less if
    /// negative. For a scheduler that needs its orders earlier than before.
    pub fn perform_earlier(&mut self, more: Ns) {
        let Config { lookahead, lead, .. } = &mut self.config;
        *lookahead = lookahead.saturating_add(more).max(0);
        *lead = lead.saturating_add(more).max(0);
    }

    /// Performs up to the look-ahead from `now`, and closes the rounds that are over.
    pub fn poll(&mut self, now: Ns) {
        self.catch_up(now);
        self.keep_repeating(now);
        self.settle_as_it_goes(now);
        self.recorders_update(now);
        self.keep_hold(now);
        self.tell_waits(now);
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

    /// The moment of a transport tick by the tempi known so far, while the transport runs.
    pub fn ns_at(&self, at: Tick) -> Option<Ns> {
        self.transport.run().map(|run| run.timeline.ns_at(at))
    }

    /// The entries of the run, past and to come, in order; the last may have no end. Empty while the
    /// transport is stopped.
    pub fn entries(&self) -> &[Entry] {
        self.transport.run().map_or(&[], |run| &run.entries)
    }

    fn say(&mut self, sentence: String) {
        self.said = (self.said.0 + 1, sentence);
    }
}
