//! Bounces of small songs, read back as 32-bit floats.

use super::*;
use crate::testing::song_of;
use crate::{HowOften, Refusal};
use chaconne_song::{Note, Pass, Stroke, Track, U7};
use chaconne_sound::Limiter;
use chaconne_time::Tick;
use std::path::Path;

/// A song of two tracks that strike a key each at these ticks, in one or two bars.
fn song(bars: u32, drums: &[i64], bass: &[i64]) -> Song {
    let mut song = song_of("bounced", &[("A", bars)]);
    let mut ids = song.ids();
    for (name, starts, key) in [("Kit", drums, 37), ("Bass", bass, 40)] {
        let id = ids.track();
        let track = if key == 37 { Track::drums(id, name) } else { Track::pitched(id, name) };
        let mut pass = Pass::empty(ids.pass(), id, song.sections[0].length());
        for &start in starts {
            let (key, velocity) = (U7::new(key).unwrap(), U7::new(60).unwrap());
            let (start, length, release) = (Tick(start), Tick(200), U7::CENTRE);
            let played = Stroke { start, length, key, velocity, release };
            let (id, channel) = (pass.free_note_id(), Default::default());
            let placed = Default::default();
            pass.notes_mut().notes.push(Note { id, channel, played, placed });
        }
        pass.sort();
        song.tracks.push(Arc::new(track));
        let letter = song.sections[0].letter;
        song.lay(letter, pass);
    }
    song
}

fn how() -> HowToBounce {
    HowToBounce {
        extent: Extent::Form,
        looped: false,
        replace: Replace::Yes,
        tracks: Vec::new(),
        click: false,
        click_level: None,
        stems: None,
        rate: 44_100,
        bits: Bits::Float,
        tail: None,
        loudness: None,
        font: None,
    }
}

fn run(song: &Song, path: &Path, how: &HowToBounce) -> Result<Bounced, String> {
    let done = bounce(song, path, how, &mut |_| true).map_err(|error| error.to_string());
    done.map(|bounced| bounced.expect("nobody stops it"))
}

/// Like [`run`], and returns all news, without repeated progress.
fn run_with_news(song: &Song, path: &Path, how: &HowToBounce) -> (Bounced, Vec<String>) {
    let mut all = Vec::new();
    let mut tell = |news: BounceNews| {
        all.push(match news {
            BounceNews::Remark(remark) => remark,
            BounceNews::Progress(progress) if progress.measures => "measures".into(),
            BounceNews::Progress(_) => "renders".into(),
        });
        true
    };
    let bounced = bounce(song, path, how, &mut tell).unwrap().expect("nobody stops it");
    all.dedup();
    (bounced, all)
}

/// The samples of a 32-bit float file, left and right in turn; its header has 68 bytes.
fn floats(path: &Path) -> Vec<f32> {
    let bytes = std::fs::read(path).unwrap();
    let data = bytes.windows(4).position(|four| four == b"data").unwrap() + 8;
    let samples = bytes[data..].chunks_exact(4);
    samples.map(|four| f32::from_le_bytes(four.try_into().unwrap())).collect()
}

#[test]
fn stems_are_as_long_as_the_mix_and_sum_to_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mix.wav");
    let song = song(1, &[0, 960, 1920], &[480, 2400]);
    let how = HowToBounce { stems: Some(folder.path().join("stems")), ..how() };
    let bounced = run(&song, &path, &how).unwrap();
    assert_eq!(bounced.limited, 0.0, "quiet enough for the limiter to do nothing");
    let names: Vec<_> = bounced.stems.iter().map(|path| path.file_name().unwrap()).collect();
    assert_eq!(names, ["mix-01-Kit.wav", "mix-02-Bass.wav"]);
    let (mix, kit, bass) = (floats(&path), floats(&bounced.stems[0]), floats(&bounced.stems[1]));
    assert_eq!(mix.len() as u64, bounced.frames * 2);
    assert_eq!((kit.len(), bass.len()), (mix.len(), mix.len()));
    for (place, mixed) in mix.iter().enumerate() {
        assert!((mixed - (kit[place] + bass[place])).abs() < 1e-6, "{place}");
    }
    assert!(kit.iter().any(|x| x.abs() > 0.01) && bass.iter().any(|x| x.abs() > 0.01));
    // A track bounced alone keeps the number of its file.
    let alone = HowToBounce { tracks: vec!["Bass".into()], ..how };
    let again = run(&song, &path, &alone).unwrap().stems;
    assert_eq!(again, bounced.stems[1..]);
    assert!(floats(&again[0])[..88_200] == bass[..88_200], "and sounds the same");
    // One bar of 4/4 at 120 is 2 s; the tail ends where it is silent.
    assert!(bounced.frames > 88_200 && bounced.frames < 88_200 + 441_000);
    assert!(mix[mix.len() - 882..].iter().all(|x| x.abs() < 3.2e-5));
}

