//! Outputs: one type for all kinds of port, called by the scheduler thread.

use super::bytes::BytesOut;
use super::connection::{Connection, JackWatch, Keeper, open_jack};
use super::jack::{JackLine, LEAST_AHEAD};
use super::link::{Link, LinkKeeper};
use super::midi::{Direction, MidiOut, WantedPort};
use super::stream::is_absent;
use super::watch::{Captured, Watch, watch};
use super::{MemoryPort, PortError, PortSpec, PortState};
use crate::monotonic::now;
use chaconne_clock::Sent;
use chaconne_midi::serial::Grain;
use chaconne_time::Ns;
use std::fmt;
use std::path::Path;
use std::time::Duration;

/// How long a port of the system's MIDI service may take to pass on the last messages before it is
/// closed: 50 ms.
const MIDI_DRAIN: Duration = Duration::from_millis(50);

/// A port that messages are sent to.
pub struct Output {
    name: String,
    kind: Kind,
    /// Watches its far end; the scheduler's porter takes it over.
    keeper: Option<Keeper>,
    notice: Option<String>,
    watch: Option<Watch>,
}

enum Kind {
    Nowhere,
    Memory(MemoryPort),
    Bytes(BytesOut),
    /// The connection, and whether its far end is gone.
    Midi(Option<MidiOut>, bool),
    /// The scheduler's end (`None` until a server appears), and whether it was connected when it
    /// was opened.
    Jack(Option<JackLine>, bool),
    /// The link (`None` until there is one), and whether its far end is gone.
    Linked(Option<Box<dyn Link>>, bool),
}

/// Opens the output that `spec` names, without waiting. A FIFO that nobody reads yet, a device that
/// is not plugged in, a port that does not exist yet, or a JACK server that is not running yet, is
/// [`PortState::Waiting`]; the scheduler connects it when it appears.
///
/// If a path does not exist, a new file is created; under `/dev` the output waits for the device
/// instead. A file that is not empty is refused.
///
/// # Errors
/// If the system's MIDI service or the JACK library is missing, the name matches several ports, or
/// the port cannot be opened.
pub fn open_output(spec: &PortSpec) -> Result<Output, PortError> {
    let name = spec.to_string();
    match spec {
        PortSpec::None => Ok(Output::new(name, Kind::Nowhere, None)),
        PortSpec::Sound => Err(PortError::Sound),
        PortSpec::Midi(port) => Output::midi(name, port),
        PortSpec::Jack(port) => Output::jack(name, port),
        PortSpec::Bytes(path) => {
            let was_absent = is_absent(path);
            let open = BytesOut::open(path);
            let bytes = open.map_err(|why| PortError::Open { spec: name.clone(), why })?;
            let notice = match bytes.stream() {
                Some(_) if was_absent => Some(new_file(&name, path)),
                None if is_absent(path) => Some(PortError::nothing_at(&name).to_string()),
                _ => None,
            };
            let keeper = Some(Keeper::Bytes(path.clone()));
            Ok(Output { notice, ..Output::new(name, Kind::Bytes(bytes), keeper) })
        }
    }
}

/// The notice that a plain file was created, for a user who mistyped the name of a FIFO.
fn new_file(name: &str, path: &Path) -> String {
    format!(
        "port {name} is a new plain file, which stores what is sent and plays nothing; if you \
         meant a FIFO, remove the file and create the FIFO first: mkfifo '{}'",
        path.display()
    )
}

impl Output {
    fn new(name: String, kind: Kind, keeper: Option<Keeper>) -> Output {
        Output { name, kind, keeper, notice: None, watch: None }
    }

    fn midi(name: String, port: &str) -> Result<Output, PortError> {
        let mut wanted = WantedPort::new(Direction::Out, port);
        let (connection, notice) = match wanted.open_out() {
            Ok(connection) => (Some(connection), None),
            Err(error @ PortError::Unknown { .. }) => (None, Some(error.to_string())),
            Err(error) => return Err(error),
        };
        let kind = Kind::Midi(connection, false);
        Ok(Output { notice, ..Output::new(name, kind, Some(Keeper::Midi(wanted))) })
    }

    fn jack(name: String, port: &str) -> Result<Output, PortError> {
        let (line, watch, notice): (Option<JackLine>, JackWatch, _) = open_jack(port)?;
        let kind = Kind::Jack(line, notice.is_none());
        let notice = notice.map(|error| error.to_string());
        Ok(Output { notice, ..Output::new(name, kind, Some(Keeper::Jack(watch))) })
    }

    /// An output to a link that the caller provides, with the keeper that watches it. If there is no
    /// link yet, `keeper` creates one.
    pub fn linked(
        name: &str,
        link: Option<Box<dyn Link>>,
        keeper: Option<Box<dyn LinkKeeper>>,
    ) -> Output {
        Output::new(name.to_string(), Kind::Linked(link, false), keeper.map(Keeper::Linked))
    }

    /// An output that records what is sent, for tests; also returns the test's end of it.
    pub fn memory(name: &str) -> (Output, MemoryPort) {
        let port = MemoryPort::default();
        (Output::new(name.to_string(), Kind::Memory(port.clone()), None), port)
    }

    /// An output that leads nowhere and records what it is sent, for measuring. `places` is how
    /// many messages fit between two reads.
    pub fn capture(places: usize) -> (Output, Captured) {
        Output::new("capture".to_string(), Kind::Nowhere, None).watched(places)
    }

    /// The same output, and a record of what it is sent, as with [`Output::capture`].
    pub fn watched(self, places: usize) -> (Output, Captured) {
        let (watch, captured) = watch(places);
        (Output { watch: Some(watch), ..self }, captured)
    }

