//! Long transfers beside real conversations in virtual time: two links on a wire, two on a radio, a hub with its leaves. They are cut at every message at either end,
//! ended at every part by either side, and give way to whatever else is to be sent.

#[path = "transfers/cuts.rs"]
mod cuts;
#[path = "transfers/end.rs"]
mod end;
#[path = "transfers/ended.rs"]
mod ended;
#[path = "transfers/large.rs"]
mod large;
#[path = "transfers/run.rs"]
mod run;
#[path = "transfers/side.rs"]
mod side;
#[path = "transfers/talk.rs"]
mod talk;
#[path = "transfers/yields.rs"]
mod yields;
