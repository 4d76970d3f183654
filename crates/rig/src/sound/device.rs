//! The audio device: opened, watched, and opened again when it comes back.
//!
//! In: a font. Out: the scheduler's ends of a device that is there, now and whenever there is
//! another, and its levels and meters, which stay the same. Opening a device takes a while, so it
//! is done on a thread of its own; the clock's porter only fetches what that has brought.

use super::MakeWire;
use chaconne_ports::{JackGuest, WireKeeper, WireNews, aloud, jack_guest, now, quietly};
use chaconne_sound::{Desk, Font, Live, LiveError, OnEnd, SoundLine};
use crossbeam_channel::{Receiver, RecvTimeoutError, SendError, Sender, bounded};
use std::io;
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::thread;
use std::time::Duration;

/// The parts' end and the click's.
const ENDS: usize = 2;
/// How often a device is looked at.
const LOOK: Duration = Duration::from_millis(100);
/// How long until one that is not there is looked for again.
const RETRY: Duration = Duration::from_secs(1);
/// How long a device may take to be opened: 5 s. After that nobody waits for it any more, and if it
/// comes all the same, it comes like one that was not there at first.
const ANSWER: Duration = Duration::from_secs(5);
/// How long the thread may take to end; after that it is left to itself.
const END: Duration = Duration::from_millis(500);

/// The ends of a device that is there, or why there is none.
pub(crate) type Opened = Result<[SoundLine; ENDS], LiveError>;

/// The device, and the thread that looks after it; that ends when this is dropped.
#[derive(Debug)]
pub(crate) struct Device {
    desk: Desk,
    shared: Arc<Shared>,
    /// Dropped to end the thread.
    going: Option<Sender<()>>,
    ended: Receiver<()>,
}

/// What the thread tells the others.
#[derive(Debug, Default)]
struct Shared {
    open: AtomicBool,
    /// The ends of a new device, until they are fetched.
    fresh: Mutex<[Option<SoundLine>; ENDS]>,
}

impl Shared {
    fn fresh(&self) -> MutexGuard<'_, [Option<SoundLine>; ENDS]> {
        self.fresh.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Device {
    /// Opens the device and starts the thread.
    pub fn start(font: Font) -> io::Result<(Device, Opened)> {
        // Nothing lies in between: what is told has been heard.
        let (first, asked) = bounded(0);
        let (going, is_over) = bounded::<()>(0);
        let (ends, ended) = bounded::<()>(0);
        let (desk, shared) = (Desk::new(), Arc::new(Shared::default()));
        let mut search =
            Search { font, desk: desk.clone(), shared: shared.clone(), playing: None, guest: None };
        // A stream is dropped where it was made: not every system lets it move.
        thread::Builder::new().name("audio".to_string()).spawn(move || {
            let _ended = ends;
            if let Err(SendError(Ok(lines))) = first.send(search.open()) {
                search.offer(lines);
            }
            search.go_on(&is_over);
        })?;
        let opened = asked.recv_timeout(ANSWER).unwrap_or_else(|_| {
            aloud();
            Err(LiveError::NoDevice("it does not answer".into()))
        });
        Ok((Device { desk, shared, going: Some(going), ended }, opened))
    }

    /// Its levels and meters, while it is there.
    pub fn desk(&self) -> Option<Desk> {
        self.shared.open.load(Relaxed).then(|| self.desk.clone())
    }

    /// Its levels, also before it is there.
    pub fn levels(&self) -> &Desk {
        &self.desk
    }

    /// What looks after one of its ends: 0 for the parts, 1 for the click.
    pub fn keeper(&self, end: usize, wire: MakeWire) -> Box<dyn WireKeeper> {
        Box::new(Keeper { shared: self.shared.clone(), end, wire })
    }
}

impl Drop for Device {
    fn drop(&mut self) {
        self.going = None;
        // A device that takes longer to close is closed by the system.
        let _ = self.ended.recv_timeout(END);
    }
}

/// What the thread works with.
struct Search {
    font: Font,
    desk: Desk,
    shared: Arc<Shared>,
    playing: Option<Live>,
    /// Its place among this process's clients of a JACK server; to be dropped after it.
    guest: Option<JackGuest>,
}

impl Search {
    fn open(&mut self) -> Opened {
        let gone = || LiveError::NoDevice("the JACK server has just gone".into());
        let mut guest = jack_guest().ok_or_else(gone)?;
        let last_word = guest.last_word();
        let on_end: OnEnd = Arc::new(move || last_word.heard());
        let (live, lines) = quietly(|| Live::open(&self.font, &self.desk, now, &on_end))?;
        guest.opened();
        self.guest = live.is_on_jack().then_some(guest);
        self.playing = Some(live);
        self.shared.open.store(true, Relaxed);
        Ok(lines)
    }

    /// For whoever looks next whether there is a device.
    fn offer(&self, lines: [SoundLine; ENDS]) {
        *self.shared.fresh() = lines.map(Some);
    }

    /// Looks whether the device is still there, or there again, until it is over.
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
                // Why there is none was said at the start, and the screen shows that there is none.
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

/// The porter's view of one end.
#[derive(Debug)]
struct Keeper {
    shared: Arc<Shared>,
    end: usize,
    wire: MakeWire,
}

impl WireKeeper for Keeper {
    fn look(&mut self, is_open: bool) -> Option<WireNews> {
        let mut fresh = self.shared.fresh();
        let line = &mut fresh[self.end];
        match is_open {
            // One that went and came back in between has gone, too.
            true if line.is_some() || !self.shared.open.load(Relaxed) => Some(WireNews::Gone),
            true => None,
            false => line.take().map(|line| WireNews::Opened((self.wire)(line))),
        }
    }
}
