//! What the program says about its own keys: the help on the screen and the page of the manual.
//!
//! In: the table of actions. Out: lines of help, and the page as Markdown; a test compares it with
//! `docs/keys.md`.

use crate::action::Arrows;
use crate::input::Key;
use crate::keymap::{Binding, Keymap, Line as KeyLine, Need, Scene};
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

/// A part of the help, which has a heading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    /// About a scene.
    Of(Scene),
    /// About the lane under the notes, while the arrows are in it.
    Lane,
}

impl Part {
    fn title(self) -> &'static str {
        match self {
            Part::Lane => "The lane under the notes",
            Part::Of(scene) => {
                SCENES.iter().find(|(known, _)| *known == scene).map_or("", |(_, title)| title)
            }
        }
    }
}

/// What is explained under the heading of a part.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct About {
    /// The part.
    pub part: Part,
    /// The name of what is under the cursor, or the key of the line.
    pub name: String,
    /// What it is for, with the ids of actions in braces.
    pub sentence: String,
}

/// The columns of the keys' names.
pub const KEYS: usize = 14;

/// What everyone should read who hears loops for hours.
pub const HEARING: &str = "Loops repeat, sessions get long, and high levels can damage your \
    hearing for good. Start low, rest your ears every hour, and turn down if you notice ringing or \
    muffled sound. As a guide: at most 80 dB for 40 hours a week; every extra 3 dB halves the safe \
    time (WHO-ITU H.870; the same 3 dB for workplaces, from 85 dB for 8 hours a day: NIOSH 98-126). \
    The meters show levels in the program, in dB under full scale; they cannot show how loud it is \
    at your ears.";

/// Whose rules come first on a stage.
pub const GEAR: &str = "On a stage or in a hall the local rules for sound level, mains and \
    rigging come first: ask the house before you plug in.";

/// What the marks mean.
const MARKS: [&str; 19] = [
    "Each mark stands for a length of time: the line above the tracks says which, e.g. 1 mark = 1/16.",
    "A tall mark is a high note on a pitched track, and a hard stroke on a drum track.",
    "A line after a mark is a held note. A dot is a beat without a note.",
    "A ring is a note of the unfinished round: it becomes part of a pass at the seam, where the loop ends and starts again.",
    "Over the bars, (·) is a fermata: at the end of the beat under its dot the song waits until {tap} lets it go on. \
     It is (.) in ASCII, and in reverse while the song waits there.",
    "A ramp of tempo over the bars begins at rit. (slower) or accel. (faster) with its first tempo, and ends at its last \
     tempo. Where there is less room only the tempi, the word or an arrow is there.",
    "Without block characters, digits from 1 to 8 stand for heights and o for a ring.",
    "The number of the chosen track is in reverse; in ASCII it has a * beside it.",
    "a, m and s beside a name mean armed, muted and soloed. A capital letter is a section.",
    "In the levels, an arrow before a value means that a layer is moving it: the value is the present one.",
    "Layers are the passes of a track in this section; the newest is on top. 1/2 means that \
     1 of 2 layers is heard.",
    "1/16 60 % swing 58 groove human beside a track is its feel: grid, pull, swing, and whether it has a groove and \
     human variation. If there is no room, 1/16+ means that there is more than the grid.",
    "In the list of layers m means muted and s soloed. c means covered: where its marks are faint, a layer above \
     replaces it.",
    "On a drum track a key is called by its drum in General MIDI or, where room is short, by three letters: \
     HHc is Closed Hi-Hat. A key without a drum is called by its number.",
    "In the notes every row is a key, a tall mark is a hard stroke, and selected notes are in \
     reverse, with a digit from 1 to 8 for how hard. Notes lie where they are heard; a faint x shows where one was played, if an edit or \
     the feel has moved it.",
    "The chord in the head is the one that you hold on the armed track; in brackets it is the last one, until you play \
     again. A word on the line above the tracks says what keys play, if it is not their notes.",
    "The line under the tracks shows the level of the built-in sound and its left and right side, \
     from -48 dB to full scale; the stroke and the number show the recent peak.",
    "On the line of the ports, p50 and p99 show how late half of all notes and 99 in 100 were at \
     most. If messages are late or lost the line says so, until all is well again; the view of the ports shows more.",
    "The word limited means that the mix was too loud and the limiter turned it down: lower the \
     level.",
];

