//! Whether a port is there: what the figures say of it and the scheduler acts on.

/// Whether a port is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum PortState {
    /// It takes what is sent, or gives what comes.
    Open,
    /// Nobody is at the other end yet; it is tried again and again.
    Waiting,
    /// Nobody came while it was waited for, or the port is `none`: plays silently. It is still
    /// opened when somebody comes.
    Silent,
    /// It was there and is gone; it is opened again when it comes back.
    Lost,
}

impl PortState {
    /// The state of a code, which is the state as a number; [`PortState::Lost`] for any other.
    pub fn from_code(code: u8) -> PortState {
        [PortState::Open, PortState::Waiting, PortState::Silent]
            .into_iter()
            .find(|&state| state as u8 == code)
            .unwrap_or(PortState::Lost)
    }
}
