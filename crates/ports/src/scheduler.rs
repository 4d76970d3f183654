//! Starts and stops the scheduler, and provides its handles.

use crate::monotonic::now;
use crate::orders::Orders;
use crate::outputs::Outputs;
use crate::porter::{Porter, PorterWork, WatchedPort};
use crate::spares::Spares;
use crate::switch::{Flags, Switch};
use crate::thru::Thru;
use crate::urgency::{Role, ask, lock_memory};
use crate::worker::Worker;
use crate::{Output, PortState};
use chaconne_clock::{Limits, Machine, Service};
use chaconne_clock::{Meter, Stats, Urgency};
use chaconne_clock::{Pacer, Spin};
use chaconne_engine::PortIx;
use chaconne_time::{FrameRate, Ns};
use std::io;
use std::sync::{Arc, mpsc};
use std::thread::{self, JoinHandle, Thread};
use std::time::{Duration, Instant};

/// How many events of an input can be queued: more than it has keys.
const TOUCHES: usize = 4096;
/// How many objects can be queued to be freed.
const DISCARDS: usize = 1024;
/// How long the thread may take to end before it is abandoned: 2 s.
const LONGEST_END: Duration = Duration::from_secs(2);

/// The largest offset of an output: 100 ms.
const MOST_OFFSET: Ns = 100_000_000;

/// The sizes and settings of a scheduler. All its memory is allocated at the start.
#[derive(Debug, Clone)]
pub struct Setup {
    /// How many inputs have through-play.
    pub inputs: usize,
    /// How many orders can be queued.
    pub orders: usize,
    /// How many cues can wait for their time.
    pub cues: usize,
    /// How many notes can sound at a time.
    pub voices: usize,
    /// How long a port that nothing is connected to is [`Waiting`](crate::PortState::Waiting)
    /// before it becomes [`Silent`](crate::PortState::Silent). It is still opened later.
    pub patience: Duration,
    /// How each output is served, in the order of the outputs; any left out get the defaults.
    pub wires: Vec<WireSetup>,
    /// Whether to request real-time priority and locked memory.
    pub urgent: bool,
    /// How long the thread may poll the clock instead of sleeping.
    pub spin: Spin,
}

/// How an output is served.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct WireSetup {
    /// How much later (or, if negative, earlier) than due everything except through-play is sent,
    /// in nanoseconds; at most 100 ms either way.
    pub offset: Ns,
    /// Whether it leads to a serial MIDI cable of 31,250 bits per second.
    pub serial: bool,
    /// The frame rate of its MIDI Time Code; `None` if it receives none.
    pub mtc: Option<FrameRate>,
}

impl Default for Setup {
    fn default() -> Setup {
        let patience = Duration::from_secs(5);
        Setup {
            inputs: 1,
            orders: 16_384,
            cues: 32_768,
            voices: 8192,
            patience,
            wires: Vec::new(),
            urgent: true,
            spin: Spin::default(),
        }
    }
}

/// A running scheduler: its handle, its queue of orders, and the through-play of each input.
#[derive(Debug)]
pub struct Running {
    /// Ends it when dropped.
    pub scheduler: Scheduler,
    /// Gives it orders.
    pub orders: Orders,
    /// One for each input of [`Setup::inputs`].
    pub thrus: Vec<Thru>,
}

/// The scheduler's handle. Dropping it releases everything, ends the thread and closes the ports.
#[derive(Debug)]
pub struct Scheduler {
    worker: Option<JoinHandle<Outputs>>,
    thread: Thread,
    porter: Option<Porter>,
    meter: Arc<Meter>,
    flags: Arc<Flags>,
    spares: Arc<Spares>,
}

/// Reads the scheduler's counts from anywhere.
#[derive(Debug, Clone)]
pub struct Monitor(Arc<Meter>);

impl Monitor {
    /// The counts so far.
    pub fn stats(&self) -> Stats {
        self.0.stats()
    }

    /// The greatest lateness of a message since the last call, in nanoseconds.
    pub fn take_worst(&self) -> Ns {
        self.0.take_worst()
    }

    /// Counts the lateness of pulses, notes and through-played messages afresh.
    pub fn restart(&self) {
        self.0.restart();
    }

    /// How early the port with the longest lead is served, in nanoseconds before the due time: the
    /// scheduler must get its orders that much earlier.
    ///
    /// It changes when a JACK server restarts with another block length, so callers read it
    /// regularly. A fixed bound would be that of the longest blocks a server can have (8192 frames
    /// at 44,100 per second: 372 ms), and every start would have to wait that long.
    pub fn early(&self) -> Ns {
        self.0.early()
    }
}

