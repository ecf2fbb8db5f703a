//! Shared media in virtual time against published formulas: the polled cycle of the *turn* rule, pure ALOHA and its loss under the *chance* rule.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "whole microseconds")]

#[path = "shared_media/aloha.rs"]
mod aloha;
#[path = "shared_media/bus.rs"]
mod bus;
#[path = "shared_media/cycle.rs"]
mod cycle;
#[path = "shared_media/goodput.rs"]
mod goodput;
#[path = "shared_media/listening.rs"]
mod listening;
#[path = "shared_media/polled.rs"]
mod polled;
#[path = "shared_media/station.rs"]
mod station;
