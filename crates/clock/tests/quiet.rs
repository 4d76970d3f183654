//! The MIDI service answers, or says so in one sentence; and nothing is written over the screen.

use chaconne_clock::{PortSpec, list_ports, open_input, open_output};
use std::process::Command;

/// Set in the process that asks the service.
const ASK: &str = "CHACONNE_TEST_ASK";

#[test]
fn asking_for_ports_says_one_sentence_and_writes_nothing() {
    if std::env::var_os(ASK).is_some() {
        ask();
        return;
    }
    // What C libraries write goes past the test harness: it is seen from outside only.
    let out = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "asking_for_ports_says_one_sentence_and_writes_nothing", "--nocapture"])
        .env(ASK, "1")
        .output()
        .unwrap();
    let (said, noise) =
        (String::from_utf8_lossy(&out.stdout), String::from_utf8_lossy(&out.stderr));
    assert!(out.status.success(), "{said}{noise}");
    assert_eq!(noise, "after\n", "noise");
}

fn ask() {
    let listed = list_ports();
    let name = "a name that no port has";
    let output = open_output(&PortSpec::Midi(name.to_string())).unwrap_err().to_string();
    let input = open_input(&PortSpec::Midi(name.to_string()), |_, _| {}).unwrap_err().to_string();
    match listed {
        Err(error) => {
            assert_eq!(output, error.to_string());
            assert_eq!(input, output);
            assert!(output.contains("bytes:PATH or none"));
        }
        Ok(_) => {
            assert!(output.contains(&format!("MIDI output called '{name}'")), "{output}");
            assert!(input.contains(&format!("MIDI input called '{name}'")), "{input}");
        }
    }
    assert_eq!(output.lines().count(), 1);
    // Standard error is back.
    eprintln!("after");
}
