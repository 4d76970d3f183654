//! The layout of a song's text: its records and their fields. Values stay unread as leaves; the
//! `read` modules read them afterwards.

use super::fields::Name;
use super::leaf::Leaf;
use super::replay::Replay;
use serde::de::value::MapAccessDeserializer;
use serde::de::{Error, MapAccess, Visitor};
use serde::{Deserialize, Deserializer};
use std::fmt;

/// A list that must not be empty.
fn one_or_more<'de, D, T>(deserializer: D) -> Result<Vec<T>, D::Error>
where
    D: Deserializer<'de>,
    T: Deserialize<'de>,
{
    let list: Vec<T> = Vec::deserialize(deserializer)?;
    if list.is_empty() {
        return Err(D::Error::custom("the list is empty; it needs at least one entry"));
    }
    Ok(list)
}

/// The version alone; any other fields are ignored.
#[derive(Debug, Deserialize)]
#[serde(rename = "song")]
pub(super) struct VersionText<'a> {
    #[serde(borrow)]
    pub(super) chaconne: Leaf<'a>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "song", deny_unknown_fields)]
pub(super) struct SongText<'a> {
    #[serde(borrow)]
    pub(super) chaconne: Leaf<'a>,
    pub(super) title: Option<Leaf<'a>>,
    pub(super) key: Option<Leaf<'a>>,
    pub(super) transpose: Option<Leaf<'a>>,
    pub(super) form: Option<Leaf<'a>>,
    #[serde(default)]
    pub(super) tracks: Vec<TrackText<'a>>,
    #[serde(default)]
    pub(super) grooves: Vec<GrooveText<'a>>,
    #[serde(deserialize_with = "one_or_more")]
    pub(super) sections: Vec<SectionText<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "track", deny_unknown_fields)]
pub(super) struct TrackText<'a> {
    #[serde(borrow)]
    pub(super) id: Leaf<'a>,
    pub(super) name: Leaf<'a>,
    pub(super) port: Option<Leaf<'a>>,
    pub(super) channel: Option<Leaf<'a>>,
    pub(super) bank: Option<Leaf<'a>>,
    pub(super) program: Option<Leaf<'a>>,
    pub(super) pitched: Option<Leaf<'a>>,
    pub(super) feel: Option<FeelText<'a>>,
    pub(super) volume: Option<Leaf<'a>>,
    pub(super) pan: Option<Leaf<'a>>,
    pub(super) mute: Option<Leaf<'a>>,
    pub(super) pass_length: Option<Leaf<'a>>,
    pub(super) compass: Option<Leaf<'a>>,
    pub(super) keys_play: Option<Leaf<'a>>,
    pub(super) chord_keys: Option<ChordKeysText<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "chord keys", deny_unknown_fields)]
pub(super) struct ChordKeysText<'a> {
    #[serde(borrow)]
    pub(super) stack: Option<Leaf<'a>>,
    pub(super) inversion: Option<Leaf<'a>>,
    pub(super) open: Option<Leaf<'a>>,
    pub(super) leading: Option<Leaf<'a>>,
    #[serde(default)]
    pub(super) own: Vec<Leaf<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "feel", deny_unknown_fields)]
pub(super) struct FeelText<'a> {
    #[serde(borrow)]
    pub(super) grid: Option<Leaf<'a>>,
    #[serde(alias = "strength")]
    pub(super) pull: Option<Leaf<'a>>,
    pub(super) swing: Option<Leaf<'a>>,
    #[serde(alias = "window")]
    pub(super) reach: Option<Leaf<'a>>,
    pub(super) rolls: Option<Leaf<'a>>,
    pub(super) groove: Option<GivenText<'a>>,
    pub(super) human: Option<HumanText<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "given groove", deny_unknown_fields)]
pub(super) struct GivenText<'a> {
    #[serde(borrow)]
    pub(super) id: Leaf<'a>,
    pub(super) timing: Option<Leaf<'a>>,
    pub(super) loudness: Option<Leaf<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "human variation", deny_unknown_fields)]
pub(super) struct HumanText<'a> {
    #[serde(borrow)]
    pub(super) timing: Option<Leaf<'a>>,
    pub(super) loudness: Option<Leaf<'a>>,
    pub(super) seed: Option<Leaf<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "groove", deny_unknown_fields)]
