//! Directions to the band while it plays: go to a section, stay, back to the form, one last time.
//!
//! In: a direction, and when it takes effect. Out: another plan of the run from that tick on, and what was
//! left of the form, so that it can go on from there. The route that was played is what the entries of the run
//! say, whatever was planned.

use super::commit::How;
use super::run::letters_after;
use super::{Engine, Refused};
use crate::walk::Round;
use crate::{Entry, Route, Visit, When};
use chaconne_song::{Commit, Edit, Form, FormEntry, Letter};
use chaconne_time::{Ns, Span, Tick};

/// Where the run is, and the tick at which a direction takes effect.
#[derive(Debug, Clone, Copy)]
struct Here {
    at: Tick,
    turn: Tick,
    entry: Entry,
    /// Whether the section has gone round there.
    is_seam: bool,
}

impl Engine {
    /// Goes to a section.
    pub(super) fn jump(&mut self, now: Ns, letter: Letter, when: When) -> Result<(), Refused> {
        if self.section(letter).is_none() {
            return Err(Refused(format!("there is no section {letter}")));
        }
        let Some(here) = self.here(now, when) else {
            if !self.transport.rolls() {
                self.shown = letter;
                self.transport.park(None);
            }
            return Ok(());
        };
        self.leave_form(&here);
        if here.is_seam && letter == here.entry.section {
            self.stay_from(now, &here);
            self.say_staying(letter);
        } else {
            self.turn_to(now, &here, true, vec![Entry::open(letter, here.turn)]);
            self.say(match when {
                _ if here.turn <= here.at => format!("section {letter} begins at once"),
                When::Seam => format!("section {letter} comes at the next seam"),
                When::Bar => format!("section {letter} comes at the next bar"),
                When::Beat => format!("section {letter} comes at the next beat"),
            });
        }
        Ok(())
    }

    /// Stays in the section that plays.
    pub(super) fn stay_here(&mut self, now: Ns) -> Result<(), Refused> {
        let here = self.here(now, When::Seam).ok_or_else(not_playing)?;
        self.leave_form(&here);
        self.stay_from(now, &here);
        self.say_staying(here.entry.section);
        Ok(())
    }

    fn say_staying(&mut self, letter: Letter) {
        self.say(format!("staying in section {letter} until you say where to go"));
    }

    /// Goes back to the form.
    pub(super) fn back_to_form(&mut self, now: Ns, when: When) -> Result<(), Refused> {
        let run = self.transport.run().ok_or_else(not_playing)?;
        let rest = match &run.rest.left {
            Some(left) => left.clone(),
            None if run.end() < Tick::MAX => {
                return Err(Refused("the form is playing already".into()));
            }
            None if self.song.form.is_empty() => {
                return Err(Refused("the song has no form yet: write one first".into()));
            }
            None => {
                let whole = Route::letters(&self.song);
                let Some(run) = self.transport.run_mut() else { return Ok(()) };
                run.rest.whole.clone_from(&whole);
                run.rest.away = Some(Span::new(Tick::MIN, Tick::MAX));
                whole
            }
        };
        let here = self.here(now, when).ok_or_else(not_playing)?;
        let next = self.existing(rest).first().copied();
        let here = if next.is_none() { self.ahead(now).ok_or_else(not_playing)? } else { here };
        self.resume(now, &here, true);
        self.say(match next {
            Some(next) => format!("back to the form: section {next} comes next"),
            None => "nothing is left of the form: the song ends after this round".to_string(),
        });
        Ok(())
    }

