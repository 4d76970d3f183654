//! `check`: reports what is wrong in song files, and where a serial MIDI cable would make notes
//! late.

use crate::args::Songs;
use crate::exit::{Ended, Failure};
use crate::files::read_song;
use crate::say::{self, counted};
use chaconne_rig::{Cables, Forecast, HEARD, LoadError, forecast};
use std::path::Path;

/// Reads every song and reports what is wrong as `path:line: sentence`. Faults in a song are the
/// result, so they go to standard output; a file that cannot be read is an error on standard error.
/// For a clean song it names the ports that would be late on a serial cable; with `--late`, that
/// fails the check.
pub fn check(songs: &Songs) -> Result<Ended, Failure> {
    let mut ended = Ended::Ok;
    let mut late_songs = 0;
    let cables = Cables::of(&songs.out)?;
    let limit = songs.late.map_or(HEARD, |ms| i64::from(ms) * 1_000_000);
    for path in &songs.songs {
        match read_song(path) {
            Ok(song) => {
                let predicted = forecast(&song, &cables, limit);
                let late: String = predicted
                    .ports
                    .iter()
                    .filter_map(|port| late_line(path, port, limit))
                    .collect();
                say::answer(&late)?;
                late_songs += usize::from(!late.is_empty());
                if let Some(count) = predicted.cut {
                    say::message(&format!(
                        "{}: the form is too long to check all of it for a serial MIDI cable: \
                         only its first {count} sections were checked",
                        path.display()
                    ));
                }
                if songs.late.is_some() && !late.is_empty() && ended == Ended::Ok {
                    ended = Ended::No;
                }
            }
            Err(LoadError::Faulty(sentences)) => {
                say::answer(&(sentences.join("\n") + "\n"))?;
                if ended == Ended::Ok {
                    ended = Ended::No;
                }
            }
            Err(error @ (LoadError::Unreadable(_) | LoadError::Midi(_))) => {
                Failure::from(error).0.iter().for_each(|sentence| say::message(sentence));
                ended = Ended::Failed;
            }
        }
    }
    if ended == Ended::Ok {
        let clean = songs.songs.len();
        let songs = if clean == 1 { "song" } else { "songs" };
        let cable = match late_songs {
            0 => String::new(),
            late => format!("; {late} would be late on a serial cable (see above)"),
        };
        say::answer(&format!("{clean} {songs} checked, no errors found{cable}\n"))?;
    }
    Ok(ended)
}

/// The line about a port that would be later than `limit` (in nanoseconds) or lose messages; `None`
/// for any other port.
fn late_line(path: &Path, port: &Forecast, limit: i64) -> Option<String> {
    let latest = port.latest.filter(|latest| latest.late > limit || port.lost > 0)?;
    let name = match port.port.as_str() {
        "" => "the first port".to_string(),
        name => format!("port '{name}'"),
    };
    // Rounded up: a note just past the limit must not look as if it were within it.
    let tenths = |ns: i64| {
        let tenths = (ns + 99_999) / 100_000;
        format!("{}.{}", tenths / 10, tenths % 10)
    };
    let bars = counted(port.late_bars as u64, "bar is", "bars are");
    let mut line = format!(
        "{}: on a serial MIDI cable {name} would be {} ms late in section {}, bar {}; {bars} later \
         than {} ms",
        path.display(),
        tenths(latest.late),
        latest.section,
        latest.bar,
        limit / 1_000_000,
    );
    if port.thinned > 0 {
        let thinned = counted(port.thinned, "controller value", "controller values");
        line.push_str(&format!("; {thinned} would be left out"));
    }
    if port.lost > 0 {
        let lost = counted(port.lost as u64, "message", "messages");
        line.push_str(&format!("; {lost} would be lost"));
    }
    Some(line + "\n")
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    #[test]
    fn the_worst_song_decides_the_exit_code() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let song = crate::files::empty_song(
            "clean",
            4,
            chaconne_time::Metre::common(),
            chaconne_time::Tempo::DEFAULT,
        );
        let mut guard = chaconne_rig::Guard::default();
        let replace = chaconne_rig::Replace::No;
        let clean = at("clean.ron");
        chaconne_rig::save_guarded(&clean, &song.unwrap(), &mut guard, replace).unwrap();
        std::fs::write(at("faulty.ron"), "(chaconne: 1, tempo: 5)").unwrap();
        let ended = |names: &[&str]| {
            let songs: Vec<PathBuf> = names.iter().map(|name| at(name)).collect();
            check(&Songs { songs, late: None, out: Vec::new() }).unwrap()
        };
        assert_eq!(ended(&["clean.ron"]), Ended::Ok);
        assert_eq!(ended(&["faulty.ron", "clean.ron"]), Ended::No);
        assert_eq!(ended(&["absent.ron", "faulty.ron"]), Ended::Failed);
        assert_eq!(ended(&["faulty.ron", "absent.ron"]), Ended::Failed);
    }
}
