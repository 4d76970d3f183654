//! `cargo xtask mutants`: changes the code in one place at a time and lists the changes that no test
//! notices. Each is a missing test, dead code, or equivalent to the original; `equivalents` knows
//! which, and those are not tried.
//!
//! In: files, or none for every file of the rooms in [`ROOMS`]; a share of the changes. Out: the list of
//! survivors; after a quick run, tests that take long may still notice some of them. The changes are made
//! to a copy under `target`, so the files themselves may be edited meanwhile. One job at a time, and only
//! the tests of the room that is changed.

mod equivalents;
mod tree;

use crate::run;
use anyhow::{Context, Result, bail};
use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::process::Command;

/// The rooms whose code is changed, in this order.
const ROOMS: [&str; 4] = ["engine", "song", "midi", "time"];
/// Another release may make other changes, so the list of equivalent ones goes with this one.
const TOOL: &str = "cargo-mutants@27.1.0";
/// The word before the share to try.
const SHARD: &str = "--shard";
/// The word that leaves out the last stage.
const QUICK: &str = "--quick";
const USAGE: &str = "'cargo xtask mutants [--no-install] [--quick] [--shard K/N] [FILE...]'";

/// One way to test a change. A change that passes goes on to the next stage, which takes longer.
struct Stage {
    name: &'static str,
    /// Which tests run, for a person.
    what: &'static str,
    /// Whether the changed room is compiled without optimisation, which takes a third of the time.
    plain: bool,
    /// Which tests of a room are built.
    build: fn(&str) -> &'static [&'static str],
    /// What the tests are started with.
    test: &'static [&'static str],
    /// The time that the tests may take at least, in seconds. A change may make them loop for ever and
    /// fill the memory.
    patience: u32,
}

const STAGES: [Stage; 3] = [
    Stage {
        name: "unit",
        what: "unit tests",
        plain: true,
        build: |_| &["--cargo-arg=--lib"],
        test: &[],
        patience: 10,
    },
    Stage {
        name: "quick",
        what: "tests that take a moment",
        plain: true,
        build: |room| if room == "engine" { &QUICK_OF_ENGINE } else { &["--cargo-arg=--tests"] },
        test: &SLOW,
        patience: 30,
    },
    Stage { name: "all", what: "all tests", plain: false, build: |_| &[], test: &[], patience: 60 },
];

/// Those that play one scene each. The others play hundreds of random ones, and linking all takes longer
/// than running these.
const QUICK_OF_ENGINE: [&str; 19] = [
    "--cargo-arg=--test=faults",
    "--cargo-arg=--test=following",
    "--cargo-arg=--test=gestures",
    "--cargo-arg=--test=hands",
    "--cargo-arg=--test=history",
    "--cargo-arg=--test=instruments",
    "--cargo-arg=--test=keeping",
    "--cargo-arg=--test=late_foot",
    "--cargo-arg=--test=late_input",
    "--cargo-arg=--test=leading",
    "--cargo-arg=--test=moves",
    "--cargo-arg=--test=open_round",
    "--cargo-arg=--test=recorders",
    "--cargo-arg=--test=recording",
    "--cargo-arg=--test=replacing",
    "--cargo-arg=--test=revisions",
    "--cargo-arg=--test=rules_of_play",
    "--cargo-arg=--test=settings",
    "--cargo-arg=--test=status",
];

/// These count the work of tens of thousands of notes, or read hundreds of texts: up to two minutes if not
/// optimised.
const SLOW: [&str; 6] = [
    "--skip=a_full_round_says_so_once_and_the_next_one_has_room_again",
    "--skip=a_take_that_nobody_hears_costs_the_same_at_each_message",
    "--skip=a_text_cut_short_anywhere_is_refused",
    "--skip=random_edits_cover_every_kind_and_some_are_refused",
    "--skip=very_long_or_deeply_nested_edits_are_answered",
    "--skip=very_long_or_deeply_nested_texts_are_refused",
];

/// Few random cases, the same each time, not shrunk when one fails, and none kept for the next change.
const PROPERTIES: [(&str, &str); 4] = [
    ("PROPTEST_CASES", "16"),
    ("PROPTEST_RNG_SEED", "1"),
    ("PROPTEST_MAX_SHRINK_ITERS", "0"),
    ("PROPTEST_DISABLE_FAILURE_PERSISTENCE", "true"),
];