#[test]
fn a_file_that_another_program_writes_during_the_bounce_is_not_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let (path, song) = (folder.path().join("mix.wav"), song(1, &[0], &[480]));
    let mut guard = Guard::default();
    let mut run = |replace, meanwhile: &[u8]| {
        let how = HowToBounce { replace, ..how() };
        let mut write = |_| {
            std::fs::write(&path, meanwhile).unwrap();
            true
        };
        bounce_guarded(&song, &path, &how, &mut guard, &mut write).map(|done| done.is_some())
    };
    let (first, second) = (b"RIFF\x24\0\0\0WAVEfirst", b"RIFF\x24\0\0\0WAVEsecond");
    let [exists, changed] = [Refusal::Exists, Refusal::ChangedSince].map(|why| why(path.clone()));
    // It appears meanwhile; then it changes after the user has agreed to replace it.
    for (replace, there, why) in
        [(Replace::No, &first[..], exists), (Replace::Confirmed, second, changed)]
    {
        assert_eq!(run(replace, there), Err(why.into()), "{replace:?}");
        assert_eq!(std::fs::read(&path).unwrap(), there, "{replace:?}");
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "no draft is left");
    }
    assert_eq!(run(Replace::Confirmed, second), Ok(true), "the user has agreed to this one");
    assert_eq!(&floats(&path).len() % 2, 0, "a bounce");
    assert_eq!(run(Replace::Yes, first), Ok(true), "any file, if that was asked for in advance");
}

#[test]
fn only_the_tracks_asked_for_are_bounced() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mix.wav");
    let mut song = song(1, &[0], &[960]);
    let only = |name: &str| HowToBounce { tracks: vec![name.into()], tail: Some(0.0), ..how() };
    run(&song, &path, &only("bass")).unwrap();
    let sound = floats(&path);
    assert_eq!(sound.len(), 88_200 * 2);
    assert!(sound[..44_000].iter().all(|x| *x == 0.0));
    assert!(sound[44_100..].iter().any(|x| x.abs() > 0.01));
    let error = run(&song, &path, &only("Flute")).unwrap_err();
    assert_eq!(error, "there is no track 'Flute'; tracks: Kit, Bass");
    Arc::make_mut(&mut song.tracks[1]).mute = true;
    let (bounced, news) = run_with_news(&song, &path, &only("Bass"));
    assert_eq!((bounced.peak, bounced.loudness), (None, None));
    assert_eq!(news, ["track 'Bass' is muted and will be silent", "renders"]);
}

#[test]
fn a_name_with_commas_is_taken_whole() {
    let mut song = song(1, &[0], &[960]);
    let names = ["Low, soft", "Low", "2,3"];
    let mut ids = song.ids();
    song.tracks.extend(names.map(|name| Arc::new(Track::pitched(ids.track(), name))));
    let wanted = |options: &[&str]| -> Result<Vec<String>, String> {
        let options: Vec<String> = options.iter().map(|option| option.to_string()).collect();
        let tracks = tracks(&song, &options)?;
        Ok(tracks.iter().map(|track| track.name.clone()).collect())
    };
    let all = ["Kit", "Bass", "Low, soft", "Low", "2,3"];
    assert_eq!(wanted(&[]).unwrap(), all);
    assert_eq!(wanted(&["Low, soft"]).unwrap(), ["Low, soft"]);
    assert_eq!(wanted(&["low, SOFT,kit"]).unwrap(), ["Kit", "Low, soft"]);
    assert_eq!(wanted(&["Bass, Low", "1"]).unwrap(), ["Kit", "Bass", "Low"]);
    assert_eq!(wanted(&["2,3"]).unwrap(), ["2,3"]);
    assert_eq!(wanted(&["2", "3"]).unwrap(), ["Bass", "Low, soft"]);
    let error = wanted(&["Bass,, Low"]).unwrap_err();
    assert!(error.starts_with("there is no track ''; tracks: Kit, Bass, "), "{error}");
}

