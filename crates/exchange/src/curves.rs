//! The grooves of a song as text: one line for each step, with a curve over the bar.
//!
//! ```text
//! groove Sam, 1 bar of 1/16; given to Bass (timing 80 %, loudness 60 %)
//!   place       ticks       ms  spread       early|late   loudness  spread
//!   1.1.0         +12     +5.4       6            |*         112 %       9  ###########
//! ```

use chaconne_engine::bar_given;
use chaconne_song::{GivenGroove, GivenTo, Groove, Lean, Section, Song, StepAt};
use chaconne_time::Tick;
use std::fmt::Write;

/// How many characters the curve has on either side of the grid.
const SIDE: i64 = 8;
/// The percentage that one mark of loudness stands for.
const MARK: u16 = 10;
/// The most marks of loudness.
const MARKS: usize = 20;

/// The grooves of a song in its order. The places of their steps and their milliseconds are those in a
/// section, at its first tempo.
pub fn curves(song: &Song, section: &Section) -> String {
    let all = song.grooves.iter().map(|groove| curve(song, section, groove));
    all.collect()
}

/// One groove of a song; see [`curves`].
pub fn curve(song: &Song, section: &Section, groove: &Groove) -> String {
    let mut text = String::new();
    let many = if groove.bars == 1 { "" } else { "s" };
    let users = users(song, groove);
    let users = if users.is_empty() { "not given".into() } else { format!("given to {users}") };
    let (name, bars, grid) = (plain(&groove.name), groove.bars, groove.grid);
    let _ = writeln!(text, "groove {name}, {bars} bar{many} of {grid}; {users}");
    let _ = writeln!(
        text,
        "  {:<10} {:>6} {:>8} {:>7}  {:>side$}|{:<side$}  {:>8} {:>7}",
        "place",
        "ticks",
        "ms",
        "spread",
        "early",
        "late",
        "loudness",
        "spread",
        side = SIDE as usize,
    );
    for (at, lean) in &groove.steps {
        let _ = writeln!(text, "  {}", row(section, groove, *at, lean).trim_end());
    }
    text
}

fn row(section: &Section, groove: &Groove, at: StepAt, lean: &Lean) -> String {
    let Lean { timing, timing_spread, loudness, loudness_spread } = *lean;
    let micros = section.tempo.at(Tick::ZERO).micros();
    let ms = timing.0 as f64 * f64::from(micros) / 960_000.0;
    let marks = usize::from(loudness.div_ceil(MARK)).min(MARKS);
    format!(
        "{:<10} {:>+6} {ms:>+8.1} {:>7}  {}  {loudness:>6} % {loudness_spread:>7}  {}",
        place(section, groove, at),
        timing.0,
        timing_spread.0,
        lying(timing, groove.furthest()),
        "#".repeat(marks)
    )
}

/// Where a step is in the section, or its number if no bar there is so long.
fn place(section: &Section, groove: &Groove, StepAt { bar, step }: StepAt) -> String {
    let given = bar_given(bar, &section.metre);
    let (start, end) = (section.metre.bar_start(given), section.metre.bar_start(given + 1));
    let at = start + groove.grid.ticks() * i64::from(step - 1);
    if at < end { section.metre.place(at).to_string() } else { format!("{bar}, step {step}") }
}

/// The timing on a line from half a step early to half a step late.
fn lying(timing: Tick, furthest: Tick) -> String {
    let whole = furthest.0.max(1);
    let off = (2 * timing.0 * SIDE + whole).div_euclid(2 * whole).clamp(-SIDE, SIDE);
    let mut line: Vec<char> = vec![' '; 2 * SIDE as usize + 1];
    line[SIDE as usize] = '|';
    line[(SIDE + off) as usize] = '*';
    line.into_iter().collect()
}

/// The tracks and layers that a groove is given to.
fn users(song: &Song, groove: &Groove) -> String {
    let words = |to: GivenTo| {
        let GivenGroove { timing, loudness, .. } = to.given;
        let track = plain(&to.track.name);
        let user = match to.pass {
            None => track,
            Some(pass) if pass.name.is_empty() => format!("the layer of {track}"),
            Some(pass) => format!("the layer {} of {track}", plain(&pass.name)),
        };
        format!("{user} (timing {timing} %, loudness {loudness} %)")
    };
    song.given(groove.id).map(words).collect::<Vec<_>>().join(", ")
}

/// A name on one line.
fn plain(name: &str) -> String {
    name.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::section;
    use chaconne_song::{Feel, GrooveId, Pass, PassId, Track, TrackId};
    use chaconne_time::{Metre, NoteValue};
    use std::sync::Arc;

    #[test]
    fn each_step_has_its_place_its_milliseconds_and_its_curve() {
        let mut song = Song::new("curves", section("A", 1, Metre::common(), "120"));
        let lean = |timing, loudness| Lean {
            timing: Tick(timing),
            timing_spread: Tick(6),
            loudness,
            loudness_spread: 9,
        };
        let at = |step| StepAt { bar: 1, step };
        let steps = [(at(1), lean(12, 112)), (at(4), lean(-60, 71)), (at(17), lean(120, 1000))];
        let (name, grid, steps) = ("Sam\n".to_string(), NoteValue::SIXTEENTH, steps.into());
        song.grooves.push(Arc::new(Groove { id: GrooveId(9), name, grid, bars: 1, steps }));
        let groove = Some(GivenGroove { timing: 80, ..GivenGroove::whole(GrooveId(9)) });
        let feel = Feel { groove, ..Feel::off(false) };
        song.tracks.push(Arc::new(Track { feel, ..Track::pitched(TrackId(1), "Bass") }));
        let hats = Pass {
            name: "hats".into(),
            feel: Some(feel),
            ..Pass::empty(PassId(2), TrackId(1), Tick(3840))
        };
        song.lay(song.sections[0].letter, hats);
        // At 120 BPM a tick is 500/960 ms: 12 are 6.25 ms, 60 are 31.25, 120 are 62.5.
        let expected = [
            "groove Sam , 1 bar of 1/16; given to Bass (timing 80 %, loudness 100 %), the layer hats of Bass \
             (timing 80 %, loudness 100 %)",
            "  place       ticks       ms  spread     early|late      loudness  spread",
            "  1.1.0         +12     +6.2       6          |*            112 %       9  ############",
            "  1.1.720       -60    -31.2       6      *   |              71 %       9  ########",
            "  1, step 17   +120    +62.5       6          |       *    1000 %       9  ####################",
        ];
        let text = curves(&song, &song.sections[0]);
        assert_eq!(text.lines().collect::<Vec<_>>(), expected);
    }
}
