//! The rig: the one handle for a front end, on the real clock.
//!
//! In: a song, ports, requests. Out: music, snapshots, files, and a summary at the end. Its
//! threads: the scheduler and its porter, one per input, the engine's and the disk's. However it
//! ends, it releases everything that sounds.

mod start;

use crate::disk::DiskState;
use crate::engine_thread::{Asked, EngineShared, Request};
use crate::export::Extent;
use crate::exports::{ExportOrder, Exports};
use crate::folders::FolderReport;
use crate::keys::Keys;
use crate::newest::Newest;
use crate::ports::{Direction, In, Out, Outs, PortReport};
use crate::recent::RecentSongs;
use crate::replace::{Replace, WriteError};
use crate::rescue::{Rescued, Rescuer};
use crate::snapshot::{Disk, Snapshot, SoundReport, Summary};
use crate::songs::{AsOf, SongRead, SongRequest, Songs};
use crate::store::folder_of;
use crate::tap::TapControl;
use chaconne_engine::{Command, Message, Refused, Status};
use chaconne_ports as clock;
use chaconne_ports::{Monitor, Scheduler, Spin, Switch, now};
use chaconne_song::{Channel, Song, U7};
use chaconne_sound::Desk;
use chaconne_time::Ns;
use crossbeam_channel::{Receiver, Sender, bounded};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering::Relaxed};
use std::thread::{self, JoinHandle};
use std::time::Duration;

/// How long a caller waits for the answer to a command.
const ANSWER: Duration = Duration::from_millis(50);
/// How long a caller waits that has nothing else to do.
const WHOLE_ANSWER: Duration = Duration::from_secs(10);
/// How long silencing may take before the last resort.
const SILENCE: Duration = Duration::from_millis(250);
/// How long the scheduler needs to send what it has just received.
const HANDED: Duration = Duration::from_millis(5);

/// The settings of a rig.
#[derive(Debug, Clone)]
pub struct RigConfig {
    /// The outputs; without any, it plays silently.
    pub outs: Vec<Out>,
    /// The inputs; [`PortSpec::None`](crate::PortSpec::None) is an input on which nothing arrives.
    pub ins: Vec<In>,
    /// The key, pad or pedal for tapping the tempo.
    pub tap: Option<TapControl>,
    /// A SoundFont 2 file for the instrument; `None` for its own sounds.
    pub font: Option<PathBuf>,
    /// The level of the instrument, in decibels relative to full scale; `None` for a safe default.
    pub level: Option<f32>,
    /// The level of the click, in decibels relative to the instrument; `None` for the default.
    pub click_level: Option<f32>,
    /// The song's file, if it has one or will be saved to one.
    pub path: Option<PathBuf>,
    /// Where to remember which songs were opened and saved; `None` for nowhere.
    pub recent: Option<RecentSongs>,
    /// How long after its seam a round is closed, in nanoseconds (0 to 100 ms), so that late input
    /// still belongs to it. The largest latency of the inputs is added.
    pub grace: Ns,
    /// How long the scheduler may wait busily instead of sleeping.
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
            recent: None,
            grace: 20_000_000,
            spin: Spin::default(),
        }
    }
}

/// A configured input, open or failed.
#[derive(Debug)]
struct OpenedInput {
    asked: In,
    failure: String,
    input: Option<clock::Input>,
}

/// The handle. Dropping it is the same as [`Rig::shutdown`].
#[derive(Debug)]
pub struct Rig {
    requests: Sender<Asked>,
    keys: Keys,
    shared: Arc<EngineShared>,
    disk: DiskState,
    outs: Outs,
    ins: Vec<OpenedInput>,
    notices: Vec<String>,
    recent: Option<RecentSongs>,
    exports: Exports,
    folders: Newest<FolderReport>,
    reads: Newest<SongRead>,
    /// The font of the instrument, for a bounce that sounds like it.
    font: Option<PathBuf>,
    monitor: Monitor,
    /// When the lateness began to be counted, in nanoseconds.
    counted_from: AtomicI64,
    switch: Switch,
    scheduler: Option<Scheduler>,
    engine: Option<JoinHandle<()>>,
    writer: Option<JoinHandle<()>>,
    rescuer: Rescuer,
}

impl Rig {
    /// What the user should know after the start, one sentence each.
    pub fn notices(&self) -> &[String] {
        &self.notices
    }

    /// The instrument's levels and meters; `None` if it is not among the outputs or has no device.
    pub fn desk(&self) -> Option<Desk> {
        self.outs.device.as_ref()?.desk()
    }

    /// Turns the instrument a step up or down ([`Decibels::louder`]), if there is one. The next
    /// snapshot shows the level.
    pub fn change_level(&self, louder: bool) {
        let Some(desk) = self.desk() else { return };
        let level = desk.level();
        desk.set_level(if louder { level.louder() } else { level.softer() });
    }

