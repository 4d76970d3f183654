//! Divides a file into parts, each of which becomes a track.

use super::bars::Reach;
use super::names;
use super::remarks::Tally;
use super::stream::{self, Moves, PortChannel, Settings};
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
    /// Empty if the file uses only its first port.
    pub port: String,
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
        let sysex = self.sysex.iter().map(|message| message.at);
        let last = begun.chain(sysex).max();
        let moves = self.lanes.iter().filter_map(|lane| Some(lane.points.last()?.at));
        Reach {
            begun: last.map_or(Tick::ZERO, |at| at + Tick(1)),
            ended: strokes().map(Stroke::end).chain(moves).max().unwrap_or_default(),
            longest: strokes().map(|stroke| stroke.length).max().unwrap_or_default(),
        }
    }

    fn append(&mut self, share: Share) {
        let channel = share.channel;
        self.notes.extend(share.notes.into_iter().map(|stroke| (channel, stroke)));
        self.lanes.extend(share.lanes);
    }

    /// The track for this part.
    pub fn track(&self, id: TrackId) -> Track {
        let drums = self.channel == Some(Channel::PERCUSSION);
        let plain = if drums { Track::drums } else { Track::pitched };
        let Settings { bank, program, volume, pan } = self.settings;
        Track {
            channel: self.channel,
            port: self.port.clone(),
            bank,
            program,
            levels: Levels { volume, pan },
            ..plain(id, &self.name)
        }
    }
}

/// The parts of a file: one for each channel of each port of each track chunk or, if that would be
/// more tracks than a song holds, one for each port of each chunk.
pub(super) fn parts(
    file: &File,
    scale: &mut Scale,
    tally: &mut Tally,
) -> Result<Vec<Part>, ImportError> {
    let (whole, divided) = count(file);
    if whole > Song::MAX_TRACKS {
        return Err(ImportError::TooManyTracks(whole));
    }
    tally.unsplit = divided > Song::MAX_TRACKS;
    let several = file.tracks.iter().flat_map(|chunk| &chunk.events).any(|event| event.port > 0);
    let mut shares = shares(file, scale, tally);
    let mut parts = Vec::new();
    for (index, chunk) in file.tracks.iter().enumerate() {
        let mut sysex = sysex_of(chunk, scale);
        let mut own = shares.remove(&index).unwrap_or_default();
        for &port in sysex.keys() {
            own.entry(port).or_default();
        }
        let alone = own.len() == 1;
        for (port, shares) in own {
            let first = parts.len();
            let source = Source { chunk, index, port: if alone { None } else { Some(port) } };
            if tally.unsplit {
                parts.extend(source.whole(shares));
            } else {
                parts.extend(source.divided(shares));
            }
            if let Some(sysex) = sysex.remove(&port) {
                if parts.len() == first {
                    parts.push(source.sysex_part());
                }
                parts[first].sysex = sysex;
            }
            if several {
                parts[first..].iter_mut().for_each(|part| part.port = port_name(port));
            }
        }
    }
    make_names_unique(&mut parts);
    Ok(parts)
}

/// The song's name for a port of the file, which counts from 0.
fn port_name(port: u8) -> String {
    format!("port {}", u16::from(port) + 1)
}

/// How many parts the file would have, with one for each port of each chunk and with one for each
/// channel of those. Chunks without messages count only if they hold system-exclusive messages.
fn count(file: &File) -> (usize, usize) {
    let (mut whole, mut divided) = (0, 0);
    for chunk in &file.tracks {
        let mut channels: BTreeMap<u8, u16> = BTreeMap::new();
        for event in &chunk.events {
            let bits = channels.entry(event.port).or_default();
            if let Body::Message(message) = event.body {
                *bits |= message.channel().map_or(0, |channel| 1 << channel.wire());
            }
        }
        whole += channels.len();
        divided += channels.values().map(|bits| bits.count_ones().max(1) as usize).sum::<usize>();
    }
    (whole, divided)
}

