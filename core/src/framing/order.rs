//! Whether a line keeps the order of its frames, as a type: what only one sort of line needs takes no room on the other.

use core::{fmt::Debug, hash::Hash};

/// What a link can keep: plain data.
pub trait Data: Clone + Eq + Hash + Debug + Default + Send + Sync + 'static {}

impl<T: Clone + Eq + Hash + Debug + Default + Send + Sync + 'static> Data for T {}

/// Room for a value that only some links need.
pub trait Room<T> {
    /// Room with a value, if there is any.
    fn with(value: impl FnOnce() -> T) -> Self;
    /// The value, if there is room for one.
    fn get(&self) -> Option<&T>;
    /// The value, if there is room for one.
    fn get_mut(&mut self) -> Option<&mut T>;
}

/// [`Ordered`] or [`Unordered`].
pub trait Order: Data {
    /// `true` where the line neither doubles nor overtakes frames.
    const KEPT: bool;
    /// Room for what only unordered lines need.
    type Room<T: Data>: Room<T> + Data;
}

/// A line that neither doubles nor overtakes frames.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Ordered;

/// A line on which frames can be doubled and overtake each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Unordered;

/// No room.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct NoPlace;

/// Room for one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Place<T>(T);

impl<T> Room<T> for NoPlace {
    #[inline(always)]
    fn with(_: impl FnOnce() -> T) -> Self {
        Self
    }
    #[inline(always)]
    fn get(&self) -> Option<&T> {
        None
    }
    #[inline(always)]
    fn get_mut(&mut self) -> Option<&mut T> {
        None
    }
}

impl<T> Room<T> for Place<T> {
    #[inline(always)]
    fn with(value: impl FnOnce() -> T) -> Self {
        Self(value())
    }
    #[inline(always)]
    fn get(&self) -> Option<&T> {
        Some(&self.0)
    }
    #[inline(always)]
    fn get_mut(&mut self) -> Option<&mut T> {
        Some(&mut self.0)
    }
}

impl Order for Ordered {
    const KEPT: bool = true;
    type Room<T: Data> = NoPlace;
}

impl Order for Unordered {
    const KEPT: bool = false;
    type Room<T: Data> = Place<T>;
}
