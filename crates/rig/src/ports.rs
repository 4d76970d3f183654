//! Ports by name: the ones the user asked for, whether they could be opened, and their state.
//!
//! In: the ports asked for. Out: open ports, a sentence for each that stays silent, and reports. A
//! port that cannot be opened keeps its place and its name: the tracks on it are silent, the others
//! play.

use crate::sound::{self, Device};
use chaconne_engine::{ClickSound, OnLoss, PortIx};
use chaconne_ports::{Output, PortError, PortSpec, PortState, WireSetup, open_output};
use chaconne_song::Song;
use chaconne_time::{FrameRate, Ns};
use std::path::{Path, PathBuf};
use std::str::FromStr;
use std::sync::Arc;

/// How much longer the start waits so that a serial cable has room for programs and controllers
/// before the first note: 35 ms, about a hundred bytes.
pub(crate) const SLOW: Ns = 35_000_000;

/// An output, as the user gave it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Out {
    /// The name that tracks use for it; empty for the output of tracks that name none.
    pub name: String,
    /// The port.
    pub spec: PortSpec,
    /// Whether it gets clock pulses, Start and Stop; `None` if the user did not say.
    pub clock: Option<bool>,
    /// Whether it ends in a serial MIDI cable, which carries 31,250 bits per second.
    pub serial: bool,
    /// The frame rate of the MIDI Time Code it gets, if any.
    pub mtc: Option<FrameRate>,
    /// Whether it gets MIDI Machine Control: play, stop, record, locate.
    pub mmc: bool,
    /// How much later (if negative, earlier) everything is sent there, in nanoseconds; at most
    /// [`Out::MOST_OFFSET`] either way.
    pub offset: Ns,
}

impl Out {
    /// The largest offset of an output: 100 ms.
    pub const MOST_OFFSET: Ns = 100_000_000;

    /// An output of that name without options.
    pub fn plain(name: &str, spec: PortSpec) -> Out {
        let name = name.to_string();
        Out { name, spec, clock: None, serial: false, mtc: None, mmc: false, offset: 0 }
    }

    /// The frame rate of positions in machine control, if the output gets any: that of its time
    /// code, else 30 frames per second.
    pub(crate) fn controlled(&self) -> Option<FrameRate> {
        self.mmc.then(|| self.mtc.unwrap_or(FrameRate::Thirty))
    }

    fn set(&mut self, option: &str) -> Result<bool, PortError> {
        match option.split_once('=').unwrap_or((option, "")) {
            ("clock" | "no-clock", "") => {
                let wanted = option == "clock";
                if self.clock == Some(!wanted) {
                    let both = "an output has 'clock' or 'no-clock', not both";
                    return Err(PortError::Option(both.to_string()));
                }
                self.clock = Some(wanted);
            }
            ("serial", "") => self.serial = true,
            ("din", "") => {
                let renamed = "'din' is not an output option; a serial MIDI cable is 'serial'";
                return Err(PortError::Option(renamed.to_string()));
            }
            ("mmc", "") => self.mmc = true,
            ("mtc", rate) => {
                let wrong = |error: chaconne_time::TimeError| PortError::Option(error.to_string());
                self.mtc = Some(rate.parse().map_err(wrong)?);
            }
            ("offset", ms) => self.offset = milliseconds(option, ms, -100, 100)?,
            _ => return Ok(false),
        }
        Ok(true)
    }
}

impl FromStr for Out {
    type Err = PortError;

    /// Reads `[NAME=]SPEC[,OPTION...]`.
    fn from_str(text: &str) -> Result<Out, PortError> {
        let mut out = Out::plain("", PortSpec::None);
        let rest = options(text, "output", |option| out.set(option))?;
        match rest.split_once('=') {
            Some((name, spec)) if !name.contains(':') && !name.is_empty() => {
                (out.name, out.spec) = (name.to_string(), spec.parse()?);
            }
            _ => out.spec = rest.parse()?,
        }
        Ok(out)
    }
}

/// An input, as the user gave it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct In {
    /// The port.
    pub spec: PortSpec,
    /// How long before its arrival a message was played, in nanoseconds: 0 to
    /// [`In::MOST_LATENCY`].
    pub latency: Ns,
    /// What to do when its clock is lost; `None` if its clock is not followed.
    pub follow: Option<OnLoss>,
}

