//! The rig: one handle for whoever drives the music on the real clock.
//!
//! In: a song, ports, requests. Out: music, snapshots, files, and at the end a summary. Its
//! threads: the scheduler and its porter (the clock's), one for each input, the engine's and the
//! disk's. Ending it, in whatever way, releases everything that sounds.

use crate::disk::{self, DiskState, Job};
use crate::engine_thread::{Asked, EngineThread, Request, Shared, lookahead};
use crate::export::Extent;
use crate::following::Following;
use crate::hearing::Hearing;
use crate::keys::Keys;
use crate::ports::{Direction, In, Out, Outs, PortReport};
use crate::replace::{Replace, WriteError};
use crate::rescue::{Rescued, Rescuer};
use crate::snapshot::{Disk, Snapshot, SoundReport, Summary};
use crate::store::{LoadError, load};
use crate::tap::{TapControl, TapWatch};
use chaconne_engine::{Command, Config, Engine, Message, Refused, Status};
use chaconne_ports as clock;
use chaconne_ports::{Monitor, Output, Scheduler, Setup, Spin, Switch, Thru, now};
use chaconne_song::{Channel, Song, U7};
use chaconne_sound::{Decibels, Desk};
use chaconne_time::Ns;
use crossbeam_channel::{Receiver, Sender, bounded, unbounded};
use std::path::{Path, PathBuf};
use std::sync::atomic::Ordering::Relaxed;
use std::sync::{Arc, Mutex};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// How many played messages can be on their way to the engine.
const PLAYED: usize = 8192;
/// How long a command may take to be done before its caller is let go on.
const ANSWER: Duration = Duration::from_millis(50);
/// The same where the caller has nothing else to do.
const WHOLE_ANSWER: Duration = Duration::from_secs(10);
/// How long a silence may take before the last resort is used.
const SILENCE: Duration = Duration::from_millis(250);
/// What the scheduler needs to send what it was just handed.
const HANDED: Duration = Duration::from_millis(5);

/// What a rig is started with.
#[derive(Debug, Clone)]
pub struct RigConfig {
    /// The outputs; with none, it plays silently.
    pub outs: Vec<Out>,
    /// The inputs; [`PortSpec::None`](crate::PortSpec::None) among them stands for none.
    pub ins: Vec<In>,
    /// The key, pad or pedal of the inputs that is tapped for the tempo.
    pub tap: Option<TapControl>,
    /// The SoundFont 2 file whose sounds the instrument plays; its own where there is none.
    pub font: Option<PathBuf>,
    /// The level of the instrument, in decibels under full scale; its own safe one where there is
    /// none.
    pub level: Option<f32>,
    /// The level of its click, in decibels under that of the instrument; its own where there is
    /// none.
    pub click_level: Option<f32>,
    /// The song's file, where it has one or is to get one.
    pub path: Option<PathBuf>,
    /// How long after its seam a round is closed, so that input which comes late is still in it;
    /// 0 to 100 ms. The largest latency of the inputs is added to it.
    pub grace: Ns,
    /// How long the scheduler may look at the clock instead of sleeping.
    pub spin: Spin,
}

impl Default for RigConfig {
    fn default() -> RigConfig {
        RigConfig {
            outs: Vec::new(),
            ins: Vec::new(),
            tap: None,
            font: None,
            level: None,
            click_level: None,
            path: None,
            grace: 20_000_000,
            spin: Spin::default(),
        }
    }
}

/// An input that was asked for, and what came of it.
#[derive(Debug)]
struct Ear {
    spec: clock::PortSpec,
    failure: String,
    input: Option<clock::Input>,
}

/// The handle. Dropping it is the same as [`Rig::shutdown`].
#[derive(Debug)]
pub struct Rig {
    requests: Sender<Asked>,
    keys: Keys,
    shared: Arc<Shared>,
    disk: DiskState,
    outs: Outs,
    ins: Vec<Ear>,
    notices: Vec<String>,
    monitor: Monitor,
    switch: Switch,
    scheduler: Option<Scheduler>,
    engine: Option<JoinHandle<()>>,
    writer: Option<JoinHandle<()>>,
    rescuer: Rescuer,
}

impl Rig {
    /// Opens the ports and starts everything, stopped, with the song's first track armed. A port
    /// that cannot be opened is a [notice](Rig::notices), not an error.
    ///
    /// # Errors
    /// Where two outputs bear one name, or the system gives no thread.
    pub fn start(song: Song, config: RigConfig) -> Result<Rig, String> {
        let (outs, outputs) = Outs::open(&config.outs, config.font.as_deref())?;
        if let Some(device) = &outs.device {
            let levels = device.levels();
            config.level.into_iter().for_each(|db| levels.set_level(Decibels::new(db)));
            config.click_level.into_iter().for_each(|db| levels.set_click(Decibels::new(db)));
        }
        Rig::start_on(song, config, outs, outputs)
    }

