//! Runs other programs, and says in one sentence which one failed.

use anyhow::{Context, Result, bail};
use std::env;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

/// The top folder of the workspace. Cargo tells this program where it is.
pub fn top() -> Result<PathBuf> {
    let own = env::var_os("CARGO_MANIFEST_DIR")
        .context("the workspace folder is unknown: start this as 'cargo xtask'")?;
    let top = Path::new(&own).parent().context("xtask is not inside a workspace")?;
    Ok(top.to_path_buf())
}

/// The cargo that started this program, so that every step uses one toolchain.
pub fn cargo(words: &[&str]) -> Command {
    let mut command = Command::new(env::var_os("CARGO").unwrap_or("cargo".into()));
    command.args(words);
    command
}

/// Shows a command, runs it, and fails unless it succeeds. Its output is shown, too.
pub fn step(command: &mut Command) -> Result<()> {
    let line = shown(command);
    println!("> {line}");
    let status = command.status().with_context(|| format!("'{line}' could not be started"))?;
    if !status.success() {
        bail!("'{line}' failed ({status})");
    }
    Ok(())
}

/// Whether a command starts and succeeds; discards what it prints.
pub fn succeeds(command: &mut Command) -> bool {
    let quiet = command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
    quiet.status().is_ok_and(|status| status.success())
}

/// Runs a command and returns its standard output. If it fails, the error contains its standard error.
pub fn output(command: &mut Command) -> Result<Vec<u8>> {
    let line = shown(command);
    let output = command
        .stdin(Stdio::null())
        .output()
        .with_context(|| format!("'{line}' could not be started"))?;
    if !output.status.success() {
        bail!("'{line}' failed: {}", String::from_utf8_lossy(&output.stderr).trim());
    }
    Ok(output.stdout)
}

/// Replaces this process by a command, so that it gets the terminal and signals directly. Where the
/// system cannot do that, runs the command and waits for its end.
pub fn replace_self(command: &mut Command) -> Result<()> {
    println!("> {}", shown(command));
    #[cfg(unix)]
    {
        use std::os::unix::process::CommandExt;
        let error = command.exec();
        Err(error).with_context(|| format!("'{}' could not be started", shown(command)))
    }
    #[cfg(not(unix))]
    step(command)
}

/// A command as a person would type it: the program's bare name and its words.
fn shown(command: &Command) -> String {
    let program = Path::new(command.get_program());
    let name = program.file_stem().unwrap_or(program.as_os_str());
    let words = command.get_args().map(|word| word.to_string_lossy().into_owned());
    let name = name.to_string_lossy().into_owned();
    std::iter::once(name).chain(words).collect::<Vec<_>>().join(" ")
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;

    #[test]
    fn the_error_of_a_failed_step_names_the_whole_command() {
        let failed = step(Command::new("sh").args(["-c", "exit 3"])).unwrap_err().to_string();
        assert_eq!(failed, "'sh -c exit 3' failed (exit status: 3)");
    }

    #[test]
    fn a_missing_program_is_an_error() {
        let failed = step(&mut Command::new("no-such-program-here")).unwrap_err().to_string();
        assert_eq!(failed, "'no-such-program-here' could not be started");
    }

    #[test]
    fn output_is_standard_output_and_an_error_quotes_standard_error() {
        let printed = output(Command::new("sh").args(["-c", "echo four bars"])).unwrap();
        assert_eq!(printed, b"four bars\n");
        let failed = output(Command::new("sh").args(["-c", "echo no >&2; exit 1"])).unwrap_err();
        assert!(failed.to_string().ends_with("failed: no"), "{failed}");
    }
}
