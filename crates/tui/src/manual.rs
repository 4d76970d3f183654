//! What the program says of its own keys: the help on the screen and the page of the manual.
//!
//! In: the table of keys. Out: lines of help, and the page as Markdown; `docs/keys.md` must be
//! the same, and a test compares them.

use crate::input::Key;
use crate::keymap::{Binding, Scene, TABLE, here};
use crate::text;
use std::fmt::Write;

/// A line of the help.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Line {
    /// A heading.
    Heading(&'static str),
    /// A key and what it does.
    Key(String, String),
    /// The rest of a sentence, under the one before.
    More(String),
    /// Plain text.
    Text(String),
    /// Nothing.
    Blank,
}

/// The columns of the keys' names.
pub const KEYS: usize = 14;

/// Hearing: what every page that makes sound loop owes its reader.
pub const HEARING: &str = "Loops repeat, and long sessions at high level can harm hearing for \
    good. Start low, rest your ears every hour, and turn down if you notice ringing or muffled \
    sound. As a guide: 80 dB for 40 hours a week; every 3 dB more halves the time (WHO-ITU H.870; the \
    same 3 dB for workplaces, from 85 dB for 8 hours a day: NIOSH 98-126). The meters tell levels in \
    the program, in dB under full scale; how loud it is at the ear they cannot tell.";

/// Gear: who has the say.
pub const GEAR: &str = "On a stage or in a hall the local rules for sound level, mains and \
    rigging come first: ask the house before you plug in.";

/// What the marks mean.
const MARKS: [&str; 9] = [
    "Each mark stands for a sixteenth, an eighth or a quarter, as the rule above the tracks says.",
    "A tall mark is a high note on a pitched track, and a hard stroke on a drum track.",
    "A line after a mark is a note that is held. A dot is a beat on which nothing sounds.",
    "A ring is a note of the unfinished round: it becomes a pass at the seam.",
    "Where there are no blocks to draw with, digits from 1 to 8 stand for heights, o for a ring.",
    "A, M and S beside a name stand for armed, muted and soloed; - stands for not.",
    "Layers are the passes that lie on a track in this section; the newest is on top.",
    "On the rule under the tracks lie the built-in sound's level and its two sides, from -48 dB to \
     full scale; the stroke and the number are the highest peak of the last moment.",
    "The word limited says that it was louder than there is room for, and was held back: lower the level.",
];

/// What holds in nearly every scene is told once.
const EVERYWHERE: usize = 6;

const SCENES: [(Scene, &str); 8] = [
    (Scene::Sketch, "Sketch"),
    (Scene::Piano, "Piano mode"),
    (Scene::Form, "Forms"),
    (Scene::Grids, "Choice of a grid"),
    (Scene::Jump, "Choice of a section"),
    (Scene::Sounds, "Choice of a sound"),
    (Scene::Ask, "Question before a song is left"),
    (Scene::Help, "Help"),
];

const PIANO: &str = "Two rows of letters are a piano: white keys in the row of the home keys, \
    black keys in the row above. The key with the ridge under the left first finger (F) is C. \
    Letters that play a note keep their other meaning with Shift. Where the terminal does not \
    tell when a key is let go, a note lasts 0.2 seconds: tap the keys, do not hold them.";

/// The keys of a line of the table, as written.
pub fn keys_of(binding: &Binding) -> String {
    if !binding.shown.is_empty() {
        return binding.shown.to_string();
    }
    binding.keys.iter().map(Key::to_string).collect::<Vec<_>>().join(" ")
}

/// The rows of a page of the help on a screen of so many rows.
pub fn page(rows: u16) -> usize {
    usize::from(rows).saturating_sub(3).max(1)
}

/// The help in lines of at most `columns`.
pub fn help(columns: u16) -> Vec<Line> {
    let columns = usize::from(columns).saturating_sub(4).max(20);
    let mut lines = Vec::new();
    for (scene, title) in SCENES {
        lines.push(Line::Heading(title));
        if scene == Scene::Piano {
            lines.extend(text::wrap(PIANO, columns).into_iter().map(Line::Text));
        }
        lines_of(scene).for_each(|binding| explain(binding, columns, &mut lines));
        lines.push(Line::Blank);
        if scene == Scene::Sketch {
            lines.push(Line::Heading("Marks"));
            for sentence in MARKS {
                lines.extend(text::wrap(sentence, columns).into_iter().map(Line::Text));
            }
            lines.push(Line::Blank);
        }
    }
    lines.push(Line::Heading("Everywhere"));
    everywhere().for_each(|binding| explain(binding, columns, &mut lines));
    lines.push(Line::Blank);
    lines.push(Line::Heading("Hearing and gear"));
    for sentence in [HEARING, GEAR] {
        lines.extend(text::wrap(sentence, columns).into_iter().map(Line::Text));
    }
    lines
}

