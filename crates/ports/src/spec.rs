//! The text form of a port, as in `--out`, and the errors of ports.

use std::fmt;
use std::path::PathBuf;
use std::str::FromStr;

/// A port by its text form: `midi:NAME`, `jack:NAME`, `bytes:PATH`, `sound` or `none`.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum PortSpec {
    /// A port of the system's MIDI service, by its name or a part that only one port has.
    Midi(String),
    /// A port of the JACK server, by its full name `client:port` or a part that only one port has.
    Jack(String),
    /// A raw byte stream: a FIFO, a pseudo-terminal, a serial line, a raw MIDI device, a file.
    Bytes(PathBuf),
    /// The built-in instrument: an output only.
    Sound,
    /// No port: messages are counted and discarded.
    None,
}

impl FromStr for PortSpec {
    type Err = PortError;

    fn from_str(text: &str) -> Result<PortSpec, PortError> {
        let (kind, rest) = text.split_once(':').unwrap_or((text, ""));
        match kind {
            "midi" if !rest.is_empty() => Ok(PortSpec::Midi(rest.to_string())),
            "jack" if !rest.is_empty() => Ok(PortSpec::Jack(rest.to_string())),
            "bytes" if !rest.is_empty() => Ok(PortSpec::Bytes(PathBuf::from(rest))),
            "sound" if text == "sound" => Ok(PortSpec::Sound),
            "none" if text == "none" => Ok(PortSpec::None),
            _ => Err(PortError::Spec(text.to_string())),
        }
    }
}

impl fmt::Display for PortSpec {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            PortSpec::Midi(name) => write!(f, "midi:{name}"),
            PortSpec::Jack(name) => write!(f, "jack:{name}"),
            PortSpec::Bytes(path) => write!(f, "bytes:{}", path.display()),
            PortSpec::Sound => f.write_str("sound"),
            PortSpec::None => f.write_str("none"),
        }
    }
}

/// An error of a port, in one sentence: what is wrong, and what would be right.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PortError {
    /// The text names no port.
    #[error("'{0}' is not a port: use midi:NAME, jack:NAME, bytes:PATH, sound or none")]
    Spec(String),
    /// The instrument produces no input, and is not opened as a port.
    #[error("'sound' is an output only; an input is midi:NAME, jack:NAME, bytes:PATH or none")]
    Sound,
    /// A port option is wrong.
    #[error("{0}")]
    Option(String),
    /// The system has no MIDI service that answers.
    #[error(
        "the system's MIDI service does not answer, so there are no midi: ports; use bytes:PATH or none"
    )]
    NoService,
    /// The JACK library is not installed.
    #[error(
        "the JACK library is not installed, so there are no jack: ports; install it, or use midi:NAME, bytes:PATH or none"
    )]
    NoJackLibrary,
    /// No JACK server answers.
    #[error(
        "no JACK server answers, so there are no jack: ports; start one, or use midi:NAME, bytes:PATH or none"
    )]
    NoJack,
    /// The service has no such port.
    #[error("no {kind} is called '{name}'; available: {have}")]
    Unknown {
        /// The kind of port, such as `MIDI output`.
        kind: &'static str,
        /// The name that the user gave.
        name: String,
        /// The ports available.
        have: String,
    },
    /// More than one port matches the name.
    #[error("more than one {kind} has '{name}' in its name: {fits}; type more of the name")]
    Ambiguous {
        /// The kind of port, such as `MIDI output`.
        kind: &'static str,
        /// The name that the user gave.
        name: String,
        /// The ports that match.
        fits: String,
    },
    /// The port does not exist yet; the program waits for it.
    #[error("port {spec} is not connected yet: {why}")]
    Absent {
        /// The port's text form.
        spec: String,
        /// What is missing.
        why: &'static str,
    },
    /// The port exists but cannot be opened.
    #[error("port {spec} cannot be opened: {why}")]
    Open {
        /// The port's text form.
        spec: String,
        /// The reason, and what would be right.
        why: String,
    },
}

impl PortError {
    /// The error for a path at which there is nothing.
    pub(crate) fn nothing_at(spec: &str) -> PortError {
        PortError::Absent { spec: spec.to_string(), why: "nothing has that name" }
    }

    /// The error for a JACK port without a running server.
    pub(crate) fn no_server_for(port: &str) -> PortError {
        let spec = PortSpec::Jack(port.to_string()).to_string();
        PortError::Absent { spec, why: "no JACK server answers" }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_form_is_read_and_written() {
        let paths = ["bytes:/dev/snd/midiC1D0", "sound", "none"];
        for text in ["midi:Desk synth: port 1", "jack:desk:in 1"].into_iter().chain(paths) {
            assert_eq!(text.parse::<PortSpec>().unwrap().to_string(), text);
        }
    }

    #[test]
    fn the_error_for_any_other_text_lists_the_forms() {
        for text in [
            "",
            "midi",
            "midi:",
            "jack",
            "jack:",
            "bytes:",
            "none:",
            "sound:",
            "MIDI:x",
            "/dev/midi",
        ] {
            let error = text.parse::<PortSpec>().unwrap_err().to_string();
            assert_eq!(
                error,
                format!(
                    "'{text}' is not a port: use midi:NAME, jack:NAME, bytes:PATH, sound or none"
                )
            );
        }
    }
}
