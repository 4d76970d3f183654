//! Rescue copies: what is written at a forced end, and when it is offered.

use super::*;

#[test]
fn a_song_that_undo_has_led_back_to_its_file_leaves_no_rescue_copy() {
    let folder = tempfile::tempdir().unwrap();
    let path = Some(folder.path().join("song.ron"));
    let config = RigConfig { path, ..RigConfig::default() };
    let rig = Rig::start(song_of("kept", &[("A", 2)]), config).unwrap();
    rig.save(None, Replace::No);
    wait_for("the save", || !rig.snapshot().is_unsaved());
    rig.command(Command::Edit(Commit::of(Edit::Title("renamed".into())))).unwrap();
    assert!(rig.snapshot().is_unsaved());
    rig.command(Command::Undo).unwrap();
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Nothing);
}

#[test]
fn unsaved_changes_and_the_unfinished_round_are_rescued_and_restored_at_the_next_start() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let start = |song| {
        let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
        Rig::start(song, config).unwrap()
    };
    let mut song = song_of("kept", &[("A", 999)]);
    let id = song.ids().track();
    let track = Arc::new(Track::pitched(id, "Bass"));
    Edit::AddTrack { at: 0, track }.apply(&mut song).unwrap();
    let rig = start(song);
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Nothing, "nothing was changed");

    let rig = start(song_of("kept", &[("A", 999)]));
    rig.command(Command::Edit(Commit::of({
        let mut ids = rig.status().song.ids();
        Edit::AddTrack { at: 0, track: Arc::new(Track::pitched(ids.track(), "Bass")) }
    })))
    .unwrap();
    rig.save(None, Replace::No);
    wait_for("the save", || !rig.snapshot().is_unsaved());
    rig.command(Command::CountIn(0)).unwrap();
    rig.command(Command::Record(true)).unwrap();
    wait_for("bar one", || rig.status().at > Tick::ZERO);
    rig.press(seven(40), seven(90));
    rig.lift(seven(40));
    wait_for("the note", || {
        rig.status().unfinished.as_ref().is_some_and(|pass| pass.notes().len() == 1)
    });
    let rescuer = rig.rescuer();
    let copy = folder.path().join("song.rescue.ron");
    let (summary, rescued) = rig.shutdown_and_rescue();
    assert_eq!((summary.sounding, rescued), (0, Rescued::Copied(copy.clone())));
    // The copy is written only once.
    assert_eq!(rescuer.rescue(), Rescued::Copied(copy.clone()));
    assert_eq!(crate::load(&path).unwrap().passes.len(), 0);
    let notes = |song: &Song| -> usize {
        song.passes_in(&song.sections[0]).iter().map(|p| p.notes().len()).sum()
    };
    assert_eq!(notes(&crate::load(&copy).unwrap()), 1);

    let rig = start(crate::load(&path).unwrap());
    assert_eq!(rig.disk().rescue.map(|found| found.path), Some(copy.clone()));
    assert_eq!(read(&rig, SongRequest::Restore), Ok(SongRead::Restored));
    wait_for("the copy", || rig.disk().restored.is_some());
    assert_eq!((notes(&rig.status().song), rig.snapshot().is_unsaved()), (1, true));
    rig.save(None, Replace::No);
    wait_for("the save", || !rig.snapshot().is_unsaved());
    wait_for("the copy to go", || !copy.exists());
    assert_eq!(notes(&crate::load(&path).unwrap()), 1);
    assert!(read(&rig, SongRequest::Restore).is_err());
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Nothing);
}

#[test]
fn a_rig_that_does_not_end_in_time_is_rescued_while_it_runs_and_only_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let config = RigConfig { path: Some(path), ..RigConfig::default() };
    let rig = Rig::start(song_of("kept", &[("A", 1)]), config).unwrap();
    let edit = Edit::Title("changed".into());
    rig.command_and_wait(Command::Edit(Commit::of(edit))).unwrap();
    let copy = folder.path().join("song.rescue.ron");
    let rescued = rig.rescuer().rescue_within(Duration::from_secs(60));
    assert_eq!(rescued, Some(Rescued::Copied(copy.clone())));
    assert_eq!(crate::load(&copy).unwrap().title, "changed");
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Copied(copy));
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

#[test]
fn an_unwanted_rescue_copy_is_removed_and_a_restored_one_is_not_lost_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let song = song_of("kept", &[("A", 1)]);
    let start = || {
        let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
        Rig::start(song.clone(), config).unwrap()
    };
    let copy = crate::write_copy(Some(&path), &song_of("rescued", &[("A", 1)]), None).unwrap();
    let rig = start();
    assert_eq!(read(&rig, SongRequest::Restore), Ok(SongRead::Restored));
    wait_for("the copy", || rig.status().song.title == "rescued");
    wait_for("the disk", || rig.disk().restored.is_some());
    let second = folder.path().join("song.rescue-2.ron");
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Copied(second.clone()));
    std::fs::remove_file(&second).unwrap();
    let rig = start();
    rig.remove_rescue();
    wait_for("the removal", || !copy.exists());
    assert_eq!(rig.disk().rescue, None);
    assert_eq!(rig.shutdown_and_rescue().1, Rescued::Nothing);
}

