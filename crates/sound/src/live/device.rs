//! The audio device: finds it, opens it, watches it, closes it.
//!
//! In: a font, a desk and a function that reads the clock. Out: lines for the scheduler, and the state
//! of the device, including whether it is gone. A running JACK server owns the sound card, so it is
//! tried first, and then the system's default device.

use super::line::SoundLine;
use super::stage::{LINES, Report, Stage};
use crate::{Desk, Font, Mix};
use chaconne_time::Ns;
use cpal::traits::{DeviceTrait, HostTrait, StreamTrait};
use cpal::{
    BufferSize, Device, ErrorKind, FromSample, OutputCallbackInfo, SampleFormat, SizedSample,
    Stream, StreamConfig,
};
use rtrb::RingBuffer;
use std::sync::Arc;
use std::sync::atomic::Ordering::{Relaxed, SeqCst};
use std::time::{Duration, Instant};

/// Our client's name on a JACK server; the library adds `_out`.
#[cfg(unix)]
const CLIENT: &str = "chaconne";
/// How many messages each line can hold.
const ON_THE_WAY: usize = 8192;
/// How much earlier than the blocks require a message must be sent: 3 ms.
const MARGIN: Ns = 3_000_000;
/// How long a device may take to ask for its first blocks: 2 s.
const FIRST_BLOCKS: Duration = Duration::from_secs(2);
/// How many blocks it takes to measure the device's delay.
const ENOUGH: u64 = 8;
/// A device that asks for no block for this long is gone: 2 s.
const LONGEST_PAUSE: Duration = Duration::from_secs(2);
/// How long to wait for its last block before closing it: 200 ms.
const LAST_BLOCK: Duration = Duration::from_millis(200);
/// The longest delay a device can plausibly report: 1 s.
const MOST_DELAY: Ns = 1_000_000_000;

/// Called on the device's own thread when it reports that it is gone.
pub type OnEnd = Arc<dyn Fn() + Send + Sync>;

/// Why no device can be used, in one sentence each.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LiveError {
    /// The system has no device.
    #[error("no audio device found")]
    NotFound,
    /// There is a device, but it cannot be opened; with the reason.
    #[error("no audio device could be opened: {0}")]
    NoDevice(String),
    /// The device consumes samples as fast as it gets them.
    #[error("the audio device '{0}' does not keep time: choose another one")]
    NoTime(String),
    /// The device never asks for samples.
    #[error("the audio device '{0}' asks for no samples")]
    Silent(String),
}

/// An open device.
pub struct Live {
    stream: Stream,
    name: String,
    rate: u32,
    is_on_jack: bool,
    report: Arc<Report>,
    /// How many blocks it had asked for when last checked, and when that number last changed.
    last: (u64, Instant),
}

impl std::fmt::Debug for Live {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Live").field("name", &self.name).field("rate", &self.rate).finish()
    }
}

impl Live {
    /// Opens a device and starts to play. Returns its handle and two lines for the scheduler: one for
    /// the parts, one for the click. Levels and meters are those of `desk`, so they outlast the
    /// device. `now` is the clock on which messages are due; the callback calls it, so it must neither
    /// wait nor allocate. `on_end` is called if the device reports that it is gone, on the thread that
    /// reports it. Libraries may write to standard error during this call.
    ///
    /// # Errors
    /// If there is no device, or if it does not ask for samples at a steady pace.
    pub fn open(
        font: &Font,
        desk: &Desk,
        now: fn() -> Ns,
        on_end: &OnEnd,
    ) -> Result<(Live, [SoundLine; LINES]), LiveError> {
        let mut failure = LiveError::NotFound;
        for (find, is_on_jack) in FINDERS {
            let Some(device) = find() else { continue };
            match play(&device, font, desk, now, on_end) {
                Ok((mut live, lines)) => {
                    live.is_on_jack = is_on_jack;
                    return Ok((live, lines));
                }
                Err(Refused::Unusable(error)) => return Err(error),
                Err(Refused::Absent) => {}
                Err(Refused::NotThis(why)) => failure = LiveError::NoDevice(why),
            }
        }
        Err(failure)
    }

    /// The device's name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is a client of a JACK server, which must be closed when the server goes.
    pub fn is_on_jack(&self) -> bool {
        self.is_on_jack
    }