    /// Gives the engine a command, and returns once the status shows its effect. If the engine is
    /// busy for longer than 50 ms, returns `Ok`; a refusal is also in [`Status::said`].
    ///
    /// # Errors
    /// The engine's refusal: nothing has changed.
    pub fn command(&self, command: Command) -> Result<(), Refused> {
        self.command_within(command, ANSWER)
    }

    /// Like [`Rig::command`], for a caller without a screen: however busy the machine, the status
    /// shows the effect when this returns. Gives up after 10 s.
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

    /// Taps, `ago` before now: the tempo, or the next beat while the time is led by hand. A refusal shows in [`Status::said`].
    pub fn tap(&self, ago: Duration) {
        let stamp = now();
        let ago = Ns::try_from(ago.as_nanos()).unwrap_or(Ns::MAX);
        let request = Request::Tap(stamp.saturating_sub(ago), None);
        // The engine thread only ends early after a panic, which was reported.
        let _ = self.requests.send(Asked { stamp, request });
    }

    /// Plays a message as if it had come in on a port: to the armed track's port at once, and to
    /// the recorder; where keys play chords, or notes of the harmony, those in its place. Releasing a key that
    /// is not down does nothing.
    pub fn play(&self, message: Message) {
        self.keys.finger(now(), message);
    }

    /// Presses a key of the computer keyboard.
    pub fn press(&self, key: U7, velocity: U7) {
        self.play(Message::NoteOn { channel: Channel::default(), key, velocity });
    }

    /// Releases a key of the computer keyboard.
    pub fn lift(&self, key: U7) {
        let (channel, velocity) = (Channel::default(), U7::CENTRE);
        self.play(Message::NoteOff { channel, key, velocity });
    }

    /// Stops, and opens another song in place of this one; undo starts afresh. `path` is its file, if any.
    pub fn open(&self, song: Song, path: Option<PathBuf>) {
        let (reply, answer) = bounded(1);
        self.ask(Request::Open(Box::new(song), path, None, reply));
        // If the disk is busy, the snapshot shows it a little later.
        let _ = answer.recv_timeout(ANSWER);
    }

    /// Removes the rescue copy in [`Disk::rescue`]. If that fails, the snapshot says so.
    pub fn remove_rescue(&self) {
        self.ask(Request::RemoveRescue);
    }

    /// Saves the song on the disk thread, to `path` or where it was saved last. A path without an
    /// extension gets that of songs, unless it is a folder, which is an error. The outcome shows
    /// in [`Snapshot::disk`]; to confirm a refusal that can be confirmed, save to the same place
    /// again with [`Replace::Confirmed`]. The unfinished round is not saved.
    pub fn save(&self, path: Option<PathBuf>, replace: Replace) {
        self.ask(Request::Save(path, replace));
    }

    /// Exports a Standard MIDI File on the disk thread. The receiver gets its size in bytes, or
    /// what went wrong.
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

    /// Exports the song as it is now on a thread of its own; the unfinished round is not exported.
    /// How it goes shows in [`Snapshot::export`].
    pub fn export(&self, order: ExportOrder) {
        self.exports.begin(self.status().song.clone(), order, self.font.clone());
    }

    /// Cancels the export that runs, if any; it leaves no file.
    pub fn cancel_export(&self) {
        self.exports.cancel();
    }

    /// Asks for what is in a folder, by default in that of the song, and for the recent songs, this
    /// one among them. The answer shows in [`Snapshot::folder`], with the same number. It may come
    /// late or never, as the disk does; then a request with another number takes its place.
    pub fn browse(&self, number: u64, folder: Option<PathBuf>) {
        let folder = folder.unwrap_or_else(|| {
            let own = self.disk.get().path.clone();
            own.as_deref().map_or(Path::new("."), folder_of).to_path_buf()
        });
        let recent = self.recent.clone();
        self.folders.ask(number, move || FolderReport::read(&folder, recent.as_ref()), Ok);
    }

    /// Asks for a song to be read: to be opened, restored or compared. The answer shows in
    /// [`Snapshot::read`], with the same number. It may come late or never, as the disk does; then a
    /// request with another number takes its place.
    ///
    /// The song is opened like in [`Rig::open`], unless the one at hand has changed since this call.
    /// A rescue copy keeps the file of the song at hand and has unsaved changes; the next successful
    /// save removes the copy.
    pub fn read(&self, number: u64, request: SongRequest) {
        let (requests, shared) = (self.requests.clone(), self.shared.clone());
        let songs = Songs { requests, shared, disk: self.disk.clone() };
        let as_of = AsOf::of(&self.status());
        let reader = songs.clone();
        self.reads.ask(number, move || reader.load(request), move |song| songs.apply(song, as_of));
    }

    /// The engine's state, at most a few milliseconds old.
    pub fn status(&self) -> Arc<Status> {
        self.shared.status()
    }