#[test]
fn a_restored_copy_that_was_not_saved_is_offered_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let copy = crate::write_copy(Some(&path), &song_of("rescued", &[("A", 1)]), None).unwrap();
    for _ in 0..2 {
        let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
        let rig = Rig::start(song_of("kept", &[("A", 1)]), config).unwrap();
        assert_eq!(rig.disk().rescue.map(|found| found.path), Some(copy.clone()));
        assert_eq!(read(&rig, SongRequest::Restore), Ok(SongRead::Restored));
        wait_for("the disk", || rig.disk().restored.is_some());
        // The player leaves without saving.
        rig.shutdown();
    }
}

#[test]
fn a_rescue_copy_is_no_longer_offered_after_a_save() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let copy = crate::write_copy(Some(&path), &song_of("rescued", &[("A", 1)]), None).unwrap();
    let start = || {
        let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
        Rig::start(song_of("new", &[("A", 1)]), config).unwrap()
    };
    let rig = start();
    assert_eq!(rig.disk().rescue.map(|found| found.path), Some(copy.clone()));
    rig.save(None, Replace::No);
    wait_for("the save", || !rig.snapshot().is_unsaved());
    assert_eq!(rig.disk().rescue, None);
    drop(rig);
    assert_eq!(start().disk().rescue, None);
    assert!(copy.exists(), "nothing recorded is deleted without asking");
}

#[test]
fn a_restored_song_does_not_replace_what_another_program_saved_during_the_interrupted_session() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let start = || {
        let song = crate::load(&path).unwrap();
        Rig::start(song, RigConfig { path: Some(path.clone()), ..RigConfig::default() }).unwrap()
    };
    let write = |title: &str| {
        let text = chaconne_song::text::write(&song_of(title, &[("A", 1)]));
        crate::write_whole(&path, text.as_bytes()).unwrap();
    };
    write("first");
    let rig = start();
    let edit = Edit::Title("changed".into());
    rig.command_and_wait(Command::Edit(Commit::of(edit))).unwrap();
    write("another program's");
    assert!(matches!(rig.shutdown_and_rescue().1, Rescued::Copied(_)));

    let rig = start();
    assert_eq!(read(&rig, SongRequest::Restore), Ok(SongRead::Restored));
    wait_for("the copy", || rig.disk().restored.is_some());
    assert!(rig.snapshot().is_unsaved());
    rig.save(None, Replace::No);
    wait_for("the refusal", || rig.disk().attempts == 1);
    let changed = WriteError::Refused(crate::Refusal::Changed(path.clone()));
    assert_eq!(rig.disk().error, Some(changed));
    rig.save(None, Replace::Confirmed);
    wait_for("the save", || rig.disk().attempts == 2);
    assert_eq!((rig.disk().error, rig.snapshot().is_unsaved()), (None, false));
    assert_eq!(crate::load(&path).unwrap().title, "changed");
}

#[test]
fn a_rig_that_is_forced_to_end_rescues_the_unfinished_round_too() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("song.ron");
    let mut song = song_of("kept", &[("A", 999)]);
    let track = Arc::new(Track::pitched(song.ids().track(), "Bass"));
    Edit::AddTrack { at: 0, track }.apply(&mut song).unwrap();
    crate::write_whole(&path, chaconne_song::text::write(&song).as_bytes()).unwrap();
    let config = RigConfig { path: Some(path.clone()), ..RigConfig::default() };
    let rig = Rig::start(song, config).unwrap();
    rig.command(Command::CountIn(0)).unwrap();
    rig.command(Command::Record(true)).unwrap();
    wait_for("bar one", || rig.status().at > Tick::ZERO);
    // One note is over, one is held.
    rig.press(seven(40), seven(90));
    rig.lift(seven(40));
    rig.press(seven(43), seven(90));
    wait_for("the notes", || {
        rig.status().unfinished.as_ref().is_some_and(|pass| pass.notes().len() == 2)
    });
    // The copy is written without stopping the engine first.
    let Some(Rescued::Copied(copy)) = rig.rescuer().rescue_within(Duration::from_secs(60)) else {
        panic!("the round is not rescued")
    };
    let rescued = crate::load(&copy).unwrap();
    let keys: Vec<u8> = rescued
        .passes_in(&rescued.sections[0])
        .into_iter()
        .flat_map(|pass| pass.notes().iter().map(|note| note.played.key.get()))
        .collect();
    assert_eq!(keys, [40, 43]);
}
