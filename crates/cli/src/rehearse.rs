//! `rehearse`: plays without a screen until the end or a signal.

use crate::args::Rehearse;
use crate::exit::{Ended, Failure};
use crate::files::read_song;
use crate::ports::PortWatch;
use crate::{alarm, ports, say};
use chaconne_engine::{Click, Command, Route, Transport};
use chaconne_rig::{
    Extent, HowOften, Rig, RigConfig, RoundCount, RoundStart, Signals, Stats, Summary, tick_of_bar,
};
use chaconne_song::{Letter, Song};
use chaconne_time::{Tempo, Tick};
use std::thread;
use std::time::Duration;

/// How often the program checks for a new round.
const LOOK: Duration = Duration::from_millis(10);
/// If the last check came at most this long before the end, the song counts as played to its end,
/// in ns: 1 s.
const NEAR: u64 = 1_000_000_000;
/// How many sections are planned ahead when the route has no end.
const PLANNED_AHEAD: usize = 10_000;

/// How often the program checks the ports, in checks of the round.
const PORT_LOOKS: u32 = 20;

/// Plays to the end or until a signal, and prints a line for the count-in, for each round, and at the end.
pub fn rehearse(asked: Rehearse) -> Result<Ended, Failure> {
    let song = read_song(&asked.song)?;
    let what = (asked.section, asked.span);
    let route = route(&song, what, asked.times)?;
    // --from counts bars along the first time through.
    let once = self::route(&song, what, Some(1))?;
    let from = |bar| tick_of_bar(&song, &once, bar);
    let mut begin = asked.from.filter(|&bar| bar > 1).map(from).transpose()?;
    let mut counted = asked.count_in > 0;
    let config = ports::rig_config(asked.wires, Some(asked.song));
    let caught = alarm::catch()?;
    let rig = Rig::start(song, RigConfig { tap: asked.controls.tap, ..config })?;
    rig.notices().iter().for_each(|notice| say::message(notice));
    let signals = alarm::watch(caught, rig.switch())?;
    if let Some(how) = asked.controls.by_hand() {
        rig.command_and_wait(Command::ByHand(Some(how))).map_err(|refused| refused.to_string())?;
    }
    if asked.click {
        rig.command_and_wait(Command::Click(Click::Always))
            .map_err(|refused| refused.to_string())?;
    }
    if counted {
        rig.command_and_wait(Command::CountIn(asked.count_in))
            .map_err(|refused| refused.to_string())?;
    }
    // What it said about these settings is not news.
    let mut watch = Watch { said: rig.status().said.0, ..Watch::default() };
    loop {
        // A form that repeats without end is planned far ahead; then it starts again.
        let (at, leads) = (begin.take(), std::mem::take(&mut counted));
        let command = match at {
            at if leads && rig.status().followed.is_none() => {
                Command::PlayCounted(route.clone(), at.unwrap_or(route.span().from))
            }
            Some(at) => Command::PlayFrom(route.clone(), at),
            None => Command::PlayRoute(route.clone()),
        };
        rig.command_and_wait(command).map_err(|refused| refused.to_string())?;
        if !await_start(&rig, &signals, &mut watch) {
            break;
        }
        let uninterrupted = play(&rig, &signals, &mut watch, route.span().to);
        if signals.asked().is_some() || (uninterrupted && asked.times.is_some()) {
            break;
        }
        if !uninterrupted && rig.status().followed.is_none() {
            say::message("playback was interrupted; starting again at the top");
        }
    }
    let summary = rig.shutdown();
    drop(signals);
    say::progress(&closing(&summary));
    Ok(Ended::Ok)
}

/// If the rig follows another clock, waits for its Start. Returns whether the song plays: `false`
/// if a signal came first.
fn await_start(rig: &Rig, signals: &Signals, watch: &mut Watch) -> bool {
    if rig.status().followed.is_none() {
        return true;
    }
    while signals.asked().is_none() {
        watch.look(rig);
        if rig.status().transport != Transport::Stopped {
            return true;
        }
        thread::sleep(LOOK);
    }
    false
}

