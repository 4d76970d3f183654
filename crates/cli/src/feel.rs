//! `feel`: takes grooves from performances and gives them to other parts.

use crate::args::Feel as Asked;
use crate::exit::{Ended, Failure};
use crate::files::read_song;
use crate::say;
use chaconne_engine::{HowToTake, take_groove};
use chaconne_rig::{Guard, Replace, find_track, save_guarded};
use chaconne_song::{
    Commit, Edit, Feel, GivenGroove, Groove, Human, Pass, PassEdit, PassId, Section, Song, Track,
    TrackEdit,
};
use std::sync::Arc;

/// Does what was asked for, or shows the grooves of the song.
pub fn feel(asked: &Asked) -> Result<Ended, Failure> {
    let mut song = read_song(&asked.song)?;
    let mut guard = Guard::of_song_at(&asked.song);
    let section = section(&song, asked)?;
    let (edits, said) = match (&asked.take, &asked.drop, &asked.to) {
        (Some(name), ..) => take(&song, &section, asked, name)?,
        (_, Some(name), _) => {
            let groove = groove(&song, name)?;
            (vec![Edit::RemoveGroove(groove.id)], format!("groove '{}' removed", groove.name))
        }
        (_, _, Some(to)) => set(&song, &section, asked, to)?,
        (None, None, None) => {
            show(&song, &section)?;
            return Ok(Ended::Ok);
        }
    };
    if edits.is_empty() {
        say::message(&format!("nothing to change: {said} already"));
        return Ok(Ended::Ok);
    }
    let taken = edits.iter().find_map(|edit| match edit {
        Edit::AddGroove { groove, .. } => Some(Arc::clone(groove)),
        _ => None,
    });
    Commit::of_all(edits).apply(&mut song).map_err(|error| error.to_string())?;
    save_guarded(&asked.song, &song, &mut guard, Replace::No)?;
    say::message(&format!("{}: {said}", asked.song.display()));
    if let Some(groove) = taken {
        say::answer(&chaconne_exchange::curve(&song, &section, &groove))?;
    }
    Ok(Ended::Ok)
}

fn show(song: &Song, section: &Section) -> Result<(), Failure> {
    if song.grooves.is_empty() {
        say::message("the song has no grooves; --take NAME --from TRACK takes one");
    }
    say::answer(&chaconne_exchange::curves(song, section))
}

/// Takes a groove from a part: the edits, and what to say.
fn take(
    song: &Song,
    section: &Section,
    asked: &Asked,
    name: &str,
) -> Result<(Vec<Edit>, String), Failure> {
    let name = name.trim();
    if name.is_empty() || name.chars().count() > 64 {
        return Err("a groove needs a name of 1 to 64 characters".to_string().into());
    }
    if song.groove_named(name).is_some() {
        let sentence =
            format!("there is a groove '{name}' already; use another name, or --drop it");
        return Err(sentence.into());
    }
    let track = track(song, asked.from.as_deref().unwrap_or_default())?;
    let passes: Vec<&Pass> = match &asked.layer {
        Some(layer) => vec![self::layer(song, section, &track, layer)?],
        None => song
            .layers_of(section, track.id)
            .filter(|(layer, _)| !layer.mute)
            .map(|(_, pass)| &**pass)
            .collect(),
    };
    let how = HowToTake {
        id: song.ids().groove(),
        name: name.to_string(),
        grid: asked.grid,
        bars: asked.bars,
    };
    let (letter, from) = (section.letter, &track.name);
    let groove = take_groove(passes, how, &section.metre)
        .ok_or_else(|| format!("'{from}' plays no notes in section {letter}"))?;
    let (steps, bars) = (groove.steps.len() as u64, u64::from(groove.bars));
    let said = format!(
        "groove '{name}' taken from '{from}' in section {letter}: {} over {}; --give '{name}' --to \
         TRACK gives it to another part",
        say::counted(steps, "step", "steps"),
        say::counted(bars, "bar", "bars")
    );
    let at = song.grooves.len();
    Ok((vec![Edit::AddGroove { at, groove: Arc::new(groove) }], said))
}

