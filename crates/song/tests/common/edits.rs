//! Random edits of every kind. If a kind is missing here, this file does not compile.

use super::Chooser;
use chaconne_song::*;
use chaconne_time::*;
use std::sync::Arc;

/// Declares the names of all kinds from one table. The match has no wildcard, so a new variant has
/// to be entered, and then [`edit`] has to make it.
macro_rules! kinds {
    ($($name:literal => $pattern:pat,)*) => {
        /// The names of all kinds of edit.
        pub const KINDS: &[&str] = &[$($name),*];

        /// The name of an edit's kind.
        pub fn kind(edit: &Edit) -> &'static str {
            use GrooveEdit as G;
            use PassEdit as P;
            use SectionEdit as S;
            use TrackEdit as T;
            match edit {
                $($pattern => $name,)*
            }
        }
    };
}

kinds! {
    "title" => Edit::Title(_),
    "key" => Edit::Key(_),
    "transpose" => Edit::Transpose(_),
    "form" => Edit::Form(_),
    "add track" => Edit::AddTrack { .. },
    "remove track" => Edit::RemoveTrack(_),
    "track name" => Edit::Track(_, T::Name(_)),
    "track port" => Edit::Track(_, T::Port(_)),
    "track channel" => Edit::Track(_, T::Channel(_)),
    "track bank" => Edit::Track(_, T::Bank(_)),
    "track program" => Edit::Track(_, T::Program(_)),
    "track pitched" => Edit::Track(_, T::Pitched(_)),
    "track grid" => Edit::Track(_, T::Grid(_)),
    "track pull" => Edit::Track(_, T::Pull(_)),
    "track swing" => Edit::Track(_, T::Swing(_)),
    "track reach" => Edit::Track(_, T::Reach(_)),
    "track rolls" => Edit::Track(_, T::Rolls(_)),
    "track groove" => Edit::Track(_, T::Groove(_)),
    "track human" => Edit::Track(_, T::Human(_)),
    "track volume" => Edit::Track(_, T::Volume(_)),
    "track pan" => Edit::Track(_, T::Pan(_)),
    "track mute" => Edit::Track(_, T::Mute(_)),
    "track pass length" => Edit::Track(_, T::PassLength(_)),
    "track compass" => Edit::Track(_, T::Compass(_)),
    "track keys play" => Edit::Track(_, T::KeysPlay(_)),
    "track chord stack" => Edit::Track(_, T::ChordStack(_)),
    "track chord inversion" => Edit::Track(_, T::ChordInversion(_)),
    "track chord open" => Edit::Track(_, T::ChordOpen(_)),
    "track chord leading" => Edit::Track(_, T::ChordLeading(_)),
    "track chord key" => Edit::Track(_, T::ChordKey(..)),
    "add groove" => Edit::AddGroove { .. },
    "remove groove" => Edit::RemoveGroove(_),
    "groove name" => Edit::Groove(_, G::Name(_)),
    "groove step" => Edit::Groove(_, G::Step(..)),
    "add section" => Edit::AddSection { .. },
    "remove section" => Edit::RemoveSection(_),
    "move section" => Edit::MoveSection(..),
    "move track" => Edit::MoveTrack(..),
    "section letter" => Edit::Section(_, S::Letter(_)),
    "section name" => Edit::Section(_, S::Name(_)),
    "section key" => Edit::Section(_, S::Key(_)),
    "section transpose" => Edit::Section(_, S::Transpose(_)),
    "section metre" => Edit::Section(_, S::Metre(_)),
    "section tempo" => Edit::Section(_, S::Tempo(_)),
    "section fermata" => Edit::Section(_, S::Fermata(..)),
    "section chord" => Edit::Section(_, S::Chord(..)),
    "lay new" => Edit::Section(_, S::Lay { pass: Laid::New(_), .. }),
    "lay shared" => Edit::Section(_, S::Lay { pass: Laid::Shared(_), .. }),
    "lay copy" => Edit::Section(_, S::Lay { pass: Laid::Copy { .. }, .. }),
    "remove layer" => Edit::Section(_, S::Remove(_)),
    "move layer" => Edit::Section(_, S::Move(..)),
    "mute layer" => Edit::Section(_, S::Mute(..)),
    "replace by new" => Edit::Section(_, S::Replace(_, Laid::New(_))),
    "replace by shared" => Edit::Section(_, S::Replace(_, Laid::Shared(_))),
    "replace by copy" => Edit::Section(_, S::Replace(_, Laid::Copy { .. })),
    "pass name" => Edit::Pass(_, P::Name(_)),
    "pass feel" => Edit::Pass(_, P::Feel(_)),
    "pass length" => Edit::Pass(_, P::Length(_)),
    "pass covers" => Edit::Pass(_, P::Covers(_)),
    "add notes" => Edit::Pass(_, P::AddNotes(_)),
    "remove notes" => Edit::Pass(_, P::RemoveNotes(_)),
    "played" => Edit::Pass(_, P::Played(_)),
    "place" => Edit::Pass(_, P::Place(_)),
    "add lane" => Edit::Pass(_, P::AddLane(_)),
    "remove lane" => Edit::Pass(_, P::RemoveLane(_)),
    "lane span" => Edit::Pass(_, P::LaneSpan(..)),
    "add point" => Edit::Pass(_, P::AddPoint(..)),
    "remove point" => Edit::Pass(_, P::RemovePoint(_)),
    "point value" => Edit::Pass(_, P::PointValue(..)),
    "point shape" => Edit::Pass(_, P::PointShape(..)),
    "add sysex" => Edit::Pass(_, P::AddSysEx(..)),
    "remove sysex" => Edit::Pass(_, P::RemoveSysEx(..)),
}

