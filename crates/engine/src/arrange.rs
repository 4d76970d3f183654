//! A change of sections or of tempo as a front end asks for it, and what comes of it in words.
//!
//! In: the operation as data, and the song. Out: the commit, or the reason why there is none; and for a
//! song before and after, a sentence that holds as well before it is done as afterwards.

use crate::{Reshape, Route, fit_tempo};
use chaconne_song::{
    ArrangeError, Commit, Letter, Part, Section, Song, Speed, change_speed, fill_bars,
    join_sections, lift_bars, remove_ramp, set_bars, set_ramp, set_tempo, set_tempo_at,
    split_section, stretch_tempi,
};
use chaconne_time::{Ns, Tempo, TempoPoint, Tick};

/// How many tempi a sentence names.
const NAMED: usize = 4;

/// A change of sections or of tempo. Bars count from 1; a tempo is in thousandths of a beat per minute, as
/// the section counts its beats.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Arrange {
    /// A section becomes two; the second begins at this bar.
    Split(Letter, u32),
    /// The second section becomes part of the first, which is right before it in the form.
    Join(Letter, Letter),
    /// So many bars of a section, from this one on, are copied to a new section.
    Lift {
        /// The section.
        section: Letter,
        /// The first bar.
        from: u32,
        /// How many.
        bars: u32,
    },
    /// A section gets so many bars.
    Bars {
        /// The section.
        section: Letter,
        /// How many bars it gets, 1..=999.
        bars: u32,
        /// Whether added bars repeat what is there; otherwise only loops shorter than the section go on.
        repeat: bool,
    },
    /// A section takes twice or half as many bars at the same tempo.
    Speed(Letter, Speed),
    /// Layers of a section are changed, while its bars stay.
    Layers(Letter, Part, Reshape),
    /// The first tempo of a section, or of every section; the others change in proportion.
    Tempo(Option<Letter>, u64),
    /// The tempo from this bar of a section on.
    TempoAt(Letter, u32, u64),
    /// Every tempo of a section, or of the song, in thousandths of a percent of what it is now.
    Percent(Option<Letter>, u64),
    /// All tempi of a section, or of the song, so that a round of the section or the form lasts so long.
    Fit(Option<Letter>, Ns),
    /// An even change of tempo over bars of a section, which ends at the tempo `to`.
    Ramp {
        /// The section.
        section: Letter,
        /// The first bar and the last.
        bars: (u32, u32),
        /// The tempo at which it begins; `None` for the one in force there.
        from: Option<u64>,
        /// The tempo that it reaches.
        to: u64,
    },
    /// A section without the ramp that this bar is part of.
    NoRamp(Letter, u32),
}

impl Arrange {
    /// The commit that does it.
    ///
    /// # Errors
    /// If it cannot be done: the reason, as a fragment of a sentence.
    pub fn commit(&self, song: &Song) -> Result<Commit, ArrangeError> {
        let of = |section: &Option<Letter>| match section {
            Some(letter) => vec![*letter],
            None => song.sections.iter().map(|section| section.letter).collect(),
        };
        match self {
            Arrange::Split(letter, bar) => split_section(song, *letter, *bar),
            Arrange::Join(first, second) => join_sections(song, *first, *second),
            Arrange::Lift { section, from, bars } => lift_bars(song, *section, *from, *bars),
            Arrange::Bars { section, bars, repeat: true } => fill_bars(song, *section, *bars),
            Arrange::Bars { section, bars, repeat: false } => {
                set_bars(song, *section, Part::Section, *bars)
            }
            Arrange::Speed(letter, speed) => change_speed(song, *letter, Part::Section, *speed),
            Arrange::Layers(letter, part, how) => how.commit(song, *letter, *part),
            Arrange::Tempo(section, milli) => set_tempo(song, &of(section), *milli),
            Arrange::TempoAt(letter, bar, milli) => set_tempo_at(song, *letter, *bar, *milli),
            // At 95 percent of the tempo, a beat takes 100/95 of its time.
            Arrange::Percent(section, percent) => {
                stretch_tempi(song, &of(section), (100_000, *percent))
            }
            Arrange::Fit(section, wanted) => {
                let too_long = || ArrangeError::from("the form is too long to play".to_string());
                let route = match section {
                    Some(letter) => Route::rounds(song, *letter, 1),
                    None => Some(Route::form(song).ok_or_else(too_long)?),
                };
                match route {
                    Some(route) => fit_tempo(song, &route, &of(section), *wanted),
                    // The reason is that there is no such section.
                    None => stretch_tempi(song, &of(section), (1, 1)),
                }
            }
            Arrange::Ramp { section, bars, from, to } => ramp(song, *section, *bars, (*from, *to)),
            Arrange::NoRamp(letter, bar) => remove_ramp(song, *letter, *bar),
        }
    }

