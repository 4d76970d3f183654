//! The report of `timing`, in words.

use crate::say::counted;
use chaconne_rig::{EDGES, EVEN, Figures, HEARD, Measured, RoundTrips, Trips, Verdict};
use std::fmt::Write as _;

/// The longest bar of a histogram, in characters.
const BAR: u64 = 40;

/// Shorter round trips need no compensation, in ns: 0.2 ms.
const LITTLE: i64 = 200_000;

/// The report on how late events were.
pub fn measured(measured: &Measured) -> String {
    let mut text = String::new();
    let Measured { pulses, notes, timer, .. } = measured;
    line(&mut text, &what_was_played(measured));
    histogram(&mut text, "clock pulses, by how late they reached the port", pulses, notes);
    histogram(&mut text, "notes", notes, pulses);
    table(&mut text, &[("clock pulses", pulses), ("notes", notes), ("bare timer", timer)]);
    for (name, figures) in [("clock pulses", pulses), ("notes", notes)] {
        let p50 = ratio(figures.p50, timer.p50);
        let p99 = ratio(figures.p99, timer.p99);
        line(&mut text, &format!("{name} compared with the bare timer: p50 {p50}, p99 {p99}"));
    }
    line(&mut text, "");
    line(&mut text, &format!("the scheduler runs with {}", measured.urgency));
    if let Some(remedy) = measured.urgency.remedy() {
        line(&mut text, &format!("to get the rest: {remedy}"));
    }
    if measured.missed > 0 {
        let missed = counted(measured.missed, "message is", "messages are");
        line(&mut text, &format!("{missed} not in these figures: measuring was held up"));
    }
    line(&mut text, "");
    line(&mut text, &verdict(measured));
    text
}

fn what_was_played(measured: &Measured) -> String {
    let Measured { asked, lasted, whole, busy, deadlines, .. } = measured;
    let mut text = format!("a busy song at 240, {deadlines} different deadlines per second, ");
    // Writing to a string does not fail.
    let _ = match (whole, lasted / 100_000_000) {
        (true, _) => write!(text, "{asked} s"),
        (false, tenths) => {
            write!(text, "ended early after {}.{} of {asked} s", tenths / 10, tenths % 10)
        }
    };
    match busy {
        0 => {}
        1 => text.push_str(", while one thread kept the machine busy"),
        busy => {
            let _ = write!(text, ", while {busy} threads kept the machine busy");
        }
    }
    text
}

/// Writes the rows from the first to the last that either histogram uses, so that a reader can
/// compare the two.
fn histogram(text: &mut String, title: &str, figures: &Figures, other: &Figures) {
    line(text, "");
    line(text, title);
    let used = |row: &usize| figures.histogram[*row] + other.histogram[*row] > 0;
    let rows = figures.histogram.len();
    let (Some(first), Some(last)) = ((0..rows).find(used), (0..rows).rfind(used)) else {
        return line(text, "  none");
    };
    let most = figures.histogram.iter().copied().max().unwrap_or(0).max(1);
    for row in first..=last {
        let count = figures.histogram[row];
        let length = if count == 0 { 0 } else { (count * BAR / most).max(1) };
        let bar = "#".repeat(length as usize);
        let row = format!("  {:>16}  {count:>8}  {bar}", span(row));
        line(text, row.trim_end());
    }
}

/// The range of a row of the histogram.
fn span(row: usize) -> String {
    match (row.checked_sub(1).map(|before| EDGES[before]), EDGES.get(row)) {
        (None, Some(&to)) => format!("under {}", time(to)),
        (Some(from), None) => format!("{} or more", time(from)),
        (Some(from), Some(&to)) => format!("{} to {}", time(from), time(to)),
        (None, None) => String::new(),
    }
}

