//! A key as the terminal reported it.

use std::fmt;
use std::str::FromStr;

/// Which key.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Code {
    /// A key that types something; what it typed.
    Char(char),
    /// Return.
    Enter,
    /// Tab.
    Tab,
    /// Tab with Shift.
    BackTab,
    /// The key that deletes to the left.
    Backspace,
    /// Escape.
    Esc,
    /// Arrow up.
    Up,
    /// Arrow down.
    Down,
    /// Arrow left.
    Left,
    /// Arrow right.
    Right,
    /// Home.
    Home,
    /// End.
    End,
    /// Page up.
    PageUp,
    /// Page down.
    PageDown,
    /// Insert.
    Insert,
    /// The key that deletes to the right.
    Delete,
    /// A function key, 1 to 24.
    F(u8),
}

/// What happened to the key. Most terminals report presses only.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Kind {
    /// It went down, or the terminal does not say.
    #[default]
    Press,
    /// It is held, and the keyboard repeats it.
    Repeat,
    /// It was released.
    Release,
}

/// A key with its modifiers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Key {
    /// Which.
    pub code: Code,
    /// With Control.
    pub ctrl: bool,
    /// With Alt, if the terminal says so.
    pub alt: bool,
    /// With Shift, of an arrow, if the terminal says so: what Shift does to other keys is in their code.
    pub shift: bool,
    /// What happened to it.
    pub kind: Kind,
    /// What the key types without Shift, if the terminal says so: the same at press and
    /// release, whatever was done with Shift in between.
    pub plain: Option<char>,
}

impl Key {
    /// A key without modifiers.
    pub const fn new(code: Code) -> Key {
        Key { code, ctrl: false, alt: false, shift: false, kind: Kind::Press, plain: None }
    }

    /// A key that types `c`.
    pub const fn char(c: char) -> Key {
        Key::new(Code::Char(c))
    }

    /// A letter with Control.
    pub const fn ctrl(c: char) -> Key {
        Key { ctrl: true, ..Key::char(c) }
    }

    /// An arrow with Shift.
    pub const fn shift(code: Code) -> Key {
        Key { shift: true, ..Key::new(code) }
    }

    /// The character by which presses and releases of the key are matched.
    pub fn identity(&self) -> Option<char> {
        match (self.plain, self.code) {
            (Some(plain), _) => Some(plain),
            (None, Code::Char(c)) => Some(c),
            _ => None,
        }
    }

    /// The same key as a plain press, as the keymap compares it.
    pub fn chord(&self) -> Key {
        Key { kind: Kind::Press, plain: None, ..*self }
    }
}

impl fmt::Display for Key {
    /// The key's name, as on the screen and in the manual.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.ctrl {
            f.write_str("Ctrl-")?;
        }
        if self.alt {
            f.write_str("Alt-")?;
        }
        if self.shift {
            f.write_str("Shift-")?;
        }
        match self.code {
            Code::Char(' ') => f.write_str("Space"),
            Code::Char(c) if self.ctrl => write!(f, "{}", c.to_ascii_uppercase()),
            Code::Char(c) => write!(f, "{c}"),
            Code::F(number) => write!(f, "F{number}"),
            Code::BackTab => f.write_str("Shift-Tab"),
            Code::PageUp => f.write_str("PgUp"),
            Code::PageDown => f.write_str("PgDn"),
            code => write!(f, "{code:?}"),
        }
    }
}

impl FromStr for Key {
    type Err = String;

    /// Reads the name of a key as it is written on the screen, e.g. `x`, `Space`, `F5`, `Ctrl-S`.
    fn from_str(name: &str) -> Result<Key, String> {
        let unknown = || {
            format!(
                "'{name}' is not a key: write a character, or a name such as Space, Enter, PgUp, F5, \
                 Shift-Tab or Ctrl-S"
            )
        };
        let mut key = Key::char(' ');
        let mut rest = name;
        for (prefix, flag) in [("Ctrl-", &mut key.ctrl), ("Alt-", &mut key.alt)] {
            if let Some(after) = rest.strip_prefix(prefix) {
                (rest, *flag) = (after, true);
            }
        }
        let arrow = rest.strip_prefix("Shift-").filter(|&name| named(name).is_some_and(is_arrow));
        if let Some(arrow) = arrow {
            (rest, key.shift) = (arrow, true);
        }
        let mut chars = rest.chars();
        key.code = match (chars.next(), chars.next()) {
            (Some(c), None) if key.ctrl => Code::Char(c.to_ascii_lowercase()),
            (Some(c), None) if !c.is_whitespace() && !c.is_control() => Code::Char(c),
            _ => named(rest).ok_or_else(unknown)?,
        };
        Ok(key)
    }
}

/// Whether a key is one of the arrows, which have a meaning of their own with Shift.
pub fn is_arrow(code: Code) -> bool {
    matches!(code, Code::Up | Code::Down | Code::Left | Code::Right)
}

/// A key with a name of several letters.
fn named(name: &str) -> Option<Code> {
    let number = name.strip_prefix('F').and_then(|number| number.parse().ok());
    Some(match name {
        "Space" => Code::Char(' '),
        "Enter" => Code::Enter,
        "Tab" => Code::Tab,
        "Shift-Tab" => Code::BackTab,
        "Backspace" => Code::Backspace,
        "Esc" => Code::Esc,
        "Up" => Code::Up,
        "Down" => Code::Down,
        "Left" => Code::Left,
        "Right" => Code::Right,
        "Home" => Code::Home,
        "End" => Code::End,
        "PgUp" => Code::PageUp,
        "PgDn" => Code::PageDown,
        "Insert" => Code::Insert,
        "Delete" => Code::Delete,
        _ => Code::F(number.filter(|number| (1..=24).contains(number))?),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_written_as_they_are_engraved() {
        let names = [
            (Key::char(' '), "Space"),
            (Key::char('U'), "U"),
            (Key::ctrl('s'), "Ctrl-S"),
            (Key::new(Code::Esc), "Esc"),
            (Key::new(Code::F(1)), "F1"),
            (Key::new(Code::PageDown), "PgDn"),
            (Key::new(Code::BackTab), "Shift-Tab"),
            (Key::shift(Code::Left), "Shift-Left"),
        ];
        for (key, name) in names {
            assert_eq!(key.to_string(), name);
            assert_eq!(name.parse(), Ok(key));
        }
    }
}
