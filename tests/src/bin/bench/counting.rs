//! An allocator that counts the calls of the scheduler thread, and no other's.

use rustix::fs::{Mode, OFlags};
use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};

struct Counting;

static CALLS: AtomicU64 = AtomicU64::new(0);
static WATCHING: AtomicBool = AtomicBool::new(false);

thread_local! {
    static IS_SCHEDULER: Cell<Option<bool>> = const { Cell::new(None) };
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

/// Begins or ends counting.
pub fn watch(on: bool) {
    WATCHING.store(on, Relaxed);
}

/// How often threads whose name begins with "scheduler" have called the allocator while watched.
pub fn calls() -> u64 {
    CALLS.load(Relaxed)
}

fn count() {
    if !WATCHING.load(Relaxed) {
        return;
    }
    // The system's name of the thread is asked for once a thread, without any allocation.
    let is_scheduler = IS_SCHEDULER.try_with(|known| {
        let is = known.get().unwrap_or_else(is_scheduler);
        known.set(Some(is));
        is
    });
    if is_scheduler == Ok(true) {
        CALLS.fetch_add(1, Relaxed);
    }
}

/// Whether the calling thread is called so.
fn is_scheduler() -> bool {
    let mut name = [0u8; 16];
    let file = rustix::fs::open(c"/proc/thread-self/comm", OFlags::RDONLY, Mode::empty());
    let Ok(file) = file else { return false };
    let count = rustix::io::read(&file, &mut name).unwrap_or(0);
    name[..count].starts_with(b"scheduler")
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