#[test]
fn a_loop_is_exactly_as_long_as_its_section_and_has_no_jump_at_the_seam() {
    let folder = tempfile::tempdir().unwrap();
    let (path, plain) = (folder.path().join("loop.wav"), folder.path().join("plain.wav"));
    // The bass is struck just before the end, and rings on into the beginning.
    let song = song(1, &[960], &[3700]);
    let extent = Extent::Section("A".parse().unwrap(), HowOften::ToHearAll);
    let round = HowToBounce { extent, looped: true, ..how() };
    assert_eq!(run(&song, &path, &round).unwrap().frames, 88_200);
    let sound = floats(&path);
    run(&song, &plain, &HowToBounce { tail: Some(0.0), looped: false, ..round }).unwrap();
    let once = floats(&plain);
    assert!(once[..2000].iter().all(|x| *x == 0.0));
    assert!(sound[..2000].iter().any(|x| x.abs() > 0.01));
    let steps = |sound: &[f32]| {
        let steps = sound.chunks(2).zip(sound.chunks(2).skip(1)).map(|(a, b)| (a[0] - b[0]).abs());
        steps.fold(0.0, f32::max)
    };
    let around = [&sound[sound.len() - 200..], &sound[..200]].concat();
    let inside = steps(&sound[sound.len() - 2000..]).max(steps(&sound[..2000]));
    assert!(steps(&around) <= inside, "{} {inside}", steps(&around));
}

#[test]
fn a_bounce_reaches_the_loudness_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mix.wav");
    let song = song(2, &[0, 1920, 3840, 5760], &[0, 960, 1920, 2880, 3840, 4800, 5760]);
    let at =
        |lufs: f64| run_with_news(&song, &path, &HowToBounce { loudness: Some(lufs), ..how() });
    let (bounced, news) = at(-30.0);
    let lufs = bounced.loudness.unwrap();
    assert!(bounced.limited == 0.0 && (lufs + 30.0).abs() < 0.02, "{bounced:?}");
    assert_eq!(news, ["measures", "renders"]);
    // The limiter has to turn the mix down for it, more each time.
    let mut limited = 0.0;
    for wanted in [-16.0, -13.0, -11.0] {
        let (bounced, news) = at(wanted);
        let lufs = bounced.loudness.unwrap();
        assert!((lufs - wanted).abs() <= 0.1, "{wanted}: {lufs}");
        assert!(bounced.limited > limited + 1.0 && bounced.peak.unwrap() <= -1.0, "{bounced:?}");
        assert_eq!(news, ["measures", "renders"]);
        limited = bounced.limited;
    }
    // One stroke in eight seconds cannot be as loud as this.
    let rare = self::song(4, &[0], &[]);
    let how = HowToBounce { loudness: Some(-5.0), tail: Some(0.0), ..how() };
    let (bounced, news) = run_with_news(&rare, &path, &how);
    let lufs = bounced.loudness.unwrap();
    let sentence = format!("the loudness is {lufs:.1} LUFS instead of -5.0: the limiter ");
    assert!(news[1].starts_with(&sentence), "{news:?} {bounced:?}");
    assert!(bounced.limited <= 24.1 && bounced.peak.unwrap() <= -1.0, "{bounced:?}");
}

