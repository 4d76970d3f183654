//! The screen without a rig: a real engine, no port and no disk, to look at and to try keys on.
//!
//! `cargo run -p chaconne-tui --example fake_desk -- [WORD...]`, where a word is one of: `empty`
//! (a new song), `many` (40 tracks), `long` (24 bars), `odd` (7/8, names of every width), `roll`
//! (plays at once), `trouble` (ports and disk fail), `ascii`, `console`, `plain` (no colour),
//! `calm`, `sound` (meters move), `loud` (the limiter works, too), `panic` (a thread panics after
//! two seconds).

use chaconne_engine::{Command, Config, Engine, Message};
use chaconne_song::{
    Channel, Feel, Letter, Note, NoteId, Pass, PassId, Section, Song, Stroke, Track, TrackId, U7,
};
use chaconne_time::{Metre, MetreMap, NoteValue, Tempo, Tick};
use chaconne_tui::{
    Colours, Desk, DeskState, Direction, Disk, EntryKind, Export, ExportSpec, FileEntry, Folder,
    FolderAnswer, Glyphs, Health, Kits, Lateness, LevelStep, LiveKey, NewSong, Options, OwnSave,
    PortFacts, PortLine, PortState, SongAnswer, SongRead, SongRequest, SoundLine, Timing,
};
use std::cell::{Cell, RefCell};
use std::sync::Arc;
use std::time::{Duration, Instant};

struct FakeDesk {
    started: Instant,
    engine: RefCell<Engine>,
    disk: RefCell<Disk>,
    saved: RefCell<u64>,
    trouble: bool,
    /// The level, where there is sound.
    level: Cell<Option<f32>>,
    loud: bool,
    folder: RefCell<Option<Arc<FolderAnswer>>>,
    read: RefCell<Option<Arc<SongAnswer>>>,
}

impl FakeDesk {
    fn now(&self) -> i64 {
        self.started.elapsed().as_nanos() as i64
    }

    /// A stroke every half second, from 6 dB under the level down.
    fn sound(&self) -> Option<SoundLine> {
        let level = self.level.get()?;
        let since = self.started.elapsed().as_secs_f32() % 0.5;
        let top = [level - 6.0, level - 8.5].map(|db| if self.loud { -1.0 } else { db });
        Some(SoundLine {
            level: (level > -60.0).then_some(level),
            peak: top.map(|db| db - 11.8 * since),
            held: top,
            limited: self.loud.then_some(2.3),
        })
    }
}

impl Desk for FakeDesk {
    fn command(&self, command: Command) {
        // A refusal shows in the status.
        let _ = self.engine.borrow_mut().command(self.now(), command);
    }

    fn tap(&self, ago: Duration) {
        let now = self.now();
        let _ = self.engine.borrow_mut().tapped(now, now - ago.as_nanos() as i64, None);
    }

    fn play(&self, key: LiveKey) {
        let channel = Channel::default();
        let message = match key {
            LiveKey::Press { key, velocity } => Message::NoteOn { channel, key, velocity },
            LiveKey::Lift { key } => Message::NoteOff { channel, key, velocity: U7::CENTRE },
        };
        self.engine.borrow_mut().input(self.now(), 0, message.into());
    }

    fn save(&self, path: Option<&str>, _replace: bool) {
        let mut disk = self.disk.borrow_mut();
        disk.attempts += 1;
        if self.trouble {
            disk.error = Some("low-tide.ron could not be written: the disk is full".into());
            disk.own = OwnSave::Failed;
            return;
        }
        (disk.error, disk.own, disk.exists) = (None, OwnSave::Fine, true);
        disk.path = path.map(str::to_string).or(disk.path.take());
        *self.saved.borrow_mut() = self.engine.borrow().revision();
    }

    fn remove_rescue(&self) {}

    fn new_song(&self, spec: NewSong) {
        if let Ok(song) = spec.song() {
            self.command(Command::Open(Box::new(song)));
            *self.disk.borrow_mut() = Disk::default();
        }
    }

    fn silence(&self) {
        self.command(Command::Panic);
    }

    fn level(&self, step: LevelStep) {
        let by = if step == LevelStep::Louder { 1.0 } else { -1.0 };
        self.level.set(self.level.get().map(|level| (level + by).clamp(-60.0, 0.0)));
    }

