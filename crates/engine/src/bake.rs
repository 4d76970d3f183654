//! Baking: a pass with its feel applied, indexed by tick.

use crate::View;
use crate::feel;
use chaconne_song::{Channel, Feel, Lane, NoteId, Pass, Stroke, SysEx, U7};
use chaconne_time::{MetreMap, TempoMap, Tick};
use std::sync::Arc;

/// A note as it sounds in a cycle of its pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Sounding {
    /// The start, from the cycle's start; may be negative, or past the pass's end.
    pub on: Tick,
    /// How long it sounds; at most the pass's length, since it is cut where it starts again.
    pub length: Tick,
    pub key: U7,
    pub velocity: U7,
    pub release: U7,
    pub channel: Channel,
    pub note: NoteId,
}

/// A pass ready to be performed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Baked {
    /// In order of `on`.
    pub notes: Vec<Sounding>,
    pub lanes: Vec<Lane>,
    pub sysex: Vec<(Tick, Arc<[u8]>)>,
    pub length: Tick,
    /// Half a grid step: what starts so shortly before a place counts as in it.
    pub half: Tick,
}

impl Baked {
    /// The earliest and latest start there is.
    pub fn reach(&self) -> (Tick, Tick) {
        let first = self.notes.first().map_or(Tick::ZERO, |note| note.on);
        let last = self.notes.last().map_or(Tick::ZERO, |note| note.on);
        (first.min(Tick::ZERO), last.max(self.length))
    }
}

/// Applies a feel to a pass.
pub(crate) fn bake(
    pass: &Pass,
    feel: Feel,
    view: View,
    metre: &MetreMap,
    tempo: &TempoMap,
) -> Baked {
    let feel = feel::seen_by(view, feel);
    let strokes: Vec<(Channel, Stroke)> =
        pass.notes.iter().map(|note| (note.channel, *note.stroke())).collect();
    let tempo_at = |at: Tick| tempo.at(at.cycle(metre.length()).1);
    let starts = feel::starts(&strokes, &feel, metre, tempo_at);
    let mut notes: Vec<Sounding> = std::iter::zip(&pass.notes, starts)
        .map(|(note, on)| {
            let stroke = note.stroke();
            Sounding {
                on,
                length: stroke.length.min(pass.length).max(Tick(1)),
                key: stroke.key,
                velocity: stroke.velocity,
                release: stroke.release,
                channel: note.channel,
                note: note.id,
            }
        })
        .collect();
    notes.sort_by_key(|note| (note.on, note.channel, note.key, note.note));
    let whole = |message: &SysEx| (message.at, Arc::from(message.bytes.as_slice()));
    Baked {
        notes,
        lanes: pass.lanes.clone(),
        sysex: pass.sysex.iter().map(whole).collect(),
        length: pass.length,
        half: feel::half_step(&feel),
    }
}
