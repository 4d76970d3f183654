//! Sound and MIDI as two clients of one JACK server: whether the client with the sound makes the
//! pulses of the other one less even. A third client, the bench's own, records the frame of each pulse.

use crate::lates::Lates;
use crate::measure::line;
use crate::server::Server;
use crate::{Extent, Failure};
use chaconne_tests::program::{self, PATIENCE, finish, signal, spawn};
use jack::{
    AsyncClient, Client, ClientOptions, Control, Frames, MidiIn, NotificationHandler, Port,
    ProcessHandler, ProcessScope,
};
use rustix::process::Signal;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};
use std::sync::{Arc, Mutex};
use std::thread::sleep;
use std::time::Duration;

/// Frames a block: short, so that rendering has little time.
const BLOCK: u32 = 64;
/// Frames a second of the server.
const RATE: i64 = 48_000;
/// How long the program plays before the pulses count.
const STARTS: Duration = Duration::from_secs(2);
/// The number of rounds; the figures are medians.
const ROUNDS: usize = 5;

/// Measures and prints, where there is a JACK server.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let Some(_server) = Server::start(BLOCK) else { return Ok(()) };
    let (rounds, watched) = match extent {
        Extent::Short => (1, Duration::from_secs(3)),
        _ => (ROUNDS, Duration::from_secs(10)),
    };
    let ways: [(&str, &[&str]); 2] = [
        ("pulses over JACK, no sound", &[]),
        ("pulses over JACK beside our sound", &["--out", "sound"]),
    ];
    let mut all = [Vec::new(), Vec::new()];
    let mut overruns = [0, 0];
    for _ in 0..rounds {
        for (index, (_, words)) in ways.iter().enumerate() {
            let (lates, late_blocks) = round(words, watched)?;
            all[index].push(lates);
            overruns[index] += late_blocks;
        }
    }
    for (index, (what, _)) in ways.iter().enumerate() {
        let (lates, overruns) = (Lates::median(&all[index]), overruns[index]);
        line(&format!("{what}: uneven by"), lates);
        line(&format!("{what}: blocks that were late"), overruns);
    }
    Ok(())
}

/// What the bench's client hears: the frames at which pulses came in, and how often a block was late.
#[derive(Debug, Clone, Default)]
struct Heard {
    pulses: Arc<Mutex<Vec<Frames>>>,
    overruns: Arc<AtomicU64>,
}

struct Listener {
    port: Port<MidiIn>,
    heard: Heard,
}

impl ProcessHandler for Listener {
    fn process(&mut self, _: &Client, scope: &ProcessScope) -> Control {
        let start = scope.last_frame_time();
        if let Ok(mut pulses) = self.heard.pulses.lock() {
            let events = self.port.iter(scope).filter(|event| event.bytes == [0xF8]);
            pulses.extend(events.map(|event| start.wrapping_add(event.time)));
        }
        Control::Continue
    }
}

impl NotificationHandler for Heard {
    fn xrun(&mut self, _: &Client) -> Control {
        self.overruns.fetch_add(1, Relaxed);
        Control::Continue
    }
}

/// How far the intervals between pulses were from the median, and how many blocks were late.
fn round(words: &[&str], watched: Duration) -> Result<(Lates, u64), Failure> {
    let heard = Heard::default();
    let _client = listen(&heard)?;
    let demo = program::top().join("assets/demo.ron");
    let song = demo.to_string_lossy();
    // The song's tracks play on the first output.
    let cable = ["--out", "jack:desk:in,clock"];
    let child = spawn(&[&["rehearse", &song, "--section", "A"], words, &cable].concat());
    sleep(STARTS);
    let (from, before) = (count(&heard), heard.overruns.load(Relaxed));
    sleep(watched);
    let (to, after) = (count(&heard), heard.overruns.load(Relaxed));
    signal(child.id(), Signal::TERM);
    finish(child, PATIENCE).ends(0);
    let pulses = heard.pulses.lock().map_err(|_| "the listening client panicked")?;
    Ok((unevenness(&pulses[from..to])?, after - before))
}

fn listen(heard: &Heard) -> Result<AsyncClient<Heard, Listener>, Failure> {
    let options = ClientOptions::NO_START_SERVER | ClientOptions::USE_EXACT_NAME;
    let (client, _) = Client::new("desk", options)?;
    let port = client.register_port("in", MidiIn::default())?;
    Ok(client.activate_async(heard.clone(), Listener { port, heard: heard.clone() })?)
}

fn count(heard: &Heard) -> usize {
    heard.pulses.lock().map_or(0, |pulses| pulses.len())
}

/// How far each interval is from the median one, in nanoseconds.
fn unevenness(pulses: &[Frames]) -> Result<Lates, Failure> {
    let interval = |pair: &[Frames]| i64::from(pair[1].wrapping_sub(pair[0]));
    let mut intervals: Vec<i64> = pulses.windows(2).map(interval).collect();
    intervals.sort_unstable();
    let median = *intervals.get(intervals.len() / 2).ok_or("no pulse came over JACK")?;
    let error = |interval: i64| (interval - median).abs() * 1_000_000_000 / RATE;
    Ok(Lates::of(intervals.into_iter().map(error).collect()))
}
