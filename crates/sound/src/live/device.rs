//! The device: found, opened, kept.
//!
//! In: a font, and what reads the clock. Out: the scheduler's ends, the desk, and how the device is
//! doing, also that it is gone. Where a JACK server runs it has the sound card, so it is asked
//! first; else the system's own default device is taken.

use super::line::Line;
use super::stage::{LINES, Stage, Told};
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

/// What it is called on a JACK server; the library adds `_out`.
#[cfg(unix)]
const CLIENT: &str = "chaconne";
/// How many messages can be on their way.
const ON_THE_WAY: usize = 8192;
/// What a message needs to be handed over in time beside the blocks: 3 ms.
const MARGIN: Ns = 3_000_000;
/// How long a device may take to ask for its first blocks: 2 s.
const FIRST_BLOCKS: Duration = Duration::from_secs(2);
/// How many blocks tell how long its delay is.
const ENOUGH: u64 = 8;
/// A device that asks for nothing for so long is gone: 2 s.
const LONGEST_PAUSE: Duration = Duration::from_secs(2);
/// How long its last block may take before it is closed all the same: 200 ms.
const LAST_BLOCK: Duration = Duration::from_millis(200);
/// A device that is further behind does not know what it says: 1 s.
const MOST_DELAY: Ns = 1_000_000_000;

/// Called on the device's own thread when it says that it is gone.
pub type OnEnd = Arc<dyn Fn() + Send + Sync>;

/// Why there is no sound, and what would be right: one sentence each.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LiveError {
    /// There is no device that could be opened.
    #[error("there is no sound: no audio device could be opened ({0})")]
    NoDevice(String),
    /// The device swallows everything at once.
    #[error("there is no sound: the audio device '{0}' keeps no time; choose one that does")]
    NoTime(String),
    /// The device asks for nothing.
    #[error("there is no sound: the audio device '{0}' asks for no samples")]
    Silent(String),
}

/// A device that plays.
pub struct Live {
    stream: Stream,
    name: String,
    rate: u32,
    is_on_jack: bool,
    told: Arc<Told>,
    /// How many blocks it had asked for, and when that was new.
    last: (u64, Instant),
}

impl std::fmt::Debug for Live {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Live").field("name", &self.name).field("rate", &self.rate).finish()
    }
}

impl Live {
    /// Opens a device and plays: the handle, and the scheduler's ends, for the parts and for the
    /// click. Its levels and meters are those of `desk`, so that they outlast the device. `now` is
    /// the clock on which messages are due; it is called in the callback, and must
    /// neither wait nor allocate. `on_end` is called when the device says that it is gone, on the
    /// thread that says so. Libraries may write to standard error meanwhile.
    ///
    /// # Errors
    /// Where there is no device, or it does not ask for samples at the pace of a clock.
    pub fn open(
        font: &Font,
        desk: &Desk,
        now: fn() -> Ns,
        on_end: &OnEnd,
    ) -> Result<(Live, [Line; LINES]), LiveError> {
        let mut why = "none is there".to_string();
        for (find, is_on_jack) in WAYS {
            let Some(device) = find() else { continue };
            match play(&device, font, desk, now, on_end) {
                Ok((mut live, lines)) => {
                    live.is_on_jack = is_on_jack;
                    return Ok((live, lines));
                }
                Err(Refused::Told(error)) => return Err(error),
                Err(Refused::NotThis(says)) => why = says,
            }
        }
        Err(LiveError::NoDevice(why))
    }

    /// What the device is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether it is a client of a JACK server, of which a process may have none that outlives it.
    pub fn is_on_jack(&self) -> bool {
        self.is_on_jack
    }

    /// Its frames a second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// Whether the device is gone: by its own word, or since it has asked for nothing for two
    /// seconds. To be dropped then.
    pub fn is_gone(&mut self) -> bool {
        let blocks = self.told.blocks.load(Relaxed);
        if blocks != self.last.0 {
            self.last = (blocks, Instant::now());
        }
        self.told.gone.load(Relaxed) || self.last.1.elapsed() > LONGEST_PAUSE
    }

    /// How often the device was held up for so long that something was missed.
    pub fn gaps(&self) -> u64 {
        self.told.gaps.load(Relaxed)
    }

    /// How long after its callback a block is heard, by the device's own word, in nanoseconds.
    pub fn delay(&self) -> Ns {
        self.told.delay.load(Relaxed)
    }
}

