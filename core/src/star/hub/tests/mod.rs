#![allow(clippy::cast_possible_truncation)]

mod books;
mod fairness;
mod sizes;
mod world;