/// Rows for at least so many scenes are listed once, under a heading of their own.
const EVERYWHERE: usize = 20;

const SCENES: [(Scene, &str); 30] = [
    (Scene::Loop, "The loop"),
    (Scene::Layers, "The layers"),
    (Scene::Notes, "The notes"),
    (Scene::NoteEdits, "Editing notes"),
    (Scene::NoteSelects, "Selecting notes"),
    (Scene::Lanes, "What the lane shows"),
    (Scene::Ramp, "Drawing a ramp"),
    (Scene::Levels, "The levels"),
    (Scene::SongForm, "The form"),
    (Scene::SectionEdits, "Arranging a section"),
    (Scene::KeyBox, "Finding a key"),
    (Scene::Ports, "Ports and timing"),
    (Scene::Piano, "Piano mode"),
    (Scene::KeysBox, "What keys play"),
    (Scene::Form, "Boxes"),
    (Scene::Feel, "Setting the feel"),
    (Scene::Grooves, "Grooves"),
    (Scene::Sections, "Choosing a section"),
    (Scene::Sounds, "Choosing a sound"),
    (Scene::Finder, "Finding an action"),
    (Scene::Files, "Opening a song"),
    (Scene::Leave, "Leaving a song"),
    (Scene::Replace, "Replacing a file"),
    (Scene::Changed, "A file changed by another program"),
    (Scene::Comparison, "Comparing with the file"),
    (Scene::Exporting, "Cancelling an export"),
    (Scene::Rescue, "Restoring unsaved changes"),
    (Scene::Help, "Help"),
    (Scene::HelpSearch, "Searching the help"),
    (Scene::Tour, "The tour"),
];

const PIANO: &str = "Two rows of letters are a piano: white keys in the home row, black keys in \
    the row above. F, the key with the ridge, is C. With Shift a note is an accent. Keys on these rows \
    give no commands. Many terminals do not report when a key is released; then tap the keys, don't hold \
    them, and choose with {piano-length} how long a note lasts.";

const KEYS_PLAY: &str = "What a key sounds on the armed track: its own note; the nearest note of the key or of the chart's \
    chord, so that no note is wrong; or a whole chord with one finger. White keys play the chords of the key, C the \
    first, whatever the key is. What is heard is what is recorded. The letters of the piano and every input sound while \
    the box is open.";

/// What comes before the keys of a scene.
fn introduction(scene: Scene) -> Option<&'static str> {
    match scene {
        Scene::Piano => Some(PIANO),
        Scene::KeysBox => Some(KEYS_PLAY),
        _ => None,
    }
}

const OWN_KEYS: &str = "
## Keys of your own

`chaconne keys` lists every action with its id, its keys and the places where they work. A file of keys
gives actions other keys, place by place:

```text
{
    // All views, but not piano mode.
    \"views\": { \"record\": [\"F12\"], \"sound-up\": [\"Ctrl-U\"] },
    // The loop only; both keys mute.
    \"loop\": { \"mute\": [\"x\", \"Ctrl-X\"] },
    \"piano\": { \"undo\": [\"F10\"] },
}
```

The screen reads `keys.ron` in the folder `chaconne` of your configuration folder (on Linux
`~/.config/chaconne/keys.ron`, or below `$XDG_CONFIG_HOME`; on macOS below `~/Library/Application
Support`; on Windows below `%APPDATA%`), or the file given with `--keys`. The line of keys, the help, the
finder and the messages then name your keys. A key is written as this page writes it: a character, a name
such as `Space`, `PgUp` or `F5`, `Ctrl-` and a letter, or `Shift-` and an arrow. What is written replaces
all keys that the action had in that place. If a line is wrong, the program says which and what would be right: a file
given with `--keys` is then refused, and with a wrong `keys.ron` the screen opens with its own keys.

`Ctrl-C`, `Ctrl-Z` and `Ctrl-L` always work, and questions keep the keys that they show. A key cannot
mean two things in one place, a box in which you type keeps its characters, and in piano mode the two
rows of letters play.
";

const NOT_SAVED: &str = "Not saved with the song";

const UNSAVED: &str = "The song file does not keep these settings: new pass, keep rounds, click, \
    count-in, solo, the armed track, and the level of the sound. Every song you open starts with \
    new pass: add, keep rounds: all, click: recording, count-in: 1 bar.";

