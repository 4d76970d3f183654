//! The whole program's `chaconne timing`: its figures add up, a FIFO serves as a cable, and however it
//! ends, no note sounds on.
#![cfg(unix)]

use chaconne_tests::fifo::{Tap, make};
use chaconne_tests::program::{PATIENCE, finish, run, signal, spawn};
use chaconne_tests::wire::{Heard, down};
use rustix::process::Signal;
use serde_json::Value;
use std::io::{BufRead, BufReader};

/// The JSON object on standard output, which contains nothing else.
fn object(out: &str) -> Value {
    let value: Value = serde_json::from_str(out).expect("standard output is JSON");
    assert!(value.is_object(), "{out}");
    value
}

/// The whole number at a path of names.
#[track_caller]
fn number(value: &Value, path: &str) -> i64 {
    let at = value.pointer(path).unwrap_or_else(|| panic!("there is no {path} in {value}"));
    at.as_i64().unwrap_or_else(|| panic!("{path} is not a whole number: {at}"))
}

/// Asserts that the percentiles are in order, and that the histogram counts every event.
fn check_figures(figures: &Value) {
    let [count, p50, p99, p999, max] =
        ["/count", "/p50", "/p99", "/p99_9", "/max"].map(|path| number(figures, path));
    assert!(0 <= p50 && p50 <= p99 && p99 <= p999 && p999 <= max, "{figures}");
    let buckets = figures["histogram"].as_array().expect("the histogram is a list");
    let sum: i64 = buckets.iter().map(|bucket| number(bucket, "/count")).sum();
    assert_eq!(sum, count, "{figures}");
    let edges: Vec<Option<i64>> = buckets.iter().map(|bucket| bucket["below"].as_i64()).collect();
    assert!(edges[..edges.len() - 1].is_sorted() && edges[0] == Some(1_000));
    // The largest is in the last bucket that is used.
    let last = buckets.iter().rposition(|bucket| number(bucket, "/count") > 0).unwrap();
    assert!(edges[last].is_none_or(|below| max < below), "{figures}");
    assert!(last == 0 || edges[last - 1].is_some_and(|from| from <= max), "{figures}");
}

#[test]
fn two_seconds_are_measured_to_the_last_pulse_and_the_figures_add_up() {
    let ran = run(&["timing", "--seconds", "2", "--json"]);
    let report = object(&ran.out);
    // 24 pulses per quarter (MIDI 1.0 Detailed Specification, "Timing Clock"), 240 quarters per minute,
    // 2 seconds; sixteen parts in sixteenths are 16 notes per sixteenth.
    assert_eq!(number(&report, "/pulses/count"), 24 * 240 * 2 / 60);
    assert_eq!(number(&report, "/notes/count"), 16 * 4 * 240 * 2 / 60);
    assert_eq!((number(&report, "/version"), number(&report, "/seconds")), (1, 2));
    assert_eq!((number(&report, "/lasted"), number(&report, "/missed")), (2_000_000_000, 0));
    assert_eq!(report["whole"], true);
    ["pulses", "notes", "timer"].iter().for_each(|of| check_figures(&report[*of]));
    for (of, which) in [("pulses", "p50"), ("pulses", "p99"), ("notes", "p50"), ("notes", "p99")] {
        let (ours, floor) = (&report[of][which], &report["timer"][which]);
        let exact = ours.as_f64().unwrap() / floor.as_f64().unwrap();
        let ratio = report["ratio"][of][which].as_f64().expect("a ratio is a number");
        assert!((ratio - exact).abs() <= exact * 1e-9, "{of} {which}");
    }
    // Up to 1 ms is good: Wessel and Wright 2002, Computer Music Journal 26(3). Up to 6 ms is fair:
    // Friberg and Sundberg 1995, JASA 98(5).
    let worst = number(&report, "/pulses/p99_9").max(number(&report, "/notes/p99_9"));
    let verdict =
        ["good", "fair", "poor"][[1_000_000, 6_000_000].partition_point(|&most| most < worst)];
    let code = i32::from(verdict == "poor");
    assert_eq!(report["verdict"], verdict);
    let granted =
        number(&report, "/granted/priority") > 0 && report["granted"]["memory_locked"] == true;
    assert_eq!(report["remedy"].is_null(), granted);
    ran.ends(code);
}