impl In {
    /// The most latency an input can have: 100 ms.
    pub const MOST_LATENCY: Ns = 100_000_000;

    /// An input without options.
    pub fn plain(spec: PortSpec) -> In {
        In { spec, latency: 0, follow: None }
    }

    fn set(&mut self, option: &str) -> Result<bool, PortError> {
        match option.split_once('=').unwrap_or((option, "")) {
            ("follow", "" | "keep") => self.follow = Some(OnLoss::Keep),
            ("follow", "stop") => self.follow = Some(OnLoss::Stop),
            ("latency", ms) => self.latency = milliseconds(option, ms, 0, 100)?,
            _ => return Ok(false),
        }
        Ok(true)
    }
}

impl FromStr for In {
    type Err = PortError;

    /// Reads `SPEC[,OPTION...]`.
    fn from_str(text: &str) -> Result<In, PortError> {
        let mut input = In::plain(PortSpec::None);
        let rest = options(text, "input", |option| input.set(option))?;
        input.spec = rest.parse()?;
        Ok(input)
    }
}

/// The options of outputs and of inputs, for the error that lists them.
const OPTIONS: [(&str, &[&str]); 2] = [
    ("output", &["clock", "no-clock", "mmc", "mtc", "offset", "serial"]),
    ("input", &["follow", "latency"]),
];

/// Splits the options off the end of a text, the last one first, and returns the rest. Anything
/// else after a comma belongs to the port's own name, unless it looks like an option: a word with
/// an equals sign, an option that only the other direction has, or a mistyped one.
fn options<'a>(
    text: &'a str,
    kind: &str,
    mut set: impl FnMut(&str) -> Result<bool, PortError>,
) -> Result<&'a str, PortError> {
    let mut rest = text;
    while let Some((before, option)) = rest.rsplit_once(',') {
        if !set(option)? {
            let word = option.split('=').next().unwrap_or_default();
            let known = OPTIONS.iter().any(|(_, words)| words.contains(&word));
            let plain = |c: char| c.is_ascii_lowercase() || c == '-';
            let like_one = !word.is_empty() && word.len() < option.len() && word.chars().all(plain);
            // These two have no name of their own that a comma could be part of.
            let nameless = !before.contains(':')
                && matches!(before.rsplit('=').next(), Some("sound" | "none"));
            let slip = || OPTIONS.iter().any(|(_, words)| is_slip(option, words));
            if known || like_one || nameless || slip() {
                let words = OPTIONS.iter().find(|(name, _)| *name == kind);
                let words = words.map(|(_, words)| words.join(", ")).unwrap_or_default();
                return Err(PortError::Option(format!(
                    "'{option}' is not an {kind} option; the options are {words}"
                )));
            }
            break;
        }
        rest = before;
    }
    Ok(rest)
}

/// Whether a word is a mistyped option: one letter too many, too few, wrong, or two swapped. Three
/// letters are too few to tell.
fn is_slip(word: &str, options: &[&str]) -> bool {
    word.len() > 3 && options.iter().any(|option| strsim::osa_distance(word, option) == 1)
}

/// Reads milliseconds with up to three decimals into nanoseconds.
fn milliseconds(option: &str, text: &str, least: i64, most: i64) -> Result<Ns, PortError> {
    let wrong = || {
        PortError::Option(format!(
            "'{option}' is not a number of milliseconds from {least} to {most} with up to three \
             decimals"
        ))
    };
    let (sign, digits) = text.strip_prefix('-').map_or((1, text), |digits| (-1, digits));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    let plain = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if whole.is_empty() || whole.len() > 3 || part.len() > 3 || !plain(whole) || !plain(part) {
        return Err(wrong());
    }
    let micros: i64 = format!("{whole}{part:0<3}").parse().map_err(|_| wrong())?;
    let ns = sign * micros * 1000;
    if ns < least * 1_000_000 || ns > most * 1_000_000 { Err(wrong()) } else { Ok(ns) }
}

/// The raw MIDI devices of this machine, which `bytes:` can name, in order of name.
pub fn raw_devices() -> Vec<PathBuf> {
    let Ok(folder) = std::fs::read_dir("/dev/snd") else { return Vec::new() };
    let paths = folder.filter_map(|entry| Some(entry.ok()?.path()));
    let is_midi = |path: &PathBuf| {
        path.file_name().is_some_and(|name| name.to_string_lossy().starts_with("midiC"))
    };
    let mut devices: Vec<PathBuf> = paths.filter(is_midi).collect();
    devices.sort();
    devices
}

