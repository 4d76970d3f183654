//! Starting a rig: its ports, its threads, and the queues between them.
//!
//! In: a song and the settings. Out: a running [`Rig`], with a notice for everything that is not as it was
//! asked for.

use super::{OpenedInput, Rig, RigConfig};
use crate::disk::{self, DiskState, Job};
use crate::engine_thread::{EngineShared, EngineThread, lookahead};
use crate::exports::Exports;
use crate::fingering::{Announcer, Fingering, Player};
use crate::following::Following;
use crate::hearing::Hearing;
use crate::keys::{Hands, Keys};
use crate::newest::Newest;
use crate::ports::{In, Outs};
use crate::recent::RecentSongs;
use crate::replace::Guard;
use crate::rescue::{Rescuer, rescue_copy};
use crate::snapshot::Disk;
use crate::tap::{TapControl, TapWatch};
use chaconne_engine::{Config, Engine};
use chaconne_ports as clock;
use chaconne_ports::{Monitor, Output, Setup, Thru, now};
use chaconne_song::Song;
use chaconne_sound::Decibels;
use chaconne_time::Ns;
use crossbeam_channel::{Sender, bounded, unbounded};
use std::path::PathBuf;
use std::sync::atomic::AtomicI64;
use std::sync::{Arc, Mutex};
use std::thread::{self, JoinHandle};

/// How many played messages fit in the queue to the engine.
const PLAYED: usize = 8192;

impl Rig {
    /// Opens the ports and starts everything, with the transport stopped and the first track armed.
    /// A port that cannot be opened is a [notice](Rig::notices), not an error.
    ///
    /// # Errors
    /// If two outputs have the same name, or no thread can be started.
    pub fn start(song: Song, config: RigConfig) -> Result<Rig, String> {
        let (outs, outputs) = Outs::open(&config.outs, config.font.as_deref())?;
        if let Some(device) = &outs.device {
            let levels = device.levels();
            config.level.into_iter().for_each(|db| levels.set_level(Decibels::new(db)));
            config.click_level.into_iter().for_each(|db| levels.set_click(Decibels::new(db)));
        }
        Rig::start_on(song, config, outs, outputs)
    }

    /// Like [`Rig::start`], on outputs that are already open.
    pub(crate) fn start_on(
        song: Song,
        config: RigConfig,
        outs: Outs,
        outputs: Vec<Output>,
    ) -> Result<Rig, String> {
        let no_thread = |error: std::io::Error| format!("no thread could be started: {error}");
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
                silent: false,
            },
        );
        let (requests, asked) = unbounded();
        let (played, heard) = bounded(PLAYED);
        let (jobs, writer, disk) =
            start_writer(config.path, config.recent.clone(), engine.song().clone())
                .map_err(no_thread)?;
        let shared = Arc::new(EngineShared::new(engine.status(now())));
        let (switch, monitor) = (scheduler.switch(), scheduler.monitor());
        let targets = thrus.iter().map(Thru::target).collect();
        let fingering = Fingering::default();
        let thread = EngineThread {
            engine,
            requests: asked,
            played: heard,
            orders,
            switch: switch.clone(),
            monitor: monitor.clone(),
            targets,
            announcer: Announcer::new(fingering.clone()),
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
            clock::raise_priority(clock::Role::Performer);
            thread.run();
        });
        let engine = engine.map_err(no_thread)?;
        let thru = thrus.pop().ok_or("the scheduler gave no through-play")?;
        let keys = Keys {
            hands: Arc::new(Mutex::new(Hands { player: Player::new(fingering.clone()), thru })),
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
            recent: config.recent,
            exports: Exports::default(),
            folders: Newest::default(),
            reads: Newest::default(),
            font: config.font,
            monitor,
            counted_from: AtomicI64::new(now()),
            switch,
            scheduler: Some(scheduler),
            engine: Some(engine),
            writer: Some(writer),
        };
        rig.open_inputs(&config.ins, config.tap, thrus, &fingering);
        rig.notices.extend(only_one);
        rig.notices.extend(idle);
        rig.notices.extend(not_urgent(&rig.monitor));
        Ok(rig)
    }

    fn open_inputs(
        &mut self,
        asked: &[In],
        tap: Option<TapControl>,
        thrus: Vec<Thru>,
        fingering: &Fingering,
    ) {
        for (source, (input, thru)) in asked.iter().zip(thrus).enumerate() {
            let mut hearing = Hearing {
                source: source as u8,
                latency: input.latency.clamp(0, In::MOST_LATENCY),
                taps: tap.map(TapWatch::new),
                follows: input.follow.is_some(),
                player: Player::new(fingering.clone()),
                thru,
                played: self.keys.played.clone(),
                requests: self.requests.clone(),
                shared: self.shared.clone(),
            };
            let asked = input.clone();
            match clock::open_input(&input.spec, move |at, event| hearing.hear(at, event)) {
                Ok(input) => {
                    if let Some(notice) = input.notice() {
                        let notice = format!("{notice}; it will be used as soon as it appears");
                        self.notices.push(notice);
                    }
                    self.ins.push(OpenedInput {
                        asked,
                        failure: String::new(),
                        input: Some(input),
                    });
                }
                Err(error) => {
                    self.notices.push(format!("{error}; this input is not in use"));
                    self.ins.push(OpenedInput { asked, failure: error.to_string(), input: None });
                }
            }
        }
    }
}

/// The notice about missing real-time priority or unlocked memory.
fn not_urgent(monitor: &Monitor) -> Option<String> {
    let urgency = monitor.stats().urgency;
    let remedy = urgency.remedy()?;
    Some(format!("the scheduler runs with {urgency} and may be late on a busy machine: {remedy}"))
}

/// How long after its seam a round is closed, in nanoseconds: late input, and what was played
/// before the seam on the slowest input, still belongs to it.
pub(super) fn grace(config: &RigConfig) -> Ns {
    let slowest = config.ins.iter().map(|input| input.latency).max().unwrap_or(0);
    config.grace.clamp(0, 100_000_000) + slowest.clamp(0, In::MOST_LATENCY)
}

/// Starts the disk thread, which ends when the sender of jobs is dropped.
fn start_writer(
    path: Option<PathBuf>,
    recent: Option<RecentSongs>,
    song: Arc<Song>,
) -> std::io::Result<(Sender<Job>, JoinHandle<()>, DiskState)> {
    let (jobs, todo) = unbounded();
    let disk = DiskState::default();
    // A song whose file does not exist yet is unsaved, changed or not.
    let missing = path.as_ref().is_some_and(|path| !path.exists());
    let saved = if missing { Disk::NEVER } else { 0 };
    // At the start, the screen also offers the rescue copy of a song that never had a file.
    let rescue = rescue_copy(path.as_deref());
    let guard = path.as_deref().map(Guard::of_song_at).unwrap_or_default();
    let song = (!missing).then_some(song);
    *disk.get() = Disk { saved, rescue, song, ..Disk::opened(path, 0, &guard) };
    let state = disk.clone();
    let spawn = thread::Builder::new().name("disk".to_string());
    let writer = spawn.spawn(move || disk::run(&todo, &state, guard, recent.as_ref()))?;
    Ok((jobs, writer, disk))
}
