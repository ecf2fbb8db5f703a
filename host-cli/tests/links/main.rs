//! Links of the real core in the simulated network: the books of promise P3 on hostile lines, outcomes loss by loss, and the share of
//! unknown outcomes against theory.

mod binomial;
mod books;
mod losses;
mod unknown_share;