/// The direction of a port.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Direction {
    /// An input.
    In,
    /// An output.
    Out,
}

/// The state of a port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PortReport {
    /// Its name if it has one, else its spec.
    pub name: String,
    /// The port.
    pub spec: PortSpec,
    /// Whether it is an input or an output.
    pub direction: Direction,
    /// Whether it is connected; [`PortState::Silent`] also for the port `none`.
    pub state: PortState,
    /// Messages sent; 0 for an input.
    pub sent: u64,
    /// For an output, messages dropped because the port was full or gone; for an input, bytes that
    /// belong to no message.
    pub dropped: u64,
    /// How many of them were dropped because nothing was connected; 0 for an input.
    pub to_nobody: u64,
    /// Messages sent more than a millisecond late; 0 for an input.
    pub late: u64,
    /// Why it could not be opened, in one sentence; empty if it could.
    pub failure: String,
    /// Why none of several ports with a matching name is used, in one sentence; empty if only one
    /// matches.
    pub ambiguity: String,
}

/// The outputs of a run, and notices about them.
#[derive(Debug, Clone)]
pub(crate) struct Outs {
    /// In the order of [`PortIx`]; never empty.
    pub outs: Vec<Out>,
    /// For each, why it could not be opened; empty if it could.
    pub failures: Vec<String>,
    pub notices: Vec<String>,
    /// Where the click goes: the first output, or the instrument's own port for it.
    pub click: PortIx,
    /// The audio device of the instrument, if that is among the outputs.
    pub device: Option<Arc<Device>>,
    /// The drum kits of the instrument's font (programs and names), if the instrument plays the
    /// tracks that name no output.
    pub kits: Option<Arc<[(u8, String)]>>,
}

impl Outs {
    /// Opens the outputs. Refuses two with the same name, and too many. If there is a `font`, the
    /// instrument plays the sounds in that file.
    pub fn open(outs: &[Out], font: Option<&Path>) -> Result<(Outs, Vec<Output>), String> {
        let mut outs = named(outs)?;
        let mut notices = Vec::new();
        if outs.is_empty() {
            outs.push(Out::plain("", PortSpec::None));
            notices.push(
                "no output port chosen: playing silently; 'chaconne ports' lists the ports"
                    .to_string(),
            );
        }
        let (mut failures, mut open) = (Vec::new(), Vec::new());
        let (mut click, mut device, mut kits) = (None, None, None);
        for out in &outs {
            let opened = if out.spec == PortSpec::Sound {
                sound::open(&out.spec.to_string(), font).map(|sound| {
                    notices.extend(sound.notices);
                    click = Some(sound.click);
                    device = Some(Arc::new(sound.device));
                    kits = Some(sound.kits.into());
                    sound.parts
                })
            } else {
                open_output(&out.spec).map_err(text)
            };
            let (output, failure) = match opened {
                Ok(output) => (output, String::new()),
                Err(failure) => (open_output(&PortSpec::None).map_err(text)?, failure),
            };
            if !failure.is_empty() {
                notices.push(format!("{failure}; nothing will be sent to that output"));
            }
            notices.extend(output.notice().map(|notice| match output.state() {
                PortState::Open => notice.to_string(),
                _ => format!("{notice}; silent until it appears"),
            }));
            open.push(output);
            failures.push(failure);
        }
        // The instrument plays its own click if it is the first output.
        let own = click.filter(|_| outs[0].spec == PortSpec::Sound && open.len() < PortIx::MOST);
        let click = PortIx(if own.is_some() { open.len() as u8 } else { 0 });
        open.extend(own);
        let kits = kits.filter(|_| outs[0].spec == PortSpec::Sound);
        Ok((Outs { outs, failures, notices, click, device, kits }, open))
    }

    /// A sentence for each output that will get nothing, most likely because its name is mistyped.
    /// The first output always gets the click, and the tracks that name no output.
    pub fn idle(&self, song: &Song) -> Vec<String> {
        let served = |out: &&Out| {
            let played = song.tracks.iter().any(|track| track.port == out.name);
            played || out.clock == Some(true) || out.mtc.is_some() || out.mmc
        };
        let idle = self.outs.iter().skip(1).filter(|out| !served(out));
        let sentences = idle.map(|out| {
            format!(
                "nothing is sent to output '{}': no track names it as its port, and it gets neither \
                 clock nor time code",
                out.name
            )
        });
        sentences.collect()
    }

