//! What the system must have, and what to do if something is missing.
//!
//! In: the missing needs, and the kind of machine. Out: a [`Remedy`]. Nothing here looks at the machine;
//! `setup` does.

/// Something that neither cargo nor rustup installs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// A C compiler, which Rust links with.
    Linker,
    /// The tool that finds the ALSA library for the build.
    PkgConfig,
    /// The ALSA library with its headers.
    Alsa,
    /// Python, whose libraries read and write files independently of our code.
    Python,
    /// The part of Python that creates a private environment.
    PythonVenv,
    /// The usual Linux test of how late the system wakes a thread.
    Cyclictest,
    /// A JACK server to test with, and its library.
    Jack,
    /// An independent player of SoundFonts, to test the default sounds with.
    FluidSynth,
}

/// A program that installs packages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Manager {
    /// Debian and its relatives. Only this manager is run; for the others, the command is only shown.
    Apt,
    /// Fedora and its relatives.
    Dnf,
    /// Arch and its relatives.
    Pacman,
    /// SUSE and its relatives.
    Zypper,
    /// Alpine.
    Apk,
}

/// Every manager with its program and the words that install packages. Kept in the order of the
/// columns of [`NEEDS`].
pub const MANAGERS: [(Manager, &str, &str); 5] = [
    (Manager::Apt, "apt-get", "install -y --no-install-recommends"),
    (Manager::Dnf, "dnf", "install -y"),
    (Manager::Pacman, "pacman", "-S --needed"),
    (Manager::Zypper, "zypper", "install -y"),
    (Manager::Apk, "apk", "add"),
];

/// Every need with its plain name and its packages, one column per manager. The project is tested with
/// the apt column; the others are common practice, from memory.
const NEEDS: [(Need, &str, [&str; 5]); 8] = [
    (
        Need::Linker,
        "a C compiler to link with",
        ["gcc libc6-dev", "gcc", "gcc", "gcc", "build-base"],
    ),
    (
        Need::PkgConfig,
        "pkg-config",
        ["pkg-config", "pkgconf-pkg-config", "pkgconf", "pkg-config", "pkgconf"],
    ),
    (
        Need::Alsa,
        "the ALSA library with its headers",
        ["libasound2-dev", "alsa-lib-devel", "alsa-lib", "alsa-devel", "alsa-lib-dev"],
    ),
    (Need::Python, "Python 3", ["python3", "python3", "python", "python3", "python3"]),
    (
        Need::PythonVenv,
        "Python's venv module",
        ["python3-venv", "python3", "python", "python3", "python3"],
    ),
    (
        Need::Cyclictest,
        "cyclictest",
        ["rt-tests", "realtime-tests", "rt-tests", "rt-tests", "rt-tests"],
    ),
    (
        Need::Jack,
        "a JACK server to test with",
        ["jackd2", "jack-audio-connection-kit", "jack2", "jack", "jack"],
    ),
    (
        Need::FluidSynth,
        "the libfluidsynth library to test with",
        ["libfluidsynth3", "fluidsynth-libs", "fluidsynth", "libfluidsynth3", "fluidsynth-libs"],
    ),
];

impl Need {
    /// Its name in the messages.
    pub fn what(self) -> &'static str {
        self.row().1
    }

    /// Its packages for one manager.
    fn packages(self, manager: Manager) -> impl Iterator<Item = &'static str> {
        self.row().2[manager.column()].split(' ')
    }

    fn row(self) -> &'static (Need, &'static str, [&'static str; 5]) {
        &NEEDS[NEEDS.iter().position(|row| row.0 == self).expect("every need has a row")]
    }
}

impl Manager {
    fn column(self) -> usize {
        MANAGERS.iter().position(|row| row.0 == self).expect("every manager has a row")
    }
}

/// The facts about a machine that decide how to install something.
#[derive(Debug, Clone, Copy)]
pub struct Machine {
    /// The package manager that was found, if any.
    pub manager: Option<Manager>,
    /// Whether we are root already.
    pub root: bool,
    /// Whether `sudo` is installed.
    pub sudo: bool,
    /// Whether the user allows installing.
    pub install: bool,
}

/// What to do about missing needs.
#[derive(Debug, PartialEq, Eq)]
pub enum Remedy {
    /// Nothing is missing.
    Ready,
    /// Run these lines in order, each a program and its words. The first, which refreshes the
    /// package lists, may fail without harm.
    Install(Vec<Vec<String>>),
    /// Stop, and tell the user this sentence, which ends in the line to run.
    Stop(String),
}

