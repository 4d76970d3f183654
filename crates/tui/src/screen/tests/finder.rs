//! The finder of actions. What it does is compared with what the keys do, for every action of the
//! table, so that a new action is tested without a line here.

use super::*;
use crate::action::{Arrows, GrooveAction, NoteAction, NoteList};
use crate::keymap::{Binding, Entry, Here, Keymap, Need, Place, search, table};
use crate::screen::FeelField;
use chaconne_song::{Form as SongForm, TrackId};
use std::collections::BTreeSet;
use std::sync::Arc;

const FIND: Key = Key::new(Code::F(9));
const ENTER: Key = Key::new(Code::Enter);
const ESC: Key = Key::new(Code::Esc);

/// A player with two sections, a form, something to undo and something to redo.
fn player() -> Player {
    let mut song = four_parts();
    let letter: Letter = "B".parse().unwrap();
    let copy = Section { letter, ..Section::clone(&song.sections[0]) };
    song.sections.push(Arc::new(copy));
    song.form = SongForm::of(vec![Letter::A, letter]);
    song.grooves.push(crate::testing::groove(90, "Sam"));
    let mut player = Player::new(song);
    player.bench.sound();
    player.bench.disk.unsaved = true;
    go(&mut player, "mmu".chars().map(Key::char));
    player
}

/// Makes a need come true.
fn meet(need: Need, player: &mut Player) {
    let before: &[Key] = match need {
        Need::Parked => &[Key::new(Code::F(2)), Key::new(Code::Right)],
        Need::Moving | Need::Playing => &[Key::char(' ')],
        Need::Held => &[Key::char('G'), Key::char(' ')],
        Need::AboutToRecord => &[Key::char('2'), Key::char('r')],
        Need::Recording => &[Key::char('0'), Key::char('r')],
        Need::Again => &[Key::char('0'), Key::char('r'), Key::char(' ')],
        Need::Apart => {
            &[Key::new(Code::F(2)), Key::char('0'), Key::char('r'), Key::new(Code::Down)]
        }
        Need::Pitched => &[Key::new(Code::F(2)), Key::new(Code::Down)],
        Need::Arrows(arrows) => {
            go(player, [Key::new(Code::F(4))].into_iter().chain(turn(arrows)));
            return;
        }
        Need::Nothing
        | Need::Flowing
        | Need::Grid
        | Need::Stopped
        | Need::Page
        | Need::Ready
        | Need::Track
        | Need::Layer
        | Need::AnyLayer
        | Need::Undo
        | Need::Redo
        | Need::Sections
        | Need::SongForm
        | Need::Unsaved
        | Need::Saved
        | Need::Sound
        | Need::Fields
        | Need::Groove
        | Need::Chart => &[],
    };
    go(player, before.iter().copied());
}

/// The key that lets the arrows do something.
fn turn(arrows: Arrows) -> Option<Key> {
    match arrows {
        Arrows::Cursor => None,
        Arrows::Move => Some(Key::char('m')),
        Arrows::Length => Some(Key::char('h')),
        Arrows::Velocity => Some(Key::char('H')),
        Arrows::Lane => Some(Key::char('b')),
    }
}

/// Keys that lead somewhere, pressed so fast that the song does not move.
fn go(player: &mut Player, keys: impl IntoIterator<Item = Key>) {
    for key in keys {
        player.now += Duration::from_millis(300);
        player.strike(key);
    }
}

fn view_key(view: View) -> Key {
    Key::new(Code::F(2 + View::ALL.iter().position(|&known| known == view).unwrap() as u8))
}

/// A player in a view, with what an action needs.
fn prepared(view: View, piano: bool, need: Need) -> Player {
    let mut player = player();
    meet(need, &mut player);
    go(&mut player, [view_key(view)]);
    if piano {
        go(&mut player, [Key::char('p')]);
    }
    assert_eq!((player.screen.here().view, player.screen.here().piano), (view, piano));
    player
}

/// Opens the finder and chooses an action.
fn choose(player: &mut Player, entry: &Entry) {
    go(player, [FIND]);
    pick(player, entry);
}

