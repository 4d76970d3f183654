//! Options of the screen, with defaults from the environment.
//!
//! In: flags and environment variables, as plain values. Out: which signs and colours to draw with,
//! and how many frames per second.

use crate::keymap::Keymap;

/// How the screen looks and behaves.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Options {
    /// Which signs may be drawn.
    pub glyphs: Glyphs,
    /// Which colours may be used.
    pub colours: Colours,
    /// Whether the background is light; `None` asks the terminal, and assumes dark if it does not
    /// answer.
    pub light: Option<bool>,
    /// Nothing moves but the words: no playhead, no bars of meters, the bar without its beat.
    pub calm: bool,
    /// Frames per second at most, 1..=60.
    pub fps: u32,
    /// Where the letters lie on the computer keyboard.
    pub keyboard: Keyboard,
    /// Which keys ask for what.
    pub keymap: Keymap,
    /// A held key repeats at intervals shorter than this, in milliseconds.
    pub repeat_ms: u64,
    /// Whether the terminal may be asked for key releases and its background.
    pub may_ask: bool,
    /// Whether the screen opens with the tour.
    pub tour: bool,
    /// What went wrong before the screen opened, a sentence each. The screen shows one after
    /// another. What it cuts ([`is_shown_whole`](crate::is_shown_whole)) is for the shell.
    pub notices: Vec<String>,
}

/// Which signs may be drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Glyphs {
    /// Lines, and blocks in eight heights.
    #[default]
    Full,
    /// Lines and whole blocks: what a text console's font has.
    Console,
    /// ASCII only.
    Ascii,
}

/// Which colours may be used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Colours {
    /// From the 256 that most terminals have.
    #[default]
    Many,
    /// From the first 16.
    Sixteen,
    /// None: bold, dim and reverse only.
    None,
}

/// Where the letters lie on the computer keyboard.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Keyboard {
    /// As in the United States and most of the English-speaking world.
    #[default]
    Us,
    /// As in Germany and Austria.
    De,
    /// As in France.
    Fr,
}

impl std::str::FromStr for Keyboard {
    type Err = String;
    fn from_str(text: &str) -> Result<Keyboard, String> {
        match text {
            "us" => Ok(Keyboard::Us),
            "de" => Ok(Keyboard::De),
            "fr" => Ok(Keyboard::Fr),
            _ => Err(format!("'{text}' is not a keyboard layout: use us, de or fr")),
        }
    }
}

impl Options {
    /// What suits the terminal that the environment describes. `variable` gives a variable's value.
    /// The program's flags are applied to the result.
    pub fn from_environment(variable: impl Fn(&str) -> Option<String>) -> Options {
        let filled = |name: &str| variable(name).filter(|value| !value.is_empty());
        let term = filled("TERM").unwrap_or_default();
        let console = term == "linux";
        let locale = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().find_map(filled);
        let utf8 = locale.is_some_and(|name| {
            let name = name.to_ascii_lowercase();
            name.contains("utf-8") || name.contains("utf8")
        });
        let glyphs = match (utf8, console) {
            (false, _) => Glyphs::Ascii,
            (true, true) => Glyphs::Console,
            (true, false) => Glyphs::Full,
        };
        let many = filled("COLORTERM")
            .is_some_and(|value| value == "truecolor" || value == "24bit")
            || term.contains("256color");
        let colours = match (filled("NO_COLOR").is_some(), many && !console) {
            (true, _) => Colours::None,
            (false, true) => Colours::Many,
            (false, false) => Colours::Sixteen,
        };
        let remote = filled("SSH_CONNECTION").is_some();
        Options {
            glyphs,
            colours,
            light: filled("COLORFGBG").and_then(|value| background(&value)),
            calm: false,
            fps: if remote { 10 } else { 30 },
            keymap: Keymap::default(),
            keyboard: Keyboard::Us,
            repeat_ms: if console { 110 } else { 60 },
            may_ask: !console,
            tour: false,
            notices: Vec::new(),
        }
    }
}

