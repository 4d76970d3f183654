//! Searches for the line: collects the first arrivals and fits a straight line to them.
//!
//! In: arrivals, in nanoseconds from the caller's origin. Out: the line, and the number of the last
//! pulse. Each new arrival fits the line to all of them again, so an early mistake does not last.

use super::filter::Filter;

/// How many arrivals a search collects.
const ENOUGH: usize = 16;

/// A search, with the arrivals so far.
#[derive(Debug, Clone)]
pub(super) struct Search {
    /// The pulse number of the first arrival.
    pub first: i64,
    arrivals: Vec<f64>,
    /// The line that numbers the pulses after a silence, and the number of its last pulse.
    known: Option<(Filter, i64)>,
    /// The line that was abandoned for this search, and the number of its last pulse.
    pub other: Option<(Filter, i64)>,
}

/// The result of a search.
#[derive(Debug, Clone, Copy)]
pub(super) struct Found {
    pub filter: Filter,
    /// The number of the last pulse.
    pub count: i64,
    /// How many pulses the line covers, lost ones included.
    pub pulses: u32,
}

impl Search {
    /// A search that starts with arrivals of one pulse each; the first is number `first`.
    pub fn new(first: i64, arrivals: impl IntoIterator<Item = f64>) -> Search {
        let mut all = Vec::with_capacity(ENOUGH);
        all.extend(arrivals);
        Search { first, arrivals: all, known: None, other: None }
    }

    /// A search that starts with one arrival, some time after a line was lost. Pulses get their
    /// numbers from that line.
    pub fn beside(line: Filter, count: i64, at: f64) -> Search {
        Search { known: Some((line, count)), ..Search::new(count, [at]) }
    }

    /// The abandoned line, if the last five arrivals are on it after all, one period apart.
    pub fn returns(&self) -> Option<(Filter, i64)> {
        const SURE: usize = 5;
        let (line, count) = self.other?;
        let last = self.arrivals.len().checked_sub(SURE)?;
        let guess = Guess { start: line.last, period: line.period };
        let on_it = |at: &f64| guess.off(*at).abs() < 0.1;
        let one = |pair: &[f64]| guess.number(pair[1]) - guess.number(pair[0]) == 1.0;
        let since = &self.arrivals[last..];
        if !since.iter().all(on_it) || !since.windows(2).all(one) {
            return None;
        }
        let steps = guess.number(since[SURE - 1]);
        let at = line.last + steps * line.period;
        Some((Filter::new(at, line.period), count + steps as i64))
    }

    /// Whether the pulses get their numbers from an earlier line.
    pub fn has_known(&self) -> bool {
        self.known.is_some()
    }

    /// Takes an arrival.
    pub fn push(&mut self, at: f64) {
        self.arrivals.push(at);
    }

    /// Whether there are enough arrivals for the filter to take over.
    pub fn is_over(&self) -> bool {
        self.arrivals.len() >= ENOUGH
    }

    /// The line through the arrivals, with a period in this range.
    pub fn found(&self, shortest: f64, longest: f64) -> Option<Found> {
        let guess = self.best(shortest, longest)?;
        // Only arrivals near the guess make the line; the others were late or doubled.
        let near = self.arrivals.iter().filter(|&&at| guess.off(at).abs() < 0.25);
        let (numbers, at): (Vec<f64>, Vec<f64>) = near.map(|&at| (guess.number(at), at)).unzip();
        let (start, period) = straight(&numbers, &at)?;
        let line = Guess { start, period: period.clamp(shortest, longest) };
        let (first, last) = (self.arrivals.first()?, self.arrivals.last()?);
        // The last arrival is never before the first.
        let steps = (line.number(*last) - line.number(*first)).max(0.0);
        let filter = Filter::new(line.start + line.number(*last) * line.period, line.period);
        let count = match self.known {
            Some((known, count)) => {
                count + ((filter.last - known.last) / known.period).round() as i64
            }
            None => self.first + steps as i64,
        };
        Some(Found { filter, count, pulses: steps as u32 + 1 })
    }

    /// The guess that explains the arrivals best: near most of them, with few pulses lost or doubled.
    fn best(&self, shortest: f64, longest: f64) -> Option<Guess> {
        let count = self.arrivals.len();
        let mut best: Option<(f64, Guess)> = None;
        for (from, to) in [(0, 1), (0, 2), (1, 1), (1, 2)] {
            if from + to >= count {
                continue;
            }
            let (first, last) = (self.arrivals[from], self.arrivals[count - to]);
            for parts in 1..=2 * count {
                let period = (last - first) / parts as f64;
                if !(shortest / 2.0..=longest * 1.5).contains(&period) {
                    continue;
                }
                for &start in &self.arrivals {
                    let guess = Guess { start, period };
                    let cost = guess.cost(&self.arrivals);
                    if best.is_none_or(|(least, _)| cost < least) {
                        best = Some((cost, guess));
                    }
                }
            }
        }
        best.map(|(_, guess)| guess)
    }
}

/// An even line: the time of number 0, and the time from one number to the next.
#[derive(Debug, Clone, Copy)]
struct Guess {
    start: f64,
    period: f64,
}

impl Guess {
    /// The number nearest to an arrival.
    fn number(&self, at: f64) -> f64 {
        ((at - self.start) / self.period).round()
    }

    /// How far from that number the arrival is, in periods.
    fn off(&self, at: f64) -> f64 {
        (at - self.start) / self.period - self.number(at)
    }

    /// How badly it explains the arrivals. A lost or doubled pulse costs a quarter of a period.
    fn cost(&self, arrivals: &[f64]) -> f64 {
        let mut cost = arrivals.iter().map(|&at| self.off(at).abs()).sum::<f64>();
        for pair in arrivals.windows(2) {
            let steps = self.number(pair[1]) - self.number(pair[0]);
            cost += 0.25 * (steps - 1.0).abs();
        }
        cost
    }
}

/// The least-squares line: the time of number 0, and the time from one number to the next.
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
    fn the_line_has_the_least_squares() {
        // By hand: 0, 10, 20, 36 have the slope 11.8, and 34.2 at the last point.
        let (start, slope) = straight(&[0.0, 1.0, 2.0, 3.0], &[0.0, 10.0, 20.0, 36.0]).unwrap();
        assert!((slope - 11.8).abs() < 1e-9 && (start + 3.0 * slope - 34.2).abs() < 1e-9);
    }

    #[test]
    fn lost_and_doubled_pulses_do_not_shift_the_numbers() {
        let mut search = Search::new(100, [0.0]);
        // One every ten: the third is lost, the fifth arrives twice, the first interval is short.
        for at in [8.0, 30.0, 40.0, 41.0, 49.0, 60.0] {
            search.push(at);
        }
        let found = search.found(1.0, 1000.0).unwrap();
        assert_eq!((found.count, found.pulses), (106, 7));
        assert!((found.filter.period - 10.0).abs() < 0.5);
    }
}
