//! An allocator that counts the calls of threads of a certain name.

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU64, Ordering::Relaxed};

/// Counts calls from the watched threads, once it is known which those are.
struct Counting;

/// How many calls were counted.
pub static CALLS: AtomicU64 = AtomicU64::new(0);
/// Whether calls are counted: not 0.
pub static WATCHING: AtomicU64 = AtomicU64::new(0);
/// How the names of the watched threads begin.
pub static NAME: OnceLock<&str> = OnceLock::new();

thread_local! {
    static IS_WATCHED: Cell<Option<bool>> = const { Cell::new(None) };
}

fn count() {
    if WATCHING.load(Relaxed) == 0 {
        return;
    }
    // The system's name of the thread is asked for once a thread, without any allocation.
    let is_watched = IS_WATCHED.try_with(|known| {
        let is = known.get().unwrap_or_else(is_watched);
        known.set(Some(is));
        is
    });
    if is_watched == Ok(true) {
        CALLS.fetch_add(1, Relaxed);
    }
}

/// Whether the calling thread is called so.
fn is_watched() -> bool {
    let mut name = [0u8; 16];
    let path = c"/proc/thread-self/comm";
    let flags = rustix::fs::OFlags::RDONLY;
    let Ok(file) = rustix::fs::open(path, flags, rustix::fs::Mode::empty()) else { return false };
    let count = rustix::io::read(&file, &mut name).unwrap_or(0);
    NAME.get().is_some_and(|watched| name[..count].starts_with(watched.as_bytes()))
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
