//! Shared media in virtual time against published formulas: the polled cycle of the *turn* rule, pure ALOHA and its loss under the *chance* rule.

#[path = "shared_media/aloha.rs"]
mod aloha;
#[path = "shared_media/bus.rs"]
mod bus;
#[path = "shared_media/cycle.rs"]
mod cycle;
#[path = "shared_media/listening.rs"]
mod listening;