    /// Its frames per second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// Whether the device is gone: it has said so, or has asked for no block for two seconds. Drop it
    /// then.
    pub fn is_gone(&mut self) -> bool {
        let blocks = self.report.blocks.load(Relaxed);
        if blocks != self.last.0 {
            self.last = (blocks, Instant::now());
        }
        self.report.gone.load(Relaxed) || self.last.1.elapsed() > LONGEST_PAUSE
    }

    /// How often the device was held up for so long that sound was lost.
    pub fn gaps(&self) -> u64 {
        self.report.gaps.load(Relaxed)
    }

    /// How long after its callback a block is heard, as the device reports it, in nanoseconds.
    pub fn delay(&self) -> Ns {
        self.report.delay.load(Relaxed)
    }
}

/// Waits for the callback to finish before the device is closed: the JACK library stops the callback's
/// thread wherever it is, and stopping it inside Rust code would end the whole program.
impl Drop for Live {
    fn drop(&mut self) {
        // A stream that cannot be paused is closed anyway.
        let _ = self.stream.pause();
        let begin = Instant::now();
        // A callback that has just started has set `busy` by then.
        std::thread::sleep(Duration::from_millis(1));
        while self.report.busy.load(SeqCst) && begin.elapsed() < LAST_BLOCK {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

/// Why a device is not used.
enum Refused {
    /// It does not exist.
    Absent,
    /// It cannot be opened; another one may work.
    NotThis(String),
    /// It opened but is unusable; no other one is tried.
    Unusable(LiveError),
}

impl From<cpal::Error> for Refused {
    fn from(error: cpal::Error) -> Refused {
        match error.kind() {
            ErrorKind::DeviceNotAvailable => Refused::Absent,
            _ => Refused::NotThis(error.to_string()),
        }
    }
}

/// Finds a device.
type FindDevice = fn() -> Option<Device>;

/// The ways to find a device, best first, and whether the device is a JACK client.
const FINDERS: [(FindDevice, bool); 2] =
    [(on_jack, true), (|| cpal::default_host().default_output_device(), false)];

/// A client of the running JACK server, connected to its playback ports. It always has the same name,
/// so that anything that connects ports by name finds it.
#[cfg(unix)]
fn on_jack() -> Option<Device> {
    type JackDevice = <cpal::platform::JackHost as HostTrait>::Device;
    JackDevice::default_output_device(CLIENT, true, false).ok().map(Device::from)
}

#[cfg(not(unix))]
fn on_jack() -> Option<Device> {
    None
}

/// Opens a device and starts to play on it.
fn play(
    device: &Device,
    font: &Font,
    desk: &Desk,
    now: fn() -> Ns,
    on_end: &OnEnd,
) -> Result<(Live, [SoundLine; LINES]), Refused> {
    let name = device.description()?.name().to_string();
    let usual = device.default_output_config()?;
    let config = StreamConfig {
        channels: usual.channels().clamp(1, 2),
        sample_rate: usual.sample_rate(),
        buffer_size: BufferSize::Default,
    };
    let mix = Mix::with_desk(font, config.sample_rate, desk.clone())
        .map_err(|error| Refused::NotThis(error.to_string()))?;
    let report = Arc::new(Report::default());
    let (parts, parts_out) = RingBuffer::new(ON_THE_WAY);
    let (click, click_out) = RingBuffer::new(ON_THE_WAY);
    let stage = Stage::new(mix, config.sample_rate, [parts_out, click_out], report.clone());
    let callback = Callback { stage, report: report.clone(), now, measured: 0 };
    let stream = build(device, config, usual.sample_format(), callback, on_end)?;
    stream.play()?;
    let ahead = first_blocks(&name, config.sample_rate, &report).map_err(Refused::Unusable)?;
    let line = |events| SoundLine { events, ahead };
    let lines = [line(parts), line(click)];
    let last = (report.blocks.load(Relaxed), Instant::now());
    Ok((Live { stream, name, rate: config.sample_rate, is_on_jack: false, report, last }, lines))
}

/// Waits for the first blocks. Returns how early a message must be sent, in nanoseconds before its
/// due time.
fn first_blocks(name: &str, rate: u32, report: &Report) -> Result<Ns, LiveError> {
    let begin = Instant::now();
    while report.blocks.load(Relaxed) <= ENOUGH {
        if begin.elapsed() > FIRST_BLOCKS {
            return Err(LiveError::Silent(name.to_string()));
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    let (blocks, longest) = (report.blocks.load(Relaxed), report.longest.load(Relaxed));
    let length = Duration::from_secs_f64(longest as f64 / f64::from(rate.max(1)));
    // A device that plays a hundred times too fast has no sound card behind it.
    if blocks > 1000 && length * blocks as u32 > begin.elapsed() * 100 {
        return Err(LiveError::NoTime(name.to_string()));
    }
    let block = length.as_nanos() as Ns;
    let inside = Mix::latency(rate) as Ns * 1_000_000_000 / Ns::from(rate.max(1));
    Ok(report.delay.load(Relaxed) + inside + 2 * block + MARGIN)
}

/// The callback that the device calls.
struct Callback {
    stage: Stage,
    report: Arc<Report>,
    now: fn() -> Ns,
    /// Blocks measured so far.
    measured: u64,
}

impl Callback {
    /// Fills a block of interleaved samples.
    fn fill<T: SizedSample + FromSample<f32>>(
        &mut self,
        channels: usize,
        samples: &mut [T],
        info: &OutputCallbackInfo,
    ) {
        let arrival = (self.now)();
        self.report.busy.store(true, SeqCst);
        self.measure(info);
        let frames = samples.len() / channels;
        self.stage.fill(arrival, frames, |first, left, right| {
            let frames = samples[first * channels..].chunks_exact_mut(channels);
            for (frame, (left, right)) in frames.zip(left.iter().zip(right)) {
                match frame {
                    [one] => *one = T::from_sample((left + right) / 2.0),
                    [one, other, ..] => {
                        (*one, *other) = (T::from_sample(*left), T::from_sample(*right));
                    }
                    [] => {}
                }
            }
        });
        self.report.busy.store(false, SeqCst);
    }

    /// Measures the device's own delay over the first blocks. After that it stays fixed, so that
    /// nothing moves.
    fn measure(&mut self, info: &OutputCallbackInfo) {
        if self.measured >= ENOUGH {
            return;
        }
        self.measured += 1;
        let times = info.timestamp();
        let delay = times.playback.saturating_duration_since(times.callback).as_nanos();
        let delay = Ns::try_from(delay).unwrap_or(MOST_DELAY).min(MOST_DELAY);
        let before = self.report.delay.load(Relaxed);
        let mean = if self.measured == 1 { delay } else { before + (delay - before) / 2 };
        self.report.delay.store(mean, Relaxed);
    }
}

/// Builds a stream in the device's own sample format.
fn build(
    device: &Device,
    config: StreamConfig,
    format: SampleFormat,
    callback: Callback,
    on_end: &OnEnd,
) -> Result<Stream, Refused> {
    match format {
        SampleFormat::I16 => stream::<i16>(device, config, callback, on_end),
        SampleFormat::I32 => stream::<i32>(device, config, callback, on_end),
        SampleFormat::U16 => stream::<u16>(device, config, callback, on_end),
        SampleFormat::F32 => stream::<f32>(device, config, callback, on_end),
        other => Err(Refused::NotThis(format!("its sample format {other} is not supported"))),
    }
}

fn stream<T: SizedSample + FromSample<f32>>(
    device: &Device,
    config: StreamConfig,
    mut callback: Callback,
    on_end: &OnEnd,
) -> Result<Stream, Refused> {
    let (report, channels) = (callback.report.clone(), usize::from(config.channels));
    let on_end = on_end.clone();
    let missed = move |error: cpal::Error| match error.kind() {
        ErrorKind::RealtimeDenied | ErrorKind::DeviceChanged => {}
        ErrorKind::DeviceNotAvailable
        | ErrorKind::HostUnavailable
        | ErrorKind::StreamInvalidated => {
            on_end();
            report.gone.store(true, Relaxed);
        }
        _ => {
            report.gaps.fetch_add(1, Relaxed);
        }
    };
    let fill = move |samples: &mut [T], info: &OutputCallbackInfo| {
        callback.fill(channels, samples, info);
    };
    Ok(device.build_output_stream(config, fill, missed, None)?)
}