    fn browse(&self, number: u64, _path: Option<&str>) {
        let song = |name: &str, hours: u64| FileEntry {
            kind: EntryKind::Song,
            name: name.into(),
            path: format!("/songs/{name}"),
            age: Some(Duration::from_secs(3600 * hours)),
        };
        let entries = vec![song("low-tide.ron", 2), song("first light.ron", 30)];
        let folder = Ok(Folder { path: "/songs".into(), entries });
        *self.folder.borrow_mut() = Some(Arc::new(FolderAnswer { number, folder }));
    }

    fn read(&self, number: u64, request: SongRequest) {
        let done = match request {
            SongRequest::Open(path) => Err(format!("{path} cannot be read: this desk has no disk")),
            SongRequest::Restore => Err("there is no rescue copy of this song".into()),
            SongRequest::Compare => {
                Ok(SongRead::Compared(vec!["section A, bass: bars 2-3 differ".into()]))
            }
        };
        *self.read.borrow_mut() = Some(Arc::new(SongAnswer { number, done }));
    }

    fn export(&self, _spec: ExportSpec) {}

    fn cancel_export(&self) {}

    fn restart_timing(&self) {}

    fn state(&self) -> DeskState {
        let mut engine = self.engine.borrow_mut();
        engine.poll(self.now());
        engine.take_orders().for_each(drop);
        let mut disk = self.disk.borrow().clone();
        disk.unsaved = engine.revision() != *self.saved.borrow();
        DeskState {
            status: engine.status(self.now()),
            ports: ports(self.trouble),
            sound: self.sound(),
            kits: Kits::Any,
            disk,
            timing: Timing {
                p50_ns: 12_000,
                p99_ns: 140_000,
                worst_ns: 340_000,
                late: if self.trouble { 7 } else { 0 },
                ..Timing::default()
            },
            export: Export::default(),
            folder: self.folder.borrow().clone(),
            read: self.read.borrow().clone(),
            health: health(self.started.elapsed()),
        }
    }

    fn quit_requested(&self) -> bool {
        false
    }
}

/// Figures as a steady machine would have them.
fn health(since: Duration) -> Health {
    let count = since.as_secs() * 8;
    let mut notes = Lateness {
        count,
        p50_ns: 12_000,
        p99_ns: 140_000,
        worst_ns: 340_000,
        ..Lateness::default()
    };
    notes.bins[Lateness::bin(12_000)] = count - count / 50;
    notes.bins[Lateness::bin(140_000)] = count / 50;
    let seconds = (0..since.as_secs()).map(|second| 40_000 + second * 7919 % 300_000).collect();
    let counted = Duration::from_secs(since.as_secs());
    let ports = vec![PortFacts { sent: count, ..PortFacts::default() }, PortFacts::default()];
    Health { ports, notes, counted, seconds, ..Health::default() }
}

fn ports(trouble: bool) -> Vec<PortLine> {
    let port = |name: &str, direction, state| PortLine {
        name: name.into(),
        direction,
        state,
        detail: String::new(),
    };
    let state = if trouble { PortState::Lost } else { PortState::Ok };
    vec![
        port("desk synth", Direction::Out, PortState::Ok),
        PortLine {
            detail: if trouble { "looked for".into() } else { String::new() },
            ..port("stage keys", Direction::In, state)
        },
    ]
}