    /// The same, on outputs that are open already.
    pub(crate) fn start_on(
        song: Song,
        config: RigConfig,
        outs: Outs,
        outputs: Vec<Output>,
    ) -> Result<Rig, String> {
        let no_thread = |error: std::io::Error| format!("the system gives no thread: {error}");
        let idle = outs.idle(&song);
        let grace = grace(&config);
        let inputs = config.ins.len() + 1;
        let setup = Setup { inputs, wires: outs.wires(), spin: config.spin, ..Setup::default() };
        let clock::Running { scheduler, orders, mut thrus } =
            clock::start(outputs, setup).map_err(no_thread)?;
        let early = scheduler.monitor().early();
        let (following, follow, only_one) = Following::of(&config.ins);
        let engine = Engine::new(
            Arc::new(song),
            Config {
                ports: outs.names(),
                click: outs.click_sound(),
                clock_ports: outs.clocked(),
                mtc_ports: outs.timed(),
                mmc_ports: outs.controlled(),
                lookahead: lookahead(grace) + early,
                lead: Config::default().lead + early + outs.slow(),
                set_up: Config::default().set_up + outs.slow(),
                follow,
            },
        );
        let (requests, asked) = unbounded();
        let (played, heard) = bounded(PLAYED);
        let (jobs, writer, disk) = start_writer(config.path).map_err(no_thread)?;
        let shared = Arc::new(Shared::new(engine.status(now())));
        let (switch, monitor) = (scheduler.switch(), scheduler.monitor());
        let targets = thrus.iter().map(Thru::target).collect();
        let thread = EngineThread {
            engine,
            requests: asked,
            played: heard,
            orders,
            switch: switch.clone(),
            monitor: monitor.clone(),
            targets,
            jobs,
            disk: disk.clone(),
            shared: shared.clone(),
            grace,
            early,
            following,
        };
        let thread = thread.prepare();
        let spawn = thread::Builder::new().name("engine".to_string());
        let engine = spawn.spawn(move || {
            clock::hurry(clock::Role::Performer);
            thread.run();
        });
        let engine = engine.map_err(no_thread)?;
        let thru = thrus.pop().ok_or("the scheduler gave no through-play")?;
        let keys = Keys {
            thru: Arc::new(Mutex::new(thru)),
            source: config.ins.len() as u8,
            played,
            requests: requests.clone(),
            shared: shared.clone(),
        };
        let mut rig = Rig {
            requests,
            keys,
            rescuer: Rescuer::new(shared.clone(), disk.clone()),
            shared,
            disk,
            notices: outs.notices.clone(),
            outs,
            ins: Vec::new(),
            monitor,
            switch,
            scheduler: Some(scheduler),
            engine: Some(engine),
            writer: Some(writer),
        };
        rig.open_inputs(&config.ins, config.tap, thrus);
        rig.notices.extend(only_one);
        rig.notices.extend(idle);
        rig.notices.extend(not_urgent(&rig.monitor));
        Ok(rig)
    }

    fn open_inputs(&mut self, asked: &[In], tap: Option<TapControl>, thrus: Vec<Thru>) {
        for (source, (input, thru)) in asked.iter().zip(thrus).enumerate() {
            let mut hearing = Hearing {
                source: source as u8,
                latency: input.latency.clamp(0, In::MOST_LATENCY),
                taps: tap.map(TapWatch::new),
                follows: input.follow.is_some(),
                thru,
                played: self.keys.played.clone(),
                requests: self.requests.clone(),
                shared: self.shared.clone(),
            };
            let spec = input.spec.clone();
            match clock::open_input(&input.spec, move |at, event| hearing.hear(at, event)) {
                Ok(input) => {
                    if let Some(notice) = input.notice() {
                        let notice =
                            format!("{notice}; nothing is heard from there until it comes");
                        self.notices.push(notice);
                    }
                    self.ins.push(Ear { spec, failure: String::new(), input: Some(input) });
                }
                Err(error) => {
                    self.notices.push(format!("{error}; nothing is heard from there"));
                    self.ins.push(Ear { spec, failure: error.to_string(), input: None });
                }
            }
        }
    }

    /// What did not go as asked at the start, a sentence each.
    pub fn notices(&self) -> &[String] {
        &self.notices
    }

    /// The instrument's levels and meters, where it is among the outputs and there is a device
    /// that plays it.
    pub fn desk(&self) -> Option<Desk> {
        self.outs.device.as_ref()?.desk()
    }

    /// Turns the instrument, where there is one, a step up or down ([`Decibels::louder`]). The next
    /// snapshot shows it.
    pub fn change_level(&self, louder: bool) {
        let Some(desk) = self.desk() else { return };
        let level = desk.level();
        desk.set_level(if louder { level.louder() } else { level.softer() });
    }

