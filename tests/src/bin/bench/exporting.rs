//! How late the scheduler is while a WAV file is exported, and while none is: one rig, in turn.

use crate::lates::Lates;
use crate::load::Load;
use crate::measure::line;
use crate::{Extent, Failure, big_song};
use chaconne_engine::Command;
use chaconne_rig::{ExportKind, ExportOrder, Out, PortSpec, Replace, Rig, RigConfig};
use chaconne_song::Form;
use chaconne_tests::fifo;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Measures and prints.
pub fn print(extent: Extent) -> Result<(), Failure> {
    let (rounds, time) = match extent {
        Extent::Short => (1, Duration::from_secs(2)),
        _ => (5, Duration::from_secs(6)),
    };
    let folder = tempfile::tempdir()?;
    let wire = fifo::make(folder.path(), "wire");
    let tap = fifo::Tap::open(&wire);
    let out = Out { clock: Some(true), ..Out::plain("", PortSpec::Bytes(wire)) };
    // So long that no export ends before it is cancelled.
    let mut song = big_song::demo_at_120()?;
    song.form = "A x400".parse::<Form>().map_err(|error| error.to_string())?;
    let rig = Rig::start(song, RigConfig { outs: vec![out], ..RigConfig::default() })?;
    rig.command(Command::Play)?;
    sleep(Duration::from_millis(500));
    for (what, busy) in [("", false), (", busy", true)] {
        let (mut without, mut with) = (Vec::new(), Vec::new());
        for _ in 0..rounds {
            let load = Load::new(busy);
            without.push(lateness(&rig, time));
            let path = folder.path().join("long.wav");
            let (kind, tracks, replace) = (ExportKind::Wav, None, Replace::No);
            rig.export(ExportOrder { kind, path, tracks, replace });
            sleep(Duration::from_millis(300));
            with.push(lateness(&rig, time));
            let runs = rig.snapshot().export.running.is_some();
            cancel(&rig)?;
            drop(load);
            if !runs {
                return Err("the export ended too soon".into());
            }
        }
        let [without, with] =
            [without, with].map(|all: Vec<[Lates; 2]>| [0, 1].map(|of| median(&all, of)));
        for (of, name) in ["pulses", "notes"].into_iter().enumerate() {
            line(&format!("{name}{what}: no export"), without[of]);
            line(&format!("{name}{what}: a WAV file is exported"), with[of]);
        }
    }
    rig.shutdown();
    drop(tap);
    Ok(())
}

/// The lateness of pulses and of notes over a time.
fn lateness(rig: &Rig, time: Duration) -> [Lates; 2] {
    rig.restart_timing();
    sleep(time);
    let stats = rig.snapshot().stats;
    [stats.pulses, stats.notes].map(Lates::from)
}

fn median(rounds: &[[Lates; 2]], of: usize) -> Lates {
    let rounds: Vec<Lates> = rounds.iter().map(|both| both[of]).collect();
    Lates::median(&rounds)
}

/// Cancels the export, and waits until it has ended.
fn cancel(rig: &Rig) -> Result<(), Failure> {
    let start = Instant::now();
    rig.cancel_export();
    while rig.snapshot().export.running.is_some() {
        if start.elapsed() > Duration::from_secs(20) {
            return Err("the export does not end".into());
        }
        sleep(Duration::from_millis(10));
    }
    Ok(())
}