/// Notes as (start, length, key, velocity).
fn pass(id: u32, track: u32, length: i64, notes: &[(i64, i64, u8, u8)]) -> Arc<Pass> {
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

fn song(words: &[String]) -> Song {
    let has = |word: &str| words.iter().any(|known| known == word);
    let (bars, metre) = match (has("long"), has("odd")) {
        (true, _) => (24, "4/4"),
        (_, true) => (4, "7/8"),
        _ => (4, "4/4"),
    };
    let metre: Metre = metre.parse().expect("a metre");
    let bar = metre.bar().0;
    let map = MetreMap::new(bars, metre).expect("bars");
    let section = Section::new(Letter::A, map, Tempo::DEFAULT);
    let names: Vec<String> = match (has("empty"), has("many"), has("odd")) {
        (true, _, _) => Vec::new(),
        (_, true, _) => (1..=40).map(|number| format!("part {number}")).collect(),
        (_, _, true) => [
            "低音",
            "e\u{301}tude \u{200b}for\u{202e} one",
            "🎹 keys",
            "saxophone quartet, second chair",
        ]
        .map(str::to_string)
        .to_vec(),
        _ => ["drums", "bass", "chords", "line"].map(str::to_string).to_vec(),
    };
    let (mut tracks, mut passes) = (Vec::new(), Vec::new());
    for (index, name) in names.iter().enumerate() {
        let id = index as u32 + 1;
        let mut track = Track::pitched(TrackId(id), name);
        if index % 4 == 0 {
            track = Track::drums(TrackId(id), name);
            track.feel = Feel { grid: Some(NoteValue::SIXTEENTH), ..track.feel };
        }
        tracks.push(Arc::new(track));
        passes.extend(part(id, index % 4, i64::from(bars), bar));
    }
    let mut song = Song::new("Low tide", section);
    song.tracks = tracks;
    passes.into_iter().for_each(|pass| song.lay(Letter::A, pass));
    let map = MetreMap::new(2, Metre::common()).expect("bars");
    let b = Section::new("B".parse().expect("a letter"), map, Tempo::DEFAULT);
    if !names.is_empty() {
        song.sections.push(Arc::new(b));
        song.form = "A A B A".parse().unwrap_or_default();
    }
    song
}

/// A part of our own, one of four kinds.
fn part(track: u32, kind: usize, bars: i64, bar: i64) -> Vec<Arc<Pass>> {
    let length = bars * bar;
    let roots = [45u8, 41, 48, 43];
    let root = |each: i64| roots[(each % 4) as usize];
    let each_bar = |notes: &dyn Fn(i64) -> Vec<(i64, i64, u8, u8)>| {
        let shift =
            |each: i64| notes(each).into_iter().map(move |(t, l, k, v)| (each * bar + t, l, k, v));
        (0..bars).flat_map(shift).filter(|note| note.0 % bar < bar).collect::<Vec<_>>()
    };
    let id = track * 10;
    match kind {
        0 => {
            let kit = each_bar(&|_| {
                vec![(0, 60, 36, 110), (960, 60, 38, 120), (2400, 60, 36, 90), (2880, 60, 38, 124)]
            });
            let hats = each_bar(&|_| {
                (0..7).map(|n| (n * 480, 60, 42, if n % 2 == 0 { 70 } else { 40 })).collect()
            });
            vec![pass(id, track, length, &kit), pass(id + 1, track, length, &hats)]
        }
        1 => vec![pass(
            id,
            track,
            length,
            &each_bar(&|each| {
                let r = root(each);
                vec![
                    (0, 900, r, 96),
                    (1440, 400, r + 12, 80),
                    (1920, 700, r + 7, 90),
                    (2880, 400, r + 2, 90),
                ]
            }),
        )],
        2 => vec![pass(
            id,
            track,
            length,
            &each_bar(&|each| {
                [0, 4, 7].map(|step| (480, 2300, root(each) + 12 + step, 80)).to_vec()
            }),
        )],
        _ => vec![pass(
            id,
            track,
            length,
            &each_bar(&|each| {
                let n = (each % 4) as u8;
                vec![
                    (240 * i64::from(n), 700, 72 + n, 90),
                    (1920, 230, 76 - n, 90),
                    (2160, 900, 79, 90),
                ]
            }),
        )],
    }
}

fn main() -> std::io::Result<()> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let has = |word: &str| words.iter().any(|known| known == word);
    let mut options = Options::from_environment(|name| std::env::var(name).ok());
    if has("ascii") {
        options.glyphs = Glyphs::Ascii;
    }
    if has("console") {
        (options.glyphs, options.colours) = (Glyphs::Console, Colours::Sixteen);
    }
    if has("plain") {
        options.colours = Colours::None;
    }
    options.calm = has("calm");
    let path = (!has("empty")).then(|| "sketches/low-tide.ron".to_string());
    let desk = FakeDesk {
        started: Instant::now(),
        engine: RefCell::new(Engine::new(Arc::new(song(&words)), Config::default())),
        disk: RefCell::new(Disk { path, ..Disk::default() }),
        saved: RefCell::new(0),
        trouble: has("trouble"),
        level: Cell::new((has("sound") || has("loud")).then_some(-12.0)),
        loud: has("loud"),
        folder: RefCell::default(),
        read: RefCell::default(),
    };
    chaconne_tui::install_panic_hook(|| {});
    if has("roll") {
        desk.command(Command::Play);
    }
    if has("panic") {
        std::thread::spawn(|| {
            std::thread::sleep(Duration::from_secs(2));
            panic!("on purpose, to see the terminal given back");
        });
    }
    let ended = chaconne_tui::run(&desk, options)?;
    println!("ended: {ended:?}");
    Ok(())
}
