//! Which tracks and passes are heard, given their mutes and solos.

/// Whether a track, or a pass of a track, is heard: it is not muted, and either it is soloed or none
/// of `soloed` is.
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