fn table(text: &mut String, rows: &[(&str, &Figures)]) {
    line(text, "");
    let head = ["", "count", "p50", "p99", "p99.9", "worst"].map(str::to_string);
    let rows = rows.iter().map(|(name, figures)| {
        let Figures { count, p50, p99, p999, max, .. } = **figures;
        let times = [p50, p99, p999, max].map(time);
        let [p50, p99, p999, max] = times;
        [(*name).to_string(), count.to_string(), p50, p99, p999, max]
    });
    for [name, count, p50, p99, p999, max] in std::iter::once(head).chain(rows) {
        line(text, &format!("{name:<12}{count:>10}{p50:>10}{p99:>10}{p999:>10}{max:>10}"));
    }
    line(text, "");
}

/// What the figures mean, what to do about them, and the limits behind the verdict.
fn verdict(measured: &Measured) -> String {
    let Some(verdict) = measured.verdict() else {
        return "nothing was measured: it ended before the first note".to_string();
    };
    let late = time(measured.pulses.p999.max(measured.notes.p999));
    let (means, advice) = match verdict {
        Verdict::Good => ("good: steady enough to play along with", None),
        Verdict::Fair => (
            "fair: you won't hear it in a run of notes, but playing feels less even",
            Some(advice(measured)),
        ),
        Verdict::Poor => ("not good enough: the unevenness is audible", Some(advice(measured))),
    };
    let mut text = format!("{means}; 99.9 % of events were no more than {late} late\n");
    advice.iter().for_each(|advice| line(&mut text, advice));
    line(&mut text, "");
    line(&mut text, "limits:");
    let even = "the most an instrument's response may vary (Wessel and Wright 2002,";
    line(&mut text, &format!("  {}  {even}", time(EVEN)));
    line(&mut text, "        Computer Music Journal 26(3))");
    let heard = "one displaced note in a fast run becomes noticeable (Friberg and Sundberg 1995,";
    line(&mut text, &format!("  {}  {heard}", time(HEARD)));
    text + "        Journal of the Acoustical Society of America 98(5))"
}

fn advice(measured: &Measured) -> &'static str {
    if measured.urgency.priority == 0 {
        "give it real-time priority, as described above; until then close other programs"
    } else {
        "close other programs, set the processor to full speed, and avoid virtual machines"
    }
}

/// The sentence for when nothing came back.
pub fn nothing_came(out: &str, input: &str) -> String {
    format!(
        "nothing came back on {input} within 2 s: connect {out} directly to {input} with a cable"
    )
}

/// The report on the round trips.
pub fn trips(measured: &RoundTrips, input: &str) -> String {
    let mut text = String::new();
    let RoundTrips { asked, sent, lost, extra, trips } = measured;
    let asked = if u64::from(*asked) == *sent { String::new() } else { format!(" of {asked}") };
    line(&mut text, &format!("notes sent {sent}{asked}, lost {lost}, extra {extra}"));
    let Some(trips) = trips else { return text };
    let Trips { count, min, p50, p99, max } = *trips;
    let notes = counted(count, "note", "notes");
    let [min, half, p99, max, jitter] = [min, p50, p99, max, trips.jitter()].map(time);
    line(
        &mut text,
        &format!(
            "round trip, {notes}: shortest {min}, p50 {half}, p99 {p99}, longest {max}\njitter (p99 minus \
             shortest): {jitter}"
        ),
    );
    line(&mut text, "");
    line(&mut text, &compensation(p50, input));
    text
}

/// How to compensate. A round trip does not say how it divides into out and in, so it only bounds
/// the delay of the input.
fn compensation(p50: i64, input: &str) -> String {
    if p50 < LITTLE {
        return "too short to compensate: the input needs no latency option".to_string();
    }
    let (whole, half) = (time(p50), time(p50 / 2));
    let tenths = (p50 / 2 + 50_000) / 100_000;
    format!(
        "The input's own delay is part of these {whole}. If both ends are alike, it is half, {half}:\n\n  \
         --in {input},latency={}.{}\n\nPlay to the click with this setting: if your notes are still \
         late, use more;\nif they are early, use less.",
        tenths / 10,
        tenths % 10
    )
}

/// How many times as late as the bare timer.
fn ratio(ours: i64, floor: i64) -> String {
    if floor <= 0 { "n/a".to_string() } else { format!("{:.2}", ours as f64 / floor as f64) }
}