const HOLDING: &str = "Tap the keys: every press counts, however fast. Holding a key down repeats it \
    only for moving, pages, zoom, tempo, octave, velocity, and turning the sound down.";

/// The rows of a page of the help on a screen of so many rows.
pub fn page(rows: u16) -> usize {
    usize::from(rows).saturating_sub(3).max(1)
}

/// The line of the heading of a part, counted from 0.
pub fn line_of(part: Part, columns: u16, keymap: Keymap, about: Option<&About>) -> usize {
    let is_title = |line: &Line| *line == Line::Heading(part.title());
    help(columns, keymap, about).iter().position(is_title).unwrap_or(0)
}

/// The help in lines of at most `columns`, with an explanation of what is under the cursor.
pub fn help(columns: u16, keymap: Keymap, about: Option<&About>) -> Vec<Line> {
    let columns = usize::from(columns).saturating_sub(4).max(20);
    let mut lines = Vec::new();
    for (scene, title) in SCENES {
        lines.push(Line::Heading(title));
        if let Some(words) = introduction(scene) {
            lines.extend(text::wrap(&keymap.fill(words), columns).into_iter().map(Line::Text));
        }
        explain_cursor(about, Part::Of(scene), keymap, columns, &mut lines);
        let all = lines_of(scene, keymap);
        let (lane, rest): (Vec<_>, Vec<_>) = all.iter().partition(|line| is_of_lane(line));
        rest.iter().for_each(|line| explain(line, &all, keymap, columns, &mut lines));
        if let Some(shared) = shared_with_loop(scene, keymap, Key::to_string) {
            lines.extend(text::wrap(&shared, columns).into_iter().map(Line::Text));
        }
        lines.push(Line::Blank);
        if !lane.is_empty() {
            lines.push(Line::Heading(Part::Lane.title()));
            explain_cursor(about, Part::Lane, keymap, columns, &mut lines);
            lane.iter().for_each(|line| explain(line, &all, keymap, columns, &mut lines));
            lines.push(Line::Blank);
        }
        if scene == Scene::Loop {
            lines.push(Line::Heading("Marks"));
            for sentence in MARKS {
                let sentence = keymap.fill(sentence);
                lines.extend(text::wrap(&sentence, columns).into_iter().map(Line::Text));
            }
            lines.push(Line::Blank);
            lines.push(Line::Heading(NOT_SAVED));
            lines.extend(text::wrap(UNSAVED, columns).into_iter().map(Line::Text));
            lines.push(Line::Blank);
        }
    }
    lines.push(Line::Heading("Everywhere"));
    lines.extend(text::wrap(HOLDING, columns).into_iter().map(Line::Text));
    let all = everywhere(keymap);
    all.iter().for_each(|line| explain(line, &all, keymap, columns, &mut lines));
    lines.push(Line::Blank);
    lines.push(Line::Heading("Hearing and gear"));
    for sentence in [HEARING, GEAR] {
        lines.extend(text::wrap(sentence, columns).into_iter().map(Line::Text));
    }
    lines
}

/// Whether a line is about the lane under the notes.
fn is_of_lane(line: &KeyLine) -> bool {
    line.first().need == Need::Arrows(Arrows::Lane)
}

/// What is under the cursor, if it belongs to this part.
fn explain_cursor(
    about: Option<&About>,
    part: Part,
    keymap: Keymap,
    columns: usize,
    lines: &mut Vec<Line>,
) {
    if let Some(about) = about.filter(|about| about.part == part) {
        let scene = match part {
            Part::Of(scene) => scene,
            Part::Lane => Scene::Notes,
        };
        tell(about.name.clone(), &keymap.fill_in(scene, &about.sentence), columns, lines);
        lines.push(Line::Blank);
    }
}

/// A line of the table among `all` lines of its scene, as lines of the help.
fn explain(line: &KeyLine, all: &[KeyLine], keymap: Keymap, columns: usize, lines: &mut Vec<Line>) {
    let sentence = keymap.fill(line.first().sentence);
    let sentence = match when(line, all) {
        None => sentence,
        Some(when) => format!("{} (when {when}).", sentence.trim_end_matches('.')),
    };
    tell(line.key_words(Key::to_string), &sentence, columns, lines);
}

