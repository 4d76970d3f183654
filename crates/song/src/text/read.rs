//! Reads a song: the text is parsed into records first, then each value is read and checked.

use super::fault::Faults;
use super::layout::{FeelText, SectionText, SongText, TrackText, VersionText};
use super::leaf::{Leaf, options};
use super::{TextError, read_section};
use crate::{
    Channel, ChordKeys, Feel, Form, GrooveId, Human, KeySignature, KeysPlay, Letter, Levels,
    PassId, Section, SharedPass, Song, Swing, Track, TrackId, Transpose, U7, U14, rules,
};
use chaconne_time::{MetreMap, Tick};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The song in `text`, or the errors in it.
pub(super) fn song(text: &str) -> Result<Song, Vec<TextError>> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut faults = Faults::new(text);
    let layout: SongText = match options().from_str(text) {
        Ok(layout) => layout,
        Err(error) => {
            // A later version may have other fields. Then the version is the error to report.
            let other: Option<VersionText> = options().from_str(text).ok();
            if other.is_none_or(|other| version(&mut faults, other.chaconne).is_some()) {
                faults.syntax(text, &error);
            }
            return Err(faults.into_errors());
        }
    };
    if version(&mut faults, layout.chaconne).is_none() {
        return Err(faults.into_errors());
    }
    let mut reader = Reader::new(faults, false);
    let song = reader.song(&layout);
    reader.one_id_each();
    let errors = reader.faults.into_errors();
    song.filter(|_| errors.is_empty()).ok_or(errors)
}

/// Checks that this program can read the version.
fn version<'a>(faults: &mut Faults<'a>, leaf: Leaf<'a>) -> Option<()> {
    let ours = Song::VERSION;
    let version = faults.number(leaf, "chaconne", 1, i64::from(u32::MAX))?;
    if version > i64::from(ours) {
        let message = format!(
            "the song is written in version {version} of the song text; \
             this program reads versions 1 to {ours}"
        );
        faults.add(leaf, message);
        return None;
    }
    Some(())
}

/// Reads values and collects errors. A function that returns `None` has added an error, unless the
/// value depends on another that is already wrong.
pub(super) struct Reader<'a> {
    pub(super) faults: Faults<'a>,
    /// Whether the text is an edit rather than a song: positions are in ticks, and are checked only
    /// when the edit is applied to a song.
    pub(super) is_edit: bool,
    /// Every id of a track, groove or pass, and where it is.
    ids: Vec<(u32, Leaf<'a>)>,
    /// The tracks so far, and whether they are pitched.
    pub(super) pitched: BTreeMap<TrackId, bool>,
    /// The grooves so far.
    pub(super) known_grooves: BTreeSet<GrooveId>,
    /// Whether a track, groove or pass could not be read.
    pub(super) lost: Lost,
    /// The letters of the sections so far, and where they are.
    letters: BTreeMap<Letter, Leaf<'a>>,
    /// The passes so far.
    pub(super) passes: BTreeMap<PassId, SharedPass>,
}

/// Whether a track, groove or pass could not be read. If so, an unknown id may be the id of that one, and
/// is not reported as a second error.
#[derive(Debug, Default)]
pub(super) struct Lost {
    pub(super) track: bool,
    pub(super) groove: bool,
    pub(super) pass: bool,
}