    /// Asks for something about the music, and gives the answer once the status shows it. Where
    /// the engine is busy for longer than 50 ms the answer is taken to be yes; a refusal is also
    /// in [`Status::said`].
    ///
    /// # Errors
    /// The engine's refusal: nothing has changed.
    pub fn command(&self, command: Command) -> Result<(), Refused> {
        self.command_within(command, ANSWER)
    }

    /// The same for whoever has no screen to keep alive meanwhile: however busy the machine, the
    /// status shows what was asked for when this returns. It gives up after 10 s.
    ///
    /// # Errors
    /// As [`Rig::command`].
    pub fn command_and_wait(&self, command: Command) -> Result<(), Refused> {
        self.command_within(command, WHOLE_ANSWER)
    }

    fn command_within(&self, command: Command, patience: Duration) -> Result<(), Refused> {
        let (reply, answer) = bounded(1);
        self.ask(Request::Command(command, reply));
        answer.recv_timeout(patience).unwrap_or(Ok(()))
    }

    /// Plays a message as if it had come in on a port: it goes to the armed track's port at once,
    /// and to the recorder. Releases of keys that are not down do nothing.
    pub fn play(&self, message: Message) {
        self.keys.play(now(), message.into());
    }

    /// Strikes a key of the computer keyboard.
    pub fn press(&self, key: U7, velocity: U7) {
        self.play(Message::NoteOn { channel: Channel::default(), key, velocity });
    }

    /// Lets a key of the computer keyboard go.
    pub fn lift(&self, key: U7) {
        let (channel, velocity) = (Channel::default(), U7::CENTRE);
        self.play(Message::NoteOff { channel, key, velocity });
    }

    /// Puts another song in this one's place; undo starts anew. `path` is the file it has, if any.
    pub fn open(&self, song: Song, path: Option<PathBuf>) {
        let (reply, answer) = bounded(1);
        self.ask(Request::Open(Box::new(song), path, reply));
        // Where the disk is busy, the snapshot shows it a little later.
        let _ = answer.recv_timeout(ANSWER);
    }

    /// Puts the song of the rescue copy in [`Disk::rescue`] in this one's place, with the file it has
    /// and unsaved changes; undo starts anew. The next save that goes well removes the copy.
    ///
    /// # Errors
    /// Where there is no copy, or it cannot be read: nothing has changed.
    pub fn restore(&self) -> Result<(), LoadError> {
        let copy = self.disk.get().rescue.clone();
        let none = || LoadError::Unreadable("there is no rescue copy of this song".into());
        let copy = copy.ok_or_else(none)?;
        let song = load(&copy)?;
        let (reply, answer) = bounded(1);
        self.ask(Request::Restore(Box::new(song), copy, reply));
        // Where the disk is busy, the snapshot shows it a little later.
        let _ = answer.recv_timeout(ANSWER);
        Ok(())
    }

    /// Asks for the rescue copy in [`Disk::rescue`] to be removed. Where it cannot be, the snapshot
    /// says so.
    pub fn remove_rescue(&self) {
        self.ask(Request::RemoveRescue);
    }

    /// Asks for the song to be saved, to `path` or where it was saved last. What came of it is in
    /// [`Snapshot::disk`]: a refusal that can be confirmed is, by saving once more to the same place
    /// with [`Replace::Confirmed`]. The unfinished round is not part of it.
    pub fn save(&self, path: Option<PathBuf>, replace: Replace) {
        self.ask(Request::Save(path, replace));
    }

    /// Asks for a Standard MIDI File; how many bytes it has, or what went wrong, is told once it
    /// is written.
    pub fn export_midi(
        &self,
        path: &Path,
        extent: Extent,
        replace: Replace,
    ) -> Receiver<Result<usize, WriteError>> {
        let (reply, answer) = bounded(1);
        self.ask(Request::Export(path.to_path_buf(), extent, replace, reply));
        answer
    }

    /// The engine's state, as it was at most a few milliseconds ago.
    pub fn status(&self) -> Arc<Status> {
        self.shared.status()
    }

    /// How everything stands.
    pub fn snapshot(&self) -> Snapshot {
        let stats = self.monitor.stats();
        let outs = self.outs.outs.iter().zip(&self.outs.failures).zip(&stats.ports);
        let outs = outs.map(|((out, failure), health)| PortReport {
            name: if out.name.is_empty() { out.spec.to_string() } else { out.name.clone() },
            spec: out.spec.clone(),
            direction: Direction::Out,
            state: health.state,
            sent: health.sent,
            dropped: health.dropped,
            failure: failure.clone(),
            hindrance: health.hindrance.clone(),
        });
        let ins = self.ins.iter().map(|input| PortReport {
            name: input.spec.to_string(),
            spec: input.spec.clone(),
            direction: Direction::In,
            state: input.input.as_ref().map_or(clock::PortState::Lost, clock::Input::state),
            sent: 0,
            dropped: input.input.as_ref().map_or(0, clock::Input::strays),
            failure: input.failure.clone(),
            hindrance: input.input.as_ref().map_or(String::new(), clock::Input::hindrance),
        });
        Snapshot {
            status: self.status(),
            ports: outs.chain(ins).collect(),
            sound: self.desk().as_ref().map(SoundReport::of),
            disk: self.disk.get().clone(),
            stats,
            waiting: self.shared.waiting.load(Relaxed),
            unheard: self.shared.unheard.load(Relaxed),
        }
    }