/// Chooses one of the actions listed in the finder.
fn pick(player: &mut Player, entry: &Entry) {
    let Some(Overlay::Finder(finder)) = player.screen.overlays.top_mut() else { panic!() };
    finder.at =
        finder.found.entries.iter().position(|found| found.is_about(entry.binding)).unwrap();
}

/// The keys that lead to where an action has its key.
fn way(entry: &Entry, piano: bool) -> Vec<Key> {
    let leave =
        if piano && !entry.binding.scenes.contains(&Scene::Piano) { Some(ESC) } else { None };
    let there = match entry.place {
        Place::Here | Place::OutsidePiano => vec![],
        Place::View(view) => {
            [view_key(view)].into_iter().chain(entry.turns.and_then(turn)).collect()
        }
        Place::List(NoteList::Edit) => vec![view_key(View::Notes), Key::char('e')],
        Place::List(NoteList::Select) => vec![view_key(View::Notes), Key::char('s')],
        Place::SectionList => vec![view_key(View::Form), Key::char('A')],
        Place::Piano => vec![Key::char('p')],
    };
    leave.into_iter().chain(there).collect()
}

/// Everything that can be seen of a player but piano mode itself, which the finder leaves on.
fn outcome(player: &Player) -> String {
    let screen = &player.screen;
    let open: Vec<_> = screen.overlays.iter().filter(|open| **open != Overlay::Piano).collect();
    let place = (screen.view, screen.chosen, &screen.axis, &screen.layers, &screen.notes);
    let status = player.bench.state().status;
    // In piano mode a message with a key says what leaves it first.
    let notice = format!("{:?}", screen.notice).replace("Esc, then ", "");
    format!(
        "{:?}\n{notice}\n{open:?}\n{place:?}\n{:?}\n{:?}\n{status:?}",
        player.effects, screen.song_form, screen.piano
    )
}

#[test]
fn every_action_does_the_same_by_its_keys_and_by_the_finder() {
    let mut seen = BTreeSet::new();
    for (view, piano) in View::ALL.into_iter().flat_map(|view| [(view, false), (view, true)]) {
        for entry in
            search("", Here { view, piano, arrows: Arrows::Cursor, keymap: Keymap::default() })
        {
            let need = entry.binding.need;
            let ends = matches!(need, Need::Arrows(arrows) if arrows != Arrows::Cursor)
                && entry.turns.is_none();
            let mut found = prepared(view, piano, need);
            if ends && view != View::Notes {
                // The arrows change something only while the notes are shown.
                let why = found.screen.hindrance(&entry, None, &found.bench.state());
                assert!(why.is_some(), "{view:?} {:?}", entry.binding.action);
                continue;
            }
            choose(&mut found, &entry);
            found.now += Duration::from_secs(1);
            let why = found.screen.hindrance(&entry, None, &found.bench.state());
            assert_eq!(why, None, "{view:?} {:?}: make it apply, in `meet`", entry.binding.action);
            found.strike(ENTER);
            for &key in entry.binding.keys {
                let mut pressed = prepared(view, piano, need);
                go(&mut pressed, way(&entry, piano));
                pressed.now = found.now;
                pressed.strike(key);
                assert_eq!(
                    outcome(&found),
                    outcome(&pressed),
                    "{view:?}, piano {piano}, {key}: {:?}",
                    entry.binding.action
                );
            }
            seen.insert((entry.binding.action, need));
        }
    }
    let missed: Vec<&Binding> = table()
        .filter(|row| !row.words().phrase.is_empty() && !seen.contains(&(row.action, row.need)))
        .collect();
    assert!(missed.is_empty(), "{missed:?}");
}