    /// Makes this the last time through the section that plays.
    pub(super) fn last_time(&mut self, now: Ns) -> Result<(), Refused> {
        let here = self.ahead(now).ok_or_else(not_playing)?;
        let letter = here.entry.section;
        let Some(run) = self.transport.run() else { return Ok(()) };
        let coming = match &run.rest.left {
            Some(left) => Some(left.clone()),
            None => letters_after(&self.song, &run.entries, here.at),
        };
        let follows = |letters: &[Letter]| {
            let last = letters.iter().rposition(|&other| other == letter)?;
            Some(letters[last + 1..].to_vec())
        };
        let is_last = coming.as_ref().is_some_and(|coming| !coming.contains(&letter));
        let next = match coming {
            // The form plays, and this is its last time already.
            Some(coming) if is_last && run.rest.left.is_none() && !self.repeats => coming,
            Some(coming) if !is_last && !self.repeats => follows(&coming).unwrap_or_default(),
            _ => follows(&Route::letters(&self.song)).unwrap_or_default(),
        };
        self.repeats = false;
        let place = self.in_form(here.at, self.position(here.at));
        let form = self.song.form.unrolled();
        if let Some(run) = self.transport.run_mut() {
            run.rest.left = Some(next.clone());
            if run.rest.whole.is_empty() {
                run.rest.whole = form;
                run.rest.away = Some(Span::new(Tick::MIN, Tick::MAX));
            }
        }
        self.resume(now, &here, false);
        // Until the round is over it is still the one that it was, however few come after it.
        if let (Some((place, _)), Some(run)) = (place, self.transport.run_mut()) {
            run.rest.holds = Some((here.turn, place));
        }
        self.say(match self.existing(next).first() {
            Some(next) => format!("last time through {letter}: section {next} follows, to the end"),
            None => format!("last time through {letter}: the song ends after this round"),
        });
        Ok(())
    }

    /// Sets whether a route with an end starts again at its end.
    pub(super) fn set_repeat(&mut self, now: Ns, on: bool) -> Result<(), Refused> {
        self.repeats = on;
        let (Some(at), Some(run)) = (self.tick_at(now), self.transport.run_mut()) else {
            return Ok(());
        };
        if let Some(from) = run.repeated.filter(|&from| !on && from > at) {
            run.repeated = None;
            run.go_on_with(from, false, []);
            let letter = run.entry(at).section;
            self.follow_jump(now, at, Tick::MAX, letter);
        }
        Ok(())
    }

    /// Appends the route to itself where it comes near its end, if it repeats.
    pub(super) fn keep_repeating(&mut self, now: Ns) {
        let ahead = now.max(self.latest) + self.config.lookahead;
        let Some(run) = self.transport.run().filter(|_| self.repeats) else { return };
        let (performed, end) = (run.timeline.tick_at(ahead), run.end());
        let is_left = run.rest.left.is_some() || run.rest.whole.is_empty();
        if is_left || end == Tick::MAX || end - performed > MARGIN {
            return;
        }
        let whole = self.existing(run.rest.whole.clone());
        let Some(again) = Route::from(&self.song, &whole, end) else { return };
        let Some(run) = self.transport.run_mut() else { return };
        run.go_on_with(end, false, again.entries);
        run.repeated = Some(end);
        self.reroute(performed + Tick(1));
        // The sections may be new to the run.
        self.compile();
    }

    /// Makes the sections that were played the song's form.
    pub(super) fn keep_form(&mut self, now: Ns) -> Result<(), Refused> {
        let none = || Refused("nothing was played yet: play first, then keep the form".into());
        let (run, at) = match (self.transport.run(), self.transport.past()) {
            (Some(run), _) => (run, run.timeline.tick_at(now)),
            (None, Some(past)) => (&past.run, past.at),
            (None, None) => return Err(none()),
        };
        let mut form = Form::default();
        for round in run.walk(&self.song).rounds(run.music()).take_while(|round| round.start < at) {
            let letter = round.visit.entry.section;
            // A foot that comes late has stopped the song at the seam.
            let beat = round.visit.section.metre.first().beat();
            if at - round.start < beat && !self.transport.rolls() && !form.is_empty() {
                break;
            }
            match form.entries.last_mut() {
                Some(last)
                    if *last == (FormEntry { times: last.times, ..FormEntry::once(letter) }) =>
                {
                    last.times += 1;
                }
                _ => form.entries.push(FormEntry::once(letter)),
            }
        }
        if form.is_empty() {
            return Err(none());
        }
        form.check().map_err(|error| Refused(error.to_string()))?;
        let back = if self.song.form.is_empty() { "" } else { "; undo brings the old one back" };
        let said = format!("the form is now {form}{back}");
        self.commit(now, Commit::of(Edit::Form(form)), How::Step)?;
        self.say(said);
        Ok(())
    }

    /// Goes on with what is left of the form from a turn on.
    fn resume(&mut self, now: Ns, here: &Here, live: bool) {
        let Some(run) = self.transport.run_mut() else { return };
        let left = run.rest.left.take().unwrap_or_else(|| run.rest.whole.clone());
        run.rest.go_back(here.at, here.turn);
        let left = self.existing(left);
        let goes_on = here.is_seam && left.first() == Some(&here.entry.section);
        let entries = Route::from(&self.song, &left, here.turn).map(|route| route.entries);
        self.turn_to(now, here, live && !goes_on, entries.unwrap_or_default());
    }

