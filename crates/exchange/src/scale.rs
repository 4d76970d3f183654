//! Converts the ticks of a file to ticks of a song.

use chaconne_time::{TICKS_PER_QUARTER, Tick};

/// Scales positions to 960 ticks to the quarter, and remembers the largest rounding error.
#[derive(Debug)]
pub(crate) struct Scale {
    ppq: u16,
    /// The largest error so far, in `1/ppq` ticks.
    worst: i128,
}

impl Scale {
    /// A scale for a file of `ppq` ticks to the quarter, 1..=32767.
    pub fn new(ppq: u16) -> Scale {
        Scale { ppq, worst: 0 }
    }

    /// The position `raw` to the nearest tick, rounded half up, and at most [`Tick::MAX`].
    pub fn tick(&mut self, raw: u64) -> Tick {
        let ppq = i128::from(self.ppq);
        let exact = i128::from(raw) * i128::from(TICKS_PER_QUARTER);
        let rounded = (exact * 2 + ppq).div_euclid(ppq * 2);
        self.worst = self.worst.max((rounded * ppq - exact).abs());
        Tick(rounded.min(i128::from(Tick::MAX.0)) as i64)
    }

    /// A remark about the rounding, if there was any.
    pub fn remark(&self) -> Option<String> {
        let hundredths = (self.worst * 100 + i128::from(self.ppq) - 1) / i128::from(self.ppq);
        (hundredths > 0).then(|| {
            format!(
                "positions were rounded from {} to {TICKS_PER_QUARTER} ticks to the quarter, by at \
                 most {}.{:02} of a tick",
                self.ppq,
                hundredths / 100,
                hundredths % 100
            )
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn whole_multiples_are_exact() {
        // Standard MIDI Files 1.0, p. 14: 6,144 ticks at 96 to the quarter are 64 quarters.
        let mut scale = Scale::new(96);
        assert_eq!(scale.tick(6144), Tick(61_440));
        assert_eq!(scale.remark(), None);
    }

    #[test]
    fn halves_round_up_and_the_largest_error_is_reported() {
        let mut scale = Scale::new(384);
        assert_eq!(scale.tick(1), Tick(3));
        assert_eq!(scale.tick(2), Tick(5));
        assert!(scale.remark().unwrap().ends_with("by at most 0.50 of a tick"));
        let mut scale = Scale::new(32_767);
        assert_eq!(scale.tick(32_767 * 4), Tick(3840));
        assert_eq!(Scale::new(1).tick(u64::MAX), Tick::MAX);
    }

    proptest! {
        #[test]
        fn order_is_kept_and_the_error_is_half_a_tick_at_most(
            ppq in 1u16..=32_767, a in 0u64..1 << 40, b in 0u64..1 << 40,
        ) {
            let mut scale = Scale::new(ppq);
            prop_assert!(scale.tick(a.min(b)) <= scale.tick(a.max(b)));
            prop_assert!(scale.worst * 2 <= i128::from(ppq));
        }
    }
}
