//! Divides a file into parts, each of which becomes a track.

use super::bars::Reach;
use super::gather::{Gather, Moves, Settings};
use super::names;
use super::remarks::Tally;
use crate::ImportError;
use crate::reader::{Body, File, Track as Chunk};
use crate::scale::Scale;
use chaconne_song::{Channel, Levels, Song, Stroke, SysEx, Track, TrackId};
use chaconne_time::Tick;
use std::collections::BTreeMap;

/// One part: its name, its channel and everything it plays.
#[derive(Debug, Default)]
pub(super) struct Part {
    pub name: String,
    /// `None` if its notes are on several channels and keep them.
    pub channel: Option<Channel>,
    pub settings: Settings,
    pub notes: Vec<(Channel, Stroke)>,
    pub lanes: Vec<Moves>,
    pub sysex: Vec<SysEx>,
}

impl Part {
    /// How far its music reaches.
    pub fn reach(&self) -> Reach {
        let strokes = || self.notes.iter().map(|(_, stroke)| stroke);
        let begun = strokes().map(|stroke| stroke.start);
        let moves = self.lanes.iter().filter_map(|lane| Some(lane.points.last()?.at));
        let sysex = self.sysex.iter().map(|message| message.at);
        let last = begun.chain(moves).chain(sysex).max();
        Reach {
            begun: last.map_or(Tick::ZERO, |at| at + Tick(1)),
            ended: strokes().map(Stroke::end).max().unwrap_or_default(),
            longest: strokes().map(|stroke| stroke.length).max().unwrap_or_default(),
        }
    }

    /// The track for this part.
    pub fn track(&self, id: TrackId) -> Track {
        let drums = self.channel == Some(Channel::PERCUSSION);
        let plain = if drums { Track::drums } else { Track::pitched };
        let Settings { bank, program, volume, pan } = self.settings;
        Track {
            channel: self.channel,
            bank,
            program,
            levels: Levels { volume, pan },
            ..plain(id, &self.name)
        }
    }
}

/// The parts of a file: one for each channel of each track chunk or, if that would be more tracks
/// than a song holds, one for each track chunk.
pub(super) fn parts(
    file: &File,
    scale: &mut Scale,
    tally: &mut Tally,
) -> Result<Vec<Part>, ImportError> {
    let used = |chunk: &Chunk| usize::from(!chunk.events.is_empty());
    let chunks: usize = file.tracks.iter().map(used).sum();
    if chunks > Song::MAX_TRACKS {
        return Err(ImportError::TooManyTracks(chunks));
    }
    let channels: usize = file.tracks.iter().map(|chunk| channels_of(chunk).max(used(chunk))).sum();
    let split = channels <= Song::MAX_TRACKS;
    tally.unsplit = !split;
    let mut parts = Vec::new();
    for (index, chunk) in file.tracks.iter().enumerate() {
        let gathered = gather(chunk, scale, tally);
        let sysex = sysex_of(chunk, scale);
        let made =
            if split { per_channel(chunk, gathered) } else { all_channels(chunk, gathered, index) };
        let first = parts.len();
        parts.extend(made);
        if !sysex.is_empty() {
            if parts.len() == first {
                let name = names::of_track(chunk).unwrap_or_else(|| "System exclusive".into());
                parts.push(Part { name, channel: Some(Channel::default()), ..Part::default() });
            }
            parts[first].sysex = sysex;
        }
    }
    make_names_unique(&mut parts);
    Ok(parts)
}

/// The number of channels that a track chunk uses.
fn channels_of(chunk: &Chunk) -> usize {
    let channels = chunk.events.iter().filter_map(|event| match event.body {
        Body::Message(message) => message.channel(),
        Body::SysEx(_) => None,
    });
    channels.fold(0u16, |seen, channel| seen | 1 << channel.wire()).count_ones() as usize
}

/// The channels of a track chunk that play anything, in ascending order.
fn gather(chunk: &Chunk, scale: &mut Scale, tally: &mut Tally) -> Vec<Gather> {
    let mut gathered: [Option<Gather>; 16] = Default::default();
    for event in &chunk.events {
        let Body::Message(message) = event.body else { continue };
        let Some(channel) = message.channel() else { continue };
        let place = &mut gathered[usize::from(channel.wire())];
        let gather = place.get_or_insert_with(|| Gather::new(channel));
        gather.add(scale.tick(event.at), message, tally);
    }
    let end = scale.tick(chunk.end);
    let mut gathered: Vec<Gather> = gathered.into_iter().flatten().collect();
    for gather in &mut gathered {
        gather.finish(end, tally);
    }
    gathered.retain(|gather| !gather.notes.is_empty() || !gather.lanes.is_empty());
    gathered
}

fn sysex_of(chunk: &Chunk, scale: &mut Scale) -> Vec<SysEx> {
    let mut all = Vec::new();
    for event in &chunk.events {
        if let Body::SysEx(place) = event.body {
            let bytes = chunk.sysex[place as usize].to_vec();
            all.push(SysEx { at: scale.tick(event.at), bytes });
        }
    }
    all
}

/// One part for each channel.
fn per_channel(chunk: &Chunk, gathered: Vec<Gather>) -> Vec<Part> {
    let alone = gathered.len() == 1;
    let whole = names::of_track(chunk);
    let name_of = |channel: Channel| {
        names::of_channel(chunk, channel).unwrap_or_else(|| match &whole {
            Some(name) if alone => name.clone(),
            Some(name) => ending_in(name, &format!(" channel {channel}")),
            None => format!("Channel {channel}"),
        })
    };
    let part = |mut gather: Gather| {
        let settings = gather.take_settings();
        let mut part = Part {
            name: name_of(gather.channel),
            channel: Some(gather.channel),
            settings,
            ..Part::default()
        };
        append(gather, &mut part);
        part
    };
    gathered.into_iter().map(part).collect()
}

/// One part for all channels.
fn all_channels(chunk: &Chunk, gathered: Vec<Gather>, index: usize) -> Vec<Part> {
    if gathered.is_empty() {
        return Vec::new();
    }
    let name = names::of_track(chunk).unwrap_or_else(|| format!("Track {}", index + 1));
    let only = if gathered.len() == 1 { Some(gathered[0].channel) } else { None };
    let mut part = Part { name, channel: only, ..Part::default() };
    for gather in gathered {
        append(gather, &mut part);
    }
    vec![part]
}

fn append(gather: Gather, part: &mut Part) {
    let channel = gather.channel;
    part.notes.extend(gather.notes.into_iter().map(|stroke| (channel, stroke)));
    let lanes = gather.lanes.into_iter();
    part.lanes.extend(lanes.map(|(control, points)| Moves { channel, control, points }));
}

/// Numbers equal names, so that each track can be addressed by its name.
fn make_names_unique(parts: &mut [Part]) {
    let mut taken: BTreeMap<String, u32> = BTreeMap::new();
    for part in parts {
        let base = part.name.clone();
        while taken.contains_key(&part.name) {
            let count = taken.entry(base.clone()).or_insert(1);
            *count += 1;
            part.name = ending_in(&base, &format!(" {count}"));
        }
        taken.insert(part.name.clone(), 1);
    }
}

/// A name with an ending, shortened so that the ending fits.
fn ending_in(name: &str, ending: &str) -> String {
    let room = names::LONGEST - ending.chars().count();
    let mut cut: String = name.chars().take(room).collect();
    cut.push_str(ending);
    cut
}
