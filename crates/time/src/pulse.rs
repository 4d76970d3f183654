//! MIDI clock pulses: 24 to the quarter note (MIDI 1.0, "System Real Time").

use crate::{Span, TICKS_PER_QUARTER, Tick};

/// Pulses in a quarter note.
pub const PULSES_PER_QUARTER: i64 = 24;

/// Ticks from one pulse to the next: 40, exactly.
pub const TICKS_PER_PULSE: i64 = TICKS_PER_QUARTER / PULSES_PER_QUARTER;

/// The tick of pulse `k`.
pub fn tick_of(k: i64) -> Tick {
    Tick(k * TICKS_PER_PULSE)
}

/// The ticks of the pulses within a span, in order.
pub fn within(span: Span) -> impl Iterator<Item = Tick> {
    let first = span.from.round_up(Tick(TICKS_PER_PULSE));
    (0..).map(move |k| first + tick_of(k)).take_while(move |&at| at < span.to)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bar_of_four_quarters_has_96_pulses() {
        // MIDI 1.0: 24 clocks to the quarter note.
        assert_eq!(within(Span::new(Tick(0), Tick(3840))).count(), 96);
        assert_eq!(within(Span::new(Tick(1), Tick(3840))).count(), 95);
        assert_eq!(within(Span::new(Tick(-40), Tick(1))).next(), Some(Tick(-40)));
        assert_eq!(tick_of(24), Tick::QUARTER);
    }
}