#[test]
fn the_report_in_words_mentions_the_load() {
    let ran = run(&["timing", "--seconds", "1", "--load"]);
    let cores = std::thread::available_parallelism().unwrap().get();
    let busy = if cores == 1 { "one thread".into() } else { format!("{cores} threads") };
    assert!(ran.out.contains(&format!("1 s, while {busy} kept the machine busy")), "{}", ran.out);
    let count = |name: &str, count: u32| {
        let row = ran.out.lines().find(|line| line.starts_with(name)).expect("a row of the table");
        assert_eq!(row[name.len()..].split_whitespace().next(), Some(count.to_string().as_str()));
    };
    count("clock pulses  ", 96);
    count("notes  ", 256);
    let code = if ran.out.contains("\nnot good enough") { 1 } else { 0 };
    ran.ends(code);
}

#[test]
fn a_signal_ends_the_measurement_early_and_the_report_is_printed() {
    let mut child = spawn(&["timing", "--seconds", "3600", "--json"]);
    let mut errors = BufReader::new(child.stderr.take().expect("standard error is kept"));
    let mut line = String::new();
    errors.read_line(&mut line).unwrap();
    assert_eq!(line, "measuring for 3600 s; Ctrl-C ends it early\n");
    // The program catches signals from here on. It may not have measured anything yet.
    signal(child.id(), Signal::INT);
    let ran = finish(child, PATIENCE);
    let report = object(&ran.out);
    assert_eq!(report["whole"], false);
    assert!(number(&report, "/pulses/count") < 24 * 240 * 3600 / 60);
    let good = report["verdict"] == "good" || report["verdict"] == "fair";
    ran.ends(i32::from(!good));
}

#[test]
fn every_note_returns_through_one_fifo_as_both_ports() {
    let folder = tempfile::tempdir().unwrap();
    let port = format!("bytes:{}", make(folder.path(), "wire").display());
    let ran = run(&["timing", "--loopback", &port, &port, "--count", "60", "--json"]).ends(0);
    let report = object(&ran.out);
    let counts = ["/asked", "/sent", "/round_trip/count", "/lost", "/extra"];
    assert_eq!(counts.map(|path| number(&report, path)), [60, 60, 60, 0, 0]);
    let [min, p50, p99, max, jitter] = ["min", "p50", "p99", "max", "jitter"]
        .map(|of| number(&report["round_trip"], &format!("/{of}")));
    assert!(0 <= min && min <= p50 && p50 <= p99 && p99 <= max && jitter == p99 - min, "{report}");
    let ran = run(&["timing", "--loopback", &port, &port, "--count", "20"]).ends(0);
    assert!(ran.out.starts_with("notes sent 20, lost 0, extra 0\nround trip, 20 notes: "));
}

#[test]
fn a_loopback_without_a_cable_is_reported() {
    let folder = tempfile::tempdir().unwrap();
    let ports = ["out", "in"].map(|name| format!("bytes:{}", make(folder.path(), name).display()));
    let ran = run(&["timing", "--loopback", &ports[0], &ports[1]]).ends(1);
    assert_eq!(
        ran.err,
        format!(
            "nothing came back on {1} within 2 s: connect {0} directly to {1} with a cable\n",
            ports[0], ports[1]
        )
    );
    assert_eq!(ran.out, "");
}

#[test]
fn a_signal_during_the_loopback_leaves_no_note_sounding() {
    let folder = tempfile::tempdir().unwrap();
    let (out, into) = (make(folder.path(), "out"), make(folder.path(), "in"));
    let tap = Tap::open(&out);
    let ports = [&out, &into].map(|path| format!("bytes:{}", path.display()));
    let child = spawn(&["timing", "--loopback", &ports[0], &ports[1]]);
    tap.wait("a note", |heard| heard.iter().any(|message| matches!(message, Heard::On(..))));
    signal(child.id(), Signal::TERM);
    finish(child, PATIENCE).ends(1);
    let heard = tap.close();
    assert_eq!(down(&heard), []);
    // The notes are quiet.
    assert!(heard.iter().all(|message| !matches!(message, Heard::On(.., 9..))));
}

#[test]
fn a_missing_port_is_refused_in_one_sentence() {
    let sentence = run(&["timing", "--loopback", "none", "bytes:/dev/no such device"]).refused();
    assert!(sentence.contains("/dev/no such device"), "{sentence}");
}
