//! Text that fits its place: widths in columns, whatever the characters.
//!
//! In: names as people wrote them, with wide and zero-width characters. Out: text in at most, or
//! exactly, so many columns. Control characters and characters without width are left out.

use ratatui::style::Style;
use ratatui::text::Span;

/// The columns that `text` takes.
pub fn width(text: &str) -> usize {
    if is_plain(text) { text.len() } else { width_of_pieces(text) }
}

fn width_of_pieces(text: &str) -> usize {
    graphemes(text).map(|(_, width)| width).sum()
}

/// Whether each byte is a character of one column. Most text is, and needs no look at its characters.
fn is_plain(text: &str) -> bool {
    text.bytes().all(|byte| (b' '..=b'~').contains(&byte))
}

/// What is shown of `text`, piece by piece with the columns of each.
fn graphemes(text: &str) -> impl Iterator<Item = (String, usize)> + '_ {
    // The buffer drops pieces with a control character; so does the count.
    let clean = Span::raw(text);
    let pieces: Vec<String> = clean
        .styled_graphemes(Style::default())
        .filter(|piece| !piece.symbol.contains(char::is_control))
        .map(|piece| piece.symbol.to_string())
        .collect();
    pieces
        .into_iter()
        .map(|piece| {
            let width = Span::raw(piece.as_str()).width();
            (piece, width)
        })
        .filter(|(_, width)| *width > 0)
}

/// `text` in at most `columns`; if it is cut, it ends with `mark`.
pub fn clip(text: &str, columns: usize, mark: char) -> String {
    match columns {
        _ if !is_plain(text) => clip_pieces(text, columns, mark),
        _ if text.len() <= columns => text.to_string(),
        0 => String::new(),
        _ => format!("{}{mark}", &text[..columns - 1]),
    }
}

fn clip_pieces(text: &str, columns: usize, mark: char) -> String {
    if width(text) <= columns {
        return graphemes(text).map(|(piece, _)| piece).collect();
    }
    let mut left = columns.saturating_sub(1);
    let mut kept = String::new();
    for (piece, width) in graphemes(text) {
        if width > left {
            break;
        }
        left -= width;
        kept.push_str(&piece);
    }
    if columns > 0 {
        kept.push(mark);
    }
    kept
}

/// `text` in exactly `columns`, filled up with spaces or cut.
pub fn fill(text: &str, columns: usize, mark: char) -> String {
    let mut kept = clip(text, columns, mark);
    let spaces = columns.saturating_sub(width(&kept));
    kept.extend(std::iter::repeat_n(' ', spaces));
    kept
}

/// A fragment as a sentence: with a capital, unless it starts with a name such as a file's, and a
/// full stop.
pub fn sentence(text: &str) -> String {
    let plain = {
        let word = text.split(' ').next().unwrap_or_default().trim_end_matches([':', ',']);
        word.chars().all(char::is_alphabetic)
    };
    let mut chars = text.chars();
    let capital = |c: char| if plain { c.to_uppercase().collect() } else { c.to_string() };
    let first: String = chars.next().map(capital).unwrap_or_default();
    let stop = if text.is_empty() || text.ends_with(['.', '!', '?']) { "" } else { "." };
    format!("{first}{}{stop}", chars.as_str())
}

/// Breaks text into lines of at most `columns`; a longer word has a line of its own, and is cut
/// where it is drawn.
pub fn wrap(text: &str, columns: usize) -> Vec<String> {
    wrap_after(0, text, columns)
}

/// The same for text that begins on a line of which so many columns are taken.
pub fn wrap_after(taken: usize, text: &str, columns: usize) -> Vec<String> {
    let (mut lines, mut line) = (Vec::new(), String::new());
    let mut room = columns.saturating_sub(taken);
    for word in text.split_whitespace() {
        let wanted = width(&line) + usize::from(!line.is_empty()) + width(word);
        if wanted > room && (!line.is_empty() || room < columns) {
            lines.push(std::mem::take(&mut line));
            room = columns;
        }
        if !line.is_empty() {
            line.push(' ');
        }
        line.push_str(word);
    }
    lines.push(line);
    lines
}

/// A word for a count: singular for 1, else with an `s`.
pub fn plural(count: usize, one: &str) -> String {
    if count == 1 { one.to_string() } else { format!("{one}s") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wide_and_zero_width_characters_keep_the_columns() {
        // East Asian Width (Unicode Standard Annex 11): ideographs are wide; the rest from memory.
        let names = ["bass", "低音", "e\u{301}tude", "\u{200b}\u{202e}x", "🎹 keys", "a\tb\u{7}"];
        for name in names {
            for columns in [0, 1, 2, 3, 5, 9, 14] {
                assert_eq!(width(&fill(name, columns, '~')), columns, "{name:?} in {columns}");
            }
        }
        assert_eq!(width("低音"), 4);
        assert_eq!(width("e\u{301}"), 1);
        assert_eq!(width("\u{200b}\u{202e}"), 0);
    }

    #[test]
    fn plain_text_is_as_wide_and_cut_as_any_other() {
        for text in ["", "a", "Kit 1/16 70 %", "~ !", " two  spaces "] {
            assert!(is_plain(text));
            assert_eq!(width(text), width_of_pieces(text), "{text:?}");
            for columns in 0..16 {
                assert_eq!(clip(text, columns, '~'), clip_pieces(text, columns, '~'), "{text:?}");
            }
        }
        assert!(!["é", "a\tb", "\u{7f}", "\u{1b}[0m"].into_iter().any(is_plain));
    }

    #[test]
    fn a_cut_is_marked() {
        assert_eq!(clip("saxophone", 5, '~'), "saxo~");
        assert_eq!(clip("低音提琴", 4, '~'), "低~");
        assert_eq!(fill("低音提琴", 4, '~'), "低~ ");
        assert_eq!(clip("sax", 3, '~'), "sax");
    }

    #[test]
    fn a_fragment_becomes_a_sentence() {
        assert_eq!(sentence("undone: pass"), "Undone: pass.");
        assert_eq!(sentence("tide.ron is full"), "tide.ron is full.");
        assert_eq!(sentence("Saved."), "Saved.");
        assert_eq!(sentence(""), "");
    }

    #[test]
    fn a_count_of_one_is_singular() {
        let words = [0, 1, 2].map(|count| format!("{count} {}", plural(count, "note")));
        assert_eq!(words, ["0 notes", "1 note", "2 notes"]);
    }

    #[test]
    fn the_first_line_has_the_room_that_is_left() {
        assert_eq!(wrap_after(5, "tap the keys", 10), ["tap", "the keys"]);
        assert_eq!(wrap_after(9, "tap the keys", 10), ["", "tap the", "keys"]);
        assert_eq!(wrap_after(0, "tap the keys", 10), wrap("tap the keys", 10));
    }

    #[test]
    fn lines_break_between_words() {
        assert_eq!(wrap("one two three", 7), ["one two", "three"]);
        assert_eq!(wrap("", 7), [""]);
    }
}