    /// Remembers what is left of the form, if the run is on it.
    fn leave_form(&mut self, here: &Here) {
        let Some(run) = self.transport.run() else { return };
        let left = match &run.rest.left {
            None => letters_after(&self.song, &run.entries, here.at.min(here.turn - Tick(1))),
            Some(_) => None,
        };
        if let Some(run) = self.transport.run_mut() {
            run.rest.left = run.rest.left.take().or(left);
            if run.rest.left.is_some() {
                run.rest.leave(here.at, here.turn);
            }
        }
    }

    /// Stays in a section from its present round on.
    fn stay_from(&mut self, now: Ns, here: &Here) {
        let Some(run) = self.transport.run_mut() else { return };
        run.entries.retain(|planned| planned.at <= here.at);
        if let Some(last) = run.entries.last_mut() {
            (last.until, last.cut) = (Tick::MAX, false);
        }
        self.follow_jump(now, here.at, Tick::MAX, here.entry.section);
    }

    /// Plays these entries from a turn on. If the change is `live`, what sounds is released there; by the form,
    /// held notes ring out.
    fn turn_to(&mut self, now: Ns, here: &Here, live: bool, entries: Vec<Entry>) {
        let Some(run) = self.transport.run_mut() else { return };
        let letter = entries.first().map_or(here.entry.section, |first| first.section);
        run.go_on_with(here.turn, live, entries);
        run.repeated = None;
        let goes_on = run.entry(here.turn).at < here.turn;
        self.follow_jump(now, here.at, if goes_on { Tick::MAX } else { here.turn }, letter);
    }

    /// Where the run is, and when a direction takes effect.
    fn here(&self, now: Ns, when: When) -> Option<Here> {
        let run = self.transport.run()?;
        let (first, at) = (run.music(), run.in_music(run.timeline.tick_at(now)));
        let visit = self.visit(at)?;
        let round = visit.round(at);
        let over = round.start + visit.section.length();
        let turn = match when {
            When::Seam => turn_at_seam(round, first, at),
            When::Bar => turn_at_bar(visit, first, at).min(over),
            When::Beat => turn_at_beat(visit, at).min(over),
        };
        Some(Here { at, turn, entry: visit.entry, is_seam: turn == over || turn == round.start })
    }

    /// The same for the end of the present round, even just after a seam.
    fn ahead(&self, now: Ns) -> Option<Here> {
        let run = self.transport.run()?;
        let at = run.in_music(run.timeline.tick_at(now));
        let visit = self.visit(at)?;
        let turn = visit.round(at).start + visit.section.length();
        Some(Here { at, turn, entry: visit.entry, is_seam: true })
    }

    /// Those of the sections that the song still has.
    pub(super) fn existing(&self, mut letters: Vec<Letter>) -> Vec<Letter> {
        letters.retain(|&letter| self.section(letter).is_some());
        letters
    }
}

/// How near to its end a route is appended to itself: early notes of its start lie well within that.
const MARGIN: Tick = Tick(4 * 3840);

fn not_playing() -> Refused {
    Refused("nothing is playing: start the song first".into())
}

/// The seam at which a jump from inside a round happens: the round's start if that is less than a beat
/// ago, else its end. The tick `first`, at which the music begins, does not count as a seam, because nothing
/// was played before it.
fn turn_at_seam(round: Round, first: Tick, at: Tick) -> Tick {
    let section = round.visit.section;
    let late = round.start > first && at - round.start < section.metre.first().beat();
    // A section that the form would leave earlier plays on to the end of its round.
    if late { round.start } else { round.start + section.length() }
}

/// The same at a bar: the start of the present one if that is less than a beat ago, else its end.
fn turn_at_bar(visit: Visit, first: Tick, at: Tick) -> Tick {
    let (start, metre) = (visit.bar_start(at), visit.metre(at));
    let late = start > first && at - start < metre.beat();
    if late { start } else { start + metre.bar() }
}

/// The next beat as the click counts it; the last one of a bar may be short.
pub(super) fn turn_at_beat(visit: Visit, at: Tick) -> Tick {
    let (start, metre) = (visit.bar_start(at), visit.metre(at));
    let beats = (at - start).cycle(metre.click()).0;
    (start + metre.click() * (beats + 1)).min(start + metre.bar())
}