pub(super) struct GrooveText<'a> {
    #[serde(borrow)]
    pub(super) id: Leaf<'a>,
    pub(super) name: Leaf<'a>,
    pub(super) grid: Leaf<'a>,
    pub(super) bars: Option<Leaf<'a>>,
    #[serde(default)]
    pub(super) steps: Vec<StepText<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "step", deny_unknown_fields)]
pub(super) struct StepText<'a> {
    #[serde(borrow)]
    pub(super) bar: Option<Leaf<'a>>,
    pub(super) step: Leaf<'a>,
    pub(super) timing: Option<Leaf<'a>>,
    pub(super) timing_spread: Option<Leaf<'a>>,
    pub(super) loudness: Option<Leaf<'a>>,
    pub(super) loudness_spread: Option<Leaf<'a>>,
}

/// The place of a step, in an edit.
#[derive(Debug, Deserialize)]
#[serde(rename = "step", deny_unknown_fields)]
pub(super) struct StepAtText<'a> {
    #[serde(borrow)]
    pub(super) bar: Option<Leaf<'a>>,
    pub(super) step: Leaf<'a>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "section", deny_unknown_fields)]
pub(super) struct SectionText<'a> {
    #[serde(borrow)]
    pub(super) letter: Leaf<'a>,
    pub(super) name: Option<Leaf<'a>>,
    pub(super) key: Option<Leaf<'a>>,
    pub(super) transpose: Option<Leaf<'a>>,
    pub(super) bars: Leaf<'a>,
    /// `"4/4"`, or a list of [`MetreText`].
    pub(super) metre: Leaf<'a>,
    /// Microseconds, or a list of [`TempoText`].
    pub(super) tempo: Leaf<'a>,
    #[serde(default)]
    pub(super) fermatas: Vec<Leaf<'a>>,
    #[serde(default)]
    pub(super) chords: Vec<ChordText<'a>>,
    #[serde(default, alias = "passes")]
    pub(super) layers: Vec<LayerText<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "chord", deny_unknown_fields)]
pub(super) struct ChordText<'a> {
    #[serde(borrow)]
    pub(super) at: Leaf<'a>,
    pub(super) chord: Leaf<'a>,
}

/// A layer: a pass in full, or one line that names a pass of an earlier section. The first field,
/// apart from `mute`, decides which.
#[derive(Debug)]
pub(super) enum LayerText<'a> {
    Full(Box<PassText<'a>>),
    Shared(SharedText<'a>),
}

#[derive(Debug, Deserialize)]
#[serde(rename = "pass", deny_unknown_fields)]
pub(super) struct SharedText<'a> {
    #[serde(borrow)]
    pub(super) pass: Leaf<'a>,
    pub(super) mute: Option<Leaf<'a>>,
}

impl<'de: 'a, 'a> Deserialize<'de> for LayerText<'a> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_struct("pass", &[], LayerVisitor(std::marker::PhantomData))
    }
}

/// The value of a field that may be in either of two places, but not in both.
fn once<T, E: Error>(name: &'static str, one: Option<T>, other: Option<T>) -> Result<Option<T>, E> {
    match (one, other) {
        (Some(_), Some(_)) => Err(E::duplicate_field(name)),
        (one, other) => Ok(one.or(other)),
    }
}

/// Reads the first fields of a layer to decide its kind.
struct LayerVisitor<'a>(std::marker::PhantomData<&'a ()>);

impl<'de: 'a, 'a> Visitor<'de> for LayerVisitor<'a> {
    type Value = LayerText<'a>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a pass")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
        let mut first: Option<String> = map.next_key_seed(Name)?;
        let mut mute: Option<Leaf<'a>> = None;
        if first.as_deref() == Some("mute") {
            // Both kinds have this field, so the next one decides.
            mute = Some(map.next_value()?);
            first = map.next_key_seed(Name)?;
        }
        let shared = first.as_deref() == Some("pass");
        let fields = MapAccessDeserializer::new(Replay::new(first, map));
        if shared {
            let mut text = SharedText::deserialize(fields)?;
            text.mute = once("mute", mute, text.mute)?;
            return Ok(LayerText::Shared(text));
        }
        let mut text = PassText::deserialize(fields)?;
        text.mute = once("mute", mute, text.mute)?;
        Ok(LayerText::Full(Box::new(text)))
    }
}