    /// The drum kits of the instrument's font: the program that chooses each, and its name. `None`
    /// where other gear plays the tracks that name no output.
    pub fn kits(&self) -> Option<Arc<[(u8, String)]>> {
        self.outs.kits.clone()
    }

    /// How the song's file stands.
    pub fn disk(&self) -> Disk {
        self.disk.get().clone()
    }

    /// The keys of the handle, to be played from another thread.
    pub(crate) fn keys(&self) -> Keys {
        self.keys.clone()
    }

    /// The way to silence that needs no queue.
    pub fn switch(&self) -> Switch {
        self.switch.clone()
    }

    /// Stops, releases all that sounds, and returns when that is sent or cannot be.
    pub fn silence(&self) {
        // Stopping is never refused.
        let _ = self.command(Command::Stop);
        thread::sleep(HANDED);
        hush(&self.switch, SILENCE);
        self.switch.resume();
    }

    /// Writes the rescue copy where the program cannot end as it should; it may outlive the rig.
    pub fn rescuer(&self) -> Rescuer {
        self.rescuer.clone()
    }

    /// Stops, releases everything, writes what was asked to be written, and ends all threads.
    pub fn shutdown(mut self) -> Summary {
        self.close()
    }

    /// The same where nobody can be asked about unsaved changes any more: once all is silent, they
    /// go into a rescue copy, the unfinished round with them.
    pub fn shutdown_and_rescue(mut self) -> (Summary, Rescued) {
        let summary = self.close();
        (summary, self.rescuer.rescue())
    }

    fn ask(&self, request: Request) {
        // The engine thread is only gone after a panic, which has been told.
        let _ = self.requests.send(Asked { stamp: now(), request });
    }

    fn close(&mut self) -> Summary {
        self.ins.iter_mut().for_each(|input| input.input = None);
        self.ask(Request::End);
        // A panic on one of these threads has been told where it happened.
        if let Some(engine) = self.engine.take() {
            let _ = engine.join();
        }
        if let Some(writer) = self.writer.take() {
            let _ = writer.join();
        }
        self.scheduler = None;
        Summary::of(&self.monitor.stats())
    }
}

impl Drop for Rig {
    fn drop(&mut self) {
        if self.scheduler.is_some() {
            self.close();
        }
    }
}

/// Silences at once: through the scheduler, or without it where it does not answer in time.
/// Nothing is let out again until [`Switch::resume`], or the end of the rig.
pub fn hush(switch: &Switch, limit: Duration) {
    switch.silence_now();
    if !switch.wait_silent(limit) {
        switch.force_note_offs();
    }
}

/// The sentence about real-time priority or memory that was not granted.
fn not_urgent(monitor: &Monitor) -> Option<String> {
    let urgency = monitor.stats().urgency;
    let remedy = urgency.remedy()?;
    Some(format!("the scheduler runs with {urgency}, and may be late on a busy machine: {remedy}"))
}

/// How long after its seam a round is closed: what comes late, and what was played before the seam
/// on the slowest of the inputs, is still in it.
fn grace(config: &RigConfig) -> Ns {
    let slowest = config.ins.iter().map(|input| input.latency).max().unwrap_or(0);
    config.grace.clamp(0, 100_000_000) + slowest.clamp(0, In::MOST_LATENCY)
}

/// Starts the disk thread. It ends when the sender of jobs is dropped.
fn start_writer(
    path: Option<PathBuf>,
) -> std::io::Result<(Sender<Job>, JoinHandle<()>, DiskState)> {
    let (jobs, todo) = unbounded();
    let disk = DiskState::default();
    // What is not on the disk yet is not saved, changed or not.
    let missing = path.as_ref().is_some_and(|path| !path.exists());
    let opened = Disk::opened(path, 0);
    let saved = if missing { Disk::NEVER } else { opened.saved };
    *disk.get() = Disk { saved, ..opened };
    let state = disk.clone();
    let spawn = thread::Builder::new().name("disk".to_string());
    let writer = spawn.spawn(move || disk::run(&todo, &state))?;
    Ok((jobs, writer, disk))
}

#[cfg(test)]
mod tests;
