//! Renders a score into stems and a mix.
//!
//! In: a [`Score`], a [`Font`] and [`Settings`]. Out: piece by piece, the samples of each stem and
//! of the mix. The mix is the sum of the stems, in order, after the limiter; the stems are not
//! limited.

use super::cut::{Cut, End, Stereo};
use super::score::{Score, StemFilter};
use crate::click::Click;
use crate::error::SoundError;
use crate::font::Font;
use crate::instrument::{DELAY, Instrument};
use crate::mix::{Decibels, Limiter};

/// The longest tail in seconds, if its length is not set.
pub const LONGEST_TAIL: u32 = 10;

/// Frames rendered at once.
const PIECE: u64 = 2048;
/// Samples below this (-90 dBFS) count as silence.
const SILENT: f32 = 3.16e-5;
/// The sound has ended after this fraction of a second of silence: a twentieth.
const LASTING: u64 = 20;
/// An end fades over 1/200 s; a loop's end is crossfaded over 1/100 s.
const FADE: u64 = 200;
const LEAD_IN: u64 = 100;
/// Every message goes to the instrument this many frames late, and the cut starts as many frames
/// later, plus [`DELAY`]. So a message due at frame 0 sounds there, and nothing before it is lost.
const LEAD: u64 = DELAY as u64;

/// What follows the end of the music.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tail {
    /// Whatever still sounds, until it falls below -90 dBFS, for at most [`LONGEST_TAIL`] seconds.
    Silence,
    /// This many frames.
    Frames(u64),
    /// Nothing: the end is crossfaded into the beginning.
    Loop,
}

/// What to render of a score, and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settings {
    /// Frames per second, within [`RATES`](crate::RATES).
    pub rate: u32,
    /// The frame of the score that comes first in the file. Earlier frames are rendered too, so
    /// that notes from before it ring on.
    pub from: u64,
    /// The frame of the score at which the music ends.
    pub to: u64,
    /// What follows the end.
    pub tail: Tail,
    /// The gain before the limiter, as a factor.
    pub gain: f32,
    /// The level of the click, relative to the overall level.
    pub click: Decibels,
}

impl Settings {
    /// The latest frame at which the file ends.
    pub fn latest(&self) -> u64 {
        self.to.saturating_add(match self.tail {
            Tail::Silence => u64::from(self.rate) * u64::from(LONGEST_TAIL),
            Tail::Frames(frames) => frames,
            Tail::Loop => 0,
        })
    }

    fn cut(&self, delay: u64) -> Cut {
        let rate = u64::from(self.rate);
        let end = match self.tail {
            Tail::Loop => End::Loop(rate / LEAD_IN),
            Tail::Silence | Tail::Frames(_) => End::Fade(rate / FADE),
        };
        Cut::new(self.from.saturating_add(delay), self.latest().saturating_add(delay), end)
    }
}

/// Renders a score. See the header.
#[derive(Debug)]
pub struct Bounce<'a> {
    score: &'a Score,
    settings: Settings,
    stems: Vec<Stem>,
    sum: Stereo,
    limiter: Limiter,
    dry: (Cut, Stereo),
    mix: (Cut, Stereo),
    /// Frames rendered so far, and how many of the latest were silent.
    at: u64,
    silent: u64,
    lowest: f32,
    threads: usize,
}

/// Renders one stem.
#[derive(Debug)]
struct Stem {
    filter: StemFilter,
    instrument: Option<Instrument>,
    click: Option<Click>,
    /// The index of the next message of the score.
    next: usize,
    rendered: Stereo,
    cut: Cut,
    out: Stereo,
}