    /// The state of everything.
    pub fn snapshot(&self) -> Snapshot {
        // First of all: an answer must not be seen without what came of it.
        let read = self.reads.answer();
        let stats = self.monitor.stats();
        let outs = self.outs.outs.iter().zip(&self.outs.failures).zip(&stats.ports);
        let outs = outs.map(|((out, failure), health)| PortReport {
            name: if out.name.is_empty() { out.spec.to_string() } else { out.name.clone() },
            spec: out.spec.clone(),
            direction: Direction::Out,
            state: health.state,
            sent: health.sent,
            dropped: health.dropped,
            to_nobody: health.to_nobody,
            late: health.late,
            failure: failure.clone(),
            ambiguity: health.ambiguity.clone(),
        });
        let ins = self.ins.iter().map(|input| PortReport {
            name: input.asked.spec.to_string(),
            spec: input.asked.spec.clone(),
            direction: Direction::In,
            state: input.input.as_ref().map_or(clock::PortState::Lost, clock::Input::state),
            sent: 0,
            dropped: input.input.as_ref().map_or(0, clock::Input::strays),
            to_nobody: 0,
            late: 0,
            failure: input.failure.clone(),
            ambiguity: input.input.as_ref().map_or(String::new(), clock::Input::ambiguity),
        });
        Snapshot {
            status: self.status(),
            ports: outs.chain(ins).collect(),
            sound: self.desk().as_ref().map(SoundReport::of),
            disk: self.disk.get().clone(),
            stats,
            waiting: self.shared.waiting.load(Relaxed),
            unheard: self.shared.unheard.load(Relaxed),
            counted: now() - self.counted_from.load(Relaxed),
            export: self.exports.report(),
            folder: self.folders.answer(),
            read,
        }
    }

    /// The outputs in use, in the order of [`Snapshot::ports`]; at least one.
    pub fn outs(&self) -> &[Out] {
        &self.outs.outs
    }

    /// The inputs, in the order of [`Snapshot::ports`], where they come after the outputs.
    pub fn ins(&self) -> impl Iterator<Item = &In> {
        self.ins.iter().map(|input| &input.asked)
    }

    /// The greatest lateness of a message since the last call, in nanoseconds. For one caller.
    pub fn take_worst(&self) -> Ns {
        self.monitor.take_worst()
    }

    /// Counts the lateness of pulses, notes and through-played messages afresh.
    pub fn restart_timing(&self) {
        self.monitor.restart();
        self.counted_from.store(now(), Relaxed);
    }

    /// The drum kits of the instrument's font: the program that selects each, and its name. `None`
    /// if other gear plays the tracks that name no output.
    pub fn kits(&self) -> Option<Arc<[(u8, String)]>> {
        self.outs.kits.clone()
    }

    /// The state of the song's file.
    pub fn disk(&self) -> Disk {
        self.disk.get().clone()
    }

    /// An input without a port, for playing from another thread.
    pub(crate) fn keys(&self) -> Keys {
        self.keys.clone()
    }

    /// The switch that silences everything without a queue.
    pub fn switch(&self) -> Switch {
        self.switch.clone()
    }

    /// Stops, releases everything that sounds, and returns once the releases are sent or cannot be
    /// sent.
    pub fn silence(&self) {
        // Stopping is never refused.
        let _ = self.command(Command::Stop);
        thread::sleep(HANDED);
        hush(&self.switch, SILENCE);
        self.switch.resume();
    }

    /// The writer of the rescue copy, for a program that is interrupted; it may outlive the rig.
    pub fn rescuer(&self) -> Rescuer {
        self.rescuer.clone()
    }

    /// Stops, releases everything, finishes pending saves and exports, and ends all threads.
    pub fn shutdown(mut self) -> Summary {
        self.close()
    }

    /// Like [`Rig::shutdown`], for when the user can no longer be asked about unsaved changes: once
    /// everything is silent, writes them to a rescue copy, the unfinished round included.
    pub fn shutdown_and_rescue(mut self) -> (Summary, Rescued) {
        let summary = self.close();
        (summary, self.rescuer.rescue())
    }

    fn ask(&self, request: Request) {
        // The engine thread only ends early after a panic, which was reported.
        let _ = self.requests.send(Asked { stamp: now(), request });
    }

    fn close(&mut self) -> Summary {
        self.exports.cancel();
        self.ins.iter_mut().for_each(|input| input.input = None);
        self.ask(Request::End);
        // A panic on one of these threads was reported where it happened.
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

/// Silences at once: through the scheduler, or without it if it does not answer in time. Nothing
/// goes out after that until [`Switch::resume`] or the end of the rig.
pub fn hush(switch: &Switch, limit: Duration) {
    switch.silence_now();
    if !switch.wait_silent(limit) {
        switch.force_note_offs();
    }
}

#[cfg(test)]
mod tests;
