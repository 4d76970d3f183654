//! Control sequences that stand for keys and answers (ECMA-48 `CSI`, with what xterm and the
//! kitty keyboard protocol put into them).
//!
//! In: the bytes between `ESC [` and the final byte, and the final byte. Out: what they mean;
//! nothing if the screen has no use for them.

use super::key::is_arrow;
use super::parser::Input;
use super::{Code, Key, Kind};

/// Reads one whole sequence. `body` holds parameters and intermediates, without the final byte.
pub fn read(body: &[u8], last: u8) -> Option<Input> {
    if let Some((b'?', rest)) = body.split_first() {
        // `CSI ? flags u`: the terminal knows the kitty keyboard protocol. The rest (device
        // attributes, mode reports) was asked for by somebody else.
        return (last == b'u' && rest.iter().all(u8::is_ascii_digit)).then_some(Input::Releases);
    }
    let fields = Fields::read(body)?;
    match last {
        b'R' if fields.count() == 2 => Some(Input::CursorReply),
        b'u' => typed(&fields).map(Input::Key),
        b'~' => tilde(fields.number(0, 0)).map(|code| Input::Key(fields.key(code))),
        b'Z' => Some(Input::Key(Key::new(Code::BackTab))),
        _ => letter(last).map(|code| Input::Key(fields.key(code))),
    }
}

/// The keys that end in a letter, after `CSI` or `SS3`.
pub fn letter(last: u8) -> Option<Code> {
    Some(match last {
        b'A' => Code::Up,
        b'B' => Code::Down,
        b'C' => Code::Right,
        b'D' => Code::Left,
        b'F' => Code::End,
        b'H' => Code::Home,
        b'P' => Code::F(1),
        b'Q' => Code::F(2),
        b'R' => Code::F(3),
        b'S' => Code::F(4),
        _ => return None,
    })
}

fn tilde(number: u32) -> Option<Code> {
    Some(match number {
        1 | 7 => Code::Home,
        2 => Code::Insert,
        3 => Code::Delete,
        4 | 8 => Code::End,
        5 => Code::PageUp,
        6 => Code::PageDown,
        11..=15 => Code::F(number as u8 - 10),
        17..=21 => Code::F(number as u8 - 11),
        23 | 24 => Code::F(number as u8 - 12),
        _ => return None,
    })
}

/// A key with its code point: `code:shifted:base ; modifiers:event ; text`.
fn typed(fields: &Fields) -> Option<Key> {
    let plain = fields.number(0, 0);
    let code = match plain {
        8 | 127 => Code::Backspace,
        9 if fields.modifiers() & SHIFT != 0 => Code::BackTab,
        9 => Code::Tab,
        13 | 57414 => Code::Enter,
        27 => Code::Esc,
        57399..=57408 => Code::Char((b'0' + (plain - 57399) as u8) as char),
        57409..=57413 => Code::Char(b"./*-+"[(plain - 57409) as usize] as char),
        // Media keys, locks and bare modifiers.
        57344..=63743 => return None,
        _ => Code::Char(char::from_u32(plain).filter(|c| !c.is_control())?),
    };
    let key = fields.key(code);
    let Code::Char(c) = code else { return Some(key) };
    let text = char::from_u32(fields.number(2, 0)).filter(|text| !text.is_control());
    let shifted = fields.modifiers() & SHIFT != 0 && !key.ctrl;
    let upper = if shifted { c.to_uppercase().next().unwrap_or(c) } else { c };
    let base = char::from_u32(fields.number(0, 2)).filter(|base| !base.is_control());
    Some(Key { code: Code::Char(text.unwrap_or(upper)), plain: Some(base.unwrap_or(c)), ..key })
}

const SHIFT: u32 = 1;
const ALT: u32 = 2;
const CTRL: u32 = 4;

/// The parameters: numbers separated by `;`, each of up to three parts separated by `:`.
struct Fields {
    fields: Vec<[u32; 3]>,
}

impl Fields {
    /// At most four fields. More, or anything but digits and the two separators, is not for us.
    fn read(body: &[u8]) -> Option<Fields> {
        let text = std::str::from_utf8(body).ok()?;
        let mut fields = Vec::new();
        for field in text.split(';').filter(|_| !text.is_empty()) {
            let mut parts = [0; 3];
            for (index, part) in field.split(':').enumerate() {
                let number = if part.is_empty() { 0 } else { part.parse().ok()? };
                *parts.get_mut(index)? = number;
            }
            fields.push(parts);
        }
        (fields.len() <= 4).then_some(Fields { fields })
    }

    fn count(&self) -> usize {
        self.fields.len()
    }

    /// A number, 0 if it is left out.
    fn number(&self, field: usize, part: usize) -> u32 {
        self.fields.get(field).map_or(0, |parts| parts[part])
    }

    /// The modifiers as bits; the sequence counts them from 1.
    fn modifiers(&self) -> u32 {
        self.number(1, 0).saturating_sub(1)
    }

    fn key(&self, code: Code) -> Key {
        let kind = match self.number(1, 1) {
            2 => Kind::Repeat,
            3 => Kind::Release,
            _ => Kind::Press,
        };
        let (ctrl, alt) = (self.modifiers() & CTRL != 0, self.modifiers() & ALT != 0);
        let shift = self.modifiers() & SHIFT != 0 && is_arrow(code);
        Key { ctrl, alt, shift, kind, ..Key::new(code) }
    }
}