#[test]
fn the_mix_is_the_sum_of_the_stems_through_the_limiter() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mix.wav");
    let song = song(1, &[0, 960, 1920], &[480, 2400]);
    let stems = Some(folder.path().join("stems"));
    let how = HowToBounce { stems, loudness: Some(-12.0), ..how() };
    let bounced = run(&song, &path, &how).unwrap();
    assert!(bounced.limited > 3.0, "{bounced:?}");
    let mix = floats(&path);
    let stems: Vec<Vec<f32>> = bounced.stems.iter().map(|path| floats(path)).collect();
    let ahead = Limiter::latency(44_100);
    let side = |side: usize| -> Vec<f32> {
        let sums = (side..mix.len()).step_by(2).map(|at| stems[0][at] + stems[1][at]);
        sums.chain(std::iter::repeat_n(0.0, ahead)).collect()
    };
    let (mut left, mut right) = (side(0), side(1));
    assert!(left.iter().any(|x| x.abs() > 1.2), "the stems are not limited");
    Limiter::new(44_100).process(&mut left, &mut right);
    // Mix and stems each fade out over the last 5 ms.
    let whole = mix.len() / 2 - 221;
    for at in 0..whole {
        assert_eq!([mix[2 * at], mix[2 * at + 1]], [left[at + ahead], right[at + ahead]], "{at}");
    }
}

#[test]
fn a_bounce_that_is_stopped_leaves_no_files() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mix.wav");
    let song = song(2, &[0, 1920], &[0]);
    for loudness in [None, Some(-20.0)] {
        let how = HowToBounce { loudness, ..how() };
        let mut pieces = 0;
        let mut twice = |_| {
            pieces += 1;
            pieces < 3
        };
        assert_eq!(bounce(&song, &path, &how, &mut twice), Ok(None));
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}

#[test]
fn a_loop_bounces_the_round_that_the_listing_shows() {
    // A pass of two bars over a section of one: every second round plays its other half.
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("loop.wav");
    let mut song = song(1, &[], &[]);
    let long = self::song(2, &[1920], &[]);
    song.passes.clear();
    Arc::make_mut(&mut song.sections[0]).layers.clear();
    song.lay(song.sections[0].letter, long.passes_in(&long.sections[0])[0].clone());
    let extent = Extent::Section("A".parse().unwrap(), HowOften::Times(1));
    for tempo in ["120", "130", "150", "173"] {
        let bpm = chaconne_time::Tempo::parse_bpm(tempo).unwrap();
        Arc::make_mut(&mut song.sections[0]).tempo = chaconne_time::TempoMap::new(bpm);
        run(&song, &path, &HowToBounce { extent, looped: true, ..how() }).unwrap();
        let sound = floats(&path);
        let middle = sound.len() / 2;
        let loudest = |sound: &[f32]| sound.iter().fold(0.0f32, |most, x| most.max(x.abs()));
        assert!(loudest(&sound[middle..]) > 0.01, "at {tempo}");
        assert!(loudest(&sound[middle - 2000..middle - 50]) < 0.001, "at {tempo}");
    }
}

#[test]
fn a_bounce_that_cannot_be_written_is_refused_before_any_file() {
    let folder = tempfile::tempdir().unwrap();
    let (path, stems) = (folder.path().join("mix.wav"), folder.path().join("stems"));
    let song = song(1, &[0], &[0]);
    std::fs::create_dir(&stems).unwrap();
    std::fs::write(stems.join("mix-02-Bass.wav"), "a letter").unwrap();
    let how = HowToBounce { stems: Some(stems), ..how() };
    let error = run(&song, &path, &how).unwrap_err();
    assert!(
        error.ends_with("already exists and is not a WAV file, so it is not replaced"),
        "{error}"
    );
    assert!(!path.exists());
    let endless = HowToBounce { tail: Some(50_000.0), stems: None, ..how };
    let error = run(&song, &path, &endless).unwrap_err();
    // 4 GiB at 8 bytes per frame and 44,100 frames per second.
    assert_eq!(
        error,
        "the bounce would last 13.9 hours, and a WAV file of this kind holds at most 3.4"
    );
    let font = folder.path().join("none.sf2");
    let how = HowToBounce { font: Some(font.clone()), tail: None, ..endless };
    // The file is named once.
    let error = run(&song, &path, &how).unwrap_err();
    let expected = format!("the font '{}' cannot be read: ", font.display());
    assert!(error.starts_with(&expected), "{error}");
    std::fs::write(&font, "MThd").unwrap();
    let error = run(&song, &path, &how).unwrap_err();
    let broken = format!("{}: this is not a playable SoundFont 2 file: ", font.display());
    assert!(error.starts_with(&broken), "{error}");
    assert!(!path.exists());
}