    /// Whether it changes which bars a section has, or copies some: then what is being recorded in it comes
    /// first.
    pub fn is_about_bars_of(&self, letter: Letter) -> bool {
        match self {
            Arrange::Split(section, _)
            | Arrange::Lift { section, .. }
            | Arrange::Bars { section, .. }
            | Arrange::Speed(section, _) => *section == letter,
            Arrange::Layers(section, _, how) => *section == letter && *how != Reshape::Own,
            Arrange::Join(first, second) => [*first, *second].contains(&letter),
            Arrange::Tempo(..)
            | Arrange::TempoAt(..)
            | Arrange::Percent(..)
            | Arrange::Fit(..)
            | Arrange::Ramp { .. }
            | Arrange::NoRamp(..) => false,
        }
    }

    /// What comes of it, without its full stop: for a song before and after it.
    pub fn outcome(&self, before: &Song, after: &Song) -> String {
        let bars = |letter: Letter| {
            bars_in_words(after.section(letter).map_or(0, |section| section.metre.bars()))
        };
        let new = || {
            let is_new =
                |section: &&std::sync::Arc<Section>| before.section(section.letter).is_none();
            after.sections.iter().find(is_new).map_or(Letter::A, |section| section.letter)
        };
        let form = match (after.form != before.form, after.form.is_empty()) {
            (true, false) => format!("; form: {}", after.form),
            _ => String::new(),
        };
        match self {
            Arrange::Split(letter, _) => {
                let new = new();
                format!(
                    "{letter} has {}, the new section {new} has {}{form}",
                    bars(*letter),
                    bars(new)
                )
            }
            Arrange::Join(first, second) => {
                format!("{second} becomes part of {first}: {}{form}", bars(*first))
            }
            Arrange::Lift { section, from, bars } => {
                let (bars, new) = (bars_in_words(*bars), new());
                format!("the new section {new} has {bars} of {section}, from bar {from} on")
            }
            Arrange::Bars { section, .. } => format!("{section} has {}", bars(*section)),
            Arrange::Speed(letter, Speed::Half) => {
                format!("{letter} is in half time: {}", bars(*letter))
            }
            Arrange::Speed(letter, Speed::Double) => {
                format!("{letter} is in double time: {}", bars(*letter))
            }
            Arrange::Layers(letter, part, how) => how.outcome((before, after), *letter, *part),
            Arrange::Tempo(section, _)
            | Arrange::Percent(section, _)
            | Arrange::Fit(section, _) => tempi(after, *section),
            Arrange::TempoAt(section, ..)
            | Arrange::Ramp { section, .. }
            | Arrange::NoRamp(section, _) => tempi(after, Some(*section)),
        }
    }

    /// What undo does after it.
    pub fn undoing(&self) -> &'static str {
        match self {
            Arrange::Split(..) => "undo joins them again",
            Arrange::Join(..) => "undo separates them",
            Arrange::Lift { .. } => "undo removes it",
            Arrange::Bars { .. } => "undo brings the bars back as they were",
            Arrange::Speed(..) => "undo brings it back as it was",
            Arrange::Layers(_, _, how) => how.undoing(),
            Arrange::Tempo(..)
            | Arrange::TempoAt(..)
            | Arrange::Percent(..)
            | Arrange::Fit(..)
            | Arrange::Ramp { .. }
            | Arrange::NoRamp(..) => "undo brings the old tempo back",
        }
    }
}