#[test]
fn only_what_has_no_sense_elsewhere_is_left_out_of_the_finder() {
    for row in table().filter(|row| row.words().phrase.is_empty()) {
        assert!(
            matches!(
                row.action,
                Action::Move(_)
                    | Action::Field(_)
                    | Action::Adjust(_)
                    | Action::Clear
                    | Action::Suggest
                    | Action::Keys(_)
                    | Action::Lead(crate::action::LeadAction::KeyWhen)
                    | Action::Confirm
                    | Action::Cancel
                    | Action::Answer(_)
                    | Action::Find
                    | Action::SearchHelp
                    | Action::NextMatch(_)
                    | Action::Tour(false)
                    | Action::Note(NoteAction::Arrow(_))
                    | Action::Groove(GrooveAction::Name | GrooveAction::Remove)
            ),
            "{:?}",
            row.action
        );
    }
}

#[test]
fn an_action_that_does_not_apply_says_why_and_does_nothing() {
    let here = Player::new(empty_song(4, "4/4")).screen.here();
    let mut refused = 0;
    for entry in search("", here) {
        let mut player = Player::new(empty_song(4, "4/4"));
        if player.screen.hindrance(&entry, None, &player.bench.state()).is_some() {
            player.type_text(&format!("/{}", entry.binding.words().phrase));
            pick(&mut player, &entry);
        } else {
            choose(&mut player, &entry);
        }
        let Some(why) = player.screen.hindrance(&entry, None, &player.bench.state()) else {
            continue;
        };
        refused += 1;
        let before = format!("{:?}", player.screen.overlays.top());
        go(&mut player, [ENTER]);
        assert_eq!(player.screen.notice.text, why, "{:?}", entry.binding.action);
        assert!(why.ends_with('.'), "{why}");
        assert_eq!(format!("{:?}", player.screen.overlays.top()), before);
        assert!(player.effects.is_empty(), "{:?}", player.effects);
    }
    assert!(refused > 20, "{refused}");
}

#[test]
fn what_is_typed_can_be_edited_and_the_choice_starts_at_the_best() {
    let mut player = Player::new(four_parts());
    player.type_text("/");
    // The repeats of the key that opened it type nothing.
    player.hold(Key::char('/'), 5);
    let finder = |player: &Player| match player.screen.overlays.top() {
        Some(Overlay::Finder(finder)) => (finder.line.text(), finder.at),
        other => panic!("{other:?}"),
    };
    assert_eq!(finder(&player), (String::new(), 0));
    player.press([Key::new(Code::PageDown), Key::new(Code::Down), Key::new(Code::Up)]);
    assert_eq!(finder(&player).1, 8);
    player.type_text("fasf");
    assert_eq!(finder(&player), ("fasf".into(), 0));
    player.press([Key::new(Code::Backspace)]);
    player.type_text("ter");
    player.press([Key::new(Code::Up)]);
    assert_eq!(finder(&player), ("faster".into(), 0));
    player.enter();
    assert_eq!(player.last(), "Command(StepTempo(1))");
    assert_eq!(player.screen.scene(), Scene::Loop);
    player.type_text("/?!q");
    assert_eq!(finder(&player).0, "?!q");
    player.press([Key::ctrl('u')]);
    assert_eq!(finder(&player).0, "");
    let paste = Input::Paste("mute".into());
    let mut out = Vec::new();
    player.screen.take(&paste, &player.bench.state(), player.now, &mut out);
    assert_eq!(finder(&player).0, "mute");
    player.type_text(" xylophone zebra");
    player.press([ESC]);
    assert_eq!(player.screen.scene(), Scene::Loop);
    player.type_text("/xylophone");
    player.enter();
    let said = "Nothing here does that: try another word for what you want to do.";
    assert_eq!((player.screen.notice.text.as_str(), player.screen.scene()), (said, Scene::Finder));
}

#[test]
fn in_piano_mode_the_finder_keeps_the_letters_from_playing() {
    let mut player = Player::new(four_parts());
    player.type_text("p");
    player.press([FIND]);
    player.type_text("faster");
    assert!(player.effects.is_empty());
    player.enter();
    assert_eq!(player.last(), "Command(StepTempo(1))");
    assert_eq!((player.screen.scene(), player.screen.chosen), (Scene::Piano, Some(TrackId(1))));
}

