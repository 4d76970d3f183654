//! Notices, and the help.

use super::*;

#[test]
fn the_help_stops_at_its_last_page() {
    let mut player = Player::new(four_parts());
    player.type_text("?");
    player.press((0..99).map(|_| Key::new(Code::PageDown)));
    let first = |player: &Player| match player.screen.overlays.top() {
        Some(Overlay::Help(page)) => page.first,
        other => panic!("{other:?}"),
    };
    let last = first(&player);
    player.press([Key::new(Code::Down)]);
    assert_eq!(first(&player), last);
    player.press([Key::new(Code::Home)]);
    assert_eq!(first(&player), 0);
    player.type_text("q");
    assert_eq!(player.screen.scene(), Scene::Loop);
}

#[test]
fn a_message_of_the_engine_is_shown_once() {
    let mut player = Player::new(four_parts());
    player.type_text("mu");
    assert_eq!(player.screen.notice.text, "Undone: mute drums.");
    player.screen.notice = Notice::default();
    player.follow();
    assert_eq!(player.screen.notice.text, "");
}

#[test]
fn a_notice_disappears_with_the_next_key_or_after_a_while() {
    let mut player = Player::new(four_parts());
    player.type_text("s");
    player.screen.say("Something.");
    player.follow();
    player.now += Duration::from_secs(7);
    player.follow();
    assert_eq!(player.screen.notice.text, "Something.");
    player.now += Duration::from_secs(1);
    player.follow();
    assert_eq!(player.screen.notice.text, "");
    player.screen.complain("something went wrong");
    player.follow();
    player.now += Duration::from_secs(14);
    player.follow();
    assert_eq!(player.screen.notice.text, "Something went wrong.");
    player.type_text("s");
    assert_eq!(player.screen.notice.text, "");
    // A played note does not count as a key.
    player.type_text("p");
    player.screen.say("Something.");
    player.type_text("f");
    assert_eq!(player.screen.notice.text, "Something.");
}

#[test]
fn a_message_says_what_happened_to_what() {
    let mut song = four_parts();
    let second = Section { letter: "B".parse().unwrap(), ..Section::clone(&song.sections[0]) };
    song.sections.push(std::sync::Arc::new(second));
    let mut player = Player::new(song);
    for (keys, said) in [
        (
            "l",
            "A new pass replaces bar by bar: from your first note in a bar to its end, the track's layers \
             under it are silent.",
        ),
        ("R", "The newest round of a take is kept: each one with notes mutes the one before."),
        ("c", "The click plays the whole time."),
        ("2", "2 bars of count-in when you record from a stop."),
        ("+", "Tempo of section A: 121; the other sections keep theirs."),
        ("u", "Undone: tempo of section A."),
        ("k", "Nothing to keep: only what you play while the loop plays can be kept."),
        (" k", "Nothing to keep: you have not played anything since the loop started."),
        ("!", "Silenced everything that was sounding: the song plays on."),
    ] {
        player.type_text(keys);
        assert_eq!(player.screen.notice.text, said, "{keys}");
    }
    player.press([Key::new(Code::PageDown)]);
    let said = "While the song plays, the page follows it: Space stops it.";
    assert_eq!(player.screen.notice.text, said);
    player.press([Key::new(Code::Delete)]);
    let said = "Removed a layer of drums in section A; undo brings it back.";
    assert_eq!(player.screen.notice.text, said);
    player.bench.play(36, 100);
    player.type_text("k");
    assert_eq!(player.screen.notice.text, "Kept what you played as a new pass on drums.");
}
