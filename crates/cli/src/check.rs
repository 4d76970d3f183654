//! `check`: what is wrong with song files, and where.

use crate::args::Songs;
use crate::exit::{Ended, Failure};
use crate::say;
use chaconne_rig::{LoadError, load};

/// Reads every song, and says of each what is wrong: `path:line: sentence`. What is wrong is the
/// answer; that a file cannot be read is a message.
pub fn check(songs: &Songs) -> Result<Ended, Failure> {
    let mut ended = Ended::Ok;
    for path in &songs.songs {
        match load(path) {
            Ok(_) => {}
            Err(LoadError::Faulty(sentences)) => {
                say::answer(&(sentences.join("\n") + "\n"))?;
                if ended == Ended::Ok {
                    ended = Ended::No;
                }
            }
            Err(LoadError::Unreadable(sentence)) => {
                say::message(&sentence);
                ended = Ended::Failed;
            }
        }
    }
    if ended == Ended::Ok {
        let count = songs.songs.len();
        say::answer(&format!(
            "{count} {} clean\n",
            if count == 1 { "song is" } else { "songs are" }
        ))?;
    }
    Ok(ended)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    #[test]
    fn the_worst_of_all_songs_decides() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        let song = crate::files::empty_song(
            "clean",
            4,
            chaconne_time::Metre::common(),
            chaconne_time::Tempo::DEFAULT,
        );
        chaconne_rig::save(&at("clean.ron"), &song.unwrap()).unwrap();
        std::fs::write(at("faulty.ron"), "(chaconne: 1, tempo: 5)").unwrap();
        let ended = |names: &[&str]| {
            let songs: Vec<PathBuf> = names.iter().map(|name| at(name)).collect();
            check(&Songs { songs }).unwrap()
        };
        assert_eq!(ended(&["clean.ron"]), Ended::Ok);
        assert_eq!(ended(&["faulty.ron", "clean.ron"]), Ended::No);
        assert_eq!(ended(&["absent.ron", "faulty.ron"]), Ended::Failed);
        assert_eq!(ended(&["faulty.ron", "absent.ron"]), Ended::Failed);
    }
}
