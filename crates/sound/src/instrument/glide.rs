//! A value that moves to where it is set instead of jumping there, so that no step is heard.
//!
//! In: a target. Out: a value a step nearer to it with each block; it arrives exactly.

/// The part of the way that a block goes: with blocks of 12 frames at 48 kHz, 3 ms to go 63 %.
pub const PART: f32 = 0.081;
/// Nearer than this it is there.
const NEAR: f32 = 8.0;

/// See the header. Values as [`laws`](super::laws) has them, 0 to 16383.
#[derive(Debug, Clone, Copy)]
pub struct Glide {
    value: f32,
    target: f32,
}

impl Glide {
    /// At rest at this value.
    pub fn at(value: f32) -> Glide {
        Glide { value, target: value }
    }

    /// Where it goes.
    pub fn to(&mut self, target: f32) {
        self.target = target;
    }

    /// Is there at once.
    pub fn jump(&mut self) {
        self.value = self.target;
    }

    /// Where it is.
    pub fn value(&self) -> f32 {
        self.value
    }

    /// Goes on by a step; tells whether it moved.
    pub fn step(&mut self) -> bool {
        let way = self.target - self.value;
        if way == 0.0 {
            return false;
        }
        self.value = if way.abs() < NEAR { self.target } else { self.value + PART * way };
        true
    }
}
