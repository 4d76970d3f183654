//! `form`: the order of sections, shown as a line and as bars, or set.
//!
//! ```text
//! form: A A B
//! 3 sections, 12 bars, 0:27.692
//!
//! bars  begins    lasts     metre  tempo  section
//! 1-4   0:00.000  0:09.231  4/4    104    A Verse
//! 5-8   0:09.231  0:09.231  4/4    104    A Verse
//! 9-12  0:18.462  0:09.231  4/4    104    B
//! ```

use crate::args::FormOf;
use crate::arrange::{apply, clock, save, told};
use crate::exit::{Ended, Failure};
use crate::files::read_song;
use crate::say;
use chaconne_engine::{Stretch, form_in_time};
use chaconne_rig::Guard;
use chaconne_song::{Section, Song, fermatas_text, read_form, set_form};
use chaconne_time::Tick;

/// The widest that the table may be, in characters.
const WIDTH: usize = 80;
/// The widest that its column of metres may be.
const METRES: usize = 15;
/// How many characters of a typed form an error quotes.
const QUOTED: usize = 60;

/// Shows the form, or sets it and saves the song.
pub fn form(asked: &FormOf) -> Result<Ended, Failure> {
    let song = read_song(&asked.song)?;
    if asked.form.is_empty() {
        say::answer(&shown(&song)?)?;
        return Ok(Ended::Ok);
    }
    let guard = Guard::of_song_at(&asked.song);
    let typed = asked.form.join(" ");
    let form = read_form(&typed, &song)
        .map_err(|error| format!("the form '{}': {error}", clipped(&typed, QUOTED)))?;
    let changed = apply(&song, &set_form(&song, form).map_err(told)?)?;
    let said = format!("{}; {}", line(&changed), totals(&in_time(&changed)?));
    save(&asked.song, &changed, guard, &said)
}

fn in_time(song: &Song) -> Result<Vec<Stretch>, Failure> {
    form_in_time(song).ok_or_else(|| "the form is too long to play".to_string().into())
}

/// The form as it is typed.
fn line(song: &Song) -> String {
    match (song.form.is_empty(), song.sections.first()) {
        (true, Some(first)) => format!("no form: section {} is played", first.letter),
        _ => format!("form: {}", song.form),
    }
}

/// How many sections and bars, and how long.
fn totals(stretches: &[Stretch]) -> String {
    let sections = say::counted(stretches.len() as u64, "section", "sections");
    let bars = stretches.iter().map(|stretch| u64::from(stretch.bars)).sum();
    let lasts = clock(stretches.last().map_or(0, |last| last.to));
    format!("{sections}, {}, {lasts}", say::counted(bars, "bar", "bars"))
}

fn shown(song: &Song) -> Result<String, Failure> {
    let stretches = in_time(song)?;
    let head = ["bars", "begins", "lasts", "metre", "tempo", "section"].map(String::from);
    let rows = stretches.iter().filter_map(|stretch| row(song, stretch));
    let table = table(&std::iter::once(head).chain(rows).collect::<Vec<_>>());
    let waits: String = song.sections.iter().filter_map(|section| waits(section)).collect();
    let waits = if waits.is_empty() { waits } else { format!("\n{waits}") };
    Ok(format!("{}\n{}\n\n{table}{waits}", line(song), totals(&stretches)))
}

/// The cells of a row.
fn row(song: &Song, stretch: &Stretch) -> Option<[String; 6]> {
    let section = song.section(stretch.section)?;
    let last = stretch.bar + u64::from(stretch.bars) - 1;
    let bars = match last == stretch.bar {
        true => last.to_string(),
        false => format!("{}-{last}", stretch.bar),
    };
    let name = format!("{} {}", section.letter, section.name);
    let (begins, lasts) = (clock(stretch.from), clock(stretch.to - stretch.from));
    Some([bars, begins, lasts, metres(section), tempi(section), name.trim_end().to_string()])
}

/// The metres of a section, as far as there is room.
fn metres(section: &Section) -> String {
    clipped(&section.metre.written(), METRES)
}

/// The first tempo of a section, and the last if it is another one: `104 to 92`.
fn tempi(section: &Section) -> String {
    let at = |at| section.tempo.at(at).in_beats(section.metre.metre_at(at).tempo_unit());
    let (first, last) = (at(Tick::ZERO), at(section.length() - Tick(1)));
    if first == last { first } else { format!("{first} to {last}") }
}

/// Where the form waits in a section.
fn waits(section: &Section) -> Option<String> {
    let fermatas = fermatas_text(section);
    let letter = section.letter;
    (!fermatas.is_empty()).then(|| {
        format!("section {letter} waits at its fermatas when it is played live: {fermatas}\n")
    })
}

/// Rows as lines, with columns as wide as their widest cell.
fn table(rows: &[[String; 6]]) -> String {
    let width = |column: usize| {
        rows.iter().map(|row| row[column].chars().count()).max().unwrap_or_default()
    };
    let widths: [usize; 5] = std::array::from_fn(width);
    let line = |row: &[String; 6]| {
        let cells = row.iter().zip(widths).map(|(cell, width)| format!("{cell:<width$}  "));
        let line = cells.collect::<String>() + &row[5];
        clipped(&line, WIDTH) + "\n"
    };
    rows.iter().map(line).collect()
}

/// A text of at most so many characters.
fn clipped(text: &str, most: usize) -> String {
    match text.chars().count() > most {
        true => text.chars().take(most - 1).chain(['…']).collect(),
        false => text.to_string(),
    }
}