    /// The names that tracks use, in the order of the outputs.
    pub fn names(&self) -> Vec<String> {
        // No track can have this name.
        let own_click = (usize::from(self.click.0) == self.outs.len()).then(|| "\0".to_string());
        self.outs.iter().map(|out| out.name.clone()).chain(own_click).collect()
    }

    /// The sound of the click.
    pub fn click_sound(&self) -> ClickSound {
        ClickSound { port: self.click, ..ClickSound::default() }
    }

    /// How the scheduler serves each port.
    pub fn wires(&self) -> Vec<WireSetup> {
        let wire = |out: &Out| WireSetup { offset: out.offset, serial: out.serial, mtc: out.mtc };
        let own_click = (usize::from(self.click.0) == self.outs.len()).then(WireSetup::default);
        self.outs.iter().map(wire).chain(own_click).collect()
    }

    /// How much longer the start waits if there is a serial cable.
    pub fn slow(&self) -> Ns {
        if self.outs.iter().any(|out| out.serial) { SLOW } else { 0 }
    }

    /// The outputs that get clock pulses.
    pub fn clocked(&self) -> Vec<PortIx> {
        let all = self.outs.iter().enumerate();
        all.filter(|(_, out)| out.clock == Some(true))
            .map(|(index, _)| PortIx(index as u8))
            .collect()
    }

    /// The outputs that get time code, with its frame rate.
    pub fn timed(&self) -> Vec<(PortIx, FrameRate)> {
        let all = self.outs.iter().enumerate();
        all.filter_map(|(index, out)| Some((PortIx(index as u8), out.mtc?))).collect()
    }

    /// The outputs that get machine control, with the frame rate of its positions.
    pub fn controlled(&self) -> Vec<(PortIx, FrameRate)> {
        let all = self.outs.iter().enumerate();
        all.filter_map(|(index, out)| Some((PortIx(index as u8), out.controlled()?))).collect()
    }
}

fn text(error: PortError) -> String {
    error.to_string()
}