/// A line of the table, as lines of the help.
fn explain(binding: &Binding, columns: usize, lines: &mut Vec<Line>) {
    let mut parts = text::wrap(binding.sentence, columns.saturating_sub(KEYS)).into_iter();
    lines.push(Line::Key(keys_of(binding), parts.next().unwrap_or_default()));
    lines.extend(parts.map(Line::More));
}

/// The lines of the table for a scene. What piano mode shares with the sketch is told once.
fn lines_of(scene: Scene) -> impl Iterator<Item = &'static Binding> {
    let told = move |binding: &&Binding| {
        let shared = scene == Scene::Piano && binding.scenes.contains(&Scene::Sketch);
        !shared && binding.scenes.len() < EVERYWHERE
    };
    here(scene).filter(told)
}

fn everywhere() -> impl Iterator<Item = &'static Binding> {
    TABLE.iter().filter(|binding| binding.scenes.len() >= EVERYWHERE)
}

/// The manual's page of keys, as Markdown.
pub fn keys_markdown() -> String {
    let mut page = String::from(
        "# Keys\n\n\
         This page is made from the table of keys in the program, which also feeds the line of \
         keys at the\nfoot of the screen and the help behind `?`. A test fails when it is stale.\n",
    );
    for (scene, title) in SCENES {
        let _ = write!(page, "\n## {title}\n\n");
        if scene == Scene::Piano {
            let _ = write!(page, "{}\n\n", text::wrap(PIANO, 100).join("\n"));
        }
        tabulate(lines_of(scene), &mut page);
    }
    page.push_str("\n## Everywhere\n\n");
    tabulate(everywhere(), &mut page);
    page.push_str("\n## Marks\n\n");
    for sentence in MARKS {
        let _ = writeln!(page, "- {sentence}");
    }
    let caution = [HEARING, GEAR].map(|text| text::wrap(text, 100).join("\n"));
    let _ = write!(page, "\n## Hearing and gear\n\n{}\n\n{}\n", caution[0], caution[1]);
    page
}

/// Lines of the table as a table of Markdown.
fn tabulate(bindings: impl Iterator<Item = &'static Binding>, page: &mut String) {
    page.push_str("| key | what it does | when |\n| --- | --- | --- |\n");
    for binding in bindings {
        let keys: Vec<String> = binding.keys.iter().map(|key| format!("`{key}`")).collect();
        let (does, when) = (binding.sentence, binding.need.when());
        let _ = writeln!(page, "| {} | {does} | {when} |", keys.join(" "));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_of_keys_is_fresh() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/keys.md");
        let page = std::fs::read_to_string(path).unwrap_or_default();
        let fresh = keys_markdown();
        if std::env::var_os("CHACONNE_WRITE_DOCS").is_some() {
            std::fs::write(path, &fresh).unwrap();
        } else {
            assert!(
                page == fresh,
                "docs/keys.md is stale: run the test with CHACONNE_WRITE_DOCS=1"
            );
        }
    }

    #[test]
    fn every_key_is_in_the_help() {
        let lines = help(80);
        for binding in TABLE {
            let shown =
                |line: &Line| matches!(line, Line::Key(keys, _) if *keys == keys_of(binding));
            assert!(lines.iter().any(shown), "{}", binding.sentence);
        }
    }

    #[test]
    fn help_fits_its_columns() {
        for columns in [40, 80, 120] {
            for line in help(columns) {
                let wide = match &line {
                    Line::Key(_, text) | Line::More(text) => KEYS + text::width(text),
                    Line::Text(text) => text::width(text),
                    Line::Heading(text) => text::width(text),
                    Line::Blank => 0,
                };
                assert!(wide <= usize::from(columns) - 4, "{columns}: {line:?}");
            }
        }
    }

    #[test]
    fn the_help_warns_of_harm_to_hearing() {
        let text: Vec<String> = help(80)
            .into_iter()
            .filter_map(|line| if let Line::Text(text) = line { Some(text) } else { None })
            .collect();
        assert!(text.join(" ").contains("can harm hearing"));
        assert!(keys_markdown().contains("local rules"));
    }
}
