//! What is written over the bars about time: fermatas on their beats, ramps of tempo from where they begin
//! to where they end, and tempi from a bar on.
//!
//! In: marks with their columns. Out: a row of them. A fermata always keeps its place; a ramp says as much as
//! has room between its two ends; what has no room at all is left out.

use super::Pen;
use crate::text;
use crate::time_marks::{Ramp, TimeMark};
use ratatui::style::Style;
use std::ops::Range;

/// A mark with its place on the screen.
pub struct Over<'a> {
    /// What it is.
    pub mark: &'a TimeMark,
    /// The column of its beginning, and the one after its end.
    pub columns: Range<u16>,
    /// Whether it began before the first of them, and goes on after the last.
    pub cut: [bool; 2],
    /// Whether the song is waiting for it now.
    pub waits: bool,
}

/// Draws marks into a row, but not into the columns that are taken already.
pub fn draw(pen: &mut Pen, row: u16, taken: Range<u16>, marks: &[Over]) {
    let mut free = vec![true; usize::from(pen.width())];
    take(&mut free, taken);
    for over in marks {
        if matches!(over.mark, TimeMark::Fermata(_)) {
            fermata(pen, row, over, &mut free);
        }
    }
    for over in marks {
        let room = widest(&free, over.columns.clone());
        match over.mark {
            TimeMark::Ramp(ramp) => {
                let gap = cut_off(pen, row, over, room.clone());
                let starts = marks.iter().map(|over| over.columns.start);
                let next = starts.filter(|&start| start >= room.end).min();
                // A blank before the next mark.
                let next = next.map_or(pen.width(), |next| next.saturating_sub(1));
                let end = put_ramp(pen, row, ramp, gap, gap_end(&free, room.end).min(next));
                take(&mut free, room.start..room.end.max(end));
            }
            TimeMark::Tempo(_, tempo) => {
                let room = room.start..gap_end(&free, room.start);
                take(&mut free, put_tempo(pen, row, tempo, room));
            }
            TimeMark::Fermata(_) => {}
        }
    }
    for over in marks {
        if matches!(over.mark, TimeMark::Fermata(_)) {
            fermata_word(pen, row, over, &mut free);
        }
    }
}

/// The sign of a fermata, an arc over a dot in a score, lies on its side here: no font of a terminal need
/// have the other. Its dot is on its beat.
fn fermata(pen: &mut Pen, row: u16, over: &Over, free: &mut [bool]) {
    let (at, style) = (over.columns.start, fermata_style(pen, over));
    let signs = std::iter::zip(at.saturating_sub(1).., pen.palette.signs.fermata);
    for (column, sign) in signs {
        // Where two are side by side, both dots are there.
        let is_free = free.get(usize::from(column)) == Some(&true);
        if is_free || column == at && free.get(usize::from(at)).is_some() {
            pen.sign(column, row, sign, style);
        }
    }
    take(free, at.saturating_sub(1)..at + 2);
}

/// The word beside the sign, if there is room.
fn fermata_word(pen: &mut Pen, row: u16, over: &Over, free: &mut [bool]) {
    let (word, from) = ("fermata", over.columns.start + 3);
    let columns = from..from + word.len() as u16;
    // With an empty column behind it.
    let is_free = |column: u16| free.get(usize::from(column)) == Some(&true);
    if (columns.start - 1..columns.end).all(is_free)
        && free.get(usize::from(columns.end)) != Some(&false)
    {
        pen.put(from, row, word, fermata_style(pen, over));
        take(free, columns);
    }
}

fn fermata_style(pen: &Pen, over: &Over) -> Style {
    if over.waits { pen.palette.on() } else { pen.palette.strong() }
}

/// Signs at the ends of a gap where a ramp began before it or goes on after it; returns the rest of it.
fn cut_off(pen: &mut Pen, row: u16, over: &Over, gap: Range<u16>) -> Range<u16> {
    let (sign, faint) = (pen.palette.signs.cut, pen.palette.faint());
    let is_cut = [
        over.cut[0] && gap.start == over.columns.start,
        over.cut[1] && gap.end == over.columns.end,
    ];
    let columns = [gap.start, gap.end.saturating_sub(1)];
    for (column, _) in std::iter::zip(columns, is_cut).filter(|(_, is_cut)| *is_cut) {
        pen.sign(column, row, sign, faint);
    }
    let [before, after] = is_cut.map(u16::from);
    (gap.start + before).min(gap.end)..gap.end.saturating_sub(after).max(gap.start)
}

/// Writes a ramp into a gap. Where that has no room for a word, one goes on as far as nothing else is there, up to
/// the column `free`. Returns the column after it.
fn put_ramp(pen: &mut Pen, row: u16, ramp: &Ramp, gap: Range<u16>, free: u16) -> u16 {
    let (signs, room) = (pen.palette.signs, gap.len());
    let [from, to] = ramp.whole();
    let term = ramp.term();
    let begins = [format!("{term} {}", ramp.from), format!("{term} {from}"), from.to_string()];
    let ends = [&ramp.to, to, to];
    let written = std::iter::zip(begins, ends)
        .find(|(begin, end)| text::width(begin) + text::width(end) < room)
        .map(|(begin, end)| {
            let between = room - text::width(&begin) - text::width(end);
            format!("{begin}{}{end}", line(between, signs.held, signs.arrow))
        });
    let written = match written {
        Some(written) => written,
        None if gap.start + text::width(term) as u16 <= free => term.to_string(),
        None => line(room, signs.held, signs.arrow),
    };
    pen.put(gap.start, row, &written, pen.palette.text())
}

