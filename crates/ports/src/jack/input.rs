//! A JACK port as an input: reads the callback's queue on the input's thread and passes it to the
//! feed.

use super::callback::{Heard, Listen};
use super::keeper::{First, Keeper};
use super::line::CallbackState;
use super::service::{Opened, Side};
use crate::feed::Feed;
use crate::input::InputState;
use crate::monotonic::now;
use crate::{PortError, PortState};
use chaconne_midi::parser::SYSEX_MOST;
use rtrb::{Consumer, RingBuffer};
use std::sync::Arc;
use std::thread::{self, Thread};
use std::time::Duration;

/// How many messages the queue holds.
const MESSAGES: usize = 8192;
/// How many bytes the queue holds.
const BYTES: usize = 4 * SYSEX_MOST;
/// How often it checks whether the peer is still connected.
const LOOK: Duration = Duration::from_millis(50);

/// The input side: the peer's output plays into our port.
struct In {
    /// The thread that the callback wakes.
    thread: Thread,
}

/// The input thread's end of the queue.
struct Queue {
    heard: Consumer<Heard>,
    bytes: Consumer<u8>,
}

impl Side for In {
    type Process = Listen;
    type End = Queue;
    const KIND: &'static str = "JACK input";
    const PEERS: jack::PortFlags = jack::PortFlags::IS_OUTPUT;

    fn register(
        &self,
        client: &jack::Client,
        shared: &Arc<CallbackState>,
    ) -> Result<Opened<Self>, jack::Error> {
        let port = client.register_port("in", jack::MidiIn::default())?;
        let own = port.clone_unowned();
        let (to_heard, heard) = RingBuffer::new(MESSAGES);
        let (to_bytes, bytes) = RingBuffer::new(BYTES);
        let process = Listen::new(port, to_heard, to_bytes, shared.clone(), self.thread.clone());
        Ok(Opened { own, process, end: Queue { heard, bytes } })
    }

    fn join(client: &jack::Client, own: &str, peer: &str) -> Result<(), jack::Error> {
        client.connect_ports_by_name(peer, own)
    }
}

/// An input, used on its thread.
pub(crate) struct JackIn {
    keeper: Keeper<In>,
    /// `None` until the first server appears.
    queue: Option<Queue>,
    /// Why it is not connected, if so.
    notice: Option<PortError>,
    /// The number of the connection on which the peer is heard; `None` if there is none.
    heard_by: Option<u64>,
}

impl JackIn {
    /// Opens an input that the port `name` plays into. The calling thread must run it.
    pub fn open(name: &str) -> Result<JackIn, PortError> {
        let (keeper, First { end, notice }) =
            Keeper::start(In { thread: thread::current() }, name)?;
        let heard_by = keeper.joined();
        Ok(JackIn { keeper, queue: end, notice, heard_by })
    }

    /// Why it is not connected, if so.
    pub fn notice(&self) -> Option<String> {
        self.notice.as_ref().map(PortError::to_string)
    }

    /// Whether a peer is connected.
    pub fn is_joined(&self) -> bool {
        self.heard_by.is_some()
    }

    /// Feeds what arrives, until asked to stop.
    pub fn run(mut self, mut feed: Feed, input: &InputState) {
        let mut buffer = vec![0; SYSEX_MOST];
        while !input.is_over() {
            if let Some(queue) = self.keeper.fresh() {
                self.queue = Some(queue);
            }
            let heard =
                self.queue.as_mut().is_some_and(|queue| queue.drain(&mut feed, &mut buffer));
            if heard && self.is_joined() {
                input.set_state(PortState::Open);
            }
            self.look(&mut feed, input);
            if feed.look(now()) {
                input.set_state(PortState::Lost);
            }
            input.set_strays(feed.stray());
            input.set_ambiguity(self.keeper.ambiguity());
            thread::park_timeout(LOOK);
        }
    }

    /// Checks whether the peer is connected. A connection lost and restored between two looks
    /// counts as lost.
    fn look(&mut self, feed: &mut Feed, input: &InputState) {
        let joined = self.keeper.joined();
        if joined == self.heard_by {
            return;
        }
        if self.heard_by.is_some() {
            feed.cut(now());
        }
        self.heard_by = joined;
        input.set_state(if joined.is_some() { PortState::Open } else { PortState::Lost });
    }
}

impl Queue {
    /// Feeds everything in the queue; returns whether there was anything.
    fn drain(&mut self, feed: &mut Feed, buffer: &mut Vec<u8>) -> bool {
        let mut any = false;
        while let Ok(Heard { stamp, len }) = self.heard.pop() {
            // The bytes were queued before the message.
            let Ok(chunk) = self.bytes.read_chunk(len) else { return any };
            let (one, two) = chunk.as_slices();
            buffer.clear();
            buffer.extend_from_slice(one);
            buffer.extend_from_slice(two);
            chunk.commit_all();
            feed.bytes(stamp, buffer);
            any = true;
        }
        any
    }
}
