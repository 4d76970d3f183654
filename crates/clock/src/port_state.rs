//! Whether a port is connected.

/// Whether a port is connected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum PortState {
    /// It is connected: messages go out or come in.
    Open,
    /// Nothing is connected yet; the program keeps trying.
    Waiting,
    /// The port is `none`, or nothing appeared while the program waited: the port plays silently. It
    /// is still opened as soon as something appears.
    Silent,
    /// It was connected and is gone; it is reopened when it is back.
    Lost,
}

impl PortState {
    /// The state with this number; [`PortState::Lost`] for a number that no state has.
    pub fn from_code(code: u8) -> PortState {
        [PortState::Open, PortState::Waiting, PortState::Silent]
            .into_iter()
            .find(|&state| state as u8 == code)
            .unwrap_or(PortState::Lost)
    }
}