/// Starts a scheduler for these ports. A [`PortIx`] is an index into the list; only the first
/// [`PortIx::MOST`] ports are used.
///
/// # Errors
/// If the system cannot start a thread.
pub fn start(mut outputs: Vec<Output>, setup: Setup) -> io::Result<Running> {
    outputs.truncate(PortIx::MOST);
    let meter = Arc::new(Meter::new(outputs.iter().map(|output| output.name().to_string())));
    let limits = Limits { cues: setup.cues, voices: setup.voices };
    let services = services(&outputs, &setup.wires);
    let mut machine = Machine::new(meter.clone(), limits, &services);
    let spares = Arc::new(Spares::new(outputs.len(), machine.sounding().clone()));
    let watches = look_at(&mut outputs, &meter, &spares, &mut machine);

    let flags = Arc::new(Flags::default());
    let (orders_in, orders) = rtrb::RingBuffer::new(setup.orders);
    let (arrivals_in, arrivals) = rtrb::RingBuffer::new(2 * PortIx::MOST);
    let (discards, discards_out) = rtrb::RingBuffer::new(DISCARDS);
    let (thrus_in, thrus): (Vec<_>, Vec<_>) =
        (0..setup.inputs).map(|_| rtrb::RingBuffer::new(TOUCHES)).unzip();

    let outputs = Outputs::new(outputs);
    let worker = Worker {
        machine,
        outputs,
        orders,
        thrus,
        arrivals,
        discards,
        flags: flags.clone(),
        asked: None,
        pacer: Pacer::new(setup.spin, now()),
        latest: Ns::MIN,
    };
    let worker = launch(worker, setup.urgent, &meter)?;
    let thread = worker.thread().clone();
    let mut scheduler = Scheduler {
        worker: Some(worker),
        thread: thread.clone(),
        porter: None,
        meter: meter.clone(),
        flags,
        spares: spares.clone(),
    };
    let work = PorterWork {
        watches,
        patience: setup.patience,
        arrivals: arrivals_in,
        discards: discards_out,
        scheduler: thread.clone(),
        meter: meter.clone(),
        spares,
    };
    scheduler.porter = Some(Porter::start(work)?);
    let thru = |(input, queue)| Thru::new(input as u16, queue, thread.clone(), meter.clone());
    let thrus = thrus_in.into_iter().enumerate().map(thru).collect();
    let orders = Orders::new(orders_in, thread.clone(), meter.clone());
    Ok(Running { scheduler, orders, thrus })
}

/// How each output is served.
fn services(outputs: &[Output], wires: &[WireSetup]) -> Vec<Service> {
    let wires = wires.iter().copied().chain(std::iter::repeat(WireSetup::default()));
    let service = |(output, wire): (&Output, WireSetup)| {
        let offset = wire.offset.clamp(-MOST_OFFSET, MOST_OFFSET);
        let line = wire.serial.then(|| output.grain());
        let (ahead, varies) = (output.ahead(), output.varies());
        Service { shift: offset - ahead, ahead, varies, line, mtc: wire.mtc }
    };
    outputs.iter().zip(wires).map(service).collect()
}

/// Starts the thread, and waits until the system has granted or refused its priority.
fn launch(worker: Worker, urgent: bool, meter: &Arc<Meter>) -> io::Result<JoinHandle<Outputs>> {
    let memory = urgent && lock_memory();
    let (granted, asked) = mpsc::channel();
    let thread = thread::Builder::new().name("scheduler".to_string());
    let thread = thread.spawn(move || {
        let urgency = if urgent { ask(Role::Scheduler) } else { Urgency::default() };
        // The receiver waits for this and nothing else, so it is still there.
        let _ = granted.send(urgency);
        drop(granted);
        worker.run()
    })?;
    if let Ok(urgency) = asked.recv() {
        meter.set_urgency(Urgency { memory, ..urgency });
    }
    Ok(thread)
}

/// Records the state of each port and a second handle on the byte ports; returns the ports that
/// the porter must watch.
fn look_at(
    outputs: &mut [Output],
    meter: &Meter,
    spares: &Spares,
    machine: &mut Machine,
) -> Vec<WatchedPort> {
    let mut watches = Vec::new();
    for (index, output) in outputs.iter_mut().enumerate() {
        let port = PortIx(index as u8);
        meter.set_state(index, output.state());
        if output.state() == PortState::Waiting {
            machine.lose(port);
        }
        if let Some(bytes) = output.bytes() {
            spares.set(index, bytes.stream());
        }
        if let Some(keeper) = output.take_keeper() {
            watches.push(WatchedPort::new(port, keeper));
        }
    }
    watches
}

impl Scheduler {
    /// The silence switch.
    pub fn switch(&self) -> Switch {
        Switch::new(self.flags.clone(), self.spares.clone(), self.thread.clone())
    }

    /// A handle that reads its counts.
    pub fn monitor(&self) -> Monitor {
        Monitor(self.meter.clone())
    }

    /// The counts so far.
    pub fn stats(&self) -> Stats {
        self.meter.stats()
    }
}

impl Drop for Scheduler {
    fn drop(&mut self) {
        // The porter's state is kept until the last messages are out, but it no longer watches the
        // ports.
        let kept = self.porter.take().map(Porter::end);
        self.flags.end();
        self.thread.unpark();
        let start = Instant::now();
        let Some(worker) = self.worker.take() else { return };
        while !worker.is_finished() && start.elapsed() < LONGEST_END {
            thread::sleep(Duration::from_millis(1));
        }
        if !worker.is_finished() {
            // A port is stuck: silence its notes without the thread.
            self.spares.force_note_offs();
        } else if let Ok(outputs) = worker.join() {
            outputs.drain();
        }
        self.spares.clear();
        drop(kept);
    }
}
