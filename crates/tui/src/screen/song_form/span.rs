//! A span of the form, marked to be played alone.

use super::{Screen, unrolled};
use chaconne_song::Song;

/// A span of the entries of the form, unrolled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FormSpan {
    /// From this entry to the chosen one, which may lie before it.
    Open(usize),
    /// From the first to the last.
    Set(usize, usize),
}

impl FormSpan {
    /// Its first and its last entry, where `here` is chosen.
    pub fn ends(self, here: usize) -> (usize, usize) {
        match self {
            FormSpan::Open(from) => (from.min(here), from.max(here)),
            FormSpan::Set(first, last) => (first, last),
        }
    }
}

impl Screen {
    /// Marks where a span of the form begins, then where it ends; after that, none.
    pub(super) fn mark_span(&mut self, song: &Song) {
        let letters = unrolled(song);
        let here = self.song_form.entry(letters.len());
        self.song_form.span = match self.song_form.span {
            // A form that has become shorter no longer has the span.
            Some(_) if self.song_form.span(letters.len()).is_none() => Some(FormSpan::Open(here)),
            None => Some(FormSpan::Open(here)),
            Some(open @ FormSpan::Open(_)) => {
                let (first, last) = open.ends(here);
                Some(FormSpan::Set(first, last))
            }
            Some(FormSpan::Set(..)) => None,
        };
        let name = |at: usize| {
            let letter = letters.get(at).map(ToString::to_string).unwrap_or_default();
            format!("entry {} ({letter})", at + 1)
        };
        self.say_with_keys(&match self.song_form.span {
            Some(FormSpan::Open(from)) => {
                format!(
                    "The span begins at {}: go to its last entry and press {{mark-span}}.",
                    name(from)
                )
            }
            Some(FormSpan::Set(first, last)) if first == last => {
                format!("The span is {}: {{play-form}} plays it alone.", name(first))
            }
            Some(FormSpan::Set(first, last)) => {
                format!(
                    "The span goes from {} to {}: {{play-form}} plays it.",
                    name(first),
                    name(last)
                )
            }
            None => "No span: {play-form} plays the form from the chosen entry.".to_string(),
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_span_has_its_ends_in_order() {
        assert_eq!(FormSpan::Open(3).ends(1), (1, 3));
        assert_eq!(FormSpan::Open(3).ends(5), (3, 5));
        assert_eq!(FormSpan::Set(2, 4).ends(0), (2, 4));
    }
}
