//! The audio device: opens it, watches it, and opens it again when it comes back.
//!
//! In: a font. Out: the wires of a device whenever one opens, and levels and meters that stay the
//! same across devices. Opening a device takes a while, so a thread of its own does it, and the
//! porter of the ports only fetches the result.

use super::MakeLink;
use chaconne_ports::{JackGuest, LinkKeeper, LinkNews, jack_guest, now, quietly, restore_stderr};
use chaconne_sound::{Desk, Font, Live, LiveError, OnEnd, SoundLine};
use crossbeam_channel::{Receiver, RecvTimeoutError, SendError, Sender, bounded};
use std::io;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::Duration;

/// The line for the tracks and the line for the click.
const ENDS: usize = 2;
/// How often an open device is checked.
const LOOK: Duration = Duration::from_millis(100);
/// How often a missing device is searched for.
const RETRY: Duration = Duration::from_secs(1);
/// How long opening a device may take at the start: 5 s. After that the program starts without it,
/// and uses it as soon as it does open.
const ANSWER: Duration = Duration::from_secs(5);
/// How long to wait for the thread to end.
const END: Duration = Duration::from_millis(500);

/// The lines of an open device, or why there is none.
pub(crate) type Opened = Result<[SoundLine; ENDS], LiveError>;

/// The device and the thread that watches it; dropping this ends the thread.
#[derive(Debug)]
pub(crate) struct Device {
    desk: Desk,
    shared: Arc<DeviceShared>,
    /// Dropped to end the thread.
    going: Option<Sender<()>>,
    ended: Receiver<()>,
}

/// What the thread shares with the others.
#[derive(Debug, Default)]
struct DeviceShared {
    open: AtomicBool,
    /// The lines of a newly opened device, until the porter fetches them.
    fresh: Mutex<[Option<SoundLine>; ENDS]>,
}

impl DeviceShared {
    fn fresh(&self) -> MutexGuard<'_, [Option<SoundLine>; ENDS]> {
        self.fresh.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Device {
    /// Opens the device and starts the thread.
    pub fn start(font: Font) -> io::Result<(Device, Opened)> {
        // Without a buffer, a send succeeds only if somebody receives the result.
        let (first, asked) = bounded(0);
        let (going, is_over) = bounded::<()>(0);
        let (ends, ended) = bounded::<()>(0);
        let (desk, shared) = (Desk::new(), Arc::new(DeviceShared::default()));
        let mut search =
            Search { font, desk: desk.clone(), shared: shared.clone(), playing: None, guest: None };
        // The thread that creates a stream also drops it: not every system allows moving it.
        thread::Builder::new().name("audio".to_string()).spawn(move || {
            let _ended = ends;
            if let Err(SendError(Ok(lines))) = first.send(search.open()) {
                search.offer(lines);
            }
            search.go_on(&is_over);
        })?;
        let opened = asked.recv_timeout(ANSWER).unwrap_or_else(|_| {
            restore_stderr();
            Err(LiveError::NoDevice("it does not answer".into()))
        });
        Ok((Device { desk, shared, going: Some(going), ended }, opened))
    }

    /// The levels and meters; `None` while no device is open.
    pub fn desk(&self) -> Option<Desk> {
        self.shared.open.load(Relaxed).then(|| self.desk.clone())
    }

    /// The levels, which exist even without a device.
    pub fn levels(&self) -> &Desk {
        &self.desk
    }

    /// The keeper of one line: 0 for the tracks, 1 for the click.
    pub fn keeper(&self, end: usize, wire: MakeLink) -> Box<dyn LinkKeeper> {
        Box::new(Keeper { shared: self.shared.clone(), end, wire })
    }
}

impl Drop for Device {
    fn drop(&mut self) {
        self.going = None;
        // The system closes a device that takes longer.
        let _ = self.ended.recv_timeout(END);
    }
}

/// The state of the thread.
struct Search {
    font: Font,
    desk: Desk,
    shared: Arc<DeviceShared>,
    playing: Option<Live>,
    /// The device's place among this process's JACK clients; dropped after the device.
    guest: Option<JackGuest>,
}

impl Search {
    fn open(&mut self) -> Opened {
        let gone = || LiveError::NoDevice("the JACK server has just gone".into());
        let mut guest = jack_guest().ok_or_else(gone)?;
        let shutdown_notice = guest.shutdown_notice();
        let on_end: OnEnd = Arc::new(move || shutdown_notice.heard());
        let (live, lines) = quietly(|| Live::open(&self.font, &self.desk, now, &on_end))?;
        guest.opened();
        self.guest = live.is_on_jack().then_some(guest);
        self.playing = Some(live);
        self.shared.open.store(true, Relaxed);
        Ok(lines)
    }

    /// Leaves the lines for the porter to fetch.
    fn offer(&self, lines: [SoundLine; ENDS]) {
        *self.shared.fresh() = lines.map(Some);
    }

    /// Checks the open device, or searches for one, until [`Device`] is dropped.
    fn go_on(&mut self, is_over: &Receiver<()>) {
        loop {
            let pause = if self.playing.is_some() { LOOK } else { RETRY };
            if is_over.recv_timeout(pause) != Err(RecvTimeoutError::Timeout) {
                return;
            }
            let fallen = self.guest.as_ref().is_some_and(JackGuest::is_over);
            match self.playing.as_mut().map(|live| fallen || live.is_gone()) {
                Some(true) => self.lose(),
                Some(false) => {}
                // A notice at the start said why there is none, and the screen shows it.
                None => {
                    if let Ok(lines) = self.open() {
                        self.offer(lines);
                    }
                }
            }
        }
    }

    fn lose(&mut self) {
        self.shared.open.store(false, Relaxed);
        *self.shared.fresh() = [None, None];
        if let Some(guest) = &self.guest {
            guest.wait_for_end();
        }
        self.playing = None;
        self.guest = None;
        self.desk.rest();
    }
}

/// The porter's access to one line.
#[derive(Debug)]
struct Keeper {
    shared: Arc<DeviceShared>,
    end: usize,
    wire: MakeLink,
}

impl LinkKeeper for Keeper {
    fn look(&mut self, is_open: bool) -> Option<LinkNews> {
        let mut fresh = self.shared.fresh();
        let line = &mut fresh[self.end];
        match is_open {
            // A device that was lost and reopened since the last look counts as lost, too.
            true if line.is_some() || !self.shared.open.load(Relaxed) => Some(LinkNews::Gone),
            true => None,
            false => line.take().map(|line| LinkNews::Opened((self.wire)(line))),
        }
    }
}
