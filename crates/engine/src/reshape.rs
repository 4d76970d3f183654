//! A change of single layers of a section, as a front end asks for it: another length, another speed, or
//! layers of the section's own.
//!
//! In: the operation as data, the section and which of its layers. Out: the commit, or the reason why there is
//! none; and for a song before and after, what comes of it in words.

use chaconne_song::{
    ArrangeError, Commit, Letter, Part, Section, SharedPass, Song, Speed, change_speed, double,
    halve, own_layers, set_bars,
};
use chaconne_time::Tick;

/// What is done to layers. The bars of their section stay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reshape {
    /// They get so many bars, 1..=999. What begins after the new end is removed.
    Bars(u32),
    /// Twice as long, with the content twice.
    Double,
    /// The first half stays.
    Halve,
    /// Half time or double time: everything takes twice or half as long.
    Speed(Speed),
    /// They become the section's own, if other sections share them.
    Own,
}

impl Reshape {
    /// The commit that does it.
    ///
    /// # Errors
    /// If it cannot be done: the reason, as a fragment of a sentence.
    pub fn commit(self, song: &Song, letter: Letter, part: Part) -> Result<Commit, ArrangeError> {
        match self {
            Reshape::Bars(bars) => set_bars(song, letter, part, bars),
            Reshape::Double => double(song, letter, part),
            Reshape::Halve => halve(song, letter, part),
            Reshape::Speed(speed) => change_speed(song, letter, part, speed),
            Reshape::Own => own_layers(song, letter, part),
        }
    }

    /// What comes of it, without its full stop: for a song before and after it.
    pub(crate) fn outcome(
        self,
        (before, after): (&Song, &Song),
        letter: Letter,
        part: Part,
    ) -> String {
        let (Some(was), Some(is)) = (before.section(letter), after.section(letter)) else {
            return String::new();
        };
        let old = meant(before, was, part);
        let new = made((before, was), (after, is), part);
        let (who, many) = named(before, was, part);
        let others = others(before, letter, &old);
        let elsewhere = match (others.len(), others.join(", ")) {
            (0, _) => String::new(),
            (1, others) => format!("; {others} plays on as before"),
            (_, others) => format!("; {others} play on as before"),
        };
        let held = |words: &str| format!("{who} {words} {}{elsewhere}", holds(is, &old, &new));
        let verb = if many { "are" } else { "is" };
        match self {
            Reshape::Own => format!("{who} {verb} now {letter}'s own{elsewhere}"),
            Reshape::Speed(Speed::Half) => held(&format!("{verb} in half time:")),
            Reshape::Speed(Speed::Double) => held(&format!("{verb} in double time:")),
            Reshape::Bars(_) | Reshape::Double | Reshape::Halve => {
                held(if many { "have" } else { "has" })
            }
        }
    }

    /// What undo does after it.
    pub(crate) fn undoing(self) -> &'static str {
        match self {
            Reshape::Own => "undo shares it again",
            Reshape::Bars(_) | Reshape::Double | Reshape::Halve | Reshape::Speed(_) => {
                "undo restores it"
            }
        }
    }
}

/// The passes of a section that are meant, lowest layer first.
fn meant<'a>(song: &'a Song, section: &Section, part: Part) -> Vec<&'a SharedPass> {
    let includes = |pass: &&SharedPass| match part {
        Part::Section => true,
        Part::Track(track) => pass.track == track,
        Part::Layer(id) => pass.id == id,
    };
    song.passes_in(section).into_iter().filter(includes).collect()
}

/// The passes that are there in the place of those that were meant.
fn made<'a>(
    (before, was): (&Song, &Section),
    (after, is): (&'a Song, &Section),
    part: Part,
) -> Vec<&'a SharedPass> {
    let Part::Layer(layer) = part else { return meant(after, is, part) };
    let stayed = |pass: &SharedPass| pass.id != layer && was.layer(pass.id).is_some();
    let track = before.pass(layer).map(|pass| pass.track);
    let new = |pass: &&SharedPass| Some(pass.track) == track && !stayed(pass);
    after.passes_in(is).into_iter().filter(new).collect()
}

/// What layers are called, and whether that is a plural: `layer 2 of Bass`, `the layers of Bass`.
fn named(song: &Song, section: &Section, part: Part) -> (String, bool) {
    let track = |id| song.track(id).map_or_else(String::new, |track| track.name.clone());
    match part {
        Part::Section => (format!("the layers of section {}", section.letter), true),
        Part::Track(id) => (format!("the layers of {}", track(id)), true),
        Part::Layer(layer) => {
            let Some(pass) = song.pass(layer) else { return ("the layer".to_string(), false) };
            let at = song.layers_of(section, pass.track).position(|(_, other)| other.id == layer);
            (format!("layer {} of {}", at.unwrap_or(0) + 1, track(pass.track)), false)
        }
    }
}

/// The other sections that play any of these passes.
fn others<'a>(song: &'a Song, here: Letter, passes: &[&SharedPass]) -> Vec<&'a str> {
    let plays = |section: &&std::sync::Arc<Section>| {
        section.letter != here && passes.iter().any(|pass| section.layer(pass.id).is_some())
    };
    song.sections.iter().filter(plays).map(|section| section.letter.as_str()).collect()
}

/// How long passes are and how many notes they have: `2 bars, 14 notes (6 fewer)`.
fn holds(section: &Section, old: &[&SharedPass], new: &[&SharedPass]) -> String {
    let mut lengths: Vec<String> = Vec::new();
    for pass in new {
        let length = length_in_words(section, pass.length);
        if !lengths.contains(&length) {
            lengths.push(length);
        }
    }
    let count =
        |passes: &[&SharedPass]| passes.iter().map(|pass| pass.notes().len()).sum::<usize>();
    let (was, is) = (count(old), count(new));
    let change = match is.cmp(&was) {
        std::cmp::Ordering::Less => format!(" ({} fewer)", was - is),
        std::cmp::Ordering::Equal => String::new(),
        std::cmp::Ordering::Greater => format!(" ({} more)", is - was),
    };
    format!("{}, {}{change}", lengths.join(" and "), counted(is as i64, "note"))
}

/// A length in bars of the section's first metre, or else in beats or ticks.
fn length_in_words(section: &Section, length: Tick) -> String {
    let metre = section.metre.first();
    let count = |unit: Tick| (length.0 % unit.0 == 0).then_some(length.0 / unit.0);
    match (count(metre.bar()), count(metre.beat())) {
        (Some(bars), _) => counted(bars, "bar"),
        (None, Some(beats)) => counted(beats, "beat"),
        (None, None) => counted(length.0, "tick"),
    }
}

fn counted(count: i64, one: &str) -> String {
    format!("{count} {one}{}", if count == 1 { "" } else { "s" })
}
