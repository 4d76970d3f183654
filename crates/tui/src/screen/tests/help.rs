//! Help in context, and what is said about keys that do nothing.

use super::*;
use crate::keymap::Keymap;
use crate::manual::{self, Line};

/// Each scene that a player can be in, and the keys that lead there.
fn scenes() -> Vec<(Scene, Player)> {
    let mut song = four_parts();
    let second = Section { letter: "B".parse().unwrap(), ..Section::clone(&song.sections[0]) };
    song.sections.push(std::sync::Arc::new(second));
    song.grooves.push(crate::testing::groove(90, "Sam"));
    let f = |number| Key::new(Code::F(number));
    let c = Key::char;
    let open: Vec<(Scene, Vec<Key>)> = vec![
        (Scene::Loop, vec![]),
        (Scene::Layers, vec![f(3)]),
        (Scene::Notes, vec![f(4)]),
        (Scene::NoteEdits, vec![f(4), c('e')]),
        (Scene::NoteSelects, vec![f(4), c('s')]),
        (Scene::Levels, vec![f(5)]),
        (Scene::SongForm, vec![f(6)]),
        (Scene::SectionEdits, vec![f(6), c('A')]),
        (Scene::KeyBox, vec![f(6), c('Y')]),
        (Scene::Ports, vec![f(7)]),
        (Scene::Lanes, vec![f(4), c('B')]),
        (Scene::Piano, vec![c('p')]),
        (Scene::Form, vec![c('a')]),
        (Scene::Feel, vec![c('v')]),
        (Scene::Grooves, vec![c('P')]),
        (Scene::Sections, vec![c('j')]),
        (Scene::Sounds, vec![c('i')]),
        (Scene::Finder, vec![c('/')]),
        (Scene::Leave, vec![c('q')]),
    ];
    let opened = open.into_iter().map(|(scene, keys)| {
        let mut player = Player::new(song.clone());
        player.bench.disk.unsaved = true;
        player.press(keys);
        assert_eq!(player.screen.scene(), scene);
        (scene, player)
    });
    opened.collect()
}

/// The lines of the help on the first page shown.
fn shown(player: &Player) -> Vec<Line> {
    let Some(Overlay::Help(page)) = player.screen.overlays.top() else { panic!("no help") };
    let lines = manual::help(player.screen.size.0, page.keymap, page.about.as_ref());
    lines[page.first..].to_vec()
}

#[test]
fn the_help_opens_at_what_is_on_the_screen_and_closes_to_it() {
    for (scene, mut player) in scenes() {
        for key in [Key::char('?'), Key::new(Code::F(1))] {
            if key.code == Code::Char('?') && matches!(scene, Scene::Form | Scene::Finder) {
                continue;
            }
            player.press([key]);
            assert_eq!(player.screen.scene(), Scene::Help, "{scene:?}");
            let at = manual::line_of(manual::Part::Of(scene), 80, Keymap::default(), None);
            let heading = manual::help(80, Keymap::default(), None)[at].clone();
            assert!(
                matches!(heading, Line::Heading(_)) && shown(&player)[0] == heading,
                "{scene:?}"
            );
            player.press([Key::new(Code::Esc)]);
            assert_eq!(player.screen.scene(), scene);
        }
    }
}

#[test]
fn in_a_box_the_help_explains_the_setting_under_the_cursor() {
    let second = |player: &Player| match &shown(player)[1] {
        Line::Key(name, words) => (name.clone(), words.clone()),
        other => panic!("{other:?}"),
    };
    for (keys, name, begins) in [
        (vec![Key::char('a'), Key::new(Code::Tab)], "kind", "Pitched, or drums:"),
        (vec![Key::char('v'), Key::new(Code::Down)], "pull", "How far notes move to the grid"),
        (vec![Key::new(Code::F(4)), Key::char('e')], "copy", "Copy the notes."),
        (vec![Key::char('/'), Key::char('w')], "", ""),
    ] {
        let mut player = Player::new(four_parts());
        player.press(keys);
        player.press([Key::new(Code::F(1))]);
        let (found, words) = second(&player);
        assert!(words.starts_with(begins), "{words}");
        assert!(name.is_empty() || found == name, "{found}");
    }
}

#[test]
fn no_key_is_silent() {
    let codes = (' '..='~').map(Code::Char).chain((1..=12).map(Code::F)).chain([
        Code::Insert,
        Code::Home,
        Code::End,
        Code::PageUp,
        Code::PageDown,
        Code::Tab,
        Code::BackTab,
        Code::Delete,
    ]);
    for (scene, mut player) in scenes() {
        for code in codes.clone() {
            let key = Key::new(code);
            let state = player.bench.state();
            let played = scene == Scene::Piano
                && matches!(code, Code::Char(c) if player.screen.piano.keyboard.is_on_a_row(c.to_ascii_lowercase()));
            let typed = player.screen.overlays.top().is_some_and(|open| open.types(&key));
            if played
                || typed
                || player.screen.keymap.find(scene, &key, &player.screen.facts(&state)).is_some()
            {
                continue;
            }
            let effects = player.effects.len();
            player.now += Duration::from_millis(300);
            player.strike(key);
            let said = &player.screen.notice.text;
            assert!(said.contains(" does nothing "), "{scene:?} {key}: {said}");
            assert!(said.len() < 150, "{said}");
            assert_eq!((player.screen.scene(), player.effects.len()), (scene, effects));
        }
    }
}

