//! What tests of the screen share: songs of our own, and a real engine on a simulated clock.

use crate::desk::{
    DeskState, Direction, Disk, Export, Folder, FolderAnswer, Health, Kits, LevelStep, PortFacts,
    PortLine, PortState, SongAnswer, SongRead, SoundLine, Timing,
};
use chaconne_engine::{Command, Config, Engine, Message};
use chaconne_song::{
    Channel, Feel, Groove, GrooveId, Lean, Letter, Note, NoteId, Pass, PassId, Section, Song,
    StepAt, Stroke, Track, TrackId, U7,
};
use chaconne_time::{Metre, MetreMap, NoteValue, Tempo, Tick};
use std::sync::Arc;

/// A millisecond of the simulated clock.
pub const MS: i64 = 1_000_000;

/// An engine and the rest of a desk.
pub struct Bench {
    pub engine: Engine,
    pub now: i64,
    pub ports: Vec<PortLine>,
    pub sound: Option<SoundLine>,
    pub kits: Kits,
    pub disk: Disk,
    pub timing: Timing,
    pub health: Health,
    pub export: Export,
    pub folder: Option<Arc<FolderAnswer>>,
    pub read: Option<Arc<SongAnswer>>,
}

impl Bench {
    pub fn new(song: Song) -> Bench {
        let port = |name: &str, direction| PortLine {
            name: name.into(),
            direction,
            state: PortState::Ok,
            detail: String::new(),
        };
        Bench {
            engine: Engine::new(Arc::new(song), Config::default()),
            now: 0,
            ports: vec![port("desk synth", Direction::Out), port("stage keys", Direction::In)],
            sound: None,
            kits: Kits::Any,
            disk: Disk { path: Some("low-tide.ron".into()), exists: true, ..Disk::default() },
            timing: Timing::default(),
            export: Export::default(),
            folder: None,
            read: None,
            health: Health { ports: vec![PortFacts::default(); 2], ..Health::default() },
        }
    }

    /// Lets time pass.
    pub fn wait(&mut self, ms: i64) {
        for _ in 0..ms / 10 {
            self.now += 10 * MS;
            self.engine.poll(self.now);
            self.engine.take_orders().for_each(drop);
        }
    }

    pub fn command(&mut self, command: Command) {
        self.engine.command(self.now, command).unwrap();
    }

    /// Gives it the built-in sound, at -12 dB and silent.
    pub fn sound(&mut self) -> &mut SoundLine {
        let silent = [f32::NEG_INFINITY; 2];
        self.sound.get_or_insert(SoundLine {
            level: Some(-12.0),
            peak: silent,
            held: silent,
            limited: None,
        })
    }

    /// Turns the built-in sound a decibel up or down.
    pub fn level(&mut self, step: LevelStep) {
        let by = if step == LevelStep::Louder { 1.0 } else { -1.0 };
        let level = self.sound().level.unwrap_or(-60.0) + by;
        self.sound().level = Some(level.min(0.0)).filter(|&level| level > -60.0);
    }

    /// The disk answers a request for a folder.
    pub fn answer_folder(&mut self, number: u64, folder: Result<Folder, String>) {
        self.folder = Some(Arc::new(FolderAnswer { number, folder }));
    }

    /// The disk answers a request for a song.
    pub fn answer_song(&mut self, number: u64, done: Result<SongRead, String>) {
        self.read = Some(Arc::new(SongAnswer { number, done }));
    }

    /// Plays a key for a tenth of a second.
    pub fn play(&mut self, key: u8, velocity: u8) {
        let (channel, key) = (Channel::default(), U7::low_bits(key));
        let velocity = U7::low_bits(velocity);
        let press = Message::NoteOn { channel, key, velocity };
        self.engine.input(self.now, 0, press.into());
        self.wait(100);
        let lift = Message::NoteOff { channel, key, velocity };
        self.engine.input(self.now, 0, lift.into());
    }

    /// Presses keys together, or lifts them.
    pub fn strike(&mut self, keys: &[u8], down: bool) {
        for &key in keys {
            let (channel, key, velocity) = (Channel::default(), U7::low_bits(key), U7::CENTRE);
            let message = match down {
                true => Message::NoteOn { channel, key, velocity },
                false => Message::NoteOff { channel, key, velocity },
            };
            self.engine.input(self.now, 0, message.into());
        }
    }

    pub fn state(&self) -> DeskState {
        DeskState {
            status: self.engine.status(self.now),
            ports: self.ports.clone(),
            sound: self.sound,
            kits: self.kits.clone(),
            disk: self.disk.clone(),
            timing: self.timing,
            health: self.health.clone(),
            export: self.export.clone(),
            folder: self.folder.clone(),
            read: self.read.clone(),
        }
    }
}

