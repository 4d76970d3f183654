//! A key as the terminal reported it.

use std::fmt;

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
    /// What happened to it.
    pub kind: Kind,
    /// What the key types without Shift, if the terminal says so: the same at press and
    /// release, whatever was done with Shift in between.
    pub plain: Option<char>,
}

impl Key {
    /// A key without modifiers.
    pub const fn new(code: Code) -> Key {
        Key { code, ctrl: false, alt: false, kind: Kind::Press, plain: None }
    }

    /// A key that types `c`.
    pub const fn char(c: char) -> Key {
        Key::new(Code::Char(c))
    }

    /// A letter with Control.
    pub const fn ctrl(c: char) -> Key {
        Key { ctrl: true, ..Key::char(c) }
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
        ];
        for (key, name) in names {
            assert_eq!(key.to_string(), name);
        }
    }
}
