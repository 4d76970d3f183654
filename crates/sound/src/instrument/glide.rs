//! A value that glides to its target instead of jumping, so that no step is audible.
//!
//! In: a target. Out: a value that moves closer to it with each block, and reaches it exactly.

/// The part of the remaining distance covered per block: with blocks of 12 frames at 48 kHz, 63 %
/// in 3 ms.
pub const PART: f32 = 0.081;
/// Closer than this, the value jumps to its target.
const NEAR: f32 = 8.0;

/// A gliding value, 0 to 16383 as in [`laws`](super::laws).
#[derive(Debug, Clone, Copy)]
pub struct Glide {
    value: f32,
    target: f32,
}

impl Glide {
    /// A glide at rest at this value.
    pub fn at(value: f32) -> Glide {
        Glide { value, target: value }
    }

    /// Sets the target.
    pub fn to(&mut self, target: f32) {
        self.target = target;
    }

    /// Jumps to the target.
    pub fn jump(&mut self) {
        self.value = self.target;
    }

    /// The current value.
    pub fn value(&self) -> f32 {
        self.value
    }

    /// Moves one block closer. Returns whether it moved.
    pub fn step(&mut self) -> bool {
        let way = self.target - self.value;
        if way == 0.0 {
            return false;
        }
        self.value = if way.abs() < NEAR { self.target } else { self.value + PART * way };
        true
    }
}
