//! The chords over the bars.

use super::*;
use chaconne_harmony::chart;

/// What stands over each bar of four bars in 4/4 with these chords.
fn bars(chords: &str, width: u16, bars: u32) -> Vec<String> {
    let mut song = four_parts();
    let section = Arc::make_mut(&mut song.sections[0]);
    section.metre = MetreMap::new(bars, "4/4".parse().unwrap()).unwrap();
    section.chords = chart(chords, &section.metre).unwrap();
    let text = Stage::new(song).text(width, 24);
    let ruler = text.lines().find(|line| line.contains("│1")).unwrap_or_default();
    ruler.split('│').skip(1).take(bars as usize).map(str::to_string).collect()
}

#[test]
fn chords_are_shown_over_the_beats_on_which_they_begin() {
    let shown = bars("Am | F G | C | Gsus4 G", 80, 4);
    let ruler = ["1 Am    ·   ·   ", "2 F ·   G   ·   ", "3 C ·   ·   ·   ", "4 Gsus4 G   ·   "];
    assert_eq!(shown, ruler);
}

#[test]
fn a_chord_without_room_is_a_sign_and_no_later_one_stands_in_its_place() {
    // At 16 bars a mark is 1/4: four columns for a bar, of which the number takes two.
    let all = format!("Am | F | C | Gsus4 G | C G{}", " | %".repeat(11));
    let shown = bars(&all, 80, 16);
    assert_eq!(shown[..5], ["1·Am", "2·F ", "3·C ", "4·…·", "5·…·"], "{shown:?}");
    let shown = bars("C Gsus4 | Am7 Dm7 Gmaj7 F | C#m7b5 F | F C#m7b5", 50, 4);
    // The F of bar 3 goes on into bar 4.
    assert_eq!(shown, ["1 C … · ", "2 Am7 … ", "3 … · · ", "4 · … · "]);
}
