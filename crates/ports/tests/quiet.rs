//! Asking the MIDI service for ports gives a list or one sentence, and writes nothing over the screen.

use chaconne_ports::{PortSpec, PortState, list_ports, open_input, open_output};
use std::process::Command;

/// Set in the process that asks the service.
const ASK: &str = "CHACONNE_TEST_ASK";

#[test]
fn asking_for_ports_gives_one_sentence_and_writes_nothing() {
    if std::env::var_os(ASK).is_some() {
        ask();
        return;
    }
    // Output from C libraries bypasses the test harness, so it can only be seen from outside.
    let out = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "asking_for_ports_gives_one_sentence_and_writes_nothing", "--nocapture"])
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
    let output = open_output(&PortSpec::Midi(name.to_string()));
    let input = open_input(&PortSpec::Midi(name.to_string()), |_, _| {});
    let (output, input) = match listed {
        Err(error) => {
            let (output, input) = (output.unwrap_err().to_string(), input.unwrap_err().to_string());
            assert_eq!(output, error.to_string());
            assert_eq!(input, output);
            assert!(output.contains("bytes:PATH or none"));
            (output, input)
        }
        // The program waits for a port that does not exist, and the notice lists those available.
        Ok(_) => {
            let (output, input) = (output.unwrap(), input.unwrap());
            assert_eq!((output.state(), input.state()), (PortState::Waiting, PortState::Waiting));
            let (output, input) = (output.notice().unwrap(), input.notice().unwrap());
            assert!(output.contains(&format!("MIDI output is called '{name}'")), "{output}");
            assert!(input.contains(&format!("MIDI input is called '{name}'")), "{input}");
            (output.to_string(), input.to_string())
        }
    };
    assert_eq!((output.lines().count(), input.lines().count()), (1, 1));
    // Standard error is restored.
    eprintln!("after");
}