/// What has been reported so far about ports and by the engine.
#[derive(Debug, Default)]
struct Watch {
    ports: PortWatch,
    looks: u32,
    /// The number of the engine's last message.
    said: u64,
}

impl Watch {
    /// Reports news: port changes every [`PORT_LOOKS`] calls; messages of the engine, about the
    /// clock it follows or a tapped tempo, at once.
    fn look(&mut self, rig: &Rig) {
        if self.looks.is_multiple_of(PORT_LOOKS) {
            self.ports.look(&rig.snapshot().ports).iter().for_each(|news| say::message(news));
        }
        self.looks = self.looks.wrapping_add(1);
        let status = rig.status();
        if status.said.0 != self.said {
            say::message(&status.said.1);
        }
        self.said = status.said.0;
    }
}

/// Prints a line for the count-in and for each round until the transport stops or a signal comes. Returns `false` if
/// playback was interrupted before the end, for instance because the process was suspended.
fn play(rig: &Rig, signals: &Signals, watch: &mut Watch, end: Tick) -> bool {
    let (mut count, mut is_told) = (RoundCount::default(), false);
    let mut status = rig.status();
    while signals.asked().is_none() && status.transport != Transport::Stopped {
        if status.transport == Transport::CountingIn && !std::mem::replace(&mut is_told, true) {
            say::progress(&match status.by_hand {
                Some(_) => "waiting    for your first beat".to_string(),
                None => count_in(status.count_in, status.tempo),
            });
        }
        if let Some(start) = count.follow(&status) {
            say::progress(&line(start, status.tempo, &rig.snapshot().stats));
        }
        watch.look(rig);
        thread::sleep(LOOK);
        let now = rig.status();
        if now.transport == Transport::Stopped {
            watch.look(rig);
            return end - status.at <= status.tempo.ticks_in(NEAR);
        }
        status = now;
    }
    true
}

/// The line for a round.
pub fn line(start: RoundStart, tempo: Tempo, stats: &Stats) -> String {
    let RoundStart { number, section, bar } = start;
    let (whole, part) = (stats.worst / 1_000_000, stats.worst / 10_000 % 100);
    let sent = stats.sent;
    format!(
        "round {number:<4} {section:<3} bar {bar:<5} tempo {tempo:<7} events sent {sent}, worst \
         {whole}.{part:02} ms late"
    )
}

/// The line for a count-in of so many bars.
fn count_in(bars: u8, tempo: Tempo) -> String {
    format!("count-in   {} at tempo {tempo}", say::counted(bars.into(), "bar", "bars"))
}

/// The last line: what was sent, how late, and whether anything was lost or may still sound.
fn closing(summary: &Summary) -> String {
    let Summary { sent, late, worst, sounding, dropped, to_nobody } = *summary;
    let (whole, part) = (worst / 1_000_000, worst / 10_000 % 100);
    let mut said =
        vec![format!("events sent {sent}, {late} late, worst {whole}.{part:02} ms late")];
    if dropped > 0 {
        said.push(format!("{dropped} lost because a port was too slow"));
    }
    if to_nobody > 0 {
        said.push(format!("{to_nobody} sent to a port with nothing connected"));
    }
    said.push(match sounding {
        0 => "all notes released".to_string(),
        count => {
            let notes = say::counted(count as u64, "note", "notes");
            format!("{notes} may still be sounding, because a port did not take the release")
        }
    });
    said.join("; ")
}

/// The entries of the form from one to another, counted from 1.
fn spanned(song: &Song, (first, last): (usize, usize)) -> Result<Vec<Letter>, String> {
    let letters = Route::letters(song);
    let count = letters.len();
    letters.get(first - 1..last).map(<[Letter]>::to_vec).ok_or_else(|| {
        let entries = say::counted(count as u64, "entry", "entries");
        format!("the form has {entries}: --span goes from 1 to {count}, not to {last}")
    })
}

