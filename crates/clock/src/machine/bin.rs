//! Used system-exclusive bytes, which must not be freed on this thread.

use std::sync::Arc;

/// Where they wait to be freed elsewhere.
#[derive(Debug)]
pub(crate) struct Bin(Vec<Arc<[u8]>>);

impl Bin {
    /// Room for so many.
    pub fn new(places: usize) -> Bin {
        Bin(Vec::with_capacity(places))
    }

    /// Puts bytes in. If the bin is full they are leaked rather than freed.
    pub fn put(&mut self, bytes: Arc<[u8]>) {
        if self.0.len() < self.0.capacity() {
            self.0.push(bytes);
        } else {
            std::mem::forget(bytes);
        }
    }

    /// Takes some out, one at a time.
    pub fn take(&mut self) -> Option<Arc<[u8]>> {
        self.0.pop()
    }
}