#[test]
fn a_held_key_that_does_nothing_says_so_once() {
    let mut player = Player::new(four_parts());
    player.type_text("b");
    let said = "The b key does nothing here. Layers F3: merge; notes F4: lane; form F6: add entry.";
    assert_eq!(player.screen.notice.text, said);
    // The message goes away in its time, however long the key is held.
    player.hold(Key::char('b'), 400);
    assert_eq!(player.screen.notice.text, "");
    player.type_text("8");
    assert!(player.screen.notice.text.starts_with("The 8 key does nothing here."));
}

#[test]
fn a_paste_into_nothing_says_so() {
    let mut player = Player::new(four_parts());
    let mut out = Vec::new();
    player.screen.take(&Input::Paste("q".into()), &player.bench.state(), player.now, &mut out);
    assert_eq!(player.screen.notice.text, "There is nothing here to paste into.");
}

/// The line found, without what follows it.
fn found(player: &Player) -> Option<Line> {
    let Some(Overlay::Help(page)) = player.screen.overlays.top() else { panic!("no help") };
    let lines = manual::help(player.screen.size.0, page.keymap, page.about.as_ref());
    page.search.as_ref()?.at.map(|at| lines[at].clone())
}

#[test]
fn the_help_can_be_searched_for_words_and_for_keys() {
    let mut player = Player::new(four_parts());
    // No sentence has these words, but an action is known by them.
    for (typed, key) in [("crescendo", "x"), ("how do I make a crescendo", "x"), ("mixer", "F2-F7")]
    {
        player.type_text(&format!("?/{typed}"));
        assert!(
            matches!(found(&player), Some(Line::Key(keys, _)) if keys.contains(key)),
            "{typed}"
        );
        player.press([Key::new(Code::Esc), Key::new(Code::Esc)]);
    }
    player.type_text("?/xylophone");
    assert_eq!(player.screen.scene(), Scene::HelpSearch);
    assert_eq!(found(&player), None);
    // Nothing found: the search ends where it began.
    let before = shown(&player);
    player.enter();
    assert_eq!((player.screen.scene(), shown(&player)), (Scene::Help, before.clone()));
    player.type_text("/lane arrows");
    let first = found(&player).unwrap();
    player.enter();
    player.type_text("n");
    let second = found(&player).unwrap();
    assert_ne!(first, second);
    player.type_text("N");
    assert_eq!(found(&player).unwrap(), first);
    // Words may be on several lines of an entry, but all of them are there.
    let Some(Overlay::Help(page)) = player.screen.overlays.top() else { panic!() };
    assert_eq!(page.search.as_ref().unwrap().count.0, 1);
    // A key is found as it is written; q types here and closes nothing.
    player.type_text("/q");
    assert!(matches!(found(&player), Some(Line::Key(keys, _)) if keys == "q"));
    player.press([Key::ctrl('u')]);
    player.type_text("Ctrl-R");
    assert!(matches!(found(&player), Some(Line::Key(keys, _)) if keys == "Ctrl-R"));
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.screen.scene(), Scene::Help);
    player.press([Key::new(Code::Esc)]);
    assert_eq!(player.screen.scene(), Scene::Loop);
    player.type_text("?n");
    assert_eq!(player.screen.notice.text, "Nothing was searched for yet: press / and type.");
}

#[test]
fn the_help_explains_what_is_under_the_cursor_in_every_view() {
    let f = |number| Key::new(Code::F(number));
    let right = Key::new(Code::Right);
    for (keys, heading, name, says) in [
        (vec![], "The loop", "drums", "It is armed: you play it, and r records on it."),
        (vec![f(3)], "The layers", "layer 2", "A pass with"),
        (vec![f(4), Key::char('.')], "The notes", "Closed Hi-Hat", "A note with velocity"),
        (vec![f(4), right], "The notes", "", "There is no note at 1.1.240: d draws one."),
        (vec![f(4), Key::char('b')], "The lane under the notes", "velocity", "The lane shows"),
        (vec![f(5)], "The levels", "drums", "set its volume"),
        (vec![f(6)], "The form", "section A", "4 bars of 4/4 at tempo 120."),
        (vec![f(7)], "Ports and timing", "drums", "the port it plays on"),
    ] {
        let mut player = Player::new(four_parts());
        player.press(keys);
        player.press([f(1)]);
        let lines = shown(&player);
        assert_eq!(lines[0], Line::Heading(heading));
        let told = lines.iter().skip(1).take_while(|line| **line != Line::Blank);
        let words: Vec<String> = told
            .map(|line| match line {
                Line::Key(name, text) => format!("{name}: {text}"),
                Line::More(text) | Line::Text(text) => text.clone(),
                Line::Heading(_) | Line::Blank => String::new(),
            })
            .collect();
        let words = words.join(" ");
        assert!(words.starts_with(name) && words.contains(says), "{heading}: {words}");
    }
}
