//! An allocator that counts the calls of the thread that asks for it.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;

struct Counting;

thread_local! {
    static CALLS: Cell<u64> = const { Cell::new(0) };
}

/// How often this thread has called the allocator.
pub fn calls() -> u64 {
    CALLS.get()
}

fn count() {
    // A thread that is ending has nothing to count with any more.
    let _ = CALLS.try_with(|calls| calls.set(calls.get() + 1));
}

#[allow(unsafe_code)]
// SAFETY: every call is passed to the system's allocator unchanged, whose promises hold for it;
// counting neither allocates nor touches the memory.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count();
        // SAFETY: the caller's promises about `layout` are passed on.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        count();
        // SAFETY: `at` came from the same allocator with the same `layout`, by the caller's promise.
        unsafe { System.dealloc(at, layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count();
        // SAFETY: as for `dealloc`; the caller's promise about `size` is passed on.
        unsafe { System.realloc(at, layout, size) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;
