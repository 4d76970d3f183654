//! `lay`: plays a MIDI file into the recorder, on a simulated clock or in real time.

use crate::args::Lay;
use crate::exit::{Ended, Failure};
use crate::files::{read_midi, read_song};
use crate::{alarm, ports, rehearse, say};
use chaconne_exchange::Take;
use chaconne_rig::{
    Fingerprint, Guard, HowToLay, Kind, Laid, LiveLay, Rescued, WriteError, save_guarded,
    write_copy,
};
use chaconne_song::Song;
use std::path::Path;

/// Records the take and saves the song.
pub fn lay(asked: Lay) -> Result<Ended, Failure> {
    let song = read_song(&asked.song)?;
    let mut guard = Guard::of_song_at(&asked.song);
    let song_file = asked.song.clone();
    let target = asked.save_as.clone().unwrap_or_else(|| song_file.clone());
    let replace = asked.overwrite.into();
    guard.check(&target, Kind::Song, replace).map_err(WriteError::from)?;
    let take = take(&asked.from)?;
    let how = HowToLay {
        track: asked.track.clone(),
        section: asked.section,
        mode: asked.mode.into(),
        rounds: asked.keep.into(),
        grid: asked.grid,
    };
    let is_live = asked.real_time;
    let (laid, ended) = if is_live {
        in_real_time(asked, &song, &take, &how)?
    } else {
        let laid = chaconne_rig::lay(&song, &take, &how).map_err(|error| error.to_string())?;
        (laid, Ended::Ok)
    };
    if let Err(error) = save_guarded(&target, &laid.song, &mut guard, replace) {
        if is_live {
            let held = guard.held().filter(|_| target == song_file);
            say::rescued(&rescue(&target, &laid.song, held));
        }
        return Err(error.into());
    }
    say::progress(&report(&laid, &how.track));
    say::progress(&format!("{} written", target.display()));
    Ok(ended)
}

/// Writes a rescue copy of a real-time take when the song file cannot be written.
fn rescue(target: &Path, song: &Song, held: Option<Fingerprint>) -> Rescued {
    match write_copy(Some(target), song, held) {
        Ok(path) => Rescued::Copied(path),
        Err(why) => Rescued::Lost(why),
    }
}

fn take(path: &Path) -> Result<Take, Failure> {
    let named = |why: String| format!("{}: {why}", path.display());
    let take =
        chaconne_exchange::take(&read_midi(path)?).map_err(|error| named(error.to_string()))?;
    take.remarks.iter().for_each(|remark| say::message(&named(remark.clone())));
    Ok(take)
}

fn in_real_time(
    asked: Lay,
    song: &Song,
    take: &Take,
    how: &HowToLay,
) -> Result<(Laid, Ended), Failure> {
    let lay = LiveLay::new(song, take, how).map_err(|error| error.to_string())?;
    let caught = alarm::catch()?;
    let rig = lay.rig(ports::rig_config(asked.wires, None))?;
    rig.notices().iter().for_each(|notice| say::message(notice));
    let signals = alarm::watch(caught, rig.switch())?;
    let laid = lay.play(&rig, asked.rounds, |round| {
        if let Some(start) = round {
            let snapshot = rig.snapshot();
            say::progress(&rehearse::line(start, snapshot.status.tempo, &snapshot.stats));
        }
        signals.asked().is_none()
    });
    let unheard = rig.snapshot().unheard;
    let summary = rig.shutdown();
    let ended = signals.asked().map_or(Ended::Ok, Ended::Signal);
    let laid = laid.map_err(|error| error.to_string())?;
    if unheard > 0 {
        let unheard = say::counted(unheard, "message", "messages");
        say::message(&format!("{unheard} of the take came too fast to record"));
    }
    say::progress(&summary.to_string());
    Ok((laid, ended))
}

/// The result in one line.
fn report(laid: &Laid, track: &str) -> String {
    let notes = say::counted(laid.notes() as u64, "note", "notes");
    let passes = say::counted(laid.passes.len() as u64, "pass", "passes");
    let made = if laid.made { ", a new track," } else { "" };
    format!("recorded {notes} in {passes} on '{track}'{made} in section {}", laid.section)
}
