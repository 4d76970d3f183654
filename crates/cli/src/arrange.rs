//! `section` and `tempo`: a song's sections arranged, and its tempi.

mod list;
mod whole;

use crate::args::{LayersOf, Op, RampBars, Sections, TempoOf, WholeOp};
use crate::exit::{Ended, Failure};
use crate::files::read_song;
use crate::say;
use chaconne_engine::{Route, fit_tempo};
use chaconne_rig::{Guard, Replace, save_guarded};
use chaconne_song::{
    ArrangeError, Commit, Edit, Letter, Part, Section, Song, Speed, Track, change_speed, double,
    halve, join_sections, lift_bars, own_layers, remove_ramp, set_bars, set_ramp, set_tempo,
    set_tempo_at, split_section, stretch_tempi,
};
use chaconne_time::Ns;
use std::path::Path;

/// Changes sections and saves the song.
pub fn section(asked: &Sections) -> Result<Ended, Failure> {
    let song = read_song(&asked.song)?;
    if let Op::Whole(WholeOp::List) = asked.op {
        say::answer(&list::listed(&song))?;
        return Ok(Ended::Ok);
    }
    let guard = Guard::of_song_at(&asked.song);
    let commit = of(&song, &asked.op)?;
    let changed = apply(&song, &commit)?;
    let said = said(&asked.op, &song, &changed, &commit);
    save(&asked.song, &changed, guard, &said)
}

fn of(song: &Song, op: &Op) -> Result<Commit, Failure> {
    let part = |layers: &LayersOf, letter: Letter| part(song, letter, layers);
    let commit = match op {
        Op::Whole(op) => return whole::commit(song, op),
        Op::Split { letter, at } => split_section(song, *letter, *at),
        Op::Join { first, second } => join_sections(song, *first, *second),
        Op::Lift { letter, from, bars } => lift_bars(song, *letter, *from, *bars),
        Op::Bars { letter, bars, layers } => set_bars(song, *letter, part(layers, *letter)?, *bars),
        Op::Double { letter, layers } => double(song, *letter, part(layers, *letter)?),
        Op::Halve { letter, layers } => halve(song, *letter, part(layers, *letter)?),
        Op::HalfTime { letter, layers } => {
            change_speed(song, *letter, part(layers, *letter)?, Speed::Half)
        }
        Op::DoubleTime { letter, layers } => {
            change_speed(song, *letter, part(layers, *letter)?, Speed::Double)
        }
        Op::Own { letter, layers } => own_layers(song, *letter, part(layers, *letter)?),
    };
    commit.map_err(told)
}

/// The part of a section that an operation is for.
fn part(song: &Song, letter: Letter, layers: &LayersOf) -> Result<Part, Failure> {
    let Some(named) = &layers.track else { return Ok(Part::Section) };
    let Some(track) = found(song, named) else {
        let names: Vec<&str> = song.tracks.iter().map(|track| &*track.name).collect();
        return Err(format!("there is no track '{named}'; tracks: {}", names.join(", ")).into());
    };
    let (Some(section), Some(layer)) = (song.section(letter), layers.layer) else {
        return Ok(Part::Track(track.id));
    };
    let stack: Vec<_> = song.layers_of(section, track.id).collect();
    match stack.get(layer as usize - 1) {
        Some((_, pass)) => Ok(Part::Layer(pass.id)),
        None => {
            let count = say::counted(stack.len() as u64, "layer", "layers");
            Err(format!("{} has {count} in section {letter}, not {layer}", track.name).into())
        }
    }
}

/// The track with this name, or else with this number.
fn found<'a>(song: &'a Song, named: &str) -> Option<&'a Track> {
    let number = named.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
    let track = song.track_named(named).or_else(|| song.tracks.get(number?));
    track.map(|track| &**track)
}

/// A refusal as a failure.
pub fn told(error: ArrangeError) -> Failure {
    error.to_string().into()
}

