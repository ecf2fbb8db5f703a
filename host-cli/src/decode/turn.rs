//! One worker after the other, in the order of their work.

use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// A thing that workers use in the order of their work.
#[derive(Debug)]
pub(super) struct Turn<T> {
    inner: Mutex<(u64, T)>,
    next: Condvar,
}

impl<T> Turn<T> {
    pub(super) const fn new(thing: T) -> Self {
        Self { inner: Mutex::new((0, thing)), next: Condvar::new() }
    }

    /// Waits until all work before `index` is done, and does this one's part.
    pub(super) fn take<R>(&self, index: u64, part: impl FnOnce(&mut T) -> R) -> R {
        let guard = self.inner.lock().unwrap_or_else(PoisonError::into_inner);
        let mut guard: MutexGuard<'_, (u64, T)> =
            self.next.wait_while(guard, |(turn, _)| *turn != index).unwrap_or_else(PoisonError::into_inner);
        let result = part(&mut guard.1);
        guard.0 += 1;
        self.next.notify_all();
        result
    }

    pub(super) fn into_inner(self) -> T {
        self.inner.into_inner().unwrap_or_else(PoisonError::into_inner).1
    }
}