/// Tries the changes that `words` ask for and fails if one survives.
pub fn mutants(top: &Path, install: bool, words: &[String]) -> Result<()> {
    let asked = Asked::parse(words)?;
    let rooms = by_room(top, &asked.files)?;
    need_tool(install)?;
    let copy = tree::copy(top)?;
    let equivalent = equivalents::among(&copy, &every_change(&copy)?)?;
    let mut survivors = BTreeSet::new();
    for (room, files) in &rooms {
        let choice = choice(files, asked.shard.as_deref());
        survivors.extend(survive(&copy, room, asked.stages(), choice, &equivalent)?);
    }
    if survivors.is_empty() {
        println!("mutants: every change that was tried is noticed by a test");
        return Ok(());
    }
    println!("mutants: no test notices these changes:");
    for name in &survivors {
        println!("  {name}");
    }
    bail!(
        "{} survived: write the missing test, remove dead code, or list an equivalent one with its \
         reason in {}",
        survivors.len(),
        equivalents::LIST
    )
}

/// What the words ask for.
#[derive(Debug, PartialEq, Eq)]
struct Asked {
    /// Whether to leave out the last stage, which takes longest.
    quick: bool,
    /// The share of the changes to try, `K/N`.
    shard: Option<String>,
    /// The files to change; none for all.
    files: Vec<String>,
}

impl Asked {
    fn parse(words: &[String]) -> Result<Asked> {
        let mut asked = Asked { quick: false, shard: None, files: Vec::new() };
        let mut words = words.iter();
        while let Some(word) = words.next() {
            if word == SHARD {
                asked.shard = Some(share(words.next().map_or("", |next| next))?);
            } else if word == QUICK {
                asked.quick = true;
            } else if word.starts_with('-') {
                bail!("'mutants' does not take '{word}': write {USAGE}");
            } else {
                asked.files.push(word.clone());
            }
        }
        Ok(asked)
    }

    fn stages(&self) -> &'static [Stage] {
        if self.quick { &STAGES[..STAGES.len() - 1] } else { &STAGES }
    }
}

/// Reads `K/N`, with K from 0 to N - 1.
fn share(word: &str) -> Result<String> {
    let parts = word.split_once('/').map(|(k, n)| (k.parse::<u32>(), n.parse::<u32>()));
    match parts {
        Some((Ok(k), Ok(n))) if k < n => Ok(format!("{k}/{n}")),
        _ => bail!("'{SHARD} {word}' is no share: write K/N with K from 0 to N-1, such as 0/4"),
    }
}

/// The files by room, in the order of [`ROOMS`]. A room without files is changed everywhere.
fn by_room(top: &Path, files: &[String]) -> Result<Vec<(&'static str, Vec<String>)>> {
    let mut found: BTreeMap<usize, Vec<String>> = BTreeMap::new();
    for file in files {
        let place = |room: &&str| file.starts_with(&format!("crates/{room}/src/"));
        match ROOMS.iter().position(place) {
            Some(room) if top.join(file).is_file() => {
                found.entry(room).or_default().push(file.clone())
            }
            _ => bail!(
                "'{file}' is no source file of {}: write it like crates/engine/src/feel.rs",
                ROOMS.join(", ")
            ),
        }
    }
    if files.is_empty() {
        found = (0..ROOMS.len()).map(|room| (room, Vec::new())).collect();
    }
    Ok(found.into_iter().map(|(room, files)| (ROOMS[room], files)).collect())
}

/// Installs the tool if it is absent and that is allowed.
fn need_tool(install: bool) -> Result<()> {
    if run::succeeds(&mut run::cargo(&["mutants", "--version"])) {
        return Ok(());
    }
    println!("Missing on this system: cargo-mutants.");
    let line = ["install", "--locked", TOOL];
    if !install {
        bail!("run this, then try again: cargo {}", line.join(" "));
    }
    run::step(&mut run::cargo(&line))
}

/// The names of all changes to all rooms.
fn every_change(copy: &Path) -> Result<Vec<String>> {
    let packages = ROOMS.iter().map(|room| format!("--package={}", package(room)));
    let list = run::output(
        run::cargo(&["mutants", "--list", "--colors=never"]).args(packages).current_dir(copy),
    )?;
    Ok(String::from_utf8_lossy(&list).lines().map(String::from).collect())
}

