//! Installing without a checkout: `cargo install --git` from a bare clone, out of reach of this
//! workspace's configuration, on a machine whose pkg-config does not find JACK.
#![cfg(unix)]

use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A pkg-config that finds what the machine's own one finds, except JACK.
const PKG_CONFIG: &str = "#!/bin/sh
case \"$*\" in *jack*) echo 'there is no JACK here' >&2; exit 1 ;; esac
exec pkg-config \"$@\"
";

/// Runs a command to its end, and returns its standard output.
fn run(command: &mut Command) -> Vec<u8> {
    let output = command.output().unwrap_or_else(|error| panic!("{command:?}: {error}"));
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{command:?}\n{errors}");
    output.stdout
}

fn git(folder: &Path, words: &[&str]) -> Vec<u8> {
    let name = ["-c", "user.name=test", "-c", "user.email=test@localhost"];
    let mut command = Command::new("git");
    command.current_dir(folder).args(name).args(["-c", "commit.gpgsign=false"]).args(words);
    // With fixed dates the same content gives the same commit, which cargo does not fetch again.
    command.env("GIT_AUTHOR_DATE", "2026-01-01T00:00:00Z");
    run(command.env("GIT_COMMITTER_DATE", "2026-01-01T00:00:00Z"))
}

/// A bare clone of the files of this workspace as they are now, committed or not.
fn bare_clone(top: &Path, folder: &Path) -> PathBuf {
    let (copy, bare) = (folder.join("copy"), folder.join("chaconne.git"));
    let listed = git(top, &["ls-files", "-z", "--cached", "--others", "--exclude-standard"]);
    for name in listed.split(|&byte| byte == 0).filter(|name| !name.is_empty()) {
        let (from, to) = (top.join(OsStr::from_bytes(name)), copy.join(OsStr::from_bytes(name)));
        if from.exists() {
            fs::create_dir_all(to.parent().unwrap()).unwrap();
            fs::copy(from, to).unwrap();
        }
    }
    git(&copy, &["init", "--quiet"]);
    git(&copy, &["add", "--all", "--force"]);
    git(&copy, &["commit", "--quiet", "--message", "as it is"]);
    git(folder, &["clone", "--quiet", "--bare", "copy", "chaconne.git"]);
    bare
}

/// Makes cargo build the packages of this workspace again. Otherwise it would not notice changes,
/// because it looks for them where the last clone was checked out.
fn forget_ours(target: &Path) {
    for entry in fs::read_dir(target.join("debug/.fingerprint")).into_iter().flatten() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_string_lossy();
        if name.starts_with("chaconne-") || name.starts_with("jack-sys-") {
            fs::remove_dir_all(&path).unwrap();
        }
    }
}

#[test]
fn it_installs_from_a_bare_clone_on_a_machine_without_jack() {
    if Command::new("git").arg("--version").output().is_err() {
        chaconne_tests::program::skipped("there is no git on this system");
        return;
    }
    let top = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    // A fixed folder, so that dependencies built there before are not built again.
    let place = Path::new(env!("CARGO_TARGET_TMPDIR")).join("install");
    let (target, folder) = (place.join("target"), place.join("clone"));
    forget_ours(&target);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).unwrap();
    let bare = bare_clone(top, &folder);
    let away = tempfile::tempdir().unwrap();
    let (pkg_config, root) = (away.path().join("pkg-config"), away.path().join("root"));
    fs::write(&pkg_config, PKG_CONFIG).unwrap();
    fs::set_permissions(&pkg_config, fs::Permissions::from_mode(0o755)).unwrap();
    let url = format!("file://{}", bare.display());
    let mut install = Command::new(env!("CARGO"));
    install.current_dir(away.path()).env_remove("PKG_CONFIG_PATH").env("PKG_CONFIG", &pkg_config);
    install.env("CARGO_PROFILE_DEV_DEBUG", "false").env("CARGO_INCREMENTAL", "0");
    install.args(["install", "--quiet", "--locked", "--debug", "--git", &url, "chaconne"]);
    run(install.env("CARGO_TARGET_DIR", target).arg("--root").arg(&root));
    let (program, song) = (root.join("bin/chaconne"), away.path().join("waltz.ron"));
    run(Command::new(&program).arg("new").arg(&song));
    run(Command::new(&program).arg("check").arg(&song));
}
