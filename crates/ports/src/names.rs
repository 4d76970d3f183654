//! Finds the port that a name means, and recognises a port that comes back.
//!
//! In: a name, and the ports a service lists. Out: one of them, or an error that lists those
//! available. ALSA ends a port's name with its number (`Desk:Desk MIDI 1 20:0`), which changes when
//! the device is plugged in again: names that differ only in that number count as equal.

use super::PortError;

/// A name without the number ALSA puts at its end.
pub(crate) fn plain(name: &str) -> &str {
    let is_number = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    match name.rsplit_once(' ') {
        Some((before, last))
            if last.split_once(':').is_some_and(|(a, b)| is_number(a) && is_number(b)) =>
        {
            before
        }
        _ => name,
    }
}

/// The index of the port with this name; otherwise of the only one whose name differs only in the
/// number; otherwise of the only one with `name` in its name. `kind` is the kind of port for error
/// messages, such as `MIDI output`.
pub(crate) fn pick(kind: &'static str, name: &str, names: &[String]) -> Result<usize, PortError> {
    if let Some(exact) = names.iter().position(|have| have == name) {
        return Ok(exact);
    }
    let all = |fits: &dyn Fn(&str) -> bool| -> Vec<usize> {
        (0..names.len()).filter(|&index| fits(&names[index])).collect()
    };
    let list = |indexes: &[usize]| {
        let quoted: Vec<String> = indexes.iter().map(|&i| format!("'{}'", names[i])).collect();
        if quoted.is_empty() { "none".to_string() } else { quoted.join(", ") }
    };
    if let [only] = all(&|have| plain(have) == plain(name)).as_slice() {
        return Ok(*only);
    }
    let fits = all(&|have| have.contains(name));
    let name = name.to_string();
    match fits.as_slice() {
        [only] => Ok(*only),
        [] => Err(PortError::Unknown { kind, name, have: list(&all(&|_| true)) }),
        _ => Err(PortError::Ambiguous { kind, name, fits: list(&fits) }),
    }
}

/// Why a port is not connected although some ports match its name; empty if none matches yet.
pub(crate) fn ambiguity(error: &PortError) -> String {
    match error {
        PortError::Ambiguous { .. } => error.to_string(),
        _ => String::new(),
    }
}

/// Finds the port that was once called `full`: under the same name, or under another number.
pub(crate) fn find_again(full: &str, names: &[String]) -> Option<usize> {
    let exact = names.iter().position(|have| have == full);
    exact.or_else(|| names.iter().position(|have| plain(have) == plain(full)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(names: &[&str]) -> Vec<String> {
        names.iter().map(|name| name.to_string()).collect()
    }

    fn pick_of(name: &str, names: &[&str]) -> Result<usize, String> {
        pick("MIDI output", name, &all(names)).map_err(|error| error.to_string())
    }

    #[test]
    fn a_port_is_found_by_its_name_or_by_a_unique_part_of_it() {
        let names = ["Pads 1", "Pads 10", "Desk"];
        assert_eq!(pick_of("Pads 1", &names), Ok(0));
        assert_eq!(pick_of("10", &names), Ok(1));
        assert_eq!(pick_of("esk", &names), Ok(2));
    }

    #[test]
    fn the_error_for_no_match_or_several_lists_the_ports() {
        assert_eq!(
            pick_of("Pads", &["Pads 1", "Pads 10", "Desk"]).unwrap_err(),
            "more than one MIDI output has 'Pads' in its name: 'Pads 1', 'Pads 10'; \
             type more of the name"
        );
        assert_eq!(
            pick_of("Organ", &["Desk"]).unwrap_err(),
            "no MIDI output is called 'Organ'; available: 'Desk'"
        );
        assert_eq!(
            pick_of("Organ", &[]).unwrap_err(),
            "no MIDI output is called 'Organ'; available: none"
        );
    }

    #[test]
    fn a_device_that_comes_back_under_another_number_is_recognised() {
        let names = ["Pads:Pads MIDI 1 20:0", "Desk:Desk MIDI 1 28:0", "Desk:Desk MIDI 2 28:1"];
        assert_eq!(pick_of("Desk:Desk MIDI 1 24:0", &names), Ok(1));
        assert_eq!(find_again("Desk:Desk MIDI 2 24:1", &all(&names)), Some(2));
        assert_eq!(find_again("Organ:Organ 20:0", &all(&names)), None);
        // If two have the same name, the number decides.
        let twins = ["Pads:Pads 20:0", "Pads:Pads 24:0"];
        assert_eq!(find_again("Pads:Pads 24:0", &all(&twins)), Some(1));
        assert!(pick_of("Pads:Pads 28:0", &twins).is_err());
    }

    #[test]
    fn only_a_number_at_the_end_is_removed() {
        assert_eq!(plain("Desk:Desk MIDI 1 20:0"), "Desk:Desk MIDI 1");
        for name in ["Desk", "Desk 20", "Desk a:0", "Desk 20:", "system:midi_1", ""] {
            assert_eq!(plain(name), name);
        }
    }
}