/// The route: a section, a span of the form or all of it, repeated `times` times or without end.
fn route(
    song: &Song,
    (section, span): (Option<Letter>, Option<(usize, usize)>),
    times: Option<u32>,
) -> Result<Route, String> {
    let letters = match (section, span) {
        (None, Some(span)) => spanned(song, span)?,
        (Some(letter), _) => {
            // Its error names the sections that exist.
            Extent::Section(letter, HowOften::Times(1)).route(song)?;
            vec![letter]
        }
        (None, None) => Route::letters(song),
    };
    let only = letters.first().copied().filter(|first| letters.iter().all(|l| l == first));
    // This cannot happen: a form names only sections that the song has.
    let missing = || "the form names a section that does not exist".to_string();
    match (only, times) {
        (Some(letter), None) => {
            song.section(letter).map(|_| Route::open(letter)).ok_or_else(missing)
        }
        (_, None) => {
            let times = (PLANNED_AHEAD / letters.len().max(1)).max(1);
            Route::of(song, &letters.repeat(times)).ok_or_else(missing)
        }
        (_, Some(times)) => Route::of(song, &letters.repeat(times as usize)).ok_or_else(missing),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chaconne_song::Section;
    use chaconne_time::{Metre, MetreMap};
    use std::sync::Arc;

    fn song(form: &str) -> Song {
        let section = |letter: &str| {
            let bars = MetreMap::new(2, Metre::common()).unwrap();
            Section::new(letter.parse().unwrap(), bars, Tempo::DEFAULT)
        };
        let mut song = Song::new("test", section("A"));
        song.sections.push(Arc::new(section("B")));
        song.form = form.split("").collect::<Vec<_>>().join(" ").parse().unwrap();
        song
    }

    fn stays(route: &Route) -> String {
        route.entries.iter().map(|entry| entry.section.to_string()).collect()
    }

    #[test]
    fn the_last_line_says_whether_all_notes_were_released() {
        let mut summary = Summary { sent: 120, late: 2, worst: 1_234_567, ..Summary::default() };
        let said = "events sent 120, 2 late, worst 1.23 ms late; all notes released";
        assert_eq!(closing(&summary), said);
        (summary.dropped, summary.to_nobody, summary.sounding) = (3, 30, 1);
        let said = "events sent 120, 2 late, worst 1.23 ms late; 3 lost because a port was too slow; 30 sent \
            to a port with nothing connected; 1 note may still be sounding, because a port did not take the \
            release";
        assert_eq!(closing(&summary), said);
        assert_eq!(count_in(1, Tempo::DEFAULT), "count-in   1 bar at tempo 120");
    }

    #[test]
    fn the_form_repeats_as_asked() {
        let route = |form, section: Option<&str>, rounds| {
            super::route(&song(form), (section.map(|s| s.parse().unwrap()), None), rounds)
        };
        let span = |form, span, rounds| super::route(&song(form), (None, Some(span)), rounds);
        let (inner, twice) = (span("AABA", (2, 3), Some(1)), span("AABA", (2, 3), Some(2)));
        assert_eq!((stays(&inner.unwrap()), stays(&twice.unwrap())), ("AB".into(), "ABAB".into()));
        assert_eq!(span("AABA", (3, 3), None), Ok(Route::open("B".parse().unwrap())));
        let short = "the form has 4 entries: --span goes from 1 to 4, not to 5";
        assert_eq!(span("AABA", (2, 5), None), Err(short.into()));
        let twice = route("AAB", None, Some(2)).unwrap();
        assert_eq!((stays(&twice), twice.span().to), ("ABAB".into(), Tick(6 * 7680)));
        let one = route("", None, Some(3)).unwrap();
        assert_eq!((stays(&one), one.span().to), ("A".into(), Tick(3 * 7680)));
        assert_eq!(route("AAB", Some("B"), None), Ok(Route::open("B".parse().unwrap())));
        assert_eq!(route("AA", None, None), Ok(Route::open(Letter::A)));
        assert_eq!(route("AB", None, None).unwrap().entries.len(), PLANNED_AHEAD);
        let missing = "there is no section C; sections: A, B";
        assert_eq!(route("", Some("C"), None), Err(missing.into()));
        assert_eq!(route("", Some("C"), Some(1)), Err(missing.into()));
    }
}
