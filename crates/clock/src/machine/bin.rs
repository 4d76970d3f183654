//! Used system-exclusive bytes, which must not be freed on the scheduler thread.

use std::sync::Arc;

/// Keeps used bytes until another thread frees them.
#[derive(Debug)]
pub(crate) struct Bin(Vec<Arc<[u8]>>);

impl Bin {
    /// An empty bin with room for this many.
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

    /// Takes one out; `None` if the bin is empty.
    pub fn take(&mut self) -> Option<Arc<[u8]>> {
        self.0.pop()
    }
}
