//! The cut: keeps a range of the rendered frames and smooths its end.
//!
//! In: all frames, from the first rendered one on. Out: those of the range. Its end either fades to
//! silence or, for a loop, is crossfaded with the frames just before the beginning, so that a voice
//! sounding across the seam does not jump.

/// Stereo samples; both sides have the same length.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Stereo {
    /// The left side, full scale at 1.0.
    pub left: Vec<f32>,
    /// The right side, full scale at 1.0.
    pub right: Vec<f32>,
}

impl Stereo {
    pub(super) fn clear(&mut self) {
        self.left.clear();
        self.right.clear();
    }

    pub(super) fn push(&mut self, [left, right]: [f32; 2]) {
        self.left.push(left);
        self.right.push(right);
    }

    pub(super) fn silence(&mut self, frames: usize) {
        self.clear();
        self.left.resize(frames, 0.0);
        self.right.resize(frames, 0.0);
    }

    /// The number of frames.
    pub fn len(&self) -> usize {
        self.left.len()
    }

    /// Whether it has no frames.
    pub fn is_empty(&self) -> bool {
        self.left.is_empty()
    }

    /// The largest sample, as an amplitude.
    pub fn peak(&self) -> f32 {
        self.left.iter().chain(&self.right).fold(0.0, |peak: f32, sample| peak.max(sample.abs()))
    }
}

/// How the end of the cut is smoothed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// It fades out over this many frames.
    Fade(u64),
    /// Its last frames are crossfaded into the beginning, over this many frames.
    Loop(u64),
}

/// Keeps the frames of a range. See the header.
#[derive(Debug)]
pub struct Cut {
    from: u64,
    to: u64,
    end: End,
    at: u64,
    /// For a loop: the frames just before the beginning.
    before: Vec<[f32; 2]>,
}

impl Cut {
    /// Keeps frames `from..to`. The smoothed end is at most half of them.
    pub fn new(from: u64, to: u64, end: End) -> Cut {
        let most = (to.saturating_sub(from)) / 2;
        let end = match end {
            End::Fade(frames) => End::Fade(frames.min(most)),
            End::Loop(frames) => End::Loop(frames.min(most).min(from)),
        };
        Cut { from, to, end, at: 0, before: Vec::new() }
    }

    /// Ends the range earlier, without a fade: only for a frame at which all is silent.
    pub fn end_at(&mut self, to: u64) {
        if to < self.to {
            (self.to, self.end) = (to, End::Fade(0));
        }
    }

    /// Whether it has passed the end of the range.
    pub fn is_done(&self) -> bool {
        self.at >= self.to
    }

    /// Adds the next frames, and replaces the contents of `out` with those in the range.
    pub fn pass(&mut self, left: &[f32], right: &[f32], out: &mut Stereo) {
        out.clear();
        for (&left, &right) in left.iter().zip(right) {
            let frame = self.smooth([left, right]);
            if (self.from..self.to).contains(&self.at) {
                out.push(frame);
            }
            self.at += 1;
        }
    }

    fn smooth(&mut self, frame: [f32; 2]) -> [f32; 2] {
        let left = self.to.saturating_sub(self.at);
        match self.end {
            End::Fade(frames) if (1..=frames).contains(&left) => {
                let part = (left - 1) as f32 / frames as f32;
                frame.map(|sample| sample * part)
            }
            End::Loop(frames) if self.at < self.from && self.from - self.at <= frames => {
                self.before.push(frame);
                frame
            }
            End::Loop(frames) if (1..=frames).contains(&left) => {
                let place = frames - left;
                let other = self.before[place as usize];
                let part = (place + 1) as f32 / frames as f32;
                std::array::from_fn(|side| frame[side] + (other[side] - frame[side]) * part)
            }
            _ => frame,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(mut cut: Cut, frames: &[f32], part: usize) -> Vec<f32> {
        let (mut out, mut all) = (Stereo::default(), Vec::new());
        for frames in frames.chunks(part) {
            cut.pass(frames, frames, &mut out);
            assert_eq!(out.left, out.right);
            all.extend(&out.left);
        }
        assert!(cut.is_done());
        all
    }

    #[test]
    fn a_cut_ends_in_a_fade() {
        let ones = [1.0; 20];
        for part in [1, 3, 20] {
            let out = cut(Cut::new(2, 10, End::Fade(4)), &ones, part);
            assert_eq!(out, [1.0, 1.0, 1.0, 1.0, 0.75, 0.5, 0.25, 0.0]);
        }
        // At most half of it is faded.
        assert_eq!(cut(Cut::new(0, 4, End::Fade(100)), &ones, 7), [1.0, 1.0, 0.5, 0.0]);
    }

    #[test]
    fn the_end_of_a_loop_is_crossfaded_into_its_beginning() {
        let ramp: Vec<f32> = (0..30).map(|x| x as f32).collect();
        let out = cut(Cut::new(10, 20, End::Loop(4)), &ramp, 3);
        assert_eq!(out.len(), 10);
        assert_eq!(out[..6], [10.0, 11.0, 12.0, 13.0, 14.0, 15.0]);
        // The frame before the first was 9, and the last becomes 9.
        assert_eq!(out[9], 9.0);
        assert_eq!(out[6], 16.0 + (6.0 - 16.0) / 4.0);
    }

    #[test]
    fn a_cut_can_end_early_in_silence() {
        let mut early = Cut::new(0, 100, End::Fade(4));
        early.end_at(5);
        assert_eq!(cut(early, &[1.0; 20], 20), [1.0; 5]);
    }
}
