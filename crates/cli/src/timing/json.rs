//! `timing --json`: one object on one line; docs/timing.md describes the fields.

use chaconne_rig::{EDGES, Figures, Measured, RoundTrips, Trips, Verdict};
use serde_json::{Value, json};

/// The version of the fields. It goes up when a field changes its meaning or disappears.
const VERSION: u32 = 1;

/// How late events were.
pub fn measured(measured: &Measured) -> String {
    let Measured { pulses, notes, timer, urgency, .. } = measured;
    let against = |figures: &Figures| {
        json!({
            "p50": ratio(figures.p50, timer.p50),
            "p99": ratio(figures.p99, timer.p99),
        })
    };
    let value = json!({
        "version": VERSION,
        "seconds": measured.asked,
        "lasted": measured.lasted,
        "whole": measured.whole,
        "busy_threads": measured.busy,
        "deadlines_per_second": measured.deadlines,
        "pulses": figures(pulses),
        "notes": figures(notes),
        "timer": figures(timer),
        "ratio": { "pulses": against(pulses), "notes": against(notes) },
        "missed": measured.missed,
        "granted": {
            "priority": urgency.priority,
            "memory_locked": urgency.memory,
            "timer_slack": urgency.slack,
        },
        "remedy": urgency.remedy(),
        "verdict": measured.verdict().map(word),
    });
    format!("{value}\n")
}

/// How long the round trips were.
pub fn trips(measured: &RoundTrips) -> String {
    let trips = measured.trips.map(|trips| {
        let Trips { count, min, p50, p99, max } = trips;
        let jitter = trips.jitter();
        json!({ "count": count, "min": min, "p50": p50, "p99": p99, "max": max, "jitter": jitter })
    });
    let value = json!({
        "version": VERSION,
        "asked": measured.asked,
        "sent": measured.sent,
        "lost": measured.lost,
        "extra": measured.extra,
        "round_trip": trips,
    });
    format!("{value}\n")
}

fn figures(figures: &Figures) -> Value {
    let edges = EDGES.iter().map(Some).chain(std::iter::once(None));
    let buckets: Vec<Value> = edges
        .zip(figures.histogram)
        .map(|(below, count)| json!({ "below": below, "count": count }))
        .collect();
    let Figures { count, p50, p99, p999, max, .. } = *figures;
    json!({
        "count": count,
        "p50": p50,
        "p99": p99,
        "p99_9": p999,
        "max": max,
        "histogram": buckets,
    })
}

fn ratio(ours: i64, floor: i64) -> Option<f64> {
    (floor > 0).then(|| ours as f64 / floor as f64)
}

fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Good => "good",
        Verdict::Fair => "fair",
        Verdict::Poor => "poor",
    }
}
