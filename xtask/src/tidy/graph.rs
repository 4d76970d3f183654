//! The workspace's dependency graph.
//!
//! In: what `cargo metadata` prints. Out: each package of the workspace by its folder, the
//! packages it uses, and the packages with a system library that `xtask` depends on.

use crate::run;
use anyhow::{Context, Result};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

/// What the rules need to know about the workspace.
#[derive(Debug, Default)]
pub struct Graph {
    /// The packages of the workspace.
    pub packages: Vec<Package>,
    /// Packages that link a system library and that `xtask` needs in order to build.
    pub under_xtask: Vec<String>,
}

/// One package of the workspace. Dependencies of every kind count: for tests and builds as well.
#[derive(Debug, PartialEq, Eq)]
pub struct Package {
    /// Its folder under the top one, e.g. `crates/song`.
    pub folder: String,
    /// The folders of the workspace packages that it uses.
    pub ours: BTreeSet<String>,
    /// The names of the other packages that it uses.
    pub foreign: BTreeSet<String>,
}

/// Asks cargo for the graph.
pub fn read() -> Result<Graph> {
    let text = run::output(&mut run::cargo(&["metadata", "--format-version", "1"]))?;
    parse(&text).context("the output of 'cargo metadata' could not be understood")
}

/// Reads the text of `cargo metadata --format-version 1`.
fn parse(text: &[u8]) -> Result<Graph> {
    let value: Value = serde_json::from_slice(text)?;
    let top = value["workspace_root"].as_str().context("it has no workspace_root")?;
    let members: BTreeSet<&str> =
        list(&value["workspace_members"]).iter().filter_map(Value::as_str).collect();
    let mut graph = Graph::default();
    for package in list(&value["packages"]) {
        let id = package["id"].as_str().context("a package has no id")?;
        if members.contains(id) {
            graph.packages.push(one_package(package, top)?);
        }
    }
    graph.under_xtask = libraries_under(&value, "xtask");
    Ok(graph)
}

fn one_package(package: &Value, top: &str) -> Result<Package> {
    let manifest = package["manifest_path"].as_str().context("a package has no manifest_path")?;
    let folder = Path::new(manifest).parent().context("a manifest has no folder")?;
    let (mut ours, mut foreign) = (BTreeSet::new(), BTreeSet::new());
    for dependency in list(&package["dependencies"]) {
        if let Some(path) = dependency["path"].as_str() {
            ours.insert(below(Path::new(path), top));
        } else if let Some(name) = dependency["name"].as_str() {
            foreign.insert(name.to_string());
        }
    }
    Ok(Package { folder: below(folder, top), ours, foreign })
}

fn below(folder: &Path, top: &str) -> String {
    folder.strip_prefix(top).unwrap_or(folder).to_string_lossy().replace('\\', "/")
}

/// Every package that links a system library and that the package called `name` needs in order to
/// build. Packages that only its tests need do not count.
fn libraries_under(value: &Value, name: &str) -> Vec<String> {
    let by_id: BTreeMap<&str, &Value> = list(&value["packages"])
        .iter()
        .filter_map(|package| Some((package["id"].as_str()?, package)))
        .collect();
    let nodes: BTreeMap<&str, &Value> = list(&value["resolve"]["nodes"])
        .iter()
        .filter_map(|node| Some((node["id"].as_str()?, node)))
        .collect();
    let start = by_id.iter().find(|(_, package)| package["name"] == name).map(|(id, _)| *id);
    let mut waiting: Vec<&str> = start.into_iter().collect();
    let mut seen = BTreeSet::new();
    while let Some(id) = waiting.pop() {
        if seen.insert(id) {
            let needed = nodes.get(id).map_or(&[][..], |node| list(&node["deps"]));
            let needed = needed.iter().filter(|dependency| is_needed_to_build(dependency));
            waiting.extend(needed.filter_map(|dependency| dependency["pkg"].as_str()));
        }
    }
    let found = seen.iter().filter_map(|id| by_id.get(id));
    found
        .filter(|package| package["links"].is_string())
        .filter_map(|package| package["name"].as_str().map(String::from))
        .collect()
}

fn is_needed_to_build(dependency: &Value) -> bool {
    list(&dependency["dep_kinds"]).iter().any(|kind| kind["kind"] != "dev")
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

#[cfg(test)]
mod tests {
    use super::*;

    const SMALL: &str = r#"{
        "workspace_root": "/w",
        "workspace_members": ["song-id", "xtask-id"],
        "packages": [
            {"id": "song-id", "name": "chaconne-song", "links": null,
             "manifest_path": "/w/crates/song/Cargo.toml",
             "dependencies": [
                {"name": "chaconne-time", "path": "/w/crates/time", "kind": null},
                {"name": "ron", "kind": null},
                {"name": "proptest", "kind": "dev"}]},
            {"id": "xtask-id", "name": "xtask", "links": null,
             "manifest_path": "/w/xtask/Cargo.toml", "dependencies": []},
            {"id": "sound-id", "name": "sound-sys", "links": "sound", "manifest_path": "/r/a"},
            {"id": "other-id", "name": "other-sys", "links": "other", "manifest_path": "/r/b"},
            {"id": "middle-id", "name": "middle", "links": null, "manifest_path": "/r/c"}
        ],
        "resolve": {"nodes": [
            {"id": "xtask-id", "deps": [
                {"pkg": "middle-id", "dep_kinds": [{"kind": null}]},
                {"pkg": "other-id", "dep_kinds": [{"kind": "dev"}]}]},
            {"id": "middle-id", "deps": [
                {"pkg": "sound-id", "dep_kinds": [{"kind": "build"}]}]},
            {"id": "sound-id", "deps": []}
        ]}
    }"#;

    #[test]
    fn members_are_read_by_folder_with_dependencies_of_every_kind() {
        let graph = parse(SMALL.as_bytes()).unwrap();
        assert_eq!(graph.packages.len(), 2);
        let song = &graph.packages[0];
        assert_eq!(song.folder, "crates/song");
        assert_eq!(song.ours, BTreeSet::from(["crates/time".to_string()]));
        assert_eq!(song.foreign, BTreeSet::from(["proptest".into(), "ron".into()]));
    }

    #[test]
    fn system_libraries_are_found_through_other_packages() {
        let graph = parse(SMALL.as_bytes()).unwrap();
        assert_eq!(graph.under_xtask, ["sound-sys"], "other-sys is for tests only");
    }

    #[test]
    fn other_text_is_an_error() {
        assert!(parse(b"no json").is_err());
        assert!(parse(b"{}").is_err());
    }

    #[test]
    fn the_real_workspace_is_read() {
        let graph = read().unwrap();
        for folder in ["crates/time", "crates/cli", "tests", "xtask"] {
            assert!(graph.packages.iter().any(|package| package.folder == folder), "{folder}");
        }
    }
}
