//! `sketch`: opens the screen and connects it to the rig.

use crate::args::{Sketch, TourFlags};
use crate::desk::RigDesk;
use crate::exit::{Ended, Failure, HANG_UP};
use crate::files::{about_new_song, empty_song, title_of};
use crate::{alarm, keys, ports, say};
use chaconne_engine::Command;
use chaconne_rig::{FirstStart, RecentSongs, Rescued, Rig, RigConfig, load};
use chaconne_song::Song;
use chaconne_time::{Metre, Tempo};
use chaconne_tui::{Ended as Left, Glyphs, Options};
use std::path::Path;

/// Opens the screen; returns when the player leaves it.
pub fn sketch(asked: Sketch) -> Result<Ended, Failure> {
    let variable = |name: &str| std::env::var(name).ok();
    if let Some(refusal) = chaconne_tui::refusal(variable) {
        return Err(refusal.into());
    }
    // Checked first: without a terminal, no other message matters.
    chaconne_tui::find_terminal().map_err(|error| error.to_string())?;
    let mut options = options(&asked, variable);
    let asked_keys = asked.keys.as_deref();
    let (keymap, wrong_keys) = keys::for_screen(asked_keys, options.keyboard, variable)?;
    options.keymap = keymap;
    let about_new = asked.song.as_deref().filter(|path| !path.exists()).map(about_new_song);
    let song = song(asked.song.as_deref())?;
    let config = ports::rig_config(asked.wires, asked.song);
    let caught = alarm::catch_for_screen()?;
    let recent = RecentSongs::of_user(|name| std::env::var_os(name));
    let rig = Rig::start(song, RigConfig { tap: asked.controls.tap, recent, ..config })?;
    options.tour = opens_with_tour(&asked.tour, || {
        FirstStart::of_user(|name| std::env::var_os(name)).is_some_and(|first| first.take())
    });
    // The screen hides the shell, so it has to show these itself.
    let first = about_new.into_iter().chain(wrong_keys);
    options.notices = first.chain(rig.notices().iter().cloned()).collect();
    let signals = alarm::watch_for_screen(caught, &rig)?;
    if let Some(how) = asked.controls.by_hand() {
        rig.command(Command::ByHand(Some(how))).map_err(|refused| refused.to_string())?;
    }
    if asked.play {
        rig.command(Command::Play).map_err(|refused| refused.to_string())?;
    }
    let rig_notices = rig.notices().to_vec();
    let left = chaconne_tui::run(&RigDesk::new(&rig, &signals), options);
    let restored = rig.disk().restored.filter(|_| rig.snapshot().is_unsaved());
    let (summary, rescued) = match &left {
        // The screen has already asked about unsaved changes.
        Ok(Left::Quit) => {
            restored.iter().for_each(|copy| say::still_there(copy));
            (rig.shutdown(), Rescued::Nothing)
        }
        _ => rig.shutdown_and_rescue(),
    };
    let signal = signals.asked();
    drop(signals);
    if summary.sounding > 0 {
        say::message(&summary.to_string());
    }
    let cut = rig_notices.iter().filter(|notice| !chaconne_tui::is_shown_whole(notice));
    cut.for_each(|notice| say::message(notice));
    say::rescued(&rescued);
    match left.map_err(|error| error.to_string())? {
        Left::Quit => Ok(Ended::Ok),
        Left::LostTerminal => Ok(Ended::Signal(HANG_UP)),
        Left::Signal => Ok(signal.map_or(Ended::Ok, Ended::Signal)),
        Left::Crashed => Ok(Ended::Crashed),
    }
}

/// The song in the file, or an empty one if there is no file yet.
fn song(path: Option<&Path>) -> Result<Song, Failure> {
    let title = match path {
        Some(path) if path.symlink_metadata().is_ok() => return Ok(load(path)?),
        Some(path) => {
            let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
            if let Some(folder) = folder.filter(|folder| !folder.is_dir()) {
                let folder = folder.display();
                let sentence = "to save the song in; create it first";
                return Err(format!("there is no folder '{folder}' {sentence}").into());
            }
            title_of(path)
        }
        None => "untitled".to_string(),
    };
    Ok(empty_song(&title, 4, Metre::common(), Tempo::DEFAULT)?)
}

/// Whether the screen opens with the tour: if it is asked for, else at the first start, unless it is
/// declined. What is declined stays on offer.
fn opens_with_tour(asked: &TourFlags, is_first: impl FnOnce() -> bool) -> bool {
    !asked.no_tour && (is_first() || asked.tour)
}

/// Options that suit the terminal, overridden by the arguments.
fn options(asked: &Sketch, variable: impl Fn(&str) -> Option<String>) -> Options {
    let mut options = Options::from_environment(variable);
    if asked.ascii {
        options.glyphs = Glyphs::Ascii;
    }
    options.calm |= asked.calm;
    options.fps = asked.fps.unwrap_or(options.fps);
    options.keyboard = asked.keyboard.unwrap_or(options.keyboard);
    if asked.light || asked.dark {
        options.light = Some(asked.light);
    }
    options
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::args::{Args, Job};
    use chaconne_tui::Keyboard;
    use clap::Parser;

    fn asked(line: &str) -> Sketch {
        let words = line.split(' ');
        match Args::try_parse_from(["chaconne", "sketch"].into_iter().chain(words)).unwrap().job {
            Job::Sketch(sketch) => sketch,
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn flags_win_over_the_environment() {
        let utf8 = |name: &str| (name == "LANG").then(|| "C.UTF-8".to_string());
        let plain = options(&asked("a.ron"), utf8);
        assert_eq!((plain.glyphs, plain.light, plain.calm), (Glyphs::Full, None, false));
        let flagged = asked("a.ron --ascii --calm --dark --fps 5 --keyboard de");
        let flagged = options(&flagged, utf8);
        assert_eq!(
            (flagged.glyphs, flagged.light, flagged.calm),
            (Glyphs::Ascii, Some(false), true)
        );
        assert_eq!((flagged.fps, flagged.keyboard), (5, Keyboard::De));
    }

    #[test]
    fn the_tour_opens_at_the_first_start_or_if_asked_for() {
        for (line, first, opens) in [
            ("a.ron", true, true),
            ("a.ron", false, false),
            ("a.ron --tour", false, true),
            ("a.ron --no-tour", true, false),
        ] {
            assert_eq!(opens_with_tour(&asked(line).tour, || first), opens, "{line}, {first}");
        }
        let mut asks = 0;
        opens_with_tour(&asked("a.ron --tour").tour, || {
            asks += 1;
            true
        });
        opens_with_tour(&asked("a.ron --no-tour").tour, || {
            asks += 1;
            true
        });
        assert_eq!(asks, 1, "a tour that was shown is not offered again, one declined is");
    }

    #[test]
    fn a_missing_song_starts_empty_and_a_broken_one_does_not_start() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("first idea.ron");
        let song = |path| super::song(Some(path));
        assert_eq!(song(&path).unwrap().title, "first idea");
        assert!(!path.exists());
        std::fs::write(&path, "(").unwrap();
        assert!(song(&path).is_err());
    }
}