/// Why no screen can be drawn on the terminal that the environment describes, in one sentence with
/// what to do instead; `None` if one can be. `variable` gives a variable's value.
pub fn refusal(variable: impl Fn(&str) -> Option<String>) -> Option<String> {
    let term = variable("TERM").unwrap_or_default();
    let named = match term.as_str() {
        "" => "TERM is not set".to_string(),
        "dumb" => "TERM is 'dumb'".to_string(),
        _ => return None,
    };
    Some(format!(
        "{named}, so this terminal cannot show a screen: use another terminal, or play the song \
         without a screen with 'chaconne rehearse'"
    ))
}

/// Reads `foreground;background`, or `foreground;other;background`, in numbers of the first 16
/// colours, as rxvt and others set it: white and light grey are light.
fn background(value: &str) -> Option<bool> {
    let colour: u8 = value.rsplit(';').next()?.parse().ok()?;
    Some(colour == 7 || colour == 15)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with(pairs: &'static [(&str, &str)]) -> Options {
        let find = |name: &str| pairs.iter().find(|pair| pair.0 == name);
        Options::from_environment(|name| find(name).map(|pair| pair.1.to_string()))
    }

    #[test]
    fn a_bare_environment_gets_plain_signs() {
        let options = with(&[]);
        assert_eq!((options.glyphs, options.colours), (Glyphs::Ascii, Colours::Sixteen));
        assert_eq!(options.fps, 30);
    }

    #[test]
    fn a_terminal_that_cannot_place_the_cursor_is_refused() {
        // terminfo(5): the entry 'dumb' has no cursor addressing.
        for (pairs, told) in [
            (&[][..], "TERM is not set, so "),
            (&[("TERM", "")][..], "TERM is not set, so "),
            (&[("TERM", "dumb")][..], "TERM is 'dumb', so "),
        ] {
            let find = |name: &str| pairs.iter().find(|pair: &&(&str, &str)| pair.0 == name);
            let said = refusal(|name| find(name).map(|pair| pair.1.to_string())).unwrap();
            assert!(said.starts_with(told) && said.contains("chaconne rehearse"), "{said}");
        }
        assert_eq!(refusal(|_| Some("xterm".into())), None);
    }

    #[test]
    fn a_text_console_gets_what_its_font_has() {
        let options = with(&[("TERM", "linux"), ("LANG", "en_GB.UTF-8"), ("COLORTERM", "24bit")]);
        assert_eq!((options.glyphs, options.colours), (Glyphs::Console, Colours::Sixteen));
        assert_eq!((options.repeat_ms, options.may_ask), (110, false));
    }

    #[test]
    fn no_color_wins_over_what_the_terminal_can_do() {
        // no-color.org: present and not empty, whatever its value.
        let options = with(&[("NO_COLOR", "1"), ("TERM", "xterm-256color"), ("LANG", "C.UTF-8")]);
        assert_eq!((options.glyphs, options.colours), (Glyphs::Full, Colours::None));
        let empty = with(&[("NO_COLOR", ""), ("TERM", "xterm-256color")]);
        assert_eq!(empty.colours, Colours::Many);
    }

    #[test]
    fn the_first_set_locale_counts() {
        let options = with(&[("LC_ALL", "C"), ("LANG", "de_DE.utf8")]);
        assert_eq!(options.glyphs, Glyphs::Ascii);
        assert_eq!(with(&[("LC_ALL", ""), ("LANG", "de_DE.utf8")]).glyphs, Glyphs::Full);
    }

    #[test]
    fn a_background_in_the_environment_is_believed() {
        assert_eq!(with(&[("COLORFGBG", "0;15")]).light, Some(true));
        assert_eq!(with(&[("COLORFGBG", "15;default;0")]).light, Some(false));
        assert_eq!(with(&[("COLORFGBG", "default")]).light, None);
        assert_eq!(with(&[]).light, None);
    }

    #[test]
    fn a_remote_terminal_gets_fewer_frames() {
        assert_eq!(with(&[("SSH_CONNECTION", "192.0.2.1 5 192.0.2.2 22")]).fps, 10);
    }
}
