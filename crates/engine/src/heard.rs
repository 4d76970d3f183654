//! Who is heard among tracks or passes that can be muted and soloed.

/// Whether a track, or a pass among those of its track, is heard: it is not muted, and where
/// others of its kind are soloed it is one of them.
pub fn is_heard<'a, Id>(id: Id, mute: bool, soloed: impl IntoIterator<Item = &'a Id>) -> bool
where
    Id: PartialEq + 'a,
{
    let mut alone = true;
    for one in soloed {
        if *one == id {
            return !mute;
        }
        alone = false;
    }
    !mute && alone
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solo_silences_the_others_and_a_mute_silences_a_solo() {
        assert!(is_heard(1, false, &[]));
        assert!(!is_heard(1, true, &[]));
        assert!(is_heard(1, false, &[2, 1]));
        assert!(!is_heard(3, false, &[2, 1]));
        assert!(!is_heard(1, true, &[1]));
    }
}
