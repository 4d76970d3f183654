//! An allocator that counts calls, for the bench and for tests of code that must not allocate.
//!
//! In: the name of the threads to watch. Out: how many times they called the allocator. The program
//! to be measured declares it as its global allocator:
//!
//! ```
//! use chaconne_counting::{Counting, own_calls};
//!
//! #[global_allocator]
//! static ALLOCATOR: Counting = Counting;
//!
//! let before = own_calls();
//! drop(std::hint::black_box(vec![0u8; 64]));
//! assert_eq!(own_calls() - before, 2);
//! ```

#![cfg_attr(not(test), deny(clippy::unwrap_used, clippy::expect_used))]

use std::alloc::{GlobalAlloc, Layout, System};
use std::cell::Cell;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};

/// The system's allocator with a counter.
#[derive(Debug)]
pub struct Counting;

static CALLS: AtomicU64 = AtomicU64::new(0);
static WATCHING: AtomicBool = AtomicBool::new(false);
static NAME: OnceLock<&str> = OnceLock::new();

thread_local! {
    static OWN: Cell<u64> = const { Cell::new(0) };
    static IS_WATCHED: Cell<Option<bool>> = const { Cell::new(None) };
}

/// How many times the calling thread has called the allocator.
pub fn own_calls() -> u64 {
    OWN.get()
}

/// Starts counting the calls of every thread whose name starts with `name`. It compares the name
/// the system has for the thread, of which Linux keeps 15 bytes; on other systems it counts
/// nothing. A process watches one name.
///
/// # Panics
/// If another name has been watched before.
pub fn watch(name: &'static str) {
    assert_eq!(*NAME.get_or_init(|| name), name, "a process watches one name");
    WATCHING.store(true, Relaxed);
}

/// Stops counting calls by thread name.
pub fn unwatch() {
    WATCHING.store(false, Relaxed);
}

/// How many times threads with the watched name called the allocator while they were watched.
pub fn watched_calls() -> u64 {
    CALLS.load(Relaxed)
}

fn count() {
    // A thread that is ending no longer has a counter.
    let _ = OWN.try_with(|own| own.set(own.get() + 1));
    if !WATCHING.load(Relaxed) {
        return;
    }
    // Each thread asks for its name once, without allocating.
    let is_watched = IS_WATCHED.try_with(|known| {
        let is = known.get().unwrap_or_else(is_watched);
        known.set(Some(is));
        is
    });
    if is_watched == Ok(true) {
        CALLS.fetch_add(1, Relaxed);
    }
}

/// Whether the calling thread has the watched name.
#[cfg(target_os = "linux")]
fn is_watched() -> bool {
    use rustix::fs::{Mode, OFlags, open};
    let mut name = [0u8; 16];
    let file = open(c"/proc/thread-self/comm", OFlags::RDONLY, Mode::empty());
    let Ok(file) = file else { return false };
    let count = rustix::io::read(&file, &mut name).unwrap_or(0);
    NAME.get().is_some_and(|watched| name[..count].starts_with(watched.as_bytes()))
}

#[cfg(not(target_os = "linux"))]
fn is_watched() -> bool {
    false
}

#[allow(unsafe_code)]
// SAFETY: every call goes to the system's allocator unchanged, so its guarantees hold; counting
// neither allocates nor touches the memory.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        count();
        // SAFETY: the caller's guarantees about `layout` are passed on.
        unsafe { System.alloc(layout) }
    }

    unsafe fn dealloc(&self, at: *mut u8, layout: Layout) {
        count();
        // SAFETY: the caller guarantees that `at` came from this allocator with the same `layout`.
        unsafe { System.dealloc(at, layout) }
    }

    unsafe fn realloc(&self, at: *mut u8, layout: Layout, size: usize) -> *mut u8 {
        count();
        // SAFETY: as for `dealloc`; the caller's guarantee about `size` is passed on.
        unsafe { System.realloc(at, layout, size) }
    }
}
