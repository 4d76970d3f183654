//! A feel in words, as it is said once it is set.

use chaconne_engine::quantise_words;
use chaconne_song::{Feel, Song};

/// All of a feel: `quantise 1/16, pull 100 %; groove Drums 80 %; human 40 %`.
pub fn feel_words(song: &Song, feel: &Feel) -> String {
    let mut words = Vec::new();
    if feel.grid.is_some() || !feel.is_on() {
        words.push(quantise_words(feel));
    }
    if let Some(given) = feel.groove {
        let name = song.groove(given.groove).map_or("", |groove| groove.name.as_str());
        words.push(match (given.timing, given.loudness) {
            (timing, loudness) if timing == loudness => format!("groove {name} {timing} %"),
            (timing, loudness) => {
                format!("groove {name}, timing {timing} %, loudness {loudness} %")
            }
        });
    }
    match (feel.human.timing, feel.human.loudness) {
        (0, 0) => {}
        (timing, 0) => words.push(format!("human {timing} %")),
        (0, loudness) => words.push(format!("dynamics {loudness} %")),
        (timing, loudness) => words.push(format!("human {timing} %, dynamics {loudness} %")),
    }
    words.join("; ")
}