/// What one track chunk contributes to a channel.
#[derive(Debug, Clone)]
struct Share {
    channel: Channel,
    settings: Settings,
    notes: Vec<Stroke>,
    lanes: Vec<Moves>,
}

/// The shares of each chunk, by its index and the port; those of a port in the order of their
/// channels. A controller belongs to the chunk that moves it first, with all of its moves.
fn shares(
    file: &File,
    scale: &mut Scale,
    tally: &mut Tally,
) -> BTreeMap<usize, BTreeMap<u8, Vec<Share>>> {
    let mut shares: BTreeMap<usize, BTreeMap<u8, Vec<Share>>> = BTreeMap::new();
    for (PortChannel { port, channel }, mut stream) in stream::streams(file, scale, tally) {
        let settings = stream.take_settings();
        tally.channels_shared += usize::from(stream.is_shared());
        let mut own: BTreeMap<usize, Share> = BTreeMap::new();
        let empty = Share { channel, settings, notes: Vec::new(), lanes: Vec::new() };
        for (chunk, notes) in stream.notes {
            own.insert(chunk, Share { notes: notes.notes, ..empty.clone() });
        }
        for (control, moves) in stream.lanes {
            let share = own.entry(moves.chunk).or_insert_with(|| empty.clone());
            share.lanes.push(Moves { channel, control, points: moves.points });
        }
        for (chunk, share) in own {
            shares.entry(chunk).or_default().entry(port).or_default().push(share);
        }
    }
    shares
}

/// The system-exclusive messages of a chunk, by port.
fn sysex_of(chunk: &Chunk, scale: &mut Scale) -> BTreeMap<u8, Vec<SysEx>> {
    let mut all: BTreeMap<u8, Vec<SysEx>> = BTreeMap::new();
    for event in &chunk.events {
        if let Body::SysEx(place) = event.body {
            let bytes = chunk.sysex[place as usize].to_vec();
            all.entry(event.port).or_default().push(SysEx { at: scale.tick(event.at), bytes });
        }
    }
    all
}

/// Where parts come from: a track chunk, and one of its ports if it has several.
struct Source<'a> {
    chunk: &'a Chunk<'a>,
    index: usize,
    port: Option<u8>,
}

impl Source<'_> {
    /// A name, with the port if the chunk has several.
    fn with_port(&self, name: String) -> String {
        match self.port {
            Some(port) => ending_in(&name, &format!(" {}", port_name(port))),
            None => name,
        }
    }

    /// One part for each channel.
    fn divided(&self, shares: Vec<Share>) -> Vec<Part> {
        let alone = shares.len() == 1;
        let whole = names::of_track(self.chunk);
        let name_of = |channel: Channel| {
            names::of_channel(self.chunk, channel).unwrap_or_else(|| match &whole {
                Some(name) if alone => name.clone(),
                Some(name) => ending_in(name, &format!(" channel {channel}")),
                None => format!("Channel {channel}"),
            })
        };
        let part = |share: Share| {
            let mut part = Part {
                name: self.with_port(name_of(share.channel)),
                channel: Some(share.channel),
                settings: share.settings,
                ..Part::default()
            };
            part.append(share);
            part
        };
        shares.into_iter().map(part).collect()
    }

    /// One part for all channels.
    fn whole(&self, shares: Vec<Share>) -> Option<Part> {
        let first = shares.first()?;
        let channel = (shares.len() == 1).then_some(first.channel);
        let name = names::of_track(self.chunk);
        let name = name.unwrap_or_else(|| format!("Track {}", self.index + 1));
        let mut part = Part { name: self.with_port(name), channel, ..Part::default() };
        for share in shares {
            part.append(share);
        }
        Some(part)
    }

    /// A part for system-exclusive messages alone.
    fn sysex_part(&self) -> Part {
        let name = names::of_track(self.chunk).unwrap_or_else(|| "System exclusive".into());
        let name = self.with_port(name);
        Part { name, channel: Some(Channel::default()), ..Part::default() }
    }
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
