//! Silences everything that sounds when a signal arrives or a thread panics.

use crate::exit::CRASHED;
use crate::say;
use chaconne_rig::{Caught, Leave, Rig, Signals, Switch, hush};
use std::time::Duration;

/// How long a panicking thread waits for the scheduler to silence everything.
const SILENCE: Duration = Duration::from_millis(100);
/// How long the screen may take to restore the terminal after a signal.
const SCREEN: Duration = Duration::from_millis(500);
/// How long a rescue copy may take if the screen does not respond to a signal in time.
const RESCUE: Duration = Duration::from_secs(1);
/// How long a program without a screen may take to end after a signal.
const PLAIN: Duration = Duration::from_secs(5);

/// Catches signals for the screen, which handles suspension itself. Call it before the rig starts:
/// a signal that nobody catches would end the program without silencing anything.
pub fn catch_for_screen() -> Result<Caught, String> {
    Signals::catch(false).map_err(cannot_watch)
}

/// Like [`catch_for_screen`], for a program without a screen: catches suspension as well.
pub fn catch() -> Result<Caught, String> {
    Signals::catch(true).map_err(cannot_watch)
}

/// Protects a program with a screen. A panic silences everything, restores the terminal and prints
/// its message. If the screen does not respond to a signal in time, the process writes a rescue
/// copy of unsaved changes and ends.
pub fn watch_for_screen(caught: Caught, rig: &Rig) -> Result<Signals, String> {
    let switch = rig.switch();
    chaconne_tui::install_panic_hook(move || hush(&switch, SILENCE));
    let rescuer = rig.rescuer();
    let restore = Box::new(move || {
        chaconne_tui::restore_terminal();
        if let Some(rescued) = rescuer.rescue_within(RESCUE) {
            say::rescued(&rescued);
        }
    });
    caught.watch(rig.switch(), Leave { patience: SCREEN, restore }).map_err(cannot_watch)
}

/// Protects a program without a screen. A panic silences everything, prints its message and ends
/// the process. Suspending the program from the terminal silences everything, too.
pub fn watch(caught: Caught, switch: Switch) -> Result<Signals, String> {
    let silence = switch.clone();
    let report = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        hush(&silence, SILENCE);
        report(panic);
        std::process::exit(i32::from(CRASHED));
    }));
    let leave = Leave { patience: PLAIN, restore: Box::new(|| {}) };
    caught.watch(switch, leave).map_err(cannot_watch)
}

fn cannot_watch(error: std::io::Error) -> String {
    format!("the system does not allow watching for signals: {error}")
}