/// The song with a commit.
pub fn apply(song: &Song, commit: &Commit) -> Result<Song, Failure> {
    let mut changed = song.clone();
    commit.clone().apply(&mut changed).map_err(|error| error.to_string())?;
    Ok(changed)
}

/// Saves a song and says in one line what has changed.
pub fn save(path: &Path, song: &Song, mut guard: Guard, said: &str) -> Result<Ended, Failure> {
    save_guarded(path, song, &mut guard, Replace::No)?;
    say::message(&format!("{}: {said}", path.display()));
    Ok(Ended::Ok)
}

/// What happened, in one line.
fn said(op: &Op, song: &Song, changed: &Song, commit: &Commit) -> String {
    let bars = |letter: Letter| {
        let count = changed.section(letter).map_or(0, |section| section.metre.bars());
        say::counted(count.into(), "bar", "bars")
    };
    let new = commit.edits.iter().find_map(|edit| match edit {
        Edit::AddSection { section, .. } => Some(section.letter),
        _ => None,
    });
    let new = new.unwrap_or(Letter::A);
    let of = |letter: &Letter, layers: &LayersOf, what: &str| {
        let name = layers.track.as_deref().and_then(|named| found(song, named));
        match (name, layers.layer) {
            (None, _) => format!("section {letter} {what}: {}", bars(*letter)),
            (Some(track), None) => {
                format!("the layers of {} in section {letter} {what}", track.name)
            }
            (Some(track), Some(layer)) => {
                format!("layer {layer} of {} in section {letter} {what}", track.name)
            }
        }
    };
    let form = new_form(song, changed);
    match op {
        Op::Whole(op) => whole::said(op, song, changed, new),
        Op::Split { letter, .. } => {
            format!(
                "section {letter} split: {} in {letter}, {} in {new}{form}",
                bars(*letter),
                bars(new)
            )
        }
        Op::Join { first, second } => {
            format!("section {second} joined to {first}, {}{form}", bars(*first))
        }
        Op::Lift { letter, from, bars: count } => {
            let count = say::counted((*count).into(), "bar", "bars");
            format!("{count} of section {letter} from bar {from} copied to the new section {new}")
        }
        Op::Bars { letter, bars, layers } if layers.track.is_some() => {
            let count = say::counted((*bars).into(), "bar", "bars");
            of(letter, layers, &format!("set to {count}"))
        }
        Op::Bars { letter, .. } => format!("section {letter} now has {}", bars(*letter)),
        Op::Double { letter, layers } => of(letter, layers, "doubled"),
        Op::Halve { letter, layers } => of(letter, layers, "halved"),
        Op::HalfTime { letter, layers } => of(letter, layers, "in half time"),
        Op::DoubleTime { letter, layers } => of(letter, layers, "in double time"),
        Op::Own { letter, layers } => {
            let count = commit.edits.len();
            let shared = say::counted(count as u64, "layer", "layers");
            let name = layers.track.as_deref().and_then(|named| found(song, named));
            let whose = name.map_or(String::new(), |track| format!(" of {}", track.name));
            let verb = if count == 1 { "is" } else { "are" };
            format!("{shared}{whose} {verb} now {letter}'s own")
        }
    }
}

/// The form, if it has changed.
fn new_form(song: &Song, changed: &Song) -> String {
    match (changed.form != song.form, changed.form.is_empty()) {
        (false, _) => String::new(),
        (true, false) => format!("; form: {}", changed.form),
        (true, true) => "; the song has no form now".to_string(),
    }
}

/// Changes tempi and saves the song, or prints the tempi and the duration.
pub fn tempo(asked: &TempoOf) -> Result<Ended, Failure> {
    let song = read_song(&asked.song)?;
    let guard = Guard::of_song_at(&asked.song);
    let route = route(&song, asked.section)?;
    let Some(commit) = tempi(&song, asked, &route)? else {
        say::answer(&format!("{}\n", facts(&song, asked.section, &route)))?;
        return Ok(Ended::Ok);
    };
    let changed = apply(&song, &commit)?;
    let said = facts(&changed, asked.section, &route);
    save(&asked.song, &changed, guard, &said)
}

