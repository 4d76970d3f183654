//! The arguments of `cargo xtask`: one table of jobs, and the parser that reads it.
//!
//! In: the words after `cargo xtask`. Out: a [`Request`], or one sentence that says what is wrong.

use anyhow::{Result, bail};

/// The jobs of `cargo xtask`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Job {
    /// Build the program and run it on the demo song.
    Demo,
    /// Run every check that a change must pass before it is accepted.
    Test,
    /// Check the house rules that no compiler checks.
    Tidy,
    /// Build for speed and print the figures.
    Bench,
    /// Write the generated files, or check them.
    Assets,
    /// Fetch MIDI files from outside and run the tests that need them.
    OpenSets,
    /// Look for changes to the code that no test notices.
    Mutants,
}

/// Every job: its name, what may follow it, and what it does. Feeds both parser and help.
const JOBS: &[(Job, &str, &str, &str)] = &[
    (Job::Demo, "demo", "[--no-install]", "build chaconne and run it on the demo song"),
    (Job::Test, "test", "[--no-install]", "format, lints, house rules, then every test"),
    (Job::Tidy, "tidy", "", "the house rules alone: crate arrows, map, pure crates, stray text"),
    (Job::Bench, "bench", "[--no-install] [WORDS...]", "print the figures; WORDS go to the bench"),
    (
        Job::Assets,
        "assets",
        "[--check]",
        "generate assets/default.sf2, or check that it is up to date",
    ),
    (Job::OpenSets, "open-sets", "[--no-install]", "fetch others' MIDI files, and test with them"),
    (
        Job::Mutants,
        "mutants",
        "[--no-install] [--quick] [--shard K/N] [FILE...]",
        "list changes to the code that no test notices; takes hours",
    ),
];

/// The word that makes `assets` check instead of write.
pub const CHECK: &str = "--check";
const NO_INSTALL: &str = "--no-install";

/// What the arguments ask for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Request {
    /// Print the list of jobs.
    Help,
    /// Do a job.
    Run {
        /// The job.
        job: Job,
        /// Whether missing system packages may be installed.
        install: bool,
        /// Words passed on; the bench takes any, `assets` takes [`CHECK`], `mutants` files and a share.
        rest: Vec<String>,
    },
}

/// Reads the words after `cargo xtask`; no words ask for help. The error for an unknown job or word
/// says what would be right.
pub fn parse(words: &[String]) -> Result<Request> {
    let Some((name, rest)) = words.split_first() else { return Ok(Request::Help) };
    if is_help(name) || rest.first().is_some_and(|word| is_help(word)) {
        return Ok(Request::Help);
    }
    let Some(&(job, ..)) = JOBS.iter().find(|(_, known, ..)| known == name) else {
        let known: Vec<&str> = JOBS.iter().map(|&(_, known, ..)| known).collect();
        bail!("there is no job '{name}': the jobs are {}", known.join(", "));
    };
    let installs = !matches!(job, Job::Tidy | Job::Assets);
    let asks = installs && rest.first().is_some_and(|word| word == NO_INSTALL);
    let rest = &rest[usize::from(asks)..];
    let takes = match job {
        Job::Bench | Job::Mutants => rest.len(),
        Job::Assets if rest.first().is_some_and(|word| word == CHECK) => 1,
        _ => 0,
    };
    if let Some(word) = rest.get(takes) {
        bail!("'{name}' does not take '{word}': write {}", usage(job));
    }
    Ok(Request::Run { job, install: !asks, rest: rest.to_vec() })
}

/// The list of jobs, one line each.
pub fn help() -> String {
    let mut text = String::from("cargo xtask JOB\n\n");
    for (_, name, takes, does) in JOBS {
        let left = format!("{name} {takes}");
        text += &format!("  {left:<48}{does}\n");
    }
    text += "\nMissing system packages are listed and installed with apt-get, through sudo if\n\
             needed; with --no-install the command to run is printed instead.";
    text
}

fn usage(job: Job) -> String {
    let takes = JOBS.iter().find(|(known, ..)| *known == job);
    takes.map_or(String::new(), |(_, name, takes, _)| {
        format!("'cargo xtask {}'", format!("{name} {takes}").trim_end())
    })
}

fn is_help(word: &str) -> bool {
    matches!(word, "--help" | "-h" | "help")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(line: &str) -> Result<Request> {
        let words: Vec<String> = line.split_whitespace().map(String::from).collect();
        parse(&words)
    }

    fn run(job: Job, install: bool, rest: &[&str]) -> Request {
        Request::Run { job, install, rest: rest.iter().map(|&word| word.into()).collect() }
    }

    #[test]
    fn no_words_and_help_words_ask_for_the_list_of_jobs() {
        for line in ["", "--help", "-h", "help", "test --help", "bench -h"] {
            assert_eq!(read(line).unwrap(), Request::Help, "{line}");
        }
    }

    #[test]
    fn each_job_is_read_with_and_without_install() {
        for &(job, name, takes, _) in JOBS {
            assert_eq!(read(name).unwrap(), run(job, true, &[]));
            if takes.contains(NO_INSTALL) {
                let line = format!("{name} {NO_INSTALL}");
                assert_eq!(read(&line).unwrap(), run(job, false, &[]));
            }
        }
    }

    #[test]
    fn only_the_bench_and_mutants_take_any_words() {
        let asked = read("bench --no-install perform --quick").unwrap();
        assert_eq!(asked, run(Job::Bench, false, &["perform", "--quick"]));
        let asked = read("mutants --shard 0/2 crates/time/src/tick.rs").unwrap();
        assert_eq!(asked, run(Job::Mutants, true, &["--shard", "0/2", "crates/time/src/tick.rs"]));
        let refused = read("demo fast").unwrap_err().to_string();
        assert_eq!(refused, "'demo' does not take 'fast': write 'cargo xtask demo [--no-install]'");
        assert_eq!(read("assets --check").unwrap(), run(Job::Assets, true, &[CHECK]));
        assert!(read("assets --chek").is_err() && read("assets --check twice").is_err());
        assert!(read("tidy --no-install").is_err());
        assert!(read("test --no-install --no-install").is_err());
    }

    #[test]
    fn the_error_for_an_unknown_job_lists_the_known_ones() {
        let refused = read("tset").unwrap_err().to_string();
        assert_eq!(
            refused,
            "there is no job 'tset': the jobs are demo, test, tidy, bench, assets, open-sets, \
             mutants"
        );
    }

    #[test]
    fn help_has_one_line_for_each_job() {
        for (_, name, _, does) in JOBS {
            let lines = help().lines().filter(|line| line.contains(does)).count();
            assert_eq!(lines, 1, "{name}");
        }
    }
}
