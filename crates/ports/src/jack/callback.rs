//! The process callbacks, which JACK calls once per block on its real-time thread. They do not
//! allocate, lock or wait.
//!
//! Output: takes the messages that the scheduler handed over and writes each at the frame at which it
//! is due; a late one is written at the first frame. Messages that do not fit into a block wait for
//! the next. Input: stamps each message with the time of its frame and hands it to the input's
//! thread.

use super::frames::{self, Block, Correction, Offset, Reading};
use super::line::{CallbackState, EVENTS, FarEnd};
use super::pending::Pending;
use crate::monotonic::now;
use chaconne_midi::parser::SYSEX_MOST;
use chaconne_time::Ns;
use jack::{
    Client, Control, Error, LatencyType, MidiIn, MidiOut, MidiWriter, Port, ProcessHandler,
    ProcessScope, RawMidi,
};
use rtrb::{Consumer, Producer};
use std::sync::Arc;
use std::sync::atomic::Ordering::Relaxed;
use std::thread::Thread;

/// A longer latency is ignored as implausible: 1 s.
const MOST_LATENCY: Ns = 1_000_000_000;

/// Converts frames to our clock, for one callback.
#[derive(Debug, Default)]
struct Clock {
    offset: Offset,
    correction: Correction,
}

impl Clock {
    /// The current block, on our clock.
    fn block(&mut self, client: &Client, scope: &ProcessScope, shared: &CallbackState) -> Block {
        let before = now();
        let jack = client.time();
        let reading = Reading { before, after: now(), jack };
        let passed = scope.frames_since_cycle_start();
        let offset = self.offset.update(reading);
        let usual = frames::length(scope.n_frames(), client.sample_rate());
        shared.set_period(usual);
        shared.blocks.fetch_add(1, Relaxed);
        let block = match scope.cycle_times() {
            Ok(times) => {
                let (begin, end) = (times.current_usecs, times.next_usecs);
                Block::new(begin, end, scope.n_frames(), usual, offset)
            }
            // The library does not know when the block began: assume now.
            Err(_) => Block::new(jack, jack, scope.n_frames(), usual, offset),
        };
        let called = Block::called(jack, passed, client.sample_rate()) + offset;
        self.correction.apply(block, called)
    }
}

/// The output's callback.
pub(crate) struct Play {
    port: Port<MidiOut>,
    far: FarEnd,
    pending: Pending,
    clock: Clock,
    /// The buffer in which a long message is assembled.
    long: Vec<u8>,
}

/// What happened to a message.
#[derive(Debug, PartialEq, Eq)]
enum Wrote {
    Done,
    NoRoom,
}

impl Play {
    pub fn new(port: Port<MidiOut>, far: FarEnd) -> Play {
        let (pending, long) = (Pending::new(EVENTS), vec![0; SYSEX_MOST]);
        Play { port, far, pending, clock: Clock::default(), long }
    }
}

impl ProcessHandler for Play {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        let Play { port, far, pending, clock, long } = self;
        if far.shared.rest.is_asked() {
            // The writer empties the buffer. Otherwise the last block would be sent again.
            port.writer(scope);
            return Control::Continue;
        }
        let block = clock.block(client, scope, &far.shared);
        while !pending.is_full()
            && let Ok(event) = far.events.pop()
        {
            pending.add(event);
        }
        let mut writer = port.writer(scope);
        far.shared.longest.store(writer.max_event_size().min(SYSEX_MOST), Relaxed);
        let mut is_first = true;
        while let Some(event) = pending.first()
            && let Some(time) = block.frame(event.due)
        {
            let len = event.len as usize;
            let wrote = if event.is_long() {
                write_long(&mut writer, &mut far.bytes, &mut long[..len], time)
            } else {
                write(&mut writer, &event.bytes[..len], time)
            };
            if wrote == Wrote::NoRoom {
                if !is_first {
                    break;
                }
                // It would not fit even into an empty block.
                far.shared.dropped.fetch_add(1, Relaxed);
                if event.is_long() {
                    skip(&mut far.bytes, len);
                }
            }
            is_first = false;
            pending.pop();
            far.shared.done.fetch_add(1, Relaxed);
        }
        Control::Continue
    }
}

fn write(writer: &mut MidiWriter<'_>, bytes: &[u8], time: u32) -> Wrote {
    match writer.write(&RawMidi { time, bytes }) {
        Ok(()) => Wrote::Done,
        Err(Error::NotEnoughSpace | _) => Wrote::NoRoom,
    }
}

/// Writes a long message. If there is no room, its bytes stay in their queue.
fn write_long(
    writer: &mut MidiWriter<'_>,
    bytes: &mut Consumer<u8>,
    long: &mut [u8],
    time: u32,
) -> Wrote {
    // The bytes were queued before their notice.
    let Ok(chunk) = bytes.read_chunk(long.len()) else { return Wrote::Done };
    let (one, two) = chunk.as_slices();
    long[..one.len()].copy_from_slice(one);
    long[one.len()..].copy_from_slice(two);
    let wrote = write(writer, long, time);
    if wrote == Wrote::Done {
        chunk.commit_all();
    }
    wrote
}

fn skip(bytes: &mut Consumer<u8>, len: usize) {
    if let Ok(chunk) = bytes.read_chunk(len) {
        chunk.commit_all();
    }
}

/// A received message: its time and its length. Its bytes follow in a queue of their own.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Heard {
    pub stamp: Ns,
    pub len: usize,
}

/// The input's callback.
pub(crate) struct Listen {
    pub port: Port<MidiIn>,
    pub heard: Producer<Heard>,
    pub bytes: Producer<u8>,
    pub shared: Arc<CallbackState>,
    /// The thread to wake.
    pub thread: Thread,
    clock: Clock,
}

impl Listen {
    pub fn new(
        port: Port<MidiIn>,
        heard: Producer<Heard>,
        bytes: Producer<u8>,
        shared: Arc<CallbackState>,
        thread: Thread,
    ) -> Listen {
        Listen { port, heard, bytes, shared, thread, clock: Clock::default() }
    }
}

impl ProcessHandler for Listen {
    fn process(&mut self, client: &Client, scope: &ProcessScope) -> Control {
        let Listen { port, heard, bytes, shared, thread, clock } = self;
        if shared.rest.is_asked() {
            return Control::Continue;
        }
        let block = clock.block(client, scope, shared);
        // A device that played this in an earlier block reports that as its port's latency.
        let (_, frames) = port.get_latency_range(LatencyType::Capture);
        let latency = frames::length(frames, client.sample_rate());
        let latency = if latency > MOST_LATENCY { 0 } else { latency };
        let mut any = false;
        for event in port.iter(scope) {
            let stamp = block.moment(event.time) - latency;
            let len = event.bytes.len();
            if heard.is_full() || bytes.push_entire_slice(event.bytes).is_err() {
                shared.dropped.fetch_add(1, Relaxed);
                continue;
            }
            // There was room, and only this thread fills the queue.
            any |= heard.push(Heard { stamp, len }).is_ok();
        }
        if any {
            thread.unpark();
        }
        Control::Continue
    }
}
