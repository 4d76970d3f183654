//! Looking for the line: the first dozen arrivals, and the straight line through them.
//!
//! In: arrivals as they come, nanoseconds from the caller's origin. Out: the line, and which pulse
//! the last arrival is. All of them are judged anew with each one that comes, so that an early
//! mistake does not last.

use super::filter::Filter;

/// How many arrivals the line is looked for in.
const ENOUGH: usize = 12;

/// The arrivals so far.
#[derive(Debug, Clone)]
pub(super) struct Search {
    /// The number of the pulse that the first of them is.
    pub first: i64,
    arrivals: Vec<f64>,
}

/// What was found.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    pub filter: Filter,
    /// The number of the last pulse.
    pub count: i64,
    /// How many pulses there were.
    pub pulses: u32,
}

impl Search {
    /// Starts with arrivals that are one pulse each; the first is number `first`.
    pub fn new(first: i64, arrivals: impl IntoIterator<Item = f64>) -> Search {
        let mut all = Vec::with_capacity(ENOUGH);
        all.extend(arrivals);
        Search { first, arrivals: all }
    }

    /// Takes an arrival.
    pub fn push(&mut self, at: f64) {
        self.arrivals.push(at);
    }

    /// Whether that is enough: the filter can take over.
    pub fn is_over(&self) -> bool {
        self.arrivals.len() >= ENOUGH
    }

    /// The line through the arrivals, where it lies inside these periods.
    pub fn found(&self, shortest: f64, longest: f64) -> Option<Found> {
        let mut intervals: Vec<f64> =
            self.arrivals.windows(2).map(|pair| pair[1] - pair[0]).collect();
        intervals.sort_by(f64::total_cmp);
        // Half of the intervals are longer, half shorter: a lost pulse, or one that came twice,
        // does not count for more than another.
        let middle = *intervals.get(intervals.len() / 2)?;
        if middle < shortest / 2.0 || middle > longest * 1.5 {
            return None;
        }
        let mut numbers = vec![0.0];
        for pair in self.arrivals.windows(2) {
            let before = numbers[numbers.len() - 1];
            numbers.push(before + ((pair[1] - pair[0]) / middle).round());
        }
        let mut line = straight(&numbers, &self.arrivals)?;
        for _ in 0..2 {
            let place = |at: &f64| ((at - line.0) / line.1).round();
            numbers = self.arrivals.iter().map(place).collect();
            line = straight(&numbers, &self.arrivals)?;
        }
        let (start, period) = (line.0, line.1.clamp(shortest, longest));
        let last = numbers[numbers.len() - 1];
        let steps = (last - numbers[0]) as i64;
        let filter = Filter::new(start + last * line.1, period);
        Some(Found { filter, count: self.first + steps, pulses: steps as u32 + 1 })
    }
}

/// The straight line with the least squares: where number 0 lies, and from one to the next.
fn straight(numbers: &[f64], at: &[f64]) -> Option<(f64, f64)> {
    let count = numbers.len() as f64;
    let mean = |values: &[f64]| values.iter().sum::<f64>() / count;
    let (x, y) = (mean(numbers), mean(at));
    let both = numbers.iter().zip(at);
    let (mut up, mut across) = (0.0, 0.0);
    for (number, at) in both {
        up += (number - x) * (at - y);
        across += (number - x).powi(2);
    }
    let slope = up / across;
    (across > 0.0 && slope > 0.0).then_some((y - slope * x, slope))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_goes_through_with_the_least_squares() {
        // By hand: 0, 10, 20, 36 have the slope 11.8, and 34.2 at the last point.
        let (start, slope) = straight(&[0.0, 1.0, 2.0, 3.0], &[0.0, 10.0, 20.0, 36.0]).unwrap();
        assert!((slope - 11.8).abs() < 1e-9 && (start + 3.0 * slope - 34.2).abs() < 1e-9);
    }

    #[test]
    fn lost_and_doubled_arrivals_are_counted_as_what_they_are() {
        let mut search = Search::new(100, [0.0]);
        // Every ten: the third is lost, the fifth comes twice, and the first interval is short.
        for at in [8.0, 30.0, 40.0, 41.0, 49.0, 60.0] {
            search.push(at);
        }
        let found = search.found(1.0, 1000.0).unwrap();
        assert_eq!((found.count, found.pulses), (106, 7));
        assert!((found.filter.period - 10.0).abs() < 0.5);
    }
}