impl<'a> Bounce<'a> {
    /// Prepares to render.
    ///
    /// # Errors
    /// Those of [`Instrument::new`].
    pub fn new(
        font: &Font,
        score: &'a Score,
        settings: Settings,
    ) -> Result<Bounce<'a>, SoundError> {
        let stem = |filter: StemFilter| {
            let sounds = !filter.is_silent();
            let instrument = sounds.then(|| Instrument::new(font, settings.rate)).transpose()?;
            let click = filter.clicks().then(|| Click::new(settings.rate));
            let (rendered, out) = Default::default();
            Ok(Stem {
                filter,
                instrument,
                click,
                next: 0,
                rendered,
                cut: settings.cut(ahead()),
                out,
            })
        };
        let latency = Limiter::latency(settings.rate) as u64;
        Ok(Bounce {
            score,
            settings,
            stems: StemFilter::all(score)
                .into_iter()
                .map(stem)
                .collect::<Result<_, SoundError>>()?,
            sum: Stereo::default(),
            limiter: Limiter::new(settings.rate),
            dry: (settings.cut(ahead()), Stereo::default()),
            mix: (settings.cut(ahead() + latency), Stereo::default()),
            at: 0,
            silent: 0,
            lowest: 1.0,
            threads: std::thread::available_parallelism().map_or(1, usize::from),
        })
    }

    /// Renders the next piece. Returns `false`, and changes nothing, if there is none.
    pub fn step(&mut self) -> bool {
        if self.mix.0.is_done() {
            return false;
        }
        let frames = self.size();
        self.sum.silence(frames);
        let mut loudest = 0.0f32;
        self.render_stems(frames);
        for stem in &mut self.stems {
            loudest = loudest.max(stem.rendered.peak());
            add(&mut self.sum.left, &stem.rendered.left);
            add(&mut self.sum.right, &stem.rendered.right);
        }
        let sum = &mut self.sum;
        self.dry.0.pass(&sum.left, &sum.right, &mut self.dry.1);
        self.limiter.process(&mut sum.left, &mut sum.right);
        self.mix.0.pass(&sum.left, &sum.right, &mut self.mix.1);
        self.lowest = self.lowest.min(self.limiter.take_lowest());
        self.at += frames as u64;
        self.silent = if loudest < SILENT { self.silent + frames as u64 } else { 0 };
        self.end_where_silent();
        true
    }

    /// The limited mix of this piece. It runs a little behind the stems, by the limiter's latency.
    pub fn mix(&self) -> &Stereo {
        &self.mix.1
    }

    /// The mix of this piece before the limiter: the sum of the stems.
    pub fn dry(&self) -> &Stereo {
        &self.dry.1
    }

    /// One stem of this piece.
    ///
    /// # Panics
    /// If the score has no such stem.
    pub fn stem(&self, place: usize) -> &Stereo {
        &self.stems[place].out
    }

    /// Frames of the score rendered so far, and the most there can be.
    pub fn progress(&self) -> (u64, u64) {
        let latest = self.settings.latest();
        (self.at.saturating_sub(ahead()).min(latest), latest)
    }

    /// The smallest gain of the limiter so far, 0 to 1.
    pub fn lowest_gain(&self) -> f32 {
        self.lowest
    }

    /// The size of the next piece, which never crosses the end of the music.
    fn size(&self) -> usize {
        let end = self.settings.to + ahead();
        let left = if self.at < end { end - self.at } else { PIECE };
        left.min(PIECE) as usize
    }

    /// Renders all stems, on as many threads as there are cores. Stems are independent, so the result
    /// does not depend on which thread finishes first.
    fn render_stems(&mut self, frames: usize) {
        let (score, at, settings) = (self.score, self.at, self.settings);
        let render = |stems: &mut [Stem]| {
            stems.iter_mut().for_each(|stem| stem.render(score, at, frames, &settings));
        };
        let each = self.stems.len().div_ceil(self.threads).max(1);
        if each >= self.stems.len() {
            return render(&mut self.stems);
        }
        std::thread::scope(|scope| {
            let mut parts = self.stems.chunks_mut(each);
            let own = parts.next();
            for part in parts {
                scope.spawn(|| render(part));
            }
            own.map(render);
        });
    }

    fn end_where_silent(&mut self) {
        let end = self.settings.to + ahead();
        let wanted = self.settings.tail == Tail::Silence && self.at >= end;
        let played = self.score.events.last().is_none_or(|event| event.frame + ahead() < self.at);
        if wanted && played && self.silent >= u64::from(self.settings.rate) / LASTING {
            self.stems.iter_mut().for_each(|stem| stem.cut.end_at(self.at));
            self.dry.0.end_at(self.at);
            self.mix.0.end_at(self.at + Limiter::latency(self.settings.rate) as u64);
        }
    }
}