/// The words that choose the changes of the first stage.
fn choice(files: &[String], shard: Option<&str>) -> Vec<String> {
    let files = files.iter().map(|file| format!("--file={file}"));
    let shard = shard.map(|shard| [format!("{SHARD}={shard}"), "--sharding=round-robin".into()]);
    files.chain(shard.into_iter().flatten()).collect()
}

/// The words that choose these changes again. The tool also tries every left-out field of their files,
/// because it ignores patterns there.
fn again(left: &BTreeSet<String>) -> Vec<String> {
    let files: BTreeSet<&str> = left.iter().filter_map(|name| name.split(':').next()).collect();
    let files = files.into_iter().map(|file| format!("--file={file}"));
    files.chain(left.iter().map(|name| format!("--re={}", exactly(name)))).collect()
}

/// A regular expression that fits this name only.
fn exactly(name: &str) -> String {
    let mut pattern = String::from("^");
    for letter in name.chars() {
        if r"\.+*?()|[]{}^$".contains(letter) {
            pattern.push('\\');
        }
        pattern.push(letter);
    }
    pattern + "$"
}

/// The changes to one room that pass all these stages.
fn survive(
    copy: &Path,
    room: &str,
    stages: &[Stage],
    mut choice: Vec<String>,
    equivalent: &BTreeSet<String>,
) -> Result<BTreeSet<String>> {
    choice.extend(equivalent.iter().map(|name| format!("--exclude-re={}", exactly(name))));
    let mut left: Option<BTreeSet<String>> = None;
    // A room without a folder of tests has unit tests only.
    let more = copy.join("crates").join(room).join("tests").is_dir();
    for stage in &stages[..if more { stages.len() } else { 1 }] {
        let mut missed = missed(copy, room, stage, &choice)?;
        missed.retain(|name| !equivalent.contains(name));
        missed.retain(|name| left.as_ref().is_none_or(|left| left.contains(name)));
        println!("{room}, {}: {} not noticed", stage.name, missed.len());
        choice = again(&missed);
        left = Some(missed);
        if choice.is_empty() {
            break;
        }
    }
    Ok(left.unwrap_or_default())
}

/// Runs one stage; returns the changes that its tests did not notice. One that makes a test run too long
/// counts as noticed.
fn missed(copy: &Path, room: &str, stage: &Stage, choice: &[String]) -> Result<BTreeSet<String>> {
    let out = copy.join("target").join(format!("{room}-{}", stage.name));
    fs::create_dir_all(&out).with_context(|| format!("{} could not be created", out.display()))?;
    let package = package(room);
    let mut command = run::cargo(&["mutants", "--in-place", "--profile=mutants", "--no-times"]);
    command.arg(format!("--package={package}")).arg("--output").arg(&out);
    command.arg(format!("--minimum-test-timeout={}", stage.patience)).arg("--colors=never");
    command.args((stage.build)(room)).args(choice);
    if stage.plain {
        let level = format!("profile.mutants.package.{package}.opt-level=0");
        command.arg(format!("--cargo-arg=--config={level}"));
    }
    command.args(["--", "--"]).args(stage.test).envs(PROPERTIES).current_dir(copy);
    println!("> {room}: {}", stage.what);
    ran(&mut command)?;
    let list = out.join("mutants.out/missed.txt");
    let list = fs::read_to_string(&list)
        .with_context(|| format!("{} could not be read", list.display()))?;
    Ok(list.lines().map(String::from).collect())
}

/// Runs the tool, which exits with 2 if changes were missed and with 3 if some ran too long.
fn ran(command: &mut Command) -> Result<()> {
    let status = command.status().context("cargo-mutants could not be started")?;
    match status.code() {
        Some(0 | 2 | 3) => Ok(()),
        _ => bail!("cargo-mutants failed ({status}); its last lines say why"),
    }
}