/// A ramp, after a change of tempo where it begins if it is to begin at another one.
fn ramp(
    song: &Song,
    letter: Letter,
    bars: (u32, u32),
    (from, to): (Option<u64>, u64),
) -> Result<Commit, ArrangeError> {
    let in_force = song.section(letter).map(|section| {
        let at = section.metre.bar_start(i64::from(bars.0));
        (section.tempo.at(at), section.metre.metre_at(at).tempo_unit())
    });
    let differs = |milli: &u64| {
        in_force.is_none_or(|(now, unit)| Tempo::of_milli_beats(*milli, unit) != Ok(now))
    };
    let Some(milli) = from.filter(differs) else { return set_ramp(song, letter, bars, to) };
    let first = set_tempo_at(song, letter, bars.0, milli)?;
    let mut begun = song.clone();
    // It was tried when the commit was made.
    let _ = first.clone().apply(&mut begun);
    let mut whole = set_ramp(&begun, letter, bars, to)?;
    whole.edits.splice(..0, first.edits);
    Ok(whole)
}

/// What a section or the song plays in the time that is told: a round, or the form.
fn route(song: &Song, section: Option<Letter>) -> Option<Route> {
    match section {
        Some(letter) => Route::rounds(song, letter, 1),
        None => Route::form(song),
    }
}

/// The tempi of a section or of the song, and how long it lasts.
fn tempi(song: &Song, section: Option<Letter>) -> String {
    let is_meant = |one: &&std::sync::Arc<Section>| section.is_none_or(|only| one.letter == only);
    let meant: Vec<&std::sync::Arc<Section>> = song.sections.iter().filter(is_meant).collect();
    let each = |section: &&std::sync::Arc<Section>| match song.sections.len() {
        1 => tempi_of(section),
        _ => format!("{} {}", section.letter, tempi_of(section)),
    };
    let mut named: Vec<String> = meant.iter().take(NAMED).map(each).collect();
    if meant.len() > NAMED {
        named.push("…".to_string());
    }
    let lasts = |section| route(song, section).map_or(0, |route| route.duration(song));
    let form = match song.form.is_empty() {
        true => String::new(),
        false => format!("the form lasts {}", clock(lasts(None))),
    };
    let round =
        |letter: Letter| format!("one round of {letter} lasts {}", clock(lasts(Some(letter))));
    let lasts = match (section, form.is_empty(), meant.first()) {
        (Some(letter), true, _) => round(letter),
        (Some(letter), false, _) => format!("{}, {form}", round(letter)),
        (None, true, Some(first)) => round(first.letter),
        (None, ..) => form,
    };
    format!("tempo {}: {lasts}", named.join(", "))
}

/// The tempi of a section in order; a ramp as where it begins and ends.
fn tempi_of(section: &Section) -> String {
    let point = |point: &TempoPoint| {
        let unit = section.metre.metre_at(point.at).tempo_unit();
        let bpm = |tempo: &Tempo| in_tenths(tempo.beats(unit).0);
        let tempo = match (point.tempi.first().map(bpm), point.tempi.last().map(bpm)) {
            (Some(from), Some(to)) if from != to => format!("{from} to {to}"),
            (from, _) => from.unwrap_or_default(),
        };
        match point.at {
            Tick::ZERO => tempo,
            at => format!("{tempo} from bar {}", section.metre.bar_at(at)),
        }
    };
    let inside = section.tempo.points().iter().filter(|point| point.at < section.length());
    inside.map(point).collect::<Vec<_>>().join(", then ")
}

/// Thousandths in tenths, without a decimal that is nought.
fn in_tenths(milli: u64) -> String {
    let tenths = (milli + 50) / 100;
    match tenths % 10 {
        0 => format!("{}", tenths / 10),
        part => format!("{}.{part}", tenths / 10),
    }
}

fn bars_in_words(count: u32) -> String {
    format!("{count} {}", if count == 1 { "bar" } else { "bars" })
}

/// Minutes and seconds, with a tenth if it is not nought: 3:20, 0:16.3.
fn clock(ns: Ns) -> String {
    let tenths = (ns + 50_000_000) / 100_000_000;
    let seconds = format!("{}:{:02}", tenths / 600, tenths / 10 % 60);
    match tenths % 10 {
        0 => seconds,
        part => format!("{seconds}.{part}"),
    }
}
