//! The simulated network is tested before it tests anything: every fault comes at its rate and no other comes, time is exact, the
//! same seed gives the same run.

mod chi;
mod faults;
mod lines;
mod links;
mod media;
mod networks;
mod rates;