/// When a line applies, if one of its keys does several things and the sentence does not say it.
fn when(line: &KeyLine, all: &[KeyLine]) -> Option<&'static str> {
    let row = line.first();
    let shares = |other: &KeyLine| {
        *other.first() != *row && other.keys().any(|key| line.keys().any(|own| own == key))
    };
    let says = row.need == Need::Nothing || row.sentence.ends_with(").");
    (!says && all.iter().any(shares)).then(|| row.need.when())
}

/// A name and what it means, as lines of the help.
fn tell(name: String, sentence: &str, columns: usize, lines: &mut Vec<Line>) {
    // A long name has a line of its own.
    let is_long = text::width(&name) >= KEYS;
    let mut parts = text::wrap(sentence, columns.saturating_sub(KEYS)).into_iter();
    let first = if is_long { String::new() } else { parts.next().unwrap_or_default() };
    lines.push(if is_long { Line::Text(name) } else { Line::Key(name, first) });
    lines.extend(parts.map(Line::More));
}

/// The lines of the table for a scene. What it shares with the loop is listed there only.
fn lines_of(scene: Scene, keymap: Keymap) -> Vec<KeyLine> {
    let listed = move |binding: &&Binding| {
        let shared = scene != Scene::Loop && binding.scenes.contains(&Scene::Loop);
        !shared && binding.scenes.len() < EVERYWHERE
    };
    KeyLine::join(keymap.here(scene).filter(listed))
}

/// The keys of a scene that are explained with those of the loop, and their labels, in a sentence; `None` if
/// there are none. `write` gives the name of a key.
fn shared_with_loop(
    scene: Scene,
    keymap: Keymap,
    write: impl Fn(&Key) -> String,
) -> Option<String> {
    let listed = |binding: &&Binding| {
        scene != Scene::Loop
            && binding.scenes.contains(&Scene::Loop)
            && binding.scenes.len() < EVERYWHERE
    };
    let entry = |line: KeyLine| {
        let keys: Vec<String> = line.keys().map(&write).collect();
        format!("{} {}", keys.join(" "), line.first().label)
    };
    let lines = KeyLine::join(keymap.here(scene).filter(listed));
    let words: Vec<String> = lines.into_iter().map(entry).collect();
    (!words.is_empty()).then(|| format!("As in the loop: {}.", words.join(", ")))
}

fn everywhere(keymap: Keymap) -> Vec<KeyLine> {
    KeyLine::join(keymap.rows().filter(|binding| binding.scenes.len() >= EVERYWHERE))
}

/// The manual's page of keys, as Markdown.
pub fn keys_markdown() -> String {
    let keymap = Keymap::default();
    let mut page = String::from(
        "# Keys\n\n\
         This page is generated from the table of actions in the program. The line of keys at the \
         foot of\nthe screen and the help behind `?` come from the same table. A test fails when \
         this page is out of\ndate.\n",
    );
    for (scene, title) in SCENES {
        let _ = write!(page, "\n## {title}\n\n");
        if let Some(words) = introduction(scene) {
            let _ = write!(page, "{}\n\n", text::wrap(&keymap.fill(words), 100).join("\n"));
        }
        let all = lines_of(scene, keymap);
        let (lane, rest): (Vec<_>, Vec<_>) = all.into_iter().partition(is_of_lane);
        tabulate(&rest, &mut page);
        if let Some(shared) = shared_with_loop(scene, keymap, |key| format!("`{key}`")) {
            let _ = writeln!(page, "\n{}", text::wrap(&shared, 100).join("\n"));
        }
        if !lane.is_empty() {
            let _ = write!(page, "\n## {}\n\n", Part::Lane.title());
            tabulate(&lane, &mut page);
        }
    }
    let _ = write!(page, "\n## Everywhere\n\n{}\n\n", text::wrap(HOLDING, 100).join("\n"));
    tabulate(&everywhere(keymap), &mut page);
    page.push_str(OWN_KEYS);
    let _ = write!(page, "\n## {NOT_SAVED}\n\n{}\n", text::wrap(UNSAVED, 100).join("\n"));
    page.push_str("\n## Marks\n\n");
    for sentence in MARKS {
        let _ = writeln!(page, "- {}", keymap.fill(sentence));
    }
    let caution = [HEARING, GEAR].map(|text| text::wrap(text, 100).join("\n"));
    let _ = write!(page, "\n## Hearing and gear\n\n{}\n\n{}\n", caution[0], caution[1]);
    page
}