    /// The port's name: its spec.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// A notice about how it was opened, in one sentence: that nothing has its name yet, if it is
    /// [`PortState::Waiting`]; that a file was created, if it is open.
    pub fn notice(&self) -> Option<&str> {
        self.notice.as_deref()
    }

    /// Whether it is connected.
    pub fn state(&self) -> PortState {
        match &self.kind {
            Kind::Nowhere => PortState::Silent,
            Kind::Bytes(bytes) if bytes.stream().is_none() => PortState::Waiting,
            Kind::Midi(None, _) | Kind::Jack(_, false) | Kind::Linked(None, _) => {
                PortState::Waiting
            }
            _ => PortState::Open,
        }
    }

    /// How early a message must be handed to this port, in nanoseconds before its due time: the
    /// time JACK needs to place it at its frame, or 0 for ports that send at once. May change with
    /// the server. Does not wait or allocate.
    pub fn ahead(&self) -> Ns {
        match &self.kind {
            Kind::Jack(line, _) => line.as_ref().map_or(LEAST_AHEAD, JackLine::ahead),
            Kind::Linked(link, _) => link.as_ref().map_or(0, |link| link.ahead()),
            _ => 0,
        }
    }

    /// Whether [`Output::ahead`] may change.
    pub(crate) fn varies(&self) -> bool {
        matches!(self.kind, Kind::Jack(..) | Kind::Linked(..))
    }

    /// The unit in which it accepts data at the pace of a serial cable.
    pub(crate) fn grain(&self) -> Grain {
        match &self.kind {
            Kind::Midi(..) | Kind::Jack(..) | Kind::Linked(..) => Grain::Messages,
            _ => Grain::Bytes,
        }
    }

    pub(crate) fn send(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        if self.watch.is_none() {
            return self.write(due, bytes);
        }
        let at = now();
        let sent = self.write(due, bytes);
        if let (Sent::Done, Some(watch)) = (sent, &mut self.watch) {
            watch.note(due, at, bytes);
        }
        sent
    }

    fn write(&mut self, due: Ns, bytes: &[u8]) -> Sent {
        match &mut self.kind {
            Kind::Nowhere => Sent::Done,
            Kind::Memory(port) => port.send(due, bytes),
            Kind::Bytes(port) => port.send(bytes),
            Kind::Midi(port, _) => port.as_mut().map_or(Sent::Lost, |port| port.send(bytes)),
            Kind::Jack(line, _) => line.as_mut().map_or(Sent::Lost, |line| line.send(due, bytes)),
            Kind::Linked(link, _) => link.as_mut().map_or(Sent::Lost, |link| link.send(due, bytes)),
        }
    }

    /// Continues a half-sent message; returns whether some of it is left.
    pub(crate) fn flush(&mut self) -> bool {
        match &mut self.kind {
            Kind::Bytes(port) if port.is_unfinished() => port.finish() == Sent::Full,
            _ => false,
        }
    }

    /// Whether everything sent is on its way.
    pub(crate) fn is_drained(&self) -> bool {
        match &self.kind {
            Kind::Jack(line, _) => line.as_ref().is_none_or(JackLine::is_drained),
            Kind::Linked(link, _) => link.as_ref().is_none_or(|link| link.is_drained()),
            _ => true,
        }
    }

    /// How long that may take to arrive. If the port is closed earlier, it could be lost.
    pub(crate) fn drain(&self) -> Duration {
        match &self.kind {
            Kind::Midi(..) => MIDI_DRAIN,
            Kind::Jack(Some(line), _) => line.drain(),
            Kind::Linked(Some(link), false) => link.drain(),
            _ => Duration::ZERO,
        }
    }

    /// The keeper that watches its far end; it can be taken once.
    pub(crate) fn take_keeper(&mut self) -> Option<Keeper> {
        self.keeper.take()
    }

    pub(crate) fn bytes(&self) -> Option<&BytesOut> {
        match &self.kind {
            Kind::Bytes(port) => Some(port),
            _ => None,
        }
    }

    /// Records that the far end is gone.
    pub(crate) fn lose(&mut self) {
        match &mut self.kind {
            Kind::Bytes(port) => port.lose(),
            Kind::Midi(_, is_gone) | Kind::Linked(_, is_gone) => *is_gone = true,
            _ => {}
        }
    }

    /// The connection, if its far end is gone and it cannot be used again.
    pub(crate) fn take_gone(&mut self) -> Option<Connection> {
        match &mut self.kind {
            Kind::Bytes(port) => port.take_gone().map(Connection::Bytes),
            Kind::Midi(port, is_gone) => port.take_if(|_| *is_gone).map(Connection::Midi),
            Kind::Linked(link, is_gone) => link.take_if(|_| *is_gone).map(Connection::Linked),
            _ => None,
        }
    }

    /// Uses another connection from now on; returns the old one, to be closed elsewhere.
    pub(crate) fn replace(&mut self, connection: Connection) -> Option<Connection> {
        match (&mut self.kind, connection) {
            (Kind::Bytes(port), Connection::Bytes(stream)) => {
                port.replace(stream).map(Connection::Bytes)
            }
            (Kind::Midi(port, is_gone), Connection::Midi(fresh)) => {
                *is_gone = false;
                port.replace(fresh).map(Connection::Midi)
            }
            (Kind::Linked(link, is_gone), Connection::Linked(fresh)) => {
                *is_gone = false;
                link.replace(fresh).map(Connection::Linked)
            }
            (Kind::Jack(line, _), Connection::Jack(fresh)) => {
                line.replace(fresh).map(Connection::Jack)
            }
            (_, connection) => Some(connection),
        }
    }
}

impl fmt::Debug for Output {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Output").field("name", &self.name).finish_non_exhaustive()
    }
}
