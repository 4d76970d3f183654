//! Colours and signs, in one place.
//!
//! In: the options and whether the background is light. Out: styles by what they mean, and the
//! signs to draw with. No colour carries a meaning alone: each meaning also has a word, a letter, a
//! place or a shape. Track colours only make neighbours easy to tell apart.
//!
//! The hues are those of Okabe and Ito, "Color Universal Design" (2008), by the nearest of the 256
//! colours; on a light background, in shades dark enough to see.

use crate::options::{Colours, Glyphs, Options};
use ratatui::style::{Color, Modifier, Style};

/// Track colours on a dark background: sky blue, orange, bluish green, reddish purple, yellow.
const ON_DARK: [u8; 5] = [74, 214, 36, 175, 227];
/// Track colours on a light background: darker blue, bluish green, reddish purple and vermillion.
const ON_LIGHT: [u8; 4] = [25, 29, 133, 130];
/// Track colours of a terminal with sixteen colours.
const SIXTEEN: [Color; 4] = [Color::Cyan, Color::Yellow, Color::Green, Color::Magenta];

/// Styles by meaning.
#[derive(Debug, Clone, Copy)]
pub struct Palette {
    colours: Colours,
    light: bool,
    /// The signs to draw with.
    pub signs: Signs,
}

impl Palette {
    /// The palette for a terminal.
    pub fn new(options: &Options, light: bool) -> Palette {
        Palette { colours: options.colours, light, signs: Signs::of(options.glyphs) }
    }

    /// Plain text.
    pub fn text(&self) -> Style {
        Style::new()
    }

    /// Captions, and anything that is off.
    pub fn faint(&self) -> Style {
        Style::new().add_modifier(Modifier::DIM)
    }

    /// Important text.
    pub fn strong(&self) -> Style {
        Style::new().add_modifier(Modifier::BOLD)
    }

    /// A state that is on.
    pub fn on(&self) -> Style {
        Style::new().add_modifier(Modifier::BOLD | Modifier::REVERSED)
    }

    /// Recording, and errors; a word always says which.
    pub fn alarm(&self) -> Style {
        let hue = match (self.colours, self.light) {
            (Colours::Many, _) => Style::new().fg(Color::Indexed(166)),
            (Colours::Sixteen, _) => Style::new().fg(Color::Red),
            (Colours::None, _) => Style::new(),
        };
        hue.add_modifier(Modifier::BOLD)
    }

    /// Recording in progress.
    pub fn alarm_on(&self) -> Style {
        self.alarm().add_modifier(Modifier::REVERSED)
    }

    /// The marks of the track at a place in the list.
    pub fn track(&self, place: usize) -> Style {
        match (self.colours, self.light) {
            (Colours::None, _) => Style::new(),
            (Colours::Sixteen, _) => Style::new().fg(SIXTEEN[place % SIXTEEN.len()]),
            (Colours::Many, true) => {
                Style::new().fg(Color::Indexed(ON_LIGHT[place % ON_LIGHT.len()]))
            }
            (Colours::Many, false) => {
                Style::new().fg(Color::Indexed(ON_DARK[place % ON_DARK.len()]))
            }
        }
    }
}

/// The signs to draw with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Signs {
    /// Heights of a struck note, low to high.
    pub struck: [char; 8],
    /// A cell of a meter filled from the left, by eighths. A set without such signs shows a full
    /// cell or the rule.
    pub filled: [char; 8],
    /// A note that is held.
    pub held: char,
    /// A note of the unfinished round.
    pub fresh: char,
    /// Where a note was played that is heard elsewhere.
    pub played: char,
    /// A point of a controller.
    pub point: char,
    /// An empty beat.
    pub beat: char,
    /// A bar line.
    pub bar: char,
    /// A rule across the screen, and the top and bottom of a box.
    pub rule: char,
    /// The side of a box.
    pub side: char,
    /// The corners of a box: top left, top right, bottom left, bottom right.
    pub corners: [char; 4],
    /// The playhead.
    pub playhead: char,
    /// Marks the chosen item; a blank if reverse video is enough.
    pub chosen: char,
    /// Points from one section to the next.
    pub arrow: char,
    /// Shows that text was cut.
    pub cut: char,
    /// The names of the arrow keys: up, down, left, right.
    pub arrows: [&'static str; 4],
}

impl Signs {
    /// The signs of a set.
    pub fn of(glyphs: Glyphs) -> Signs {
        let ascii = Signs {
            struck: ['1', '2', '3', '4', '5', '6', '7', '8'],
            filled: ['-', '-', '-', '#', '#', '#', '#', '#'],
            held: '-',
            fresh: 'o',
            played: 'x',
            point: 'o',
            beat: '.',
            bar: '|',
            rule: '-',
            side: '|',
            corners: ['+'; 4],
            playhead: 'v',
            chosen: '*',
            arrow: '>',
            cut: '~',
            arrows: ["Up", "Down", "Left", "Right"],
        };
        let console = Signs {
            filled: ['─', '─', '─', '█', '█', '█', '█', '█'],
            held: '─',
            point: '●',
            beat: '·',
            bar: '│',
            rule: '─',
            side: '│',
            corners: ['┌', '┐', '└', '┘'],
            playhead: '▼',
            chosen: ' ',
            arrow: '→',
            ..ascii
        };
        match glyphs {
            Glyphs::Ascii => ascii,
            Glyphs::Console => console,
            Glyphs::Full => Signs {
                struck: ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'],
                filled: ['▏', '▎', '▍', '▌', '▋', '▊', '▉', '█'],
                fresh: '○',
                cut: '…',
                arrows: ["↑", "↓", "←", "→"],
                ..console
            },
        }
    }

    /// The sign of a struck note of a height 0..=7.
    pub fn height(&self, height: u8) -> char {
        self.struck[usize::from(height.min(7))]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ascii_signs_are_ascii() {
        let signs = Signs::of(Glyphs::Ascii);
        let drawn = [
            signs.held,
            signs.fresh,
            signs.played,
            signs.point,
            signs.beat,
            signs.bar,
            signs.rule,
            signs.cut,
        ];
        assert!(drawn.iter().chain(&signs.struck).chain(&signs.corners).all(char::is_ascii));
        assert!(signs.filled.iter().all(char::is_ascii));
        assert!(signs.playhead.is_ascii() && signs.chosen.is_ascii() && signs.side.is_ascii());
        assert!(signs.arrow.is_ascii() && signs.arrows.iter().all(|name| name.is_ascii()));
    }

    #[test]
    fn every_sign_takes_one_column() {
        for glyphs in [Glyphs::Full, Glyphs::Console, Glyphs::Ascii] {
            let signs = Signs::of(glyphs);
            let drawn = [
                signs.held,
                signs.fresh,
                signs.point,
                signs.beat,
                signs.bar,
                signs.rule,
                signs.side,
                signs.playhead,
                signs.chosen,
                signs.arrow,
                signs.cut,
            ];
            let sets = signs.struck.iter().chain(&signs.filled).chain(&signs.corners);
            for sign in drawn.iter().chain(sets) {
                assert_eq!(crate::text::width(&sign.to_string()), 1, "{sign}");
            }
        }
    }

    #[test]
    fn without_colour_states_still_differ_from_plain_text() {
        let options = Options { colours: Colours::None, ..Options::from_environment(|_| None) };
        let palette = Palette::new(&options, false);
        assert_ne!(palette.alarm_on(), palette.text());
        assert_ne!(palette.on(), palette.text());
        assert_eq!(palette.track(0), palette.track(1));
    }
}