/// A random edit of any kind that suits the song, or now and then one that it must refuse.
pub fn edit(chooser: &mut Chooser, song: &Song) -> Edit {
    let kind = chooser.pick(KINDS);
    let edit = match kind.split_once(' ') {
        Some(("track", _)) => track_edit(chooser, song, kind),
        Some(("section" | "lay" | "replace", _)) | Some((_, "layer")) => {
            section_edit(chooser, song, kind)
        }
        _ => song_edit(chooser, song, kind).unwrap_or_else(|| pass_edit(chooser, song, kind)),
    };
    assert_eq!(self::kind(&edit), kind);
    edit
}

/// A section of the song, or now and then one that it does not have.
fn letter(chooser: &mut Chooser, song: &Song) -> Letter {
    let letters: Vec<Letter> = song.sections.iter().map(|section| section.letter).collect();
    if chooser.once_in(12) { "ZZZ".parse().unwrap() } else { chooser.pick(&letters) }
}

fn letters(song: &Song) -> Vec<Letter> {
    song.sections.iter().map(|section| section.letter).collect()
}

fn track(chooser: &mut Chooser, song: &Song) -> TrackId {
    let known = chooser.within(0, song.tracks.len() as i64) as usize;
    song.tracks.get(known).map_or(TrackId(9_999), |track| track.id)
}

/// A groove of the song, or now and then one that it does not have.
fn groove(chooser: &mut Chooser, song: &Song) -> Groove {
    let known = chooser.within(0, song.grooves.len() as i64) as usize;
    let (id, name) = (GrooveId(9_997), String::new());
    let (grid, bars, steps) = (NoteValue::SIXTEENTH, 1, Default::default());
    let none = Groove { id, name, grid, bars, steps };
    song.grooves.get(known).map_or(none, |groove| Groove::clone(groove))
}

fn groove_edit(chooser: &mut Chooser, song: &Song, kind: &str) -> Edit {
    let groove = groove(chooser, song);
    let edit = match kind {
        "groove name" => GrooveEdit::Name(chooser.words()),
        _ => {
            let bars = if chooser.once_in(9) { 16 } else { groove.bars };
            let known = groove.steps.keys().next().copied().filter(|_| chooser.once_in(2));
            let at = known.unwrap_or_else(|| chooser.step_at(bars));
            let grid = if chooser.once_in(9) { chooser.note_value() } else { groove.grid };
            GrooveEdit::Step(at, chooser.maybe(|chooser| chooser.lean(grid)))
        }
    };
    Edit::Groove(groove.id, edit)
}

fn pass(chooser: &mut Chooser, song: &Song) -> SharedPass {
    let nothing = || Arc::new(Pass::empty(PassId(9_998), TrackId(1), Tick(960)));
    if song.passes.is_empty() || chooser.once_in(12) {
        return nothing();
    }
    let passes: Vec<&SharedPass> = song.passes.values().collect();
    Arc::clone(chooser.pick(&passes))
}

