//! A value in the text that has not been read yet: its position and its spelling.

use ron::Options;
use ron::extensions::Extensions;
use ron::value::RawValue;
use serde::{Deserialize, Deserializer};

/// How deep brackets may be nested. A song needs about a third of it.
pub(super) const DEEPEST: usize = 40;

/// The parser's settings: an optional field is written as its plain value, without `Some`.
pub(super) fn options() -> Options {
    Options::default()
        .with_default_extension(Extensions::IMPLICIT_SOME)
        .with_recursion_limit(DEEPEST)
}

/// The slice of the text that contains one value and the comments around it. Its address gives its
/// position in the whole text.
#[derive(Debug, Clone, Copy)]
pub(super) struct Leaf<'a>(&'a str);

impl<'de: 'a, 'a> Deserialize<'de> for Leaf<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        <&'a RawValue>::deserialize(deserializer).map(|raw| Leaf(raw.get_ron()))
    }
}

impl<'a> Leaf<'a> {
    /// The slice itself.
    pub(super) fn slice(self) -> &'a str {
        self.0
    }

    /// The value as it is spelt, without the comments before it. Numbers and flags are also without
    /// the comments after them.
    pub(super) fn spelt(self) -> &'a str {
        let value = after_comments(self.0);
        if value.starts_with(['"', 'r', '[', '(', '{']) {
            return value.trim_end();
        }
        value.split(|letter: char| letter.is_whitespace() || letter == '/').next().unwrap_or(value)
    }

    /// The byte offset of the value in `text`, of which this leaf is a slice.
    pub(super) fn offset(self, text: &str) -> usize {
        let start = self.0.as_ptr() as usize + (self.0.len() - after_comments(self.0).len());
        start.saturating_sub(text.as_ptr() as usize).min(text.len())
    }
}

/// The rest of `text` after any white space and comments at its start.
fn after_comments(text: &str) -> &str {
    let mut rest = text.trim_start();
    loop {
        let after = if rest.starts_with("//") {
            rest.find('\n').map_or("", |end| &rest[end..])
        } else if rest.starts_with("/*") {
            after_block(rest)
        } else {
            return rest;
        };
        rest = after.trim_start();
    }
}

/// The rest of `text` after the block comment at its start. Block comments can be nested.
fn after_block(text: &str) -> &str {
    let mut depth = 0;
    let mut rest = text;
    while let Some(at) = rest.find(['/', '*']) {
        let mark = &rest[at..];
        let step = match mark.get(..2) {
            Some("/*") => {
                depth += 1;
                2
            }
            Some("*/") => {
                depth -= 1;
                2
            }
            _ => 1,
        };
        rest = &mark[step..];
        if depth == 0 {
            break;
        }
    }
    rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn comments_around_a_value_are_not_part_of_it() {
        for (slice, spelt) in [
            ("36", "36"),
            (" 36 // kick\n", "36"),
            ("/* a /* b */ c */ 36/* d */", "36"),
            ("// a\n // b\n true // c", "true"),
            ("/**/ \"x // y\" ", "\"x // y\""),
            ("// é\n[1, 2]", "[1, 2]"),
        ] {
            let leaf = Leaf(slice);
            assert_eq!(leaf.spelt(), spelt, "{slice}");
            assert!(slice[leaf.offset(slice)..].starts_with(spelt), "{slice}");
        }
    }

    #[test]
    fn a_leaf_knows_its_place_in_the_whole_text() {
        let text = "(a: 1, b: /* two */ 2)";
        #[derive(Deserialize)]
        struct Two<'a> {
            #[serde(borrow)]
            a: Leaf<'a>,
            #[serde(borrow)]
            b: Leaf<'a>,
        }
        let two: Two = options().from_str(text).unwrap();
        assert_eq!((two.a.offset(text), two.b.offset(text)), (4, 20));
    }
}
