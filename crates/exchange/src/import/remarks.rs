//! Remarks about what a song cannot hold or had to change: counted first, then put into sentences.

use super::names;
use crate::reader::{File, Meta};
use chaconne_time::{MetreMap, Tick};
use std::collections::BTreeMap;

/// The most markers that a remark lists.
const MARKERS_LISTED: usize = 8;

/// Counts of what could not be stored unchanged in a song.
#[derive(Debug, Default)]
pub(super) struct Tally {
    /// Notes that were still held at the end of their track.
    pub held: usize,
    /// Releases of keys that were not down.
    pub unmatched: usize,
    /// Notes of zero length.
    pub instants: usize,
    /// Channels with a controller that several track chunks move.
    pub channels_shared: usize,
    /// Channel mode messages.
    pub modes: usize,
    /// Metres a song cannot hold.
    pub metres_unknown: usize,
    /// The positions of metres inside a bar.
    pub metres_moved: Vec<Tick>,
    /// Metres that do not count 8 thirty-second notes to the quarter.
    pub quarters_odd: usize,
    /// Tempi outside 10 to 1000.
    pub tempi_clamped: usize,
    /// Tempi after the last bar.
    pub tempi_late: usize,
    /// Invalid key signatures.
    pub keys_unknown: usize,
    /// Key signatures that differ from the first.
    pub keys_later: usize,
    /// Whether a note or a controller continues past the last bar.
    pub ringing: bool,
    /// Whether the silence at the end was cut to the longest section.
    pub silence_cut: bool,
    /// Whether channels share a track because there would be too many tracks.
    pub unsplit: bool,
}

impl Tally {
    /// One sentence for each kind of remark, in a fixed order.
    pub fn sentences(&self, file: &File, bars: &MetreMap) -> Vec<String> {
        let mut sentences: Vec<String> = Vec::new();
        sentences.extend(held_remark(self.held));
        sentences.extend(counted(
            self.unmatched,
            "note-off",
            "for a key that was not down: ignored",
        ));
        sentences.extend(counted(self.instants, "note", "of zero length: made 1 tick long"));
        sentences.extend(counted(
            self.channels_shared,
            "channel",
            "with a controller that several tracks move: the first of them got all its moves",
        ));
        sentences.extend(counted(
            self.modes,
            "channel mode message",
            "(all notes off, reset all controllers and the like): carried out, but not kept",
        ));
        self.metre_remarks(bars, &mut sentences);
        sentences.extend(counted(
            self.tempi_clamped,
            "tempo",
            "outside 10 to 1000 quarter notes per minute: set to the nearest of these",
        ));
        sentences.extend(counted(self.tempi_late, "tempo", "after the last bar: ignored"));
        sentences.extend(counted(self.keys_unknown, "key signature", "with invalid data: ignored"));
        sentences.extend(counted(
            self.keys_later,
            "key signature",
            "after the first: ignored, because a section has one key",
        ));
        if self.unsplit {
            sentences.push(
                "tracks on several channels were not split by channel: a song holds at most 4096 \
                 tracks"
                    .into(),
            );
        }
        sentences.extend(markers(file, bars));
        sentences.extend(texts(file));
        sentences
    }

    fn metre_remarks(&self, bars: &MetreMap, sentences: &mut Vec<String>) {
        sentences.extend(counted(
            self.metres_unknown,
            "metre",
            "ignored: a song takes 1 to 64 beats over 1, 2, 4, 8, 16 or 32",
        ));
        if let Some(&first) = self.metres_moved.first() {
            let place = bars.place(first);
            let rest =
                format!("inside a bar: moved to the next bar line (the first was at {place})");
            sentences.extend(counted(self.metres_moved.len(), "metre", &rest));
        }
        sentences.extend(counted(
            self.quarters_odd,
            "metre",
            "without 8 thirty-second notes to the quarter: read as if with 8",
        ));
        if self.ringing {
            sentences.push(
                "the last notes or pedals ring past the end of the last bar, by less than a beat"
                    .into(),
            );
        }
        if self.silence_cut {
            sentences.push(
                "the silence after the music was cut: a section holds at most 999 bars".into(),
            );
        }
    }
}

/// The remark about notes still held at the end of their track.
pub(crate) fn held_remark(held: usize) -> Option<String> {
    counted(held, "note", "still held at the end of a track: released there")
}

/// `3 notes of zero length ...`; `None` if there are none.
fn counted(times: usize, thing: &str, rest: &str) -> Option<String> {
    let plural = match (times, thing) {
        (1, _) => thing.to_string(),
        (_, "tempo") => "tempi".to_string(),
        _ => format!("{thing}s"),
    };
    (times > 0).then(|| format!("{times} {plural} {rest}"))
}

/// The markers, which do not become sections. The marker with the section's letter, which our
/// exports write at the start, needs no remark.
fn markers(file: &File, bars: &MetreMap) -> Option<String> {
    let is_section =
        |meta: &Meta| meta.at == 0 && meta.data == super::SECTION.to_string().as_bytes();
    let metas = file.tracks.iter().flat_map(|track| &track.metas);
    let markers = metas.filter(|meta| meta.kind == Meta::MARKER);
    let mut found: Vec<&Meta> = markers.filter(|meta| !is_section(meta)).collect();
    found.sort_by_key(|meta| meta.at);
    let mut scale = crate::scale::Scale::new(file.ppq);
    let listed: Vec<String> = found
        .iter()
        .take(MARKERS_LISTED)
        .map(|meta| {
            let text = names::clean(meta.data).unwrap_or_default();
            format!("'{text}' at {}", bars.place(scale.tick(meta.at)))
        })
        .collect();
    let more = if found.len() > listed.len() { ", …" } else { "" };
    let rest = format!("left out: {}{more}", listed.join(", "));
    counted(found.len(), "marker", &rest)
}

/// All other kinds of text and data that are not music.
fn texts(file: &File) -> Option<String> {
    let mut kinds: BTreeMap<&str, usize> = BTreeMap::new();
    for meta in file.tracks.iter().flat_map(|track| &track.metas) {
        let kind = match meta.kind {
            Meta::NAME | Meta::INSTRUMENT | Meta::MARKER => continue,
            Meta::TEMPO | Meta::METRE | Meta::KEY => continue,
            Meta::TEXT => "text",
            Meta::COPYRIGHT => "copyright notice",
            0x05 => "lyric",
            0x07 => "cue point",
            0x54 => "time code offset",
            0x7F => "sequencer-specific event",
            _ => "other meta event",
        };
        *kinds.entry(kind).or_default() += 1;
    }
    let listed: Vec<String> =
        kinds.iter().filter_map(|(kind, &count)| counted(count, kind, "")).collect();
    let listed: Vec<&str> = listed.iter().map(|text| text.trim_end()).collect();
    (!listed.is_empty()).then(|| format!("left out, not being music: {}", listed.join(", ")))
}