/// A device is closed when its callback does nothing any more: a JACK library stops the callback's
/// thread wherever it is, and one that is stopped inside Rust code ends the whole program.
impl Drop for Live {
    fn drop(&mut self) {
        // A stream that cannot be paused is closed all the same.
        let _ = self.stream.pause();
        let begin = Instant::now();
        // One that has begun just now shows it then.
        std::thread::sleep(Duration::from_millis(1));
        while self.told.busy.load(SeqCst) && begin.elapsed() < LAST_BLOCK {
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

/// Why a device does not play.
enum Refused {
    /// Another one may.
    NotThis(String),
    /// It is of a kind that must not be used.
    Told(LiveError),
}

impl From<cpal::Error> for Refused {
    fn from(error: cpal::Error) -> Refused {
        match error.kind() {
            ErrorKind::DeviceNotAvailable => Refused::NotThis("none is there".to_string()),
            _ => Refused::NotThis(error.to_string()),
        }
    }
}

/// Finds a device.
type Way = fn() -> Option<Device>;

/// The ways to devices, best first; whether it is a client of a JACK server.
const WAYS: [(Way, bool); 2] =
    [(on_jack, true), (|| cpal::default_host().default_output_device(), false)];

/// A client of the JACK server that runs, joined to its playback ports. It has the same name each
/// time, so that whoever joins ports by name finds it.
#[cfg(unix)]
fn on_jack() -> Option<Device> {
    type JackDevice = <cpal::platform::JackHost as HostTrait>::Device;
    JackDevice::default_output_device(CLIENT, true, false).ok().map(Device::from)
}

#[cfg(not(unix))]
fn on_jack() -> Option<Device> {
    None
}

/// Has a device play.
fn play(
    device: &Device,
    font: &Font,
    desk: &Desk,
    now: fn() -> Ns,
    on_end: &OnEnd,
) -> Result<(Live, [Line; LINES]), Refused> {
    let name = device.description()?.name().to_string();
    let usual = device.default_output_config()?;
    let config = StreamConfig {
        channels: usual.channels().clamp(1, 2),
        sample_rate: usual.sample_rate(),
        buffer_size: BufferSize::Default,
    };
    let mix = Mix::with_desk(font, config.sample_rate, desk.clone())
        .map_err(|error| Refused::NotThis(error.to_string()))?;
    let told = Arc::new(Told::default());
    let (parts, parts_out) = RingBuffer::new(ON_THE_WAY);
    let (click, click_out) = RingBuffer::new(ON_THE_WAY);
    let stage = Stage::new(mix, config.sample_rate, [parts_out, click_out], told.clone());
    let callback = Callback { stage, told: told.clone(), now, measured: 0 };
    let stream = build(device, config, usual.sample_format(), callback, on_end)?;
    stream.play()?;
    let ahead = first_blocks(&name, config.sample_rate, &told).map_err(Refused::Told)?;
    let line = |events| Line { events, ahead };
    let lines = [line(parts), line(click)];
    let last = (told.blocks.load(Relaxed), Instant::now());
    Ok((Live { stream, name, rate: config.sample_rate, is_on_jack: false, told, last }, lines))
}

/// Waits for the first blocks; how long before it is heard a message must be handed over.
fn first_blocks(name: &str, rate: u32, told: &Told) -> Result<Ns, LiveError> {
    let begin = Instant::now();
    while told.blocks.load(Relaxed) <= ENOUGH {
        if begin.elapsed() > FIRST_BLOCKS {
            return Err(LiveError::Silent(name.to_string()));
        }
        std::thread::sleep(Duration::from_millis(2));
    }
    let (blocks, longest) = (told.blocks.load(Relaxed), told.longest.load(Relaxed));
    let length = Duration::from_secs_f64(longest as f64 / f64::from(rate.max(1)));
    // What plays a hundred times as fast as it should has nothing behind it.
    if blocks > 1000 && length * blocks as u32 > begin.elapsed() * 100 {
        return Err(LiveError::NoTime(name.to_string()));
    }
    let block = length.as_nanos() as Ns;
    let inside = Mix::latency(rate) as Ns * 1_000_000_000 / Ns::from(rate.max(1));
    Ok(told.delay.load(Relaxed) + inside + 2 * block + MARGIN)
}

/// What the device calls.
struct Callback {
    stage: Stage,
    told: Arc<Told>,
    now: fn() -> Ns,
    /// Blocks whose delay was taken into account.
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
        self.told.busy.store(true, SeqCst);
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
        self.told.busy.store(false, SeqCst);
    }

    /// Learns from the first blocks how long the device's own delay is; after that it is left
    /// alone, so that nothing moves.
    fn measure(&mut self, info: &OutputCallbackInfo) {
        if self.measured >= ENOUGH {
            return;
        }
        self.measured += 1;
        let times = info.timestamp();
        let delay = times.playback.saturating_duration_since(times.callback).as_nanos();
        let delay = Ns::try_from(delay).unwrap_or(MOST_DELAY).min(MOST_DELAY);
        let before = self.told.delay.load(Relaxed);
        let mean = if self.measured == 1 { delay } else { before + (delay - before) / 2 };
        self.told.delay.store(mean, Relaxed);
    }
}

/// Builds a stream of the device's own sample format.
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
        other => Err(Refused::NotThis(format!("its samples are {other}, which is not played"))),
    }
}

fn stream<T: SizedSample + FromSample<f32>>(
    device: &Device,
    config: StreamConfig,
    mut callback: Callback,
    on_end: &OnEnd,
) -> Result<Stream, Refused> {
    let (told, channels) = (callback.told.clone(), usize::from(config.channels));
    let on_end = on_end.clone();
    let missed = move |error: cpal::Error| match error.kind() {
        ErrorKind::RealtimeDenied | ErrorKind::DeviceChanged => {}
        ErrorKind::DeviceNotAvailable
        | ErrorKind::HostUnavailable
        | ErrorKind::StreamInvalidated => {
            on_end();
            told.gone.store(true, Relaxed);
        }
        _ => {
            told.gaps.fetch_add(1, Relaxed);
        }
    };
    let fill = move |samples: &mut [T], info: &OutputCallbackInfo| {
        callback.fill(channels, samples, info);
    };
    Ok(device.build_output_stream(config, fill, missed, None)?)
}
