//! What a link measures, kept out of its compared state.

use core::{
    hash::{Hash, Hasher},
    ops::{Deref, DerefMut},
};

/// A value that stands apart: always equal, never hashed. Absolute times, statistics, the round-trip estimate and the dice are kept in
/// it, so that a program which explores the states of a link sees them repeat.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Apart<T>(pub(crate) T);

impl<T> PartialEq for Apart<T> {
    fn eq(&self, _: &Self) -> bool {
        true
    }
}

impl<T> Eq for Apart<T> {}

impl<T> Hash for Apart<T> {
    fn hash<H: Hasher>(&self, _: &mut H) {}
}

impl<T> Deref for Apart<T> {
    type Target = T;
    fn deref(&self) -> &T {
        &self.0
    }
}

impl<T> DerefMut for Apart<T> {
    fn deref_mut(&mut self) -> &mut T {
        &mut self.0
    }
}