/// Gives a groove or human variation to a part, or takes them off: the edits, and what to say.
fn set(
    song: &Song,
    section: &Section,
    asked: &Asked,
    to: &str,
) -> Result<(Vec<Edit>, String), Failure> {
    let track = track(song, to)?;
    let pass = asked.layer.as_ref().map(|name| layer(song, section, &track, name)).transpose()?;
    let before = pass.and_then(|pass| pass.feel).unwrap_or(track.feel);
    let mut feel = before;
    let mut said = Vec::new();
    if asked.off {
        (feel.groove, feel.human) = (None, Human::NONE);
        said.push("groove and human variation off".to_string());
    }
    if let Some(name) = &asked.give {
        let groove = groove(song, name)?;
        let (timing, loudness) = (asked.depth, asked.loudness.unwrap_or(asked.depth));
        feel.groove = Some(GivenGroove { groove: groove.id, timing, loudness });
        let name = &groove.name;
        said.push(format!("groove '{name}', timing {timing} %, loudness {loudness} %"));
    }
    if let Some(timing) = asked.human {
        let loudness = asked.human_loudness.unwrap_or(timing);
        feel.human = Human { timing, loudness, seed: asked.seed };
        said.push(format!("human variation, timing {timing} %, loudness {loudness} %"));
    }
    let of = match pass {
        Some(_) => format!("a layer of '{}'", track.name),
        None => format!("'{}'", track.name),
    };
    let said = format!("{of}: {}", said.join("; "));
    Ok((edits(&track, pass.map(|pass| pass.id), before, feel), said))
}

/// The edits that set the feel of a track, or of one of its layers.
fn edits(track: &Track, pass: Option<PassId>, before: Feel, feel: Feel) -> Vec<Edit> {
    if let Some(pass) = pass {
        let edit = Edit::Pass(pass, PassEdit::Feel(Some(feel)));
        return if feel == before { Vec::new() } else { vec![edit] };
    }
    let edits = [
        (feel.groove != before.groove, TrackEdit::Groove(feel.groove)),
        (feel.human != before.human, TrackEdit::Human(feel.human)),
    ];
    let changed = edits.into_iter().filter(|(differs, _)| *differs);
    changed.map(|(_, edit)| Edit::Track(track.id, edit)).collect()
}

/// The section that was asked for, or the first.
fn section(song: &Song, asked: &Asked) -> Result<Arc<Section>, Failure> {
    let first = song.sections.first().map(|section| section.letter);
    let letter = asked.section.or(first).unwrap_or(chaconne_song::Letter::A);
    song.section(letter).cloned().ok_or_else(|| {
        let letters: Vec<&str> = song.sections.iter().map(|known| known.letter.as_str()).collect();
        format!("there is no section {letter}; sections: {}", letters.join(", ")).into()
    })
}

fn track(song: &Song, meant: &str) -> Result<Arc<Track>, Failure> {
    find_track(song, meant).ok_or_else(|| {
        let names: Vec<&str> = song.tracks.iter().map(|track| track.name.as_str()).collect();
        format!("there is no track '{meant}'; tracks: {}", names.join(", ")).into()
    })
}

fn groove<'s>(song: &'s Song, meant: &str) -> Result<&'s Arc<Groove>, Failure> {
    song.groove_named(meant.trim()).ok_or_else(|| match song.grooves.is_empty() {
        true => format!("there is no groove '{meant}': --take it from a track first").into(),
        false => {
            let names: Vec<&str> = song.grooves.iter().map(|groove| groove.name.as_str()).collect();
            format!("there is no groove '{meant}'; grooves: {}", names.join(", ")).into()
        }
    })
}

/// The layer of a track that was asked for, by its name or its number from the lowest.
fn layer<'s>(
    song: &'s Song,
    section: &Section,
    track: &Track,
    meant: &str,
) -> Result<&'s Pass, Failure> {
    let stack: Vec<&Pass> = song
        .passes_in(section)
        .into_iter()
        .filter(|pass| pass.track == track.id)
        .map(|pass| &**pass)
        .collect();
    let named = stack.iter().find(|pass| !pass.name.is_empty() && pass.name == meant);
    let numbered = || stack.get(meant.parse::<usize>().ok()?.checked_sub(1)?);
    named.or_else(numbered).copied().ok_or_else(|| {
        let (name, letter) = (&track.name, section.letter);
        let count = say::counted(stack.len() as u64, "layer", "layers");
        format!("there is no layer '{meant}': '{name}' has {count} in section {letter}").into()
    })
}