/// Decides what to do about `missing` on a machine such as `machine`.
pub fn plan(missing: &[Need], machine: Machine) -> Remedy {
    if missing.is_empty() {
        return Remedy::Ready;
    }
    let Some(manager) = machine.manager else {
        return Remedy::Stop(
            "no known package manager was found: install the missing packages yourself, then try \
             again"
                .into(),
        );
    };
    let line = install_line(missing, manager);
    let can_be_root = machine.root || machine.sudo;
    if manager == Manager::Apt && machine.install && can_be_root {
        let update = vec!["apt-get".into(), "update".into()];
        return Remedy::Install(vec![as_root(update, machine), as_root(line, machine)]);
    }
    let (line, who) = match (machine.root, machine.sudo) {
        (true, _) => (line.join(" "), "run this"),
        (false, true) => (format!("sudo {}", line.join(" ")), "run this"),
        (false, false) => (line.join(" "), "run this as root"),
    };
    Remedy::Stop(format!("{who}, then try again: {line}"))
}

/// The line that installs everything in `missing`, each package once.
fn install_line(missing: &[Need], manager: Manager) -> Vec<String> {
    let (_, program, words) = MANAGERS[manager.column()];
    let mut line: Vec<String> = vec![program.into()];
    line.extend(words.split(' ').map(String::from));
    for package in missing.iter().flat_map(|need| need.packages(manager)) {
        if !line.iter().any(|word| word == package) {
            line.push(package.into());
        }
    }
    line
}

/// The same line, run as root and without questions.
fn as_root(line: Vec<String>, machine: Machine) -> Vec<String> {
    let quiet = ["env", "DEBIAN_FRONTEND=noninteractive"].map(String::from);
    let sudo = (!machine.root).then(|| String::from("sudo"));
    sudo.into_iter().chain(quiet).chain(line).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const ROOT: Machine =
        Machine { manager: Some(Manager::Apt), root: true, sudo: false, install: true };
    const USER: Machine =
        Machine { manager: Some(Manager::Apt), root: false, sudo: true, install: true };

    fn lines(plan: Remedy) -> Vec<String> {
        match plan {
            Remedy::Install(lines) => lines.iter().map(|line| line.join(" ")).collect(),
            other => panic!("expected an install, got {other:?}"),
        }
    }

    fn stop(plan: Remedy) -> String {
        match plan {
            Remedy::Stop(sentence) => sentence,
            other => panic!("expected a stop, got {other:?}"),
        }
    }

    #[test]
    fn a_complete_machine_is_left_alone() {
        assert_eq!(plan(&[], USER), Remedy::Ready);
        assert_eq!(plan(&[], Machine { manager: None, ..USER }), Remedy::Ready);
    }

    #[test]
    fn root_refreshes_the_lists_and_installs_only_the_missing_packages() {
        let found = lines(plan(&[Need::Alsa], ROOT));
        assert_eq!(
            found,
            [
                "env DEBIAN_FRONTEND=noninteractive apt-get update",
                "env DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends \
                 libasound2-dev",
            ]
        );
    }

    #[test]
    fn a_user_installs_through_sudo() {
        let found = lines(plan(&[Need::PkgConfig, Need::PythonVenv], USER));
        assert!(found.iter().all(|line| line.starts_with("sudo env ")), "{found:?}");
        assert!(found[1].ends_with(" pkg-config python3-venv"), "{found:?}");
    }

    #[test]
    fn a_user_who_forbids_installing_is_shown_the_line_to_run() {
        let missing = [Need::Alsa, Need::PkgConfig];
        let sentence = stop(plan(&missing, Machine { install: false, ..USER }));
        assert_eq!(
            sentence,
            "run this, then try again: sudo apt-get install -y --no-install-recommends \
             libasound2-dev pkg-config"
        );
    }

    #[test]
    fn a_user_without_sudo_is_told_to_be_root() {
        let sentence = stop(plan(&[Need::Alsa], Machine { sudo: false, ..USER }));
        let start = "run this as root, then try again: apt-get install ";
        assert!(sentence.starts_with(start), "{sentence}");
    }

    #[test]
    fn the_command_for_another_manager_is_shown_and_never_run() {
        for (manager, program, _) in &MANAGERS[1..] {
            let machine = Machine { manager: Some(*manager), ..ROOT };
            let sentence = stop(plan(&[Need::Alsa, Need::Python, Need::PythonVenv], machine));
            assert!(sentence.contains(&format!(": {program} ")), "{sentence}");
            let pythons = sentence.split(' ').filter(|word| word.starts_with("python")).count();
            assert_eq!(pythons, 1, "a package that two needs share: {sentence}");
        }
    }

    #[test]
    fn without_a_known_manager_the_user_is_asked_to_install() {
        let sentence = stop(plan(&[Need::Linker], Machine { manager: None, ..ROOT }));
        assert!(sentence.contains("no known package manager"), "{sentence}");
    }

    #[test]
    fn every_need_has_a_name_and_packages_under_every_manager() {
        for (need, _, _) in NEEDS {
            assert!(!need.what().is_empty());
            for (manager, _, _) in MANAGERS {
                assert!(need.packages(manager).all(|package| !package.is_empty()), "{need:?}");
            }
        }
    }
}