fn package(room: &str) -> String {
    format!("chaconne-{room}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(line: &str) -> Result<Asked> {
        let words: Vec<String> = line.split_whitespace().map(String::from).collect();
        Asked::parse(&words)
    }

    fn top() -> &'static Path {
        Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap()
    }

    #[test]
    fn files_and_a_share_are_read_in_any_order() {
        let files = vec!["crates/time/src/tick.rs".to_string()];
        for line in ["--shard 1/3 crates/time/src/tick.rs", "crates/time/src/tick.rs --shard 1/3"] {
            let read = asked(line).unwrap();
            let expected = Asked { quick: false, shard: Some("1/3".into()), files: files.clone() };
            assert_eq!(read, expected, "{line}");
        }
        assert_eq!(asked("").unwrap(), Asked { quick: false, shard: None, files: Vec::new() });
    }

    #[test]
    fn a_quick_run_leaves_out_the_tests_that_take_longest() {
        let names = |line| -> Vec<&str> {
            asked(line).unwrap().stages().iter().map(|stage| stage.name).collect()
        };
        assert_eq!(names("--quick"), ["unit", "quick"]);
        assert_eq!(names(""), ["unit", "quick", "all"]);
    }

    #[test]
    fn a_share_out_of_range_or_an_unknown_option_is_refused() {
        for line in
            ["--shard", "--shard 3/3", "--shard 1", "--shard a/b", "--shard 0/0", "--shart 0/2"]
        {
            assert!(asked(line).is_err(), "{line}");
        }
    }

    #[test]
    fn files_are_sorted_into_rooms_and_no_file_means_every_room() {
        let files =
            ["crates/time/src/tick.rs", "crates/engine/src/feel.rs", "crates/time/src/grid.rs"];
        let found = by_room(top(), &files.map(String::from)).unwrap();
        let expected = [
            ("engine", vec![files[1].to_string()]),
            ("time", vec![files[0].into(), files[2].into()]),
        ];
        assert_eq!(found, expected);
        let all: Vec<_> = by_room(top(), &[]).unwrap().into_iter().map(|(room, _)| room).collect();
        assert_eq!(all, ROOMS);
    }

    #[test]
    fn a_file_of_another_room_or_one_that_does_not_exist_is_refused() {
        for file in ["crates/tui/src/lib.rs", "crates/time/src/tock.rs", "tick.rs"] {
            let refused = by_room(top(), &[file.to_string()]).unwrap_err().to_string();
            assert!(
                refused.contains(file) && refused.contains("crates/engine/src/feel.rs"),
                "{refused}"
            );
        }
    }

    #[test]
    fn a_pattern_fits_one_name_only() {
        let name = "a/b.rs:1:2: replace f -> Vec<(T, T)> with vec![] in <impl X for Y>::g";
        let expected =
            r"^a/b\.rs:1:2: replace f -> Vec<\(T, T\)> with vec!\[\] in <impl X for Y>::g$";
        assert_eq!(exactly(name), expected);
        assert_eq!(exactly(r"a * b + c | d ^ e \ f"), r"^a \* b \+ c \| d \^ e \\ f$");
    }

    #[test]
    fn what_is_left_is_chosen_by_file_and_name() {
        let left = ["a.rs:1:2: b", "a.rs:3:4: c"].map(String::from).into();
        assert_eq!(again(&left), ["--file=a.rs", r"--re=^a\.rs:1:2: b$", r"--re=^a\.rs:3:4: c$"]);
        assert!(again(&BTreeSet::new()).is_empty());
    }

    #[test]
    fn the_last_stage_runs_every_test_as_it_is() {
        let last = STAGES.last().unwrap();
        assert!(!last.plain && last.test.is_empty());
        assert!(ROOMS.iter().all(|room| (last.build)(room).is_empty()));
    }

    #[test]
    fn tests_that_a_stage_builds_or_skips_exist() {
        for word in QUICK_OF_ENGINE {
            let name = word.rsplit_once('=').unwrap().1;
            assert!(top().join(format!("crates/engine/tests/{name}.rs")).is_file(), "{name}");
        }
        let files = [
            "engine/tests/recording",
            "song/tests/edits",
            "song/tests/edit_text",
            "song/tests/refusals",
        ];
        let source =
            files.map(|file| fs::read_to_string(top().join(format!("crates/{file}.rs"))).unwrap());
        let source = source.concat();
        for skip in STAGES.iter().flat_map(|stage| stage.test) {
            let name = skip.strip_prefix("--skip=").unwrap();
            assert!(source.contains(&format!("fn {name}()")), "{name}");
        }
    }
}
