//! Colours and signs, in one place.
//!
//! In: the options and whether the background is light. Out: styles by what they mean, and the
//! signs to draw with. No colour carries a meaning alone: each meaning also has a word, a letter, a
//! place or a shape. Track colours only make neighbours easy to tell apart.
//!
//! The hues on a dark background are those of Okabe and Ito, "Color Universal Design" (2008), by the nearest of the 256
//! colours. On a light background they are dark enough to read, and chosen so that the least difference
//! between two of them is as large as it can be for every kind of colour vision.

use crate::options::{Colours, Glyphs, Options};
use ratatui::style::{Color, Modifier, Style};

/// Track colours on a dark background: sky blue, orange, bluish green, reddish purple, yellow.
const ON_DARK: [u8; 5] = [74, 214, 36, 175, 227];
/// Track colours on a light background: violet, bluish green, purple, navy; all far from that of recording.
const ON_LIGHT: [u8; 4] = [57, 29, 97, 17];
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
    /// A fermata; its dot is on its beat.
    pub fermata: [char; 3],
    /// Points from one section to the next.
    pub arrow: char,
    /// Shows that text was cut.
    pub cut: char,
    /// Show that a list goes on above and below.
    pub more: [char; 2],
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
            fermata: ['(', '.', ')'],
            arrow: '>',
            cut: '~',
            more: ['^', 'v'],
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
            fermata: ['(', '·', ')'],
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
                more: ['↑', '↓'],
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
        assert!(
            drawn
                .iter()
                .chain(&signs.struck)
                .chain(&signs.corners)
                .chain(&signs.fermata)
                .all(char::is_ascii)
        );
        assert!(signs.filled.iter().all(char::is_ascii));
        assert!(signs.playhead.is_ascii() && signs.chosen.is_ascii() && signs.side.is_ascii());
        assert!(signs.more.iter().all(char::is_ascii));
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

    /// How the eye mixes linear red, green and blue: with all cones, without long-wave ones
    /// (protanopia), middle-wave ones (deuteranopia), short-wave ones (tritanopia). From G. M. Machado,
    /// M. M. Oliveira and L. A. F. Fernandes, "A physiologically-based model for simulation of color
    /// vision deficiency", IEEE Transactions on Visualization and Computer Graphics 15(6), 2009, severity
    /// 1.0; from memory.
    const EYES: [[[f64; 3]; 3]; 4] = [
        [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ],
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ],
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ],
    ];

    /// A colour of the 6 by 6 by 6 cube as linear red, green and blue (IEC 61966-2-1, sRGB).
    fn linear(index: u8) -> [f64; 3] {
        let step = |step: u8| if step == 0 { 0.0 } else { f64::from(55 + 40 * step) / 255.0 };
        let index = index - 16;
        [index / 36, index / 6 % 6, index % 6].map(|each| match step(each) {
            low @ ..=0.04045 => low / 12.92,
            high => ((high + 0.055) / 1.055).powf(2.4),
        })
    }

    /// A colour as an eye sees it, in CIE L*a*b* (CIE 15, with the white point D65).
    fn lab(index: u8, eye: &[[f64; 3]; 3]) -> [f64; 3] {
        let mix = |rows: &[[f64; 3]; 3], of: [f64; 3]| {
            rows.map(|row| std::iter::zip(row, of).map(|(part, value)| part * value).sum::<f64>())
        };
        const XYZ: [[f64; 3]; 3] =
            [[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]];
        let seen = mix(eye, linear(index)).map(|value| value.clamp(0.0, 1.0));
        let [x, y, z] = mix(&XYZ, seen);
        let root = |t: f64| if t > 0.008856 { t.cbrt() } else { 7.787 * t + 16.0 / 116.0 };
        let [x, y, z] = [x / 0.95047, y, z / 1.08883].map(root);
        [116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)]
    }

    /// The least difference between two of some colours, over all eyes (CIE76).
    fn least(colours: &[u8]) -> f64 {
        let pairs = colours
            .iter()
            .enumerate()
            .flat_map(|(index, one)| colours[..index].iter().map(move |other| (*one, *other)));
        let apart = pairs.flat_map(|(one, other)| {
            EYES.iter().map(move |eye| {
                let both = std::iter::zip(lab(one, eye), lab(other, eye));
                both.map(|(a, b)| (a - b).powi(2)).sum::<f64>().sqrt()
            })
        });
        apart.fold(f64::INFINITY, f64::min)
    }

    #[test]
    fn no_track_colour_is_near_another_or_that_of_recording_for_any_eye() {
        const ALARM: u8 = 166;
        // A difference of 2.3 is just noticeable (M. Mahy and others, Color Research and
        // Application 19(2), 1994).
        assert!(least(&[&ON_LIGHT[..], &[ALARM]].concat()) > 30.0);
        assert!(least(&[&ON_DARK[..], &[ALARM]].concat()) > 9.0);
    }

    #[test]
    fn track_colours_stand_out_from_the_background() {
        // Web Content Accessibility Guidelines 2.2, 1.4.3 for text and 1.4.11 for graphics.
        let luminance = |index: u8| {
            std::iter::zip([0.2126, 0.7152, 0.0722], linear(index)).map(|(a, b)| a * b).sum::<f64>()
        };
        assert!(ON_LIGHT.iter().all(|&hue| 1.05 / (luminance(hue) + 0.05) > 4.49));
        assert!(ON_DARK.iter().all(|&hue| (luminance(hue) + 0.05) / 0.05 > 3.0));
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
