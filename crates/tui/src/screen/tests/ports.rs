//! The view of ports and timing: its keys.

use super::*;

#[test]
fn the_figures_are_counted_afresh_on_request() {
    let mut player = Player::new(four_parts());
    player.type_text("z");
    assert_eq!(player.last(), "", "only where the figures are shown");
    player.press([Key::new(Code::F(7))]);
    assert_eq!(player.screen.view, View::Ports);
    player.type_text("z");
    assert_eq!(player.last(), "RestartTiming");
}

#[test]
fn tab_leads_past_the_ports_to_the_loop() {
    let mut player = Player::new(four_parts());
    player.press([Key::new(Code::BackTab)]);
    assert_eq!(player.screen.view, View::Ports);
    player.press([Key::new(Code::Tab)]);
    assert_eq!(player.screen.view, View::Loop);
}