fn song_edit(chooser: &mut Chooser, song: &Song, kind: &str) -> Option<Edit> {
    let at = chooser.within(0, 3) as usize;
    Some(match kind {
        "title" => Edit::Title(chooser.words()),
        "key" => Edit::Key(chooser.key()),
        "transpose" => Edit::Transpose(chooser.transpose()),
        "form" => {
            let mut letters = letters(song);
            letters.push(letter(chooser, song));
            Edit::Form(chooser.form(&letters))
        }
        "add track" => Edit::AddTrack { at, track: Arc::new(chooser.track()) },
        "remove track" => Edit::RemoveTrack(track(chooser, song)),
        "add groove" => Edit::AddGroove { at, groove: Arc::new(chooser.groove()) },
        "remove groove" => Edit::RemoveGroove(groove(chooser, song).id),
        "groove name" | "groove step" => groove_edit(chooser, song, kind),
        "add section" => {
            let new = Letter::all().nth(chooser.within(0, 60) as usize).unwrap();
            let track = track(chooser, song);
            let (mut section, passes) = chooser.section(new, &[track]);
            let others: Vec<SharedPass> = song.passes.values().cloned().collect();
            chooser.share(&mut section, &others);
            Edit::AddSection { at, section: Arc::new(section), passes }
        }
        "remove section" => Edit::RemoveSection(letter(chooser, song)),
        "move track" => {
            let to = chooser.within(0, song.tracks.len() as i64) as usize;
            Edit::MoveTrack(track(chooser, song), to)
        }
        "move section" => {
            let to = chooser.within(0, song.sections.len() as i64) as usize;
            Edit::MoveSection(letter(chooser, song), to)
        }
        _ => return None,
    })
}

fn track_edit(chooser: &mut Chooser, song: &Song, kind: &str) -> Edit {
    use TrackEdit as T;
    let (id, track) = (track(chooser, song), chooser.track());
    let feel = if chooser.once_in(2) { chooser.feel() } else { track.feel };
    let edit = match kind {
        "track name" => T::Name(track.name),
        "track port" => T::Port(track.port),
        "track channel" => T::Channel(track.channel),
        "track bank" => T::Bank(track.bank),
        "track program" => T::Program(track.program),
        "track pitched" => T::Pitched(track.pitched),
        "track grid" => T::Grid(feel.grid),
        "track pull" => T::Pull(if chooser.once_in(9) { 101 } else { feel.pull }),
        "track swing" => T::Swing(feel.swing),
        "track reach" => T::Reach(if chooser.once_in(9) { 200 } else { feel.reach }),
        "track rolls" => T::Rolls(feel.rolls),
        "track groove" => T::Groove(if chooser.once_in(3) { None } else { chooser.given() }),
        "track human" => T::Human(feel.human),
        "track volume" => T::Volume(track.levels.volume),
        "track pan" => T::Pan(track.levels.pan),
        "track mute" => T::Mute(track.mute),
        "track pass length" => T::PassLength(track.pass_length),
        "track compass" => {
            T::Compass(if track.mute { "A3 to E5".parse().ok() } else { track.compass })
        }
        "track keys play" => T::KeysPlay(track.keys_play),
        "track chord stack" => T::ChordStack(track.chord_keys.stack),
        "track chord inversion" => T::ChordInversion(if chooser.once_in(9) { 5 } else { 3 }),
        "track chord open" => T::ChordOpen(track.chord_keys.open),
        "track chord leading" => T::ChordLeading(track.chord_keys.leading),
        "track chord key" => {
            let chord = track.mute.then(|| "F#m7b5/E".parse().unwrap());
            T::ChordKey(track.program.unwrap_or(U7::CENTRE), chord)
        }
        _ => panic!("no edit '{kind}'"),
    };
    Edit::Track(id, edit)
}

fn section_edit(chooser: &mut Chooser, song: &Song, kind: &str) -> Edit {
    use SectionEdit as S;
    let letter = letter(chooser, song);
    let section = song.section(letter).unwrap_or(&song.sections[0]);
    let metre = section.metre.clone();
    let at = chooser.within(0, section.layers.len() as i64) as usize;
    let layer = section.layers.get(at).map_or(PassId(9_998), |layer| layer.pass);
    let mute = chooser.once_in(2);
    let edit = match kind {
        "section letter" => S::Letter(Letter::all().nth(chooser.within(0, 900) as usize).unwrap()),
        "section name" => S::Name(chooser.words()),
        "section key" => S::Key(chooser.key()),
        "section transpose" => S::Transpose(chooser.transpose()),
        "section metre" => {
            // Half of them suit most of the song's passes.
            let quarters = MetreMap::new(chooser.within(1, 9) as u32, Metre::common()).unwrap();
            S::Metre(if chooser.once_in(2) { chooser.metres() } else { quarters })
        }
        "section tempo" => S::Tempo(chooser.tempi(&metre)),
        "section fermata" => {
            let known = section.fermatas.first().copied();
            let at = if chooser.once_in(2) { known } else { None };
            S::Fermata(at.unwrap_or(Tick(chooser.within(-1, 20_000))), chooser.once_in(2))
        }
        "section chord" => {
            let known = section.chords.first().map(|chord| chord.at);
            let at = if chooser.once_in(2) { known } else { None };
            let at = at.unwrap_or(Tick(chooser.within(-1, 20_000)));
            S::Chord(at, chooser.maybe(Chooser::symbol))
        }
        "remove layer" => S::Remove(layer),
        "move layer" => S::Move(layer, chooser.within(0, 3) as usize),
        "mute layer" => S::Mute(layer, mute),
        _ => {
            let laid = laid(chooser, song, section, kind);
            match kind.starts_with("lay") {
                true => S::Lay { at, pass: laid, mute },
                false => S::Replace(layer, laid),
            }
        }
    };
    Edit::Section(letter, edit)
}

