//! The scheduler thread, and the handles to it.

use crate::meter::{Meter, Stats};
use crate::monotonic::now;
use crate::ports::Output;
use crate::switch::{Flags, Switch};
use crate::thru::{Thru, ThruEvent};
use chaconne_engine::Order;
use std::io;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};
use std::thread::{self, JoinHandle, Thread};
use std::time::Duration;

/// Sizes of a scheduler. All of it is allocated at the start.
#[derive(Debug, Clone)]
pub struct Setup {
    /// How many inputs are played through.
    pub inputs: usize,
    /// How many orders can be on their way.
    pub orders: usize,
    /// How many cues can wait for their time.
    pub cues: usize,
    /// How many voices can hold keys at a time.
    pub voices: usize,
    /// How long a byte port that nobody listens to is [`Waiting`](crate::PortState::Waiting)
    /// before it is told to be [`Silent`](crate::PortState::Silent). It is watched for ever.
    pub patience: Duration,
}

impl Default for Setup {
    fn default() -> Setup {
        Setup {
            inputs: 1,
            orders: 16_384,
            cues: 65_536,
            voices: 16_384,
            patience: Duration::from_secs(5),
        }
    }
}

/// A scheduler that runs: its handle, its queue of orders, and the through-play of each input.
#[derive(Debug)]
pub struct Running {
    /// Ends it when dropped.
    pub scheduler: Scheduler,
    /// Gives it orders.
    pub orders: Orders,
    /// One for each input of [`Setup::inputs`].
    pub thrus: Vec<Thru>,
}

/// The scheduler's handle. Dropping it releases everything, closes the ports and ends the thread.
#[derive(Debug)]
pub struct Scheduler {
    thread: Option<JoinHandle<()>>,
    meter: Arc<Meter>,
    flags: Arc<Flags>,
    quit: Arc<AtomicBool>,
}

/// Reads the scheduler's counts from anywhere.
#[derive(Debug, Clone)]
pub struct Monitor(Arc<Meter>);

impl Monitor {
    /// What was counted so far.
    pub fn stats(&self) -> Stats {
        self.0.stats()
    }
}

/// Gives orders to the scheduler, from one thread.
#[derive(Debug)]
pub struct Orders {
    queue: rtrb::Producer<Order>,
    scheduler: Thread,
    meter: Arc<Meter>,
}

impl Orders {
    /// Gives one order and wakes the scheduler. Never waits: an order that finds no room is
    /// counted and comes back. Cues other than lifts leave the last places to all other orders.
    pub fn send(&mut self, order: Order) -> Result<(), Order> {
        let sent = self.push(order);
        self.scheduler.unpark();
        sent
    }

    /// Gives many orders and wakes the scheduler once. How many found no room.
    pub fn send_all(&mut self, orders: impl IntoIterator<Item = Order>) -> usize {
        let lost = orders.into_iter().filter_map(|order| self.push(order).err()).count();
        self.scheduler.unpark();
        lost
    }

    fn push(&mut self, order: Order) -> Result<(), Order> {
        self.queue.push(order).map_err(|rtrb::PushError::Full(order)| {
            self.meter.drop_order();
            order
        })
    }
}

/// Starts a scheduler for these ports; [`PortIx`](chaconne_engine::PortIx) is the place in the
/// list, which holds at most [`PortIx::MOST`](chaconne_engine::PortIx::MOST).
pub fn start(outputs: Vec<Output>, setup: Setup) -> io::Result<Running> {
    let meter = Arc::new(Meter::new(outputs.iter().map(|output| output.name().to_string())));
    let flags = Arc::new(Flags::default());
    let quit = Arc::new(AtomicBool::new(false));
    let (queue, orders) = rtrb::RingBuffer::new(setup.orders);
    let inputs = setup.inputs;
    let (producers, consumers): (Vec<_>, Vec<_>) =
        (0..inputs).map(|_| rtrb::RingBuffer::<ThruEvent>::new(4096)).unzip();
    let thread = {
        let (flags, quit) = (flags.clone(), quit.clone());
        let mut work = Work { outputs, orders, thrus: consumers };
        thread::Builder::new()
            .name("scheduler".to_string())
            .spawn(move || work.run(&flags, &quit))?
    };
    let handle = thread.thread().clone();
    let thrus = producers
        .into_iter()
        .enumerate()
        .map(|(input, queue)| Thru::new(input as u16, queue, handle.clone(), meter.clone()))
        .collect();
    let orders = Orders { queue, scheduler: handle, meter: meter.clone() };
    let scheduler = Scheduler { thread: Some(thread), meter, flags, quit };
    Ok(Running { scheduler, orders, thrus })
}

struct Work {
    outputs: Vec<Output>,
    orders: rtrb::Consumer<Order>,
    thrus: Vec<rtrb::Consumer<ThruEvent>>,
}

impl Work {
    fn run(&mut self, flags: &Flags, quit: &AtomicBool) {
        while !quit.load(SeqCst) {
            if let Some(request) = flags.pending() {
                flags.answer(request);
            }
            while self.orders.pop().is_ok() {}
            for thru in &mut self.thrus {
                while thru.pop().is_ok() {}
            }
            let _ = (now(), self.outputs.len());
            thread::park_timeout(Duration::from_millis(50));
        }
    }
}

impl Scheduler {
    /// The silence switch.
    pub fn switch(&self) -> Switch {
        let thread = self.thread.as_ref().map_or_else(thread::current, |t| t.thread().clone());
        Switch::new(self.flags.clone(), thread)
    }

    /// A reader of its counts.
    pub fn monitor(&self) -> Monitor {
        Monitor(self.meter.clone())
    }

    /// What was counted so far.
    pub fn stats(&self) -> Stats {
        self.meter.stats()
    }
}

impl Drop for Scheduler {
    fn drop(&mut self) {
        self.quit.store(true, SeqCst);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            let _ = thread.join();
        }
    }
}
