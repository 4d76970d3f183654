//! That the server has gone, told by the library as it happens.
//!
//! In: its call, on a thread of its own. Out: two flags. A server that is back a moment later is
//! another one; without this a client of the first would only be missed by its silence.

use super::line::Shared;
use jack::{ClientStatus, NotificationHandler};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};

/// Whether the server that the clients of this process belong to is gone.
pub(super) static IS_FALLEN: AtomicBool = AtomicBool::new(false);

/// What the library tells of one client's server.
pub(super) struct Fall(Arc<Shared>);

impl Fall {
    pub fn of(shared: Arc<Shared>) -> Fall {
        Fall(shared)
    }

    /// The server is gone: whoever holds the other end of the client's port is told, and no new
    /// client is opened until the old ones are closed.
    pub fn fell(&self) {
        self.0.gone.store(true, SeqCst);
        IS_FALLEN.store(true, SeqCst);
    }
}

// Sound: the method is declared unsafe for whoever calls it, as it may be called where a signal
// handler may. It stores into two atomic flags, which neither allocates, locks nor waits, and does
// nothing that is unsafe itself.
#[allow(unsafe_code)]
impl NotificationHandler for Fall {
    unsafe fn shutdown(&mut self, _: ClientStatus, _: &str) {
        self.fell();
    }
}