fn laid(chooser: &mut Chooser, song: &Song, section: &Section, kind: &str) -> Laid {
    let of = pass(chooser, song).id;
    match kind.rsplit_once(' ').unwrap().1 {
        "new" => {
            let track = track(chooser, song);
            Laid::New(Arc::new(chooser.pass(&section.metre, track)))
        }
        "shared" => {
            // Half of them are passes that the section does not have yet.
            let lacks = |pass: &PassId| section.layer(*pass).is_none();
            let others: Vec<PassId> = song.passes.keys().copied().filter(lacks).collect();
            let other = !others.is_empty() && chooser.once_in(2);
            Laid::Shared(if other { chooser.pick(&others) } else { of })
        }
        _ => Laid::Copy { of, id: PassId(chooser.id()) },
    }
}

fn pass_edit(chooser: &mut Chooser, song: &Song, kind: &str) -> Edit {
    use PassEdit as P;
    let pass = pass(chooser, song);
    let home = song.sections_with(pass.id).next().unwrap_or(&song.sections[0]);
    // Now and then the content is for a longer pass, so the edit must be refused.
    let length = pass.length * if chooser.once_in(9) { 3 } else { 1 };
    let notes = |chooser: &mut Chooser| -> Vec<NoteId> {
        let all = pass.notes().iter().map(|note| note.id);
        all.filter(|_| chooser.once_in(2)).collect()
    };
    let edit = match kind {
        "pass name" => P::Name(chooser.words()),
        "pass feel" => P::Feel(chooser.maybe(Chooser::feel)),
        "pass length" => {
            let beats = pass.length * chooser.within(1, 3);
            P::Length(if chooser.once_in(3) { chooser.pass_length(&home.metre) } else { beats })
        }
        "pass covers" => P::Covers(chooser.covers(length)),
        "add notes" => {
            chooser.last_note = match chooser.once_in(9) {
                true => 0,
                false => pass.free_note_id().0 - 1,
            };
            P::AddNotes(chooser.several(3, |chooser| chooser.note(length)))
        }
        "remove notes" => P::RemoveNotes(notes(chooser)),
        "played" => {
            let notes = notes(chooser);
            let release = |note| {
                let stroke = chooser.stroke(length);
                Release { note, length: stroke.length, release: stroke.release }
            };
            P::Played(notes.into_iter().map(release).collect())
        }
        "place" => {
            let notes = notes(chooser);
            let place = |note| (note, chooser.placement(length));
            P::Place(notes.into_iter().map(place).collect())
        }
        "add sysex" => P::AddSysEx(chooser.within(0, 1) as usize, chooser.message(length)),
        "remove sysex" => {
            let first = pass.sysex().first().map_or(Tick(0), |message| message.at);
            P::RemoveSysEx(chooser.within(0, 1) as usize, first)
        }
        _ => lane_edit(chooser, &pass, length, kind),
    };
    Edit::Pass(pass.id, edit)
}

fn lane_edit(chooser: &mut Chooser, pass: &Pass, length: Tick, kind: &str) -> PassEdit {
    use PassEdit as P;
    let new = chooser.lane(length);
    let known = chooser.within(0, pass.lanes().len() as i64) as usize;
    let lane = pass.lanes().get(known).unwrap_or(&new).clone();
    let point = lane.points[chooser.within(0, lane.points.len() as i64 - 1) as usize];
    let nth = i64::from(chooser.once_in(5)) as usize;
    let name = PointId { lane: lane.id(), at: point.at, nth };
    let value = U14::new(chooser.within(0, 128) as u16).unwrap();
    match kind {
        "add lane" => P::AddLane(new),
        "remove lane" => P::RemoveLane(lane.id()),
        "lane span" => {
            let wider = Span::new(lane.span.from - Tick(chooser.within(0, 9)), lane.span.to);
            P::LaneSpan(lane.id(), if chooser.once_in(3) { new.span } else { wider })
        }
        "add point" => {
            let at = Tick(chooser.within(lane.span.from.0, lane.span.to.0));
            let shape = chooser.shape(lane.control);
            P::AddPoint(PointId { at, ..name }, Point { at, value, shape })
        }
        "remove point" => P::RemovePoint(name),
        "point value" => P::PointValue(name, value),
        "point shape" => P::PointShape(name, chooser.pick(&Shape::ALL)),
        _ => panic!("no edit '{kind}'"),
    }
}
