//! The control of a lane as words: `program`, `change 64`, `bend`, `pressure`, `key pressure 60`,
//! `registered 0`, `non-registered 300`.

use crate::{Control, U7, U14, rules};

/// The control that the words name.
pub(super) fn read(words: &str) -> Result<Control, String> {
    let unknown = || {
        format!(
            "control '{words}' is not program, change 0 to 119, bend, pressure, \
             key pressure 0 to 127, registered 0 to 16383 or non-registered 0 to 16383"
        )
    };
    match words {
        "program" => return Ok(Control::Program),
        "bend" => return Ok(Control::Bend),
        "pressure" => return Ok(Control::Pressure),
        _ => {}
    }
    let (kind, number) = words.rsplit_once(' ').ok_or_else(unknown)?;
    let number: u16 = number.parse().map_err(|_| unknown())?;
    let data = || u8::try_from(number).ok().and_then(U7::new).ok_or_else(unknown);
    let wide = || U14::new(number).ok_or_else(unknown);
    let control = match kind {
        "change" => Control::Change(data()?),
        "key pressure" => Control::KeyPressure(data()?),
        "registered" => Control::Registered(wide()?),
        "non-registered" => Control::NonRegistered(wide()?),
        _ => return Err(unknown()),
    };
    rules::control(control).map_err(|_| unknown())?;
    Ok(control)
}