/// Lines of the table as a table of Markdown.
fn tabulate(lines: &[KeyLine], page: &mut String) {
    page.push_str("| key | what it does | when |\n| --- | --- | --- |\n");
    for line in lines {
        let keys: Vec<String> = line.keys().map(|key| format!("`{key}`")).collect();
        let does = Keymap::default().fill(line.first().sentence);
        let when = line.first().need.when();
        let _ = writeln!(page, "| {} | {does} | {when} |", keys.join(" "));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::keymap::table;

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
        let (lines, page) = (help(1000, Keymap::default(), None), keys_markdown());
        for binding in table() {
            let sentence = Keymap::default().fill(binding.sentence);
            let starts = |text: &str| text.starts_with(sentence.trim_end_matches('.'));
            // A long name has a line of its own.
            let row = |pair: &[Line]| match pair {
                [Line::Key(keys, text), _] if starts(text) => Some(keys.clone()),
                [Line::Text(keys), Line::More(text)] if starts(text) => Some(keys.clone()),
                _ => None,
            };
            let rows: Vec<String> = lines.windows(2).filter_map(row).collect();
            for key in binding.keys {
                let word = key.to_string();
                let shown = |keys: &String| {
                    keys.split(' ').any(|known| known == word)
                        || table().any(|other| !other.shown.is_empty() && other.shown == keys)
                };
                assert!(rows.iter().any(shown), "{word}: {}", binding.sentence);
                assert!(page.contains(&format!("`{word}`")), "{word}");
            }
            assert!(page.contains(&sentence), "{}", binding.sentence);
        }
    }

    #[test]
    fn the_help_says_when_a_key_does_what_if_it_does_several_things() {
        let lines = help(200, Keymap::default(), None);
        let all: Vec<String> = lines
            .into_iter()
            .filter_map(|line| match line {
                Line::Key(keys, text) if keys == ", ." => Some(text),
                _ => None,
            })
            .collect();
        let of = |words: &str| all.iter().filter(|text| text.contains(words)).count();
        assert_eq!(of("the previous or next note. ("), 0);
        for when in ["move the cursor", "move notes", "change lengths", "are in the lane"] {
            assert_eq!(of(&format!("(when the arrows {when}).")), 1, "{all:?}");
        }
    }

    #[test]
    fn help_fits_its_columns() {
        for columns in [40, 80, 120] {
            for line in help(columns, Keymap::default(), None) {
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
    fn the_example_of_a_file_of_keys_can_be_read() {
        let example = OWN_KEYS.split("```").nth(1).unwrap().trim_start_matches("text");
        let keymap = Keymap::read(example, crate::Keyboard::Us).unwrap();
        assert_eq!(keymap.fill("{record} {mute}"), "F12 x");
    }

    #[test]
    fn every_view_has_all_its_keys_in_its_own_part_of_the_help() {
        for view in crate::screen::View::ALL {
            let (scene, keymap) = (view.scene(), Keymap::default());
            let lines = help(100, keymap, None);
            let from = line_of(Part::Of(scene), 100, keymap, None);
            let lane = Line::Heading(Part::Lane.title());
            let part = lines[from + 1..]
                .iter()
                .take_while(|line| !matches!(line, Line::Heading(_)) || **line == lane);
            let words: Vec<String> = part
                .map(|line| match line {
                    Line::Key(keys, text) => format!("{keys} {text}"),
                    Line::Text(text) | Line::More(text) => text.clone(),
                    Line::Heading(_) | Line::Blank => String::new(),
                })
                .collect();
            let words = words.join(" ");
            for row in keymap.here(scene).filter(|row| row.scenes.len() < EVERYWHERE) {
                let is_told = words.contains(row.label)
                    || words.contains(keymap.fill(row.sentence).trim_end_matches('.'));
                assert!(is_told, "{view:?}: {}", row.label);
            }
        }
    }

    #[test]
    fn the_help_warns_of_harm_to_hearing() {
        let text: Vec<String> = help(80, Keymap::default(), None)
            .into_iter()
            .filter_map(|line| if let Line::Text(text) = line { Some(text) } else { None })
            .collect();
        let text = text.join(" ");
        for warning in ["can damage your hearing for good", "every extra 3 dB halves the safe time"]
        {
            assert!(text.contains(warning), "{warning}");
        }
        assert!(keys_markdown().contains("local rules"));
    }
}