#[test]
fn what_the_arrows_have_to_do_first_is_done_by_the_finder() {
    let mut player = Player::new(four_parts());
    player.type_text("/swell");
    player.enter();
    assert_eq!((player.screen.view, player.screen.notes.arrows), (View::Notes, Arrows::Lane));
    assert_eq!(player.screen.notes.ramp_from, Some(player.screen.notes.at));
    // And back again: a note is drawn where the arrows are not in the lane.
    player.type_text("/draw a note");
    player.enter();
    assert_eq!(player.screen.notes.arrows, Arrows::Cursor);
    // A track without layers has nothing to draw in.
    let mut player = Player::new(four_parts());
    player.type_text("a");
    player.enter();
    player.type_text("/swell");
    player.enter();
    assert_eq!(player.screen.notice.text, "This track has no layers here: r records one.");
    assert_eq!((player.screen.scene(), player.screen.view), (Scene::Finder, View::Loop));
}

#[test]
fn the_name_of_a_track_chooses_it_first() {
    let mut player = Player::new(four_parts());
    assert_eq!(player.screen.chosen, Some(TrackId(1)));
    player.type_text("/mute the bass");
    player.enter();
    assert_eq!(player.screen.chosen, Some(TrackId(2)));
    let status = player.bench.state().status;
    assert_eq!(status.armed, Some(TrackId(2)));
    assert!(status.song.track(TrackId(2)).unwrap().mute);
    // The hats are on the drum track, whichever is chosen.
    player.type_text("/swing");
    player.enter();
    let Some(Overlay::Feel(pick)) = player.screen.overlays.top() else { panic!() };
    assert_eq!((pick.track, pick.field), (TrackId(2), FeelField::Swing));
    player.press([ESC]);
    player.type_text("/swing the hats");
    player.enter();
    let screen = &player.screen;
    assert_eq!(
        (screen.chosen, screen.view, screen.notes.key.get()),
        (Some(TrackId(1)), View::Notes, 42)
    );
    // Of two kicks, two snares and eight hats a bar.
    assert_eq!(screen.notes.selected.len(), 32);
}

#[test]
fn while_nothing_is_typed_only_what_can_be_done_now_is_listed() {
    for song in [empty_song(4, "4/4"), four_parts()] {
        let mut player = Player::new(song);
        player.type_text("/");
        let listed = |player: &Player| match player.screen.overlays.top() {
            Some(Overlay::Finder(finder)) => finder.found.entries.clone(),
            other => panic!("{other:?}"),
        };
        let first = listed(&player);
        for entry in &first {
            assert_eq!(player.screen.hindrance(entry, None, &player.bench.state()), None);
        }
        assert!(first.len() > 20 && first.len() < search("", player.screen.here()).len());
        // Also when what was typed is deleted again.
        player.type_text("mute");
        player.press([Key::ctrl('u')]);
        assert_eq!(listed(&player), first);
    }
}

#[test]
fn a_box_opens_at_the_setting_that_was_asked_for() {
    for (typed, label) in [
        ("higher key", "transpose"),
        ("change the key", "transpose"),
        ("song title", "title"),
        ("time signature", "metre"),
        ("less stiff", "pull"),
        ("swing", "swing"),
    ] {
        let mut player = Player::new(four_parts());
        player.type_text(&format!("/{typed}"));
        player.enter();
        let field = match player.screen.overlays.top() {
            Some(Overlay::Form(form)) => form.fields[form.focus].label,
            Some(Overlay::Feel(pick)) => pick.field.name(),
            other => panic!("{typed}: {other:?}"),
        };
        assert_eq!(field, label, "{typed}");
    }
}

#[test]
fn what_nothing_does_stays_in_the_finder_and_says_so() {
    let mut player = Player::new(four_parts());
    player.type_text("/write lyrics");
    player.enter();
    let said = "A song has no place for lyrics: keep them in a file beside it.";
    assert_eq!((player.screen.notice.text.as_str(), player.screen.scene()), (said, Scene::Finder));
}