/// A time in a suitable unit: 0.3 us, 12 us, 1.25 ms.
fn time(ns: i64) -> String {
    match ns {
        ..=9_999 => trimmed(format!("{:.1}", ns as f64 / 1e3)) + " us",
        10_000..=999_999 => format!("{} us", ns / 1000),
        _ => trimmed(format!("{:.2}", ns as f64 / 1e6)) + " ms",
    }
}

/// Removes the zeros at the end of a decimal fraction.
fn trimmed(number: String) -> String {
    number.trim_end_matches('0').trim_end_matches('.').to_string()
}

fn line(text: &mut String, of: &str) {
    text.push_str(of);
    text.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_rig::Urgency;
    use insta::assert_snapshot;

    /// Figures of events, from pairs of a count and a lateness in ns.
    fn figures(of: &[(usize, i64)]) -> Figures {
        let late = of.iter().flat_map(|&(count, late)| std::iter::repeat_n(late, count));
        Figures::of(late.collect())
    }

    fn made_up() -> Measured {
        Measured {
            asked: 10,
            lasted: 10_000_000_000,
            whole: true,
            busy: 0,
            deadlines: 672,
            pulses: figures(&[(900, 400), (50, 1_300), (9, 32_000), (1, 88_000)]),
            notes: figures(&[(2000, 700), (500, 2_900), (50, 61_000), (10, 420_000)]),
            timer: figures(&[(6000, 39_000), (700, 120_000), (20, 980_000)]),
            missed: 0,
            urgency: Urgency { asked: true, priority: 70, memory: true, slack: 0 },
        }
    }

    #[test]
    fn a_good_machine_gets_figures_and_a_verdict() {
        assert_snapshot!(measured(&made_up()));
    }

    #[test]
    fn a_fair_machine_without_priority_gets_a_remedy() {
        let urgency = Urgency { asked: true, priority: 0, memory: false, slack: 1 };
        let notes = figures(&[(2000, 90_000), (500, 1_900_000), (60, 3_400_000)]);
        // The remedy differs between systems.
        let text = measured(&Measured { busy: 2, notes, urgency, ..made_up() });
        let text = text.replace(urgency.remedy().unwrap(), "(the remedy)");
        assert_snapshot!(text);
    }

    #[test]
    fn a_poor_machine_is_reported_even_if_measuring_ended_early() {
        let pulses = figures(&[(90, 12_000), (10, 123_000_000)]);
        let (whole, lasted, missed) = (false, 2_340_000_000, 7);
        assert_snapshot!(measured(&Measured { pulses, whole, lasted, missed, ..made_up() }));
    }

    #[test]
    fn a_run_without_events_says_that_nothing_was_measured() {
        let none = Figures::default();
        let (whole, lasted) = (false, 0);
        let nothing =
            Measured { pulses: none, notes: none, timer: none, whole, lasted, ..made_up() };
        assert_snapshot!(measured(&nothing));
    }

    #[test]
    fn a_slow_cable_gets_a_proposal_for_compensation() {
        let (min, p50, p99, max) = (2_100_000, 2_345_678, 4_000_000, 9_870_000);
        let measured = RoundTrips {
            asked: 200,
            sent: 180,
            lost: 2,
            extra: 1,
            trips: Some(Trips { count: 178, min, p50, p99, max }),
        };
        assert_snapshot!(trips(&measured, "midi:Keys"));
    }

    #[test]
    fn a_fast_cable_needs_no_compensation() {
        let (min, p50, p99, max) = (33_000, 59_000, 119_000, 119_000);
        let trips = Some(Trips { count: 200, min, p50, p99, max });
        let measured = RoundTrips { asked: 200, sent: 200, trips, ..RoundTrips::default() };
        assert_snapshot!(super::trips(&measured, "bytes:wire"));
    }

    #[test]
    fn times_have_the_unit_that_suits_them() {
        let times = [0, 300, 1_000, 9_999, 12_345, 999_999, 1_250_000, 123_000_000].map(time);
        let expected = ["0 us", "0.3 us", "1 us", "10 us", "12 us", "999 us", "1.25 ms", "123 ms"];
        assert_eq!(times, expected);
    }
}