/// A line with an arrow at its end, in so many columns; with air around it if it is long.
fn line(columns: usize, held: char, arrow: char) -> String {
    const AIR: usize = 5;
    let air = if columns >= AIR { " " } else { "" };
    let held = held.to_string().repeat(columns.saturating_sub(1 + 2 * air.len()));
    match columns {
        0 => String::new(),
        _ => format!("{air}{held}{arrow}{air}"),
    }
}

/// Writes a tempo into a gap; returns the columns taken, with an empty one.
fn put_tempo(pen: &mut Pen, row: u16, tempo: &str, gap: Range<u16>) -> Range<u16> {
    let whole = format!("tempo {tempo}");
    let fits = [whole.as_str(), tempo].into_iter().find(|words| text::width(words) <= gap.len());
    let end = fits.map(|words| pen.put(gap.start, row, words, pen.palette.text()) + 1);
    gap.start..end.unwrap_or(gap.start)
}

fn take(free: &mut [bool], columns: Range<u16>) {
    columns.for_each(|column| {
        free.get_mut(usize::from(column)).into_iter().for_each(|it| *it = false)
    });
}

/// The column after the last free one, from a column on.
fn gap_end(free: &[bool], from: u16) -> u16 {
    let gap = free.iter().skip(from.into()).take_while(|&&free| free);
    from + gap.count() as u16
}

/// The widest free part of some columns, the first of several.
fn widest(free: &[bool], columns: Range<u16>) -> Range<u16> {
    let mut best = columns.start..columns.start;
    let mut at = columns.start;
    while at < columns.end {
        let end = gap_end(free, at).min(columns.end);
        if end - at > best.end - best.start {
            best = at..end;
        }
        at = end + 1;
    }
    best
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::options::{Glyphs, Options};
    use crate::palette::Palette;
    use crate::testing::empty_song;
    use chaconne_time::{Tempo, TempoMap, TempoPoint, Tick};
    use ratatui::buffer::Buffer;
    use ratatui::layout::Rect;
    use std::sync::Arc;

    fn ramp(tempi: [&str; 2]) -> TimeMark {
        let mut song = empty_song(4, "4/4");
        let section = Arc::make_mut(&mut song.sections[0]);
        let tempi = tempi.map(|tempo| Tempo::parse_bpm(tempo).unwrap()).to_vec();
        let point = TempoPoint { at: Tick::ZERO, tempi };
        section.tempo = TempoMap::with_points(vec![point]).unwrap();
        TimeMark::Ramp(Ramp::first_of(section).unwrap())
    }

    /// A row of forty columns.
    fn drawn(marks: &[(&TimeMark, Range<u16>)]) -> String {
        let options = Options { glyphs: Glyphs::Ascii, ..Options::from_environment(|_| None) };
        let palette = Palette::new(&options, false);
        let mut buffer = Buffer::empty(Rect::new(0, 0, 40, 1));
        let all: Vec<Over> = marks
            .iter()
            .map(|(mark, columns)| Over {
                mark,
                columns: columns.clone(),
                cut: [false; 2],
                waits: false,
            })
            .collect();
        draw(&mut Pen::new(&mut buffer, &palette), 0, 0..0, &all);
        let cells = buffer.content.iter().map(|cell| cell.symbol());
        cells.collect::<String>().trim_end().to_string()
    }

    #[test]
    fn a_ramp_says_as_much_as_there_is_room_for() {
        let (slower, faster) = (ramp(["104.5", "92"]), ramp(["92", "104"]));
        let shown = |mark: &TimeMark, width: u16| drawn(&[(mark, 2..2 + width)]);
        assert_eq!(shown(&slower, 20), "  rit. 104.5 -----> 92");
        assert_eq!(shown(&slower, 13), "  rit. 104.5>92");
        assert_eq!(shown(&slower, 11), "  rit. 104>92");
        assert_eq!(shown(&slower, 8), "  104-->92");
        assert_eq!(shown(&slower, 5), "  rit.");
        // A word may go on after the end if nothing is there.
        assert_eq!(shown(&faster, 2), "  accel.");
        let fermata = TimeMark::Fermata(Tick::ZERO);
        assert_eq!(drawn(&[(&faster, 2..5), (&fermata, 6..7)]), "  -->(.) fermata");
    }

    #[test]
    fn a_fermata_keeps_its_place_and_what_has_no_room_is_left_out() {
        let (ramp, fermata) = (ramp(["104", "92"]), TimeMark::Fermata(Tick::ZERO));
        let tempo = TimeMark::Tempo(Tick::ZERO, "112".into());
        let all = [(&ramp, 2..22), (&fermata, 4..5), (&fermata, 20..21), (&tempo, 30..31)];
        assert_eq!(drawn(&all), "   (.)rit. 104-->92(.)        tempo 112");
        let crowded = [(&fermata, 3..4), (&fermata, 4..5), (&tempo, 5..6), (&fermata, 38..39)];
        assert_eq!(drawn(&crowded), "  (..) fermata                       (.)");
    }
}
