//! A budget of memory for all films being decoded at once.
//!
//! A film says how large it is before its pixels are unpacked. Where that
//! would exceed the budget, the film waits until others are done; a single
//! one is always let through, since [`super::OpenLimits`] bounds it.

use std::cell::Cell;
use std::sync::{Condvar, LazyLock, Mutex, MutexGuard, PoisonError};

/// Variable of the environment that sets the budget, megabytes.
const VARIABLE: &str = "LENGTHFILM_DECODING_MB";
/// Budget where it says nothing, megabytes.
const DEFAULT_MB: u64 = 2000;

static DECODING: LazyLock<Budget> = LazyLock::new(|| {
    let set = std::env::var(VARIABLE).ok();
    let megabytes = set.and_then(|value| value.trim().parse().ok());
    Budget::new(megabytes.unwrap_or(DEFAULT_MB).saturating_mul(1_000_000))
});

thread_local! {
    /// What this thread has of the budget while it decodes a film.
    static OWN: Cell<Option<Own>> = const { Cell::new(None) };
}

/// Bytes a film takes: its file, and what its pixels need.
#[derive(Clone, Copy, Default)]
struct Own {
    file: u64,
    pixels: u64,
}

/// Reads and decodes one film; what it was granted is given back at the end,
/// however that comes about.
pub(super) fn while_decoding<T>(work: impl FnOnce() -> T) -> T {
    let _given_back = GiveBack(OWN.replace(Some(Own::default())));
    work()
}

struct GiveBack(Option<Own>);

impl Drop for GiveBack {
    fn drop(&mut self) {
        if let Some(own) = OWN.replace(self.0) {
            DECODING.give(own.file + own.pixels);
        }
    }
}

/// The film being decoded here has a file of `bytes`.
pub(super) fn need_for_file(bytes: u64) {
    need(|own| own.file = own.file.max(bytes));
}

/// Its pixels need `bytes`.
pub(super) fn need_for_pixels(bytes: u64) {
    need(|own| own.pixels = own.pixels.max(bytes));
}

/// Asks for more. What is held is given back first: of two that both held
/// something and waited for more, neither would ever go on.
fn need(more: impl FnOnce(&mut Own)) {
    let Some(held) = OWN.get() else { return };
    let mut wanted = held;
    more(&mut wanted);
    let (held, all) = (held.file + held.pixels, wanted.file + wanted.pixels);
    if all > held {
        DECODING.give(held);
        OWN.set(Some(Own::default()));
        DECODING.take(all);
        OWN.set(Some(wanted));
    }
}

/// Bytes that may be in use at once.
struct Budget {
    most: u64,
    used: Mutex<u64>,
    freed: Condvar,
}

impl Budget {
    fn new(most: u64) -> Self {
        Self {
            most,
            used: Mutex::new(0),
            freed: Condvar::new(),
        }
    }

    fn used(&self) -> MutexGuard<'_, u64> {
        self.used.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits until `bytes` are within the budget, or nobody else uses any.
    fn take(&self, bytes: u64) {
        let mut used = self.used();
        while *used > 0 && used.saturating_add(bytes) > self.most {
            used = self
                .freed
                .wait(used)
                .unwrap_or_else(PoisonError::into_inner);
        }
        *used = used.saturating_add(bytes);
    }

    fn give(&self, bytes: u64) {
        let mut used = self.used();
        *used = used.saturating_sub(bytes);
        self.freed.notify_all();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU64, Ordering};

    #[test]
    fn the_sum_in_use_never_exceeds_the_budget_and_all_come_to_an_end() {
        let budget = Budget::new(1000);
        let (in_use, most) = (AtomicU64::new(0), AtomicU64::new(0));
        std::thread::scope(|scope| {
            for thread in 0..8_u64 {
                let (budget, in_use, most) = (&budget, &in_use, &most);
                scope.spawn(move || {
                    for turn in 0..50 {
                        let bytes = 100 + 97 * ((thread + turn) % 9);
                        budget.take(bytes);
                        let now = in_use.fetch_add(bytes, Ordering::SeqCst) + bytes;
                        most.fetch_max(now, Ordering::SeqCst);
                        std::thread::yield_now();
                        in_use.fetch_sub(bytes, Ordering::SeqCst);
                        budget.give(bytes);
                    }
                });
            }
        });
        let most = most.into_inner();
        assert!((500..=1000).contains(&most), "{most}");
        assert_eq!(*budget.used(), 0);
    }

    #[test]
    fn one_above_the_budget_goes_alone() {
        let budget = Budget::new(10);
        budget.take(100);
        budget.give(100);
        budget.take(5);
        std::thread::scope(|scope| {
            let large = scope.spawn(|| budget.take(100));
            std::thread::sleep(std::time::Duration::from_millis(20));
            assert!(!large.is_finished(), "waits for the small one");
            budget.give(5);
        });
        budget.give(100);
    }

    #[test]
    fn a_decoder_that_panics_gives_back_what_it_had() {
        let before = *DECODING.used();
        let ended = std::panic::catch_unwind(|| {
            while_decoding(|| {
                need_for_file(10);
                need_for_pixels(1000);
                need_for_pixels(500);
                panic!("expected in this test");
            })
        });
        assert!(ended.is_err());
        assert!(OWN.get().is_none());
        // Other tests decode at the same time; nothing of these stays.
        let mut rounds = 0;
        while *DECODING.used() > before && rounds < 6000 {
            std::thread::sleep(std::time::Duration::from_millis(10));
            rounds += 1;
        }
        assert!(*DECODING.used() <= before);
    }
}