/// What a tempo is asked for: the form, or a section once.
fn route(song: &Song, section: Option<Letter>) -> Result<Route, Failure> {
    let route = match section {
        Some(letter) => Route::rounds(song, letter, 1),
        None => Route::form(song),
    };
    let missing = || match section {
        Some(letter) => format!("there is no section {letter}"),
        None => "the form is too long to play".to_string(),
    };
    route.ok_or_else(|| missing().into())
}

fn tempi(song: &Song, asked: &TempoOf, route: &Route) -> Result<Option<Commit>, Failure> {
    let all: Vec<Letter> = song.sections.iter().map(|section| section.letter).collect();
    let letters = asked.section.map_or(all, |letter| vec![letter]);
    let one = || -> Result<Letter, Failure> {
        match (letters.as_slice(), asked.section) {
            (_, Some(letter)) | (&[letter], None) => Ok(letter),
            _ => Err("the song has several sections: name one with --section".to_string().into()),
        }
    };
    let how = &asked.how;
    let commit = if let Some(percent) = how.percent {
        // Faster by a tenth means that a beat takes 100/110 of its time.
        stretch_tempi(song, &letters, (100_000, (100_000 + percent) as u64))
    } else if let Some(wanted) = how.fit {
        fit_tempo(song, route, &letters, wanted)
    } else if let Some(bar) = how.no_ramp {
        remove_ramp(song, one()?, bar)
    } else {
        match (how.bpm, asked.ramp, asked.at) {
            (Some(milli), Some(RampBars { first, last }), _) => {
                set_ramp(song, one()?, (first, last), milli)
            }
            (Some(milli), None, Some(bar)) => set_tempo_at(song, one()?, bar, milli),
            (Some(milli), None, None) => set_tempo(song, &letters, milli),
            (None, ..) => return Ok(None),
        }
    };
    commit.map(Some).map_err(told)
}

/// The tempi and the duration, in one line.
fn facts(song: &Song, section: Option<Letter>, route: &Route) -> String {
    let shown = song.sections.iter().filter(|one| section.is_none_or(|only| one.letter == only));
    let each: Vec<String> =
        shown.map(|section| format!("{} {}", section.letter, tempi_of(section))).collect();
    let lasts = clock(route.duration(song));
    let what = section.map_or("the form".to_string(), |letter| format!("section {letter}"));
    format!("tempo {}; {what} lasts {lasts}", each.join(", "))
}

/// The first tempo of a section, and the others in order; a ramp as where it begins and ends.
fn tempi_of(section: &Section) -> String {
    let unit = |at| section.metre.metre_at(at).tempo_unit();
    let point = |point: &chaconne_time::TempoPoint| {
        let bpm = |tempo: &chaconne_time::Tempo| tempo.in_beats(unit(point.at));
        let ends = (point.tempi.first().map(bpm), point.tempi.last().map(bpm));
        let tempo = match ends {
            (Some(from), Some(to)) if from != to => format!("{from} to {to}"),
            (from, _) => from.unwrap_or_default(),
        };
        match point.at {
            chaconne_time::Tick::ZERO => tempo,
            at => format!("{tempo} from bar {}", section.metre.bar_at(at)),
        }
    };
    let inside = section.tempo.points().iter().filter(|point| point.at < section.length());
    let points: Vec<String> = inside.map(point).collect();
    points.join(", then ")
}

/// Minutes, seconds and thousandths: 3:20.000.
pub fn clock(ns: Ns) -> String {
    let millis = (ns + 500_000) / 1_000_000;
    format!("{}:{:02}.{:03}", millis / 60_000, millis / 1000 % 60, millis % 1000)
}
