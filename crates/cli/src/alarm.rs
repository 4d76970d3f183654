//! Signals and panics: whatever happens, everything that sounds is silenced.

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
/// a signal in between would end the program without silencing what sounds.
pub fn early_for_screen() -> Result<Caught, String> {
    Signals::catch(false).map_err(unwatched)
}

/// The same without a screen: handles suspension, too.
pub fn early() -> Result<Caught, String> {
    Signals::catch(true).map_err(unwatched)
}

/// For the screen: a panic silences everything, restores the terminal and is reported. If the screen
/// does not respond to a signal in time, the process writes a rescue copy of unsaved changes and
/// ends.
pub fn for_screen(caught: Caught, rig: &Rig) -> Result<Signals, String> {
    let switch = rig.switch();
    chaconne_tui::install_panic_hook(move || hush(&switch, SILENCE));
    let rescuer = rig.rescuer();
    let restore = Box::new(move || {
        chaconne_tui::restore_terminal();
        if let Some(rescued) = rescuer.rescue_within(RESCUE) {
            say::rescued(&rescued);
        }
    });
    caught.watch(rig.switch(), Leave { patience: SCREEN, restore }).map_err(unwatched)
}

/// Without a screen: a panic silences everything, is reported and ends the process; a suspension
/// from the terminal silences everything, too.
pub fn without_screen(caught: Caught, switch: Switch) -> Result<Signals, String> {
    let silence = switch.clone();
    let tell = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        hush(&silence, SILENCE);
        tell(panic);
        std::process::exit(i32::from(CRASHED));
    }));
    let leave = Leave { patience: PLAIN, restore: Box::new(|| {}) };
    caught.watch(switch, leave).map_err(unwatched)
}

fn unwatched(error: std::io::Error) -> String {
    format!("the system does not allow watching for signals: {error}")
}