/// An empty song of `bars` bars.
pub fn empty_song(bars: u32, metre: &str) -> Song {
    let metre: Metre = metre.parse().unwrap();
    let metre = MetreMap::new(bars, metre).unwrap();
    Song::new("Low tide", Section::new(Letter::A, metre, Tempo::DEFAULT))
}

/// A pass of notes as (start, length, key, velocity), in ticks.
pub fn pass(id: u32, track: u32, length: i64, notes: &[(i64, i64, u8, u8)]) -> Arc<Pass> {
    let mut pass = Pass::empty(PassId(id), TrackId(track), Tick(length));
    for (index, &(start, length, key, velocity)) in notes.iter().enumerate() {
        let played = Stroke {
            start: Tick(start),
            length: Tick(length),
            key: U7::low_bits(key),
            velocity: U7::low_bits(velocity),
            release: U7::CENTRE,
        };
        let id = NoteId(id * 1000 + index as u32);
        pass.notes_mut().notes.push(Note {
            id,
            channel: Channel::default(),
            played,
            placed: Default::default(),
        });
    }
    pass.sort();
    Arc::new(pass)
}

/// A groove of our own over a bar: it rushes into beat two, lies behind on beat four, and leaves out two steps.
pub fn groove(id: u32, name: &str) -> Arc<Groove> {
    let leans = [
        (1, -4, 118),
        (2, 10, 64),
        (3, -11, 92),
        (4, -38, 70),
        (5, -21, 131),
        (6, 3, 58),
        (7, 8, 95),
        (9, 0, 112),
        (10, 12, 71),
        (11, 17, 90),
        (12, 22, 66),
        (13, 46, 136),
        (14, 31, 60),
        (15, 14, 97),
    ];
    let lean = |(step, timing, loudness): (u32, i64, u16)| {
        (StepAt { bar: 1, step }, Lean { timing: Tick(timing), loudness, ..Lean::default() })
    };
    let (name, grid, bars) = (name.to_string(), NoteValue::SIXTEENTH, 1);
    let steps = leans.into_iter().map(lean).collect();
    Arc::new(Groove { id: GrooveId(id), name, grid, bars, steps })
}

/// Four parts over four bars.
pub fn four_parts() -> Song {
    let mut song = empty_song(4, "4/4");
    let sixteenths = Feel::off(true).on(NoteValue::SIXTEENTH);
    let track = |id, name| Track::pitched(TrackId(id), name);
    song.tracks = vec![
        Arc::new(Track { feel: sixteenths, ..Track::drums(TrackId(1), "drums") }),
        Arc::new(track(2, "bass")),
        Arc::new(Track { mute: true, ..track(3, "chords") }),
        Arc::new(track(4, "line")),
    ];
    let kick =
        |bar: i64| [(0, 36, 110), (2400, 36, 90)].map(|(t, k, v)| (bar * 3840 + t, 60, k, v));
    let snare =
        |bar: i64| [(960, 38, 120), (2880, 38, 124)].map(|(t, k, v)| (bar * 3840 + t, 60, k, v));
    let hats = |eighth: i64| (eighth * 480, 60, 42, if eighth % 2 == 0 { 70 } else { 45 });
    let kit: Vec<_> = (0..4).flat_map(|bar| kick(bar).into_iter().chain(snare(bar))).collect();
    let hats: Vec<_> = (0..32).map(hats).collect();
    let roots = [45u8, 41, 48, 43];
    let bass: Vec<_> = (0..4i64)
        .flat_map(|bar| {
            let root = roots[bar as usize];
            [(0, 900, root), (1440, 400, root + 12), (1920, 700, root + 7), (3360, 400, root + 2)]
                .map(|(start, length, key)| (bar * 3840 + start, length, key, 96))
        })
        .collect();
    let chords: Vec<_> = (0..4i64)
        .flat_map(|bar| {
            let root = roots[bar as usize] + 12;
            [0, 4, 7].map(|step| (bar * 3840 + 480, 2300, root + step, 80))
        })
        .collect();
    let line = [
        (0, 700, 72, 90),
        (960, 230, 74, 90),
        (1200, 700, 76, 90),
        (5760, 1800, 79, 90),
        (9600, 460, 77, 90),
        (10_080, 460, 76, 90),
        (10_560, 900, 74, 90),
        (13_440, 1800, 71, 90),
    ];
    let bars = 4 * 3840;
    for pass in [
        pass(10, 1, bars, &kit),
        pass(11, 1, bars, &hats),
        pass(12, 2, bars, &bass),
        pass(13, 3, bars, &chords),
        pass(14, 4, bars, &line),
    ] {
        song.lay(Letter::A, pass);
    }
    song
}
