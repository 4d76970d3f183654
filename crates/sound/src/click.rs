//! The click: a short, soft ping, higher when accented. It is synthesised, not sampled.
//!
//! In: strikes. Out: samples, added to the frames from the exact frame of the strike on. A click
//! still sounding when the next one starts rings out.

/// Pitch of an accented click in hertz: G6 in equal temperament at A4 = 440 Hz (ISO 16).
const ACCENT: f64 = 1567.98;
/// Pitch of every other click: C6, a fifth lower.
const PLAIN: f64 = 1046.50;
/// Time constants of decay and attack in seconds: soft enough not to hurt, sharp enough to play to.
const FALL: f64 = 0.022;
const RISE: f64 = 0.0006;
/// A click ends when it has fallen this far (-90 dB), so that its end is inaudible.
const END: f64 = 3e-5;
/// How many clicks can ring at once. One lasts a quarter of a second, so this is enough at any
/// usable tempo; one more replaces the oldest.
const RINGING: usize = 8;
/// Makes the highest peak of a click 1.0 at the level 0 dB.
const PEAK: f64 = 1.1;

/// The click. See the header. It does not allocate.
#[derive(Debug, Clone)]
pub struct Click {
    pings: [Ping; RINGING],
    next: usize,
    accent: Pitch,
    plain: Pitch,
    fall: f64,
    rise: f64,
}

/// The rotation of a tone per frame.
#[derive(Debug, Clone, Copy)]
struct Pitch {
    cos: f64,
    sin: f64,
}

/// A click that is sounding or about to sound.
#[derive(Debug, Clone, Copy, Default)]
struct Ping {
    wait: usize,
    turn: (f64, f64),
    phase: (f64, f64),
    level: f64,
    missing: f64,
}

impl Click {
    /// A click at this sample rate.
    pub fn new(rate: u32) -> Click {
        let rate = f64::from(rate.max(1));
        let pitch = |hertz: f64| {
            let (sin, cos) = (std::f64::consts::TAU * hertz / rate).sin_cos();
            Pitch { cos, sin }
        };
        let each = |seconds: f64| (-1.0 / (seconds * rate)).exp();
        Click {
            pings: [Ping::default(); RINGING],
            next: 0,
            accent: pitch(ACCENT),
            plain: pitch(PLAIN),
            fall: each(FALL),
            rise: each(RISE),
        }
    }

    /// Starts a click `wait` frames after the next rendered frame.
    pub fn strike(&mut self, accent: bool, wait: usize) {
        let pitch = if accent { self.accent } else { self.plain };
        let turn = (pitch.cos, pitch.sin);
        self.pings[self.next] = Ping { wait, turn, phase: (1.0, 0.0), level: PEAK, missing: 1.0 };
        self.next = (self.next + 1) % RINGING;
    }

    /// Renders the next frames and adds them to the slice.
    pub fn add_to(&mut self, frames: &mut [f32]) {
        for ping in self.pings.iter_mut().filter(|ping| ping.level > 0.0) {
            let from = ping.wait.min(frames.len());
            ping.wait -= from;
            for frame in &mut frames[from..] {
                *frame += ping.next(self.fall, self.rise);
            }
        }
    }

    /// Whether no click is sounding or about to sound.
    pub fn is_silent(&self) -> bool {
        self.pings.iter().all(|ping| ping.level == 0.0)
    }

    /// Ends every click at once.
    pub fn silence(&mut self) {
        self.pings = [Ping::default(); RINGING];
    }
}

impl Ping {
    fn next(&mut self, fall: f64, rise: f64) -> f32 {
        let (x, y) = self.phase;
        let sample = y * self.level * (1.0 - self.missing);
        let (cos, sin) = self.turn;
        self.phase = (x * cos - y * sin, x * sin + y * cos);
        self.level *= fall;
        self.missing *= rise;
        if self.level < END {
            self.level = 0.0;
        }
        sample as f32
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sound(rate: u32, accent: bool) -> Vec<f32> {
        let mut click = Click::new(rate);
        click.strike(accent, 0);
        let mut frames = vec![0.0; rate as usize / 2];
        click.add_to(&mut frames);
        assert!(click.is_silent());
        frames
    }

    #[test]
    fn a_click_rises_softly_peaks_at_full_scale_and_ends_without_a_step() {
        for rate in [44_100, 48_000, 96_000] {
            for accent in [true, false] {
                let sound = sound(rate, accent);
                let peak = sound.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
                assert!((0.8..=1.0).contains(&peak), "{peak}");
                let at = sound.iter().position(|x| x.abs() == peak).unwrap();
                assert!((0.0005..0.004).contains(&(at as f64 / f64::from(rate))));
                let last = sound.iter().rposition(|x| *x != 0.0).unwrap();
                assert!(last < rate as usize / 3, "{last}");
                assert!(sound[last].abs() < 1e-4);
            }
        }
    }

    #[test]
    fn a_click_starts_on_its_frame_however_it_is_rendered() {
        let whole = sound(48_000, true);
        let mut click = Click::new(48_000);
        click.strike(true, 1000);
        let mut frames = vec![0.0; 25_000];
        frames.chunks_mut(77).for_each(|part| click.add_to(part));
        assert!(frames[..1000].iter().all(|x| *x == 0.0));
        assert!(frames[1000..] == whole[..24_000]);
    }

    #[test]
    fn overlapping_clicks_are_summed() {
        let (accent, plain) = (sound(48_000, true), sound(48_000, false));
        let mut click = Click::new(48_000);
        click.strike(true, 0);
        let mut frames = vec![0.0; 3000];
        click.add_to(&mut frames[..500]);
        click.strike(false, 0);
        click.add_to(&mut frames[500..]);
        for i in 500..3000 {
            assert!((frames[i] - accent[i] - plain[i - 500]).abs() < 1e-6);
        }
    }
}