impl Stem {
    /// Renders the frames from `at` on.
    fn render(&mut self, score: &Score, at: u64, frames: usize, settings: &Settings) {
        let gain = settings.gain;
        self.rendered.silence(frames);
        if let Some(instrument) = &mut self.instrument {
            let (left, right) = (&mut self.rendered.left, &mut self.rendered.right);
            let mut done = 0;
            while let Some(event) = score.events.get(self.next) {
                let due = (event.frame + LEAD).saturating_sub(at);
                if due >= frames as u64 {
                    break;
                }
                self.next += 1;
                if self.filter.takes(event) {
                    let due = (due as usize).max(done);
                    instrument.render(&mut left[done..due], &mut right[done..due]);
                    instrument.message(event.message());
                    done = due;
                }
            }
            instrument.render(&mut left[done..], &mut right[done..]);
            left.iter_mut().chain(right).for_each(|sample| *sample *= gain);
        }
        if let Some(click) = &mut self.click {
            let (left, right) = (&mut self.rendered.left, &mut self.rendered.right);
            while let Some(event) = score.events.get(self.next) {
                let due = (event.frame + LEAD).saturating_sub(at);
                if due >= frames as u64 {
                    break;
                }
                self.next += 1;
                if let Some(accent) = event.as_strike().filter(|_| self.filter.takes(event)) {
                    click.strike(accent, due as usize + DELAY);
                }
            }
            click.add_to(left);
            let gain = gain * settings.click.amplitude();
            left.iter_mut().for_each(|sample| *sample *= gain);
            right.copy_from_slice(left);
        }
        self.cut.pass(&self.rendered.left, &self.rendered.right, &mut self.out);
    }
}

/// The frames rendered before frame 0 of the score comes out.
fn ahead() -> u64 {
    LEAD + DELAY as u64
}

fn add(to: &mut [f32], frames: &[f32]) {
    to.iter_mut().zip(frames).for_each(|(to, frame)| *to += frame);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bounce::ScoreEvent;

    /// Seven stems on two ports, two of them on one channel, at odd times.
    fn score() -> Score {
        let mut events = Vec::new();
        for stem in 0..7u8 {
            let (port, channel) = (stem % 2, [0, 1, 2, 3, 0, 9, 5][usize::from(stem)]);
            let mut add = |frame: u64, message: &[u8]| {
                events.push(ScoreEvent::new(frame, usize::from(stem), port, message));
            };
            add(0, &[0xC0 | channel, stem * 9]);
            for note in 0..20u64 {
                let (frame, key) = (note * 1999 + u64::from(stem) * 331, 40 + note as u8 * 2);
                add(frame, &[0x90 | channel, key, 127]);
                add(frame + 1500, &[0x80 | channel, key, 64]);
            }
        }
        events.sort_by_key(|event| event.frame);
        Score { stems: 7, events }
    }

    /// The mix, the mix before the limiter, and every stem, left and right in turn.
    fn rendered(threads: usize) -> Vec<Vec<f32>> {
        let (score, font) = (score(), Font::standard());
        let tail = Tail::Frames(2000);
        let settings = Settings {
            rate: 44_100,
            from: 777,
            to: 40_000,
            tail,
            gain: 4.0,
            click: Decibels::CLICK,
        };
        let mut bounce = Bounce::new(&font, &score, settings).expect("the rate is usual");
        bounce.threads = threads;
        let mut out = vec![Vec::new(); 9];
        while bounce.step() {
            let stems = (0..7).map(|stem| bounce.stem(stem));
            let all = [bounce.mix(), bounce.dry()].into_iter().chain(stems);
            for (out, part) in out.iter_mut().zip(all) {
                out.extend(
                    part.left.iter().zip(&part.right).flat_map(|(left, right)| [*left, *right]),
                );
            }
        }
        out
    }

    #[test]
    fn stems_sum_to_the_mix_and_do_not_depend_on_how_many_threads_render_them() {
        let alone = rendered(1);
        let (dry, stems) = (&alone[1], &alone[2..]);
        assert!(alone.iter().all(|out| out.len() == 2 * (42_000 - 777)));
        assert!(stems.iter().all(|stem| stem.iter().any(|x| x.abs() > 0.01)));
        // The last 5 ms are faded, in the sum and in each stem separately.
        for at in 0..dry.len() - 2 * 220 {
            let sum = stems.iter().fold(0.0, |sum, stem| sum + stem[at]);
            assert_eq!(dry[at], sum, "{at}");
        }
        assert!(dry != &alone[0], "the limiter worked");
        for threads in [2, 3, 4, 7, 64] {
            assert!(rendered(threads) == alone, "{threads} threads");
        }
    }
}