impl<'a> Reader<'a> {
    fn new(faults: Faults<'a>, is_edit: bool) -> Reader<'a> {
        let (ids, pitched, known_grooves, lost, letters, passes) = Default::default();
        Reader { faults, is_edit, ids, pitched, known_grooves, lost, letters, passes }
    }

    /// A reader of edits.
    pub(super) fn of_edits(text: &'a str) -> Reader<'a> {
        Reader::new(Faults::new(text), true)
    }

    /// Reads a position: bar.beat.tick in a song, ticks in an edit.
    pub(super) fn tick(
        &mut self,
        leaf: Leaf<'a>,
        what: &str,
        metre: Option<&MetreMap>,
    ) -> Option<Tick> {
        match metre.filter(|_| !self.is_edit) {
            Some(metre) => self.faults.tick(leaf, what, metre),
            None => {
                let most = 2 * rules::LONGEST_PASS.0;
                self.faults.number(leaf, what, -most, most).map(Tick)
            }
        }
    }

    fn song(&mut self, layout: &SongText<'a>) -> Option<Song> {
        let title = self.or(layout.title, String::new(), |reader, leaf| {
            Some(reader.faults.string(leaf, "title")?.into_owned())
        });
        let key = self.key(layout.key);
        let transpose = self.transpose(layout.transpose);
        // Feels name grooves, so these come first.
        let grooves = self.grooves(&layout.grooves);
        let tracks = self.tracks(&layout.tracks);
        let sections = self.sections(&layout.sections);
        let known = self.letters.len() == layout.sections.len();
        let form = self.or(layout.form, Form::default(), |reader, leaf| reader.form(leaf, known));
        Some(Song {
            title: title?,
            key: key?,
            transpose: transpose?,
            tracks: tracks?,
            grooves: grooves?,
            passes: std::mem::take(&mut self.passes),
            sections: sections?,
            form: form?,
        })
    }

    /// Reads the key of the song or of a section.
    pub(super) fn key(&mut self, leaf: Option<Leaf<'a>>) -> Option<Option<KeySignature>> {
        self.or(leaf, None, |reader, leaf| reader.faults.parsed(leaf, "key", str::parse).map(Some))
    }

    /// Reads the transposition of the song or of a section.
    pub(super) fn transpose(&mut self, leaf: Option<Leaf<'a>>) -> Option<Transpose> {
        self.or(leaf, Transpose::default(), |reader, leaf| {
            let most = i64::from(Transpose::MOST);
            Transpose::new(reader.faults.number(leaf, "transpose", -most, most)? as i8)
        })
    }

    /// Reads an optional field; `usual` is its default.
    pub(super) fn or<T>(
        &mut self,
        leaf: Option<Leaf<'a>>,
        usual: T,
        read: impl FnOnce(&mut Self, Leaf<'a>) -> Option<T>,
    ) -> Option<T> {
        leaf.map_or(Some(usual), |leaf| read(self, leaf))
    }

    /// Reads the id of a track, groove or pass, and remembers it to find duplicates.
    pub(super) fn id(&mut self, leaf: Leaf<'a>) -> Option<u32> {
        let id = self.any_id(leaf)?;
        if !self.is_edit {
            self.ids.push((id, leaf));
        }
        Some(id)
    }

    /// Reads an id.
    pub(super) fn any_id(&mut self, leaf: Leaf<'a>) -> Option<u32> {
        Some(self.faults.number(leaf, "id", 1, i64::from(Song::LAST_ID))? as u32)
    }

    /// Adds an error for each track, groove or pass whose id is already used.
    fn one_id_each(&mut self) {
        let ids = std::mem::take(&mut self.ids);
        self.no_id_twice(ids);
    }

    /// Adds an error for each of these ids that is already used.
    pub(super) fn no_id_twice(&mut self, mut ids: Vec<(u32, Leaf<'a>)>) {
        ids.sort_by_key(|(id, leaf)| (*id, leaf.slice().as_ptr() as usize));
        for pair in ids.windows(2).filter(|pair| pair[0].0 == pair[1].0) {
            self.twice(pair[1].1, pair[0].1, &format!("id {} is already used on line", pair[1].0));
        }
    }

    /// Adds an error for a duplicate: `message`, followed by the line of the first.
    pub(super) fn twice(&mut self, leaf: Leaf<'a>, earlier: Leaf<'a>, message: &str) {
        // Counting lines is slow, so skip it for an error that would be dropped.
        if !self.faults.is_full() {
            let line = self.faults.line_of(earlier);
            self.faults.add(leaf, format!("{message} {line}"));
        }
    }

    /// Reads a data byte, 0 to 127.
    pub(super) fn data(&mut self, leaf: Leaf<'a>, what: &str) -> Option<U7> {
        U7::new(self.faults.number(leaf, what, 0, 127)? as u8)
    }

    /// Reads a channel, 1 to 16.
    pub(super) fn channel(&mut self, leaf: Leaf<'a>) -> Option<Channel> {
        Channel::from_number(self.faults.number(leaf, "channel", 1, 16)? as u8)
    }

    fn tracks(&mut self, texts: &[TrackText<'a>]) -> Option<Vec<Arc<Track>>> {
        if let Some(text) = texts.get(Song::MAX_TRACKS) {
            let message =
                format!("a song has at most {} tracks; this is one more", Song::MAX_TRACKS);
            self.faults.add(text.id, message);
            return None;
        }
        let tracks: Vec<_> = texts.iter().map(|text| self.track(text).map(Arc::new)).collect();
        tracks.into_iter().collect()
    }

    pub(super) fn track(&mut self, text: &TrackText<'a>) -> Option<Track> {
        let pitched =
            self.or(text.pitched, true, |reader, leaf| reader.faults.flag(leaf, "pitched"));
        let id = self.id(text.id).map(TrackId);
        match id {
            Some(id) => drop(self.pitched.insert(id, pitched.unwrap_or(true))),
            None => self.lost.track = true,
        }
        let rolls = !pitched.unwrap_or(true);
        let name = self.faults.string(text.name, "name");
        let port = self.or(text.port, String::new(), |reader, leaf| {
            Some(reader.faults.string(leaf, "port")?.into_owned())
        });
        let channel = self.or(text.channel, None, |reader, leaf| reader.channel(leaf).map(Some));
        let bank = self.or(text.bank, None, |reader, leaf| {
            let bank = reader.faults.number(leaf, "bank", 0, i64::from(U14::MAX.get()))?;
            Some(U14::new(bank as u16))
        });
        let program = self.or(text.program, None, |reader, leaf| {
            Some(U7::new(reader.faults.number(leaf, "program", 1, 128)? as u8 - 1))
        });
        let feel = match &text.feel {
            Some(feel) => self.feel(feel, rolls),
            None => Some(Feel::off(rolls)),
        };
        let mut level =
            |leaf, what| self.or(leaf, None, |reader, leaf| reader.data(leaf, what).map(Some));
        let (volume, pan) = (level(text.volume, "volume"), level(text.pan, "pan"));
        let mute = self.or(text.mute, false, |reader, leaf| reader.faults.flag(leaf, "mute"));
        let pass_length = self.or(text.pass_length, None, |reader, leaf| {
            let longest = rules::LONGEST_PASS.0;
            reader.faults.number(leaf, "pass_length", 1, longest).map(|ticks| Some(Tick(ticks)))
        });
        let compass = self.or(text.compass, None, |reader, leaf| {
            reader.faults.parsed(leaf, "compass", str::parse).map(Some)
        });
        let keys_play = self.or(text.keys_play, KeysPlay::default(), |reader, leaf| {
            reader.faults.parsed(leaf, "keys_play", str::parse)
        });
        let chord_keys = match &text.chord_keys {
            Some(keys) => self.chord_keys(keys),
            None => Some(ChordKeys::default()),
        };
        Some(Track {
            id: id?,
            name: name?.into_owned(),
            port: port?,
            channel: channel?,
            bank: bank?,
            program: program?,
            pitched: pitched?,
            feel: feel?,
            levels: Levels { volume: volume?, pan: pan? },
            mute: mute?,
            pass_length: pass_length?,
            compass: compass?,
            keys_play: keys_play?,
            chord_keys: chord_keys?,
        })
    }

    /// Reads a feel; `rolls` is the default for its track.
    pub(super) fn feel(&mut self, text: &FeelText<'a>, rolls: bool) -> Option<Feel> {
        let usual = Feel::off(rolls);
        let grid = self.or(text.grid, None, |reader, leaf| {
            reader.faults.parsed(leaf, "grid", str::parse).map(Some)
        });
        let mut percent = |leaf, usual, what| {
            self.or(leaf, usual, |reader, leaf| {
                reader.faults.number(leaf, what, 0, 100).map(|percent| percent as u8)
            })
        };
        let pull = percent(text.pull, usual.pull, "pull");
        let reach = percent(text.reach, usual.reach, "reach");
        let swing = self.or(text.swing, usual.swing, |reader, leaf| {
            reader.faults.keep(leaf, leaf.spelt().parse::<Swing>())
        });
        let rolls = self.or(text.rolls, rolls, |reader, leaf| reader.faults.flag(leaf, "rolls"));
        let groove = match &text.groove {
            Some(given) => self.given(given).map(Some),
            None => Some(None),
        };
        let human = match &text.human {
            Some(human) => self.human(human),
            None => Some(Human::NONE),
        };
        Some(Feel {
            grid: grid?,
            pull: pull?,
            swing: swing?,
            reach: reach?,
            rolls: rolls?,
            groove: groove?,
            human: human?,
        })
    }

    fn sections(&mut self, texts: &[SectionText<'a>]) -> Option<Vec<Arc<Section>>> {
        let mut sections = Vec::with_capacity(texts.len());
        for text in texts {
            let letter = self.letter(text.letter);
            let section = read_section::section(self, letter, text);
            sections.push(section.map(Arc::new));
        }
        sections.into_iter().collect()
    }

    /// Reads a section's letter, and adds an error if an earlier section has it.
    fn letter(&mut self, leaf: Leaf<'a>) -> Option<Letter> {
        let letter = self.faults.parsed(leaf, "letter", str::parse)?;
        if let Some(&earlier) = self.letters.get(&letter) {
            self.twice(leaf, earlier, &format!("section {letter} is already on line"));
            return None;
        }
        self.letters.insert(letter, leaf);
        Some(letter)
    }

    /// Reads the form. `known` says whether the letters of all sections could be read; only then is
    /// an unknown letter an error.
    fn form(&mut self, leaf: Leaf<'a>, known: bool) -> Option<Form> {
        let form: Form = self.faults.parsed(leaf, "form", str::parse)?;
        let letters = form.letters();
        let missing = letters.iter().find(|letter| known && !self.letters.contains_key(letter));
        if let Some(missing) = missing {
            let message = format!("the form names section {missing}, which is not in the song");
            self.faults.add(leaf, message);
            return None;
        }
        Some(form)
    }
}
