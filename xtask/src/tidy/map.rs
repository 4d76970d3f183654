//! Compares the map of the rooms, docs/map.md, with the rooms themselves.
//!
//! In: the page and the dependency graph. Out: faults. Each section of the page has a room's folder
//! as its heading. Two of its lines are rules that are checked here: `- Uses: song, time` (the rooms
//! it may use) and `- Alone has: midir` (packages that no other room may use).

use super::graph::{Graph, Package};
use std::collections::BTreeSet;

/// What the map says about one room.
#[derive(Debug, PartialEq, Eq)]
pub struct Room {
    /// Its folder, e.g. `crates/song`.
    pub folder: String,
    /// The folders of the rooms it may use.
    pub uses: BTreeSet<String>,
    /// The packages from elsewhere that no other room may use.
    pub alone: BTreeSet<String>,
}

/// The whole-program tests look at everything from outside, so no package is closed to them.
const TESTS: &str = "tests";

/// Reads the page. Returns the rooms, and what is wrong with the page itself.
pub fn parse(page: &str) -> (Vec<Room>, Vec<String>) {
    let (mut rooms, mut faults) = (Vec::new(), Vec::new());
    for section in page.split("\n## ").skip(1) {
        let heading = section.lines().next().unwrap_or_default().trim().trim_matches('`');
        let lines = |head: &str| -> Vec<BTreeSet<String>> {
            section.lines().filter_map(|line| line.strip_prefix(head)).map(words).collect()
        };
        for start in ["- Does: ", "- Must not: ", "- Uses: "] {
            if lines(start).len() != 1 {
                let start = start.trim_end();
                faults
                    .push(format!("docs/map.md, {heading}: there must be one line '{start} ...'"));
            }
        }
        rooms.push(Room {
            folder: heading.to_string(),
            uses: lines("- Uses: ").into_iter().flatten().map(room_folder).collect(),
            alone: lines("- Alone has: ").into_iter().flatten().collect(),
        });
    }
    (rooms, faults)
}

/// `song, time` as two words; `nothing` as none.
fn words(list: &str) -> BTreeSet<String> {
    let words = list.trim().trim_end_matches('.').split(',').map(|word| word.trim().to_string());
    words.filter(|word| !word.is_empty() && word != "nothing").collect()
}

fn room_folder(name: String) -> String {
    format!("crates/{name}")
}

/// Compares the packages of the workspace with the map.
pub fn check(rooms: &[Room], graph: &Graph) -> Vec<String> {
    let mut faults = Vec::new();
    for package in &graph.packages {
        match rooms.iter().find(|room| room.folder == package.folder) {
            Some(room) => faults.extend(check_package(package, room, rooms)),
            None => faults.push(format!(
                "{} is not on docs/map.md: add a section that says what it does and must not know",
                package.folder
            )),
        }
    }
    let known: BTreeSet<&str> =
        graph.packages.iter().map(|package| package.folder.as_str()).collect();
    for room in rooms {
        for named in std::iter::once(&room.folder).chain(&room.uses) {
            if !known.contains(named.as_str()) {
                faults.push(format!("docs/map.md, {}: there is no room {named}", room.folder));
            }
        }
    }
    faults.extend(graph.under_xtask.iter().map(|library| {
        format!(
            "xtask needs {library}, which links a system library: it must build on a machine that \
             has only the Rust toolchain"
        )
    }));
    faults
}

fn check_package(package: &Package, room: &Room, rooms: &[Room]) -> Vec<String> {
    let folder = &package.folder;
    let ours = package.ours.difference(&room.uses).map(|used| {
        format!(
            "{folder} uses {used}, which docs/map.md does not allow: take it out of \
             {folder}/Cargo.toml"
        )
    });
    let mut faults: Vec<String> = ours.collect();
    for owner in rooms.iter().filter(|owner| owner.folder != *folder && folder != TESTS) {
        faults.extend(package.foreign.intersection(&owner.alone).map(|name| {
            format!(
                "{folder} uses {name}, which only {} may use: go through that room instead",
                owner.folder
            )
        }));
    }
    faults
}

#[cfg(test)]
mod tests {
    use super::*;

    const PAGE: &str = "# Map\n\n\
        ## crates/time\n\n- Does: time\n- Must not: read a clock\n- Uses: nothing\n\n\
        ## crates/clock\n\n- Does: ports\n- Must not: wait\n- Uses: time\n- Alone has: midir\n\n\
        ## tests\n\n- Does: tests\n- Must not: pry\n- Uses: time, clock\n";

    fn package(folder: &str, ours: &[&str], foreign: &[&str]) -> Package {
        let set = |names: &[&str]| names.iter().map(|name| name.to_string()).collect();
        Package { folder: folder.into(), ours: set(ours), foreign: set(foreign) }
    }

    fn lawful() -> Graph {
        let packages = vec![
            package("crates/time", &[], &["thiserror"]),
            package("crates/clock", &["crates/time"], &["midir"]),
            package("tests", &["crates/clock", "crates/time"], &["midir"]),
        ];
        Graph { packages, under_xtask: Vec::new() }
    }

    fn faults(graph: &Graph) -> Vec<String> {
        let (rooms, faults) = parse(PAGE);
        assert_eq!(faults, [""; 0]);
        check(&rooms, graph)
    }

    #[test]
    fn a_workspace_that_keeps_to_the_map_has_no_fault() {
        assert_eq!(faults(&lawful()), [""; 0]);
    }

    #[test]
    fn a_forbidden_dependency_is_reported() {
        let mut graph = lawful();
        graph.packages[0] = package("crates/time", &["crates/clock"], &[]);
        assert_eq!(
            faults(&graph),
            ["crates/time uses crates/clock, which docs/map.md does not allow: take it out of \
              crates/time/Cargo.toml"]
        );
    }

    #[test]
    fn a_package_that_belongs_to_one_room_is_refused_in_another() {
        let mut graph = lawful();
        graph.packages[0] = package("crates/time", &[], &["midir"]);
        let found = faults(&graph);
        assert_eq!(found.len(), 1, "{found:?}");
        assert!(found[0].starts_with("crates/time uses midir"), "{found:?}");
    }

    #[test]
    fn a_room_missing_from_the_map_or_from_the_workspace_is_reported() {
        let mut graph = lawful();
        graph.packages.push(package("crates/sound", &[], &[]));
        assert!(faults(&graph)[0].starts_with("crates/sound is not on docs/map.md"));
        let mut graph = lawful();
        graph.packages.remove(1);
        let found = faults(&graph);
        assert!(found.iter().any(|fault| fault.contains("no room crates/clock")), "{found:?}");
    }

    #[test]
    fn a_system_library_under_xtask_is_reported() {
        let graph = Graph { under_xtask: vec!["sound-sys".into()], ..lawful() };
        assert!(faults(&graph)[0].starts_with("xtask needs sound-sys"));
    }

    #[test]
    fn a_section_that_lacks_a_line_is_reported() {
        let page = PAGE.replace("- Must not: wait\n", "").replace("- Uses: nothing\n", "");
        let (_, faults) = parse(&page);
        assert_eq!(faults.len(), 2, "{faults:?}");
        assert!(faults[0].contains("crates/time: there must be one line '- Uses:"), "{faults:?}");
    }
}
