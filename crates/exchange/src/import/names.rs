//! Cleans a file's names and texts for use in a song and on a screen.

use crate::reader::{File, Meta, Track};
use chaconne_song::Channel;

/// The longest name of a track or song, in characters.
pub(super) const LONGEST: usize = 128;

/// A text of the file, read as UTF-8 if it is valid and as Latin-1 otherwise, without control
/// characters and surrounding blanks, cut to [`LONGEST`]. `None` if nothing is left.
pub(super) fn clean(data: &[u8]) -> Option<String> {
    // A text may be megabytes long, but only these bytes can hold its first characters.
    let data = &data[..data.len().min(LONGEST * 8)];
    let text: String = match std::str::from_utf8(data) {
        Ok(text) => text.chars().map(plain).collect(),
        Err(error) if error.error_len().is_none() => {
            String::from_utf8_lossy(&data[..error.valid_up_to()]).chars().map(plain).collect()
        }
        Err(_) => data.iter().map(|&byte| plain(char::from(byte))).collect(),
    };
    let text = text.trim();
    let cut: String = text.chars().take(LONGEST).collect();
    let cut = cut.trim_end();
    (!cut.is_empty()).then(|| cut.to_string())
}

fn plain(letter: char) -> char {
    if letter.is_control() { ' ' } else { letter }
}

/// The song's title: the name of the track in a file of format 0, or of a first track without events
/// (Standard MIDI Files 1.0, "Sequence/Track Name"); otherwise the given one.
pub(super) fn title(file: &File, otherwise: &str) -> String {
    let first = file.tracks.first();
    let sequence = first.filter(|track| file.format == 0 || track.events.is_empty());
    let named = sequence.and_then(|track| first_text(track, Meta::NAME, None));
    named.or_else(|| clean(otherwise.as_bytes())).unwrap_or_else(|| "Imported".into())
}

/// The name of a track chunk, or of its instrument.
pub(super) fn of_track(track: &Track) -> Option<String> {
    let text = |kind| first_text(track, kind, None);
    text(Meta::NAME).or_else(|| text(Meta::INSTRUMENT))
}

/// The name of a channel in a track chunk, if a channel prefix gives one.
pub(super) fn of_channel(track: &Track, channel: Channel) -> Option<String> {
    let text = |kind| first_text(track, kind, Some(channel));
    text(Meta::NAME).or_else(|| text(Meta::INSTRUMENT))
}

fn first_text(track: &Track, kind: u8, channel: Option<Channel>) -> Option<String> {
    let fits = |meta: &&Meta| meta.kind == kind && meta.channel == channel;
    track.metas.iter().filter(fits).find_map(|meta| clean(meta.data))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_of_any_kind_become_names() {
        for (data, name) in [
            (&b"Bass"[..], Some("Bass")),
            (b"  Bass\0\0", Some("Bass")),
            (b"Fl\xF6te", Some("Fl\u{F6}te")),
            ("Fl\u{F6}te".as_bytes(), Some("Fl\u{F6}te")),
            (b"a\x1B[31mb\nc", Some("a [31mb c")),
            (b"\0\x01 ", None),
            (b"", None),
        ] {
            assert_eq!(clean(data).as_deref(), name, "{data:?}");
        }
    }

    #[test]
    fn long_texts_are_cut_between_characters() {
        assert_eq!(clean(&[b'x'; 5000]).unwrap().len(), LONGEST);
        let long = "\u{266D}".repeat(5000);
        assert_eq!(clean(long.as_bytes()).unwrap().chars().count(), LONGEST);
        assert_eq!(clean(&[0xFF; 5000]).unwrap().chars().count(), LONGEST);
    }
}