#[derive(Debug, Deserialize)]
#[serde(rename = "metre", deny_unknown_fields)]
pub(super) struct MetreText<'a> {
    #[serde(borrow)]
    pub(super) bar: Leaf<'a>,
    pub(super) metre: Leaf<'a>,
    pub(super) groups: Option<Leaf<'a>>,
    pub(super) tempo_unit: Option<Leaf<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "tempo", deny_unknown_fields)]
pub(super) struct TempoText<'a> {
    #[serde(borrow)]
    pub(super) at: Leaf<'a>,
    pub(super) tempo: Option<Leaf<'a>>,
    pub(super) ramp: Option<Leaf<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "pass", deny_unknown_fields)]
pub(super) struct PassText<'a> {
    #[serde(borrow)]
    pub(super) id: Leaf<'a>,
    pub(super) track: Leaf<'a>,
    pub(super) name: Option<Leaf<'a>>,
    pub(super) length: Leaf<'a>,
    pub(super) channel: Option<Leaf<'a>>,
    pub(super) mute: Option<Leaf<'a>>,
    pub(super) feel: Option<FeelText<'a>>,
    #[serde(default)]
    pub(super) covers: Vec<CoverText<'a>>,
    #[serde(default)]
    pub(super) notes: Vec<NoteText<'a>>,
    #[serde(default)]
    pub(super) lanes: Vec<LaneText<'a>>,
    #[serde(default)]
    pub(super) sysex: Vec<MessageText<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "cover", deny_unknown_fields)]
pub(super) struct CoverText<'a> {
    #[serde(borrow)]
    pub(super) from: Leaf<'a>,
    pub(super) to: Leaf<'a>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "note", deny_unknown_fields)]
pub(super) struct NoteText<'a> {
    #[serde(borrow)]
    pub(super) id: Leaf<'a>,
    pub(super) at: Leaf<'a>,
    pub(super) length: Leaf<'a>,
    pub(super) key: Leaf<'a>,
    pub(super) velocity: Leaf<'a>,
    pub(super) release: Option<Leaf<'a>>,
    pub(super) channel: Option<Leaf<'a>>,
    pub(super) placed: Option<Box<PlacedText<'a>>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "placed", deny_unknown_fields)]
pub(super) struct PlacedText<'a> {
    #[serde(borrow)]
    pub(super) at: Option<Leaf<'a>>,
    pub(super) length: Option<Leaf<'a>>,
    pub(super) key: Option<Leaf<'a>>,
    pub(super) velocity: Option<Leaf<'a>>,
    pub(super) release: Option<Leaf<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "lane", deny_unknown_fields)]
pub(super) struct LaneText<'a> {
    #[serde(borrow)]
    pub(super) control: Leaf<'a>,
    pub(super) channel: Option<Leaf<'a>>,
    pub(super) from: Leaf<'a>,
    pub(super) to: Leaf<'a>,
    #[serde(deserialize_with = "one_or_more")]
    pub(super) points: Vec<PointText<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "point", deny_unknown_fields)]
pub(super) struct PointText<'a> {
    #[serde(borrow)]
    pub(super) at: Leaf<'a>,
    pub(super) value: Leaf<'a>,
    pub(super) shape: Option<Leaf<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "message", deny_unknown_fields)]
pub(super) struct MessageText<'a> {
    #[serde(borrow)]
    pub(super) at: Leaf<'a>,
    pub(super) bytes: Leaf<'a>,
}

/// A commit, or a step of a history. Its edits are read afterwards.
#[derive(Debug, Deserialize)]
#[serde(rename = "commit", deny_unknown_fields)]
pub(super) struct CommitText<'a> {
    #[serde(borrow)]
    pub(super) label: Leaf<'a>,
    pub(super) edits: Vec<Leaf<'a>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename = "history", deny_unknown_fields)]
pub(super) struct HistoryText<'a> {
    #[serde(borrow)]
    pub(super) undo: Vec<CommitText<'a>>,
    pub(super) redo: Vec<CommitText<'a>>,
}