/// Names each output after its spec if it has no name, except the first.
pub(crate) fn named(outs: &[Out]) -> Result<Vec<Out>, String> {
    if outs.len() > PortIx::MOST {
        return Err(format!("there can be at most {} outputs, not {}", PortIx::MOST, outs.len()));
    }
    if outs.iter().filter(|out| out.spec == PortSpec::Sound).count() > 1 {
        return Err("the instrument can be one output only: give 'sound' once".to_string());
    }
    let mut all: Vec<Out> = Vec::new();
    for out in outs {
        let mut out = out.clone();
        if out.name.is_empty() && !all.is_empty() {
            out.name = out.spec.to_string();
        }
        if all.iter().any(|other| other.name == out.name) {
            return Err(format!(
                "two outputs are called '{}': give each a name of its own",
                out.name
            ));
        }
        all.push(out);
    }
    Ok(all)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn out(text: &str) -> Out {
        text.parse().unwrap()
    }

    #[test]
    fn an_output_is_read_with_and_without_a_name() {
        assert_eq!(out("keys=midi:Desk synth").name, "keys");
        assert_eq!(out("keys=midi:Desk synth").spec, PortSpec::Midi("Desk synth".into()));
        // An equals sign inside a path or a port's own name does not separate a name.
        assert_eq!(out("bytes:pipes/a=b").spec, PortSpec::Bytes("pipes/a=b".into()));
        assert_eq!(out("midi:A=B").name, "");
        assert_eq!(out("none").spec, PortSpec::None);
        for wrong in ["", "keys", "keys=", "=midi:x", "keys=x"] {
            assert!(wrong.parse::<Out>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn options_are_read_from_the_end_of_the_text() {
        let all = out("keys=midi:Desk, left,serial,clock,mtc=29.97,mmc,offset=-12.5");
        let expected = Out {
            clock: Some(true),
            serial: true,
            mtc: Some(FrameRate::Drop30),
            mmc: true,
            offset: -12_500_000,
            ..Out::plain("keys", PortSpec::Midi("Desk, left".into()))
        };
        assert_eq!(all, expected);
        assert_eq!(out("none,no-clock").clock, Some(false));
        // A port's own name may contain commas, but what looks like an option is not part of it.
        assert_eq!(out("midi:Desk, left").spec, PortSpec::Midi("Desk, left".into()));
        let renamed = "midi:Desk,din".parse::<Out>().unwrap_err().to_string();
        assert!(renamed.contains("a serial MIDI cable is 'serial'"), "{renamed}");
        let slips = ["bytes:w,seriall", "bytes:w,serial,ofset=3", "none,clokc", "midi:X,no-clok"];
        for text in slips.into_iter().chain(["bytes:w,ofset=3", "none,latency=3", "none,follow"]) {
            let error = text.parse::<Out>().unwrap_err().to_string();
            assert!(
                error.ends_with("the options are clock, no-clock, mmc, mtc, offset, serial"),
                "{error}"
            );
        }
        let wrong = |text: &str| text.parse::<Out>().unwrap_err().to_string();
        assert_eq!(wrong("none,clock,no-clock"), "an output has 'clock' or 'no-clock', not both");
        assert!(wrong("a=none,fo").starts_with("'fo' is not an output option"));
        assert_eq!(wrong("none,mtc=26"), "'26' is not a frame rate: use 24, 25, 29.97 or 30");
        for text in ["none,offset=100.001", "none,offset=-101", "none,offset=", "none,offset=1e3"] {
            assert!(wrong(text).contains("milliseconds from -100 to 100"), "{text}");
        }
    }

    #[test]
    fn the_options_of_an_input_are_its_latency_and_whether_to_follow_it() {
        let input = |text: &str| text.parse::<In>();
        let keys = In { latency: 4_200_000, ..In::plain(PortSpec::Midi("Keys".into())) };
        assert_eq!(input("midi:Keys,latency=4.2"), Ok(keys));
        for (text, what) in [
            ("none,follow", OnLoss::Keep),
            ("none,follow=keep", OnLoss::Keep),
            ("none,follow=stop", OnLoss::Stop),
        ] {
            assert_eq!(input(text).unwrap().follow, Some(what));
        }
        assert!(input("none,latency=-1").is_err());
        assert!(input("none,leads").is_err());
    }

    #[test]
    fn tracks_that_name_no_port_use_the_first_output_and_every_other_has_a_name() {
        let (outs, open) = Outs::open(&[out("none"), out("none"), out("b=none")], None).unwrap();
        assert_eq!(outs.names(), ["", "none", "b"]);
        assert_eq!(open.len(), 3);
        assert!(outs.notices.is_empty());
        let error = Outs::open(&[out("a=none"), out("a=none")], None).unwrap_err();
        assert_eq!(error, "two outputs are called 'a': give each a name of its own");
        assert!(Outs::open(&vec![out("none"); 33], None).is_err());
    }

    #[test]
    fn an_output_that_no_track_uses_is_reported() {
        let mut song = crate::testing::song("idle", 1);
        let idle = |song: &Song, outs: &[&str]| {
            let outs: Vec<Out> = outs.iter().map(|text| out(text)).collect();
            Outs::open(&outs, None).unwrap().0.idle(song)
        };
        assert_eq!(
            idle(&song, &["none", "bells=none", "c=none,clock", "t=none,mtc=25", "m=none,mmc"]),
            [
                "nothing is sent to output 'bells': no track names it as its port, and it gets neither \
              clock nor time code"
            ]
        );
        assert_eq!(idle(&song, &["bells=none"]).len(), 0, "the first output always gets something");
        let mut track = chaconne_song::Track::pitched(song.ids().track(), "Bells");
        track.port = "bells".into();
        song.tracks.push(std::sync::Arc::new(track));
        assert_eq!(idle(&song, &["none", "bells=none"]).len(), 0);
    }

    #[test]
    fn without_an_output_a_notice_says_once_that_it_plays_silently() {
        let (outs, open) = Outs::open(&[], None).unwrap();
        assert_eq!((open.len(), outs.notices.len()), (1, 1));
        assert!(outs.notices[0].contains("playing silently"));
        let (outs, open) =
            Outs::open(&[out("x=bytes:no such folder/wire"), out("none")], None).unwrap();
        assert_eq!((open.len(), outs.notices.len()), (2, 1));
        assert!(outs.notices[0].contains("no such folder/wire"), "{}", outs.notices[0]);
        assert!(!outs.failures[0].is_empty() && outs.failures[1].is_empty());
    }
}
