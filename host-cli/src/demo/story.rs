//! What happens in the demo, and when.

use crate::{
    boards::Act,
    sim::{Action, Condition, LineId, Moment, NodeId, Script},
};

/// The desk's place in the network.
pub(super) const DESK: NodeId = NodeId(0);
/// The dome's place in the network.
pub(super) const DOME: NodeId = NodeId(1);
/// The focuser's.
pub(super) const FOCUSER: NodeId = NodeId(2);
/// The mast's.
pub(super) const MAST: NodeId = NodeId(3);
/// The porch's.
pub(super) const PORCH: NodeId = NodeId(4);
/// The line from the desk to the dome.
pub(super) const THERE: LineId = LineId(0);
/// The line from the dome to the desk.
pub(super) const BACK: LineId = LineId(1);

/// The line from the desk to the focuser.
pub(super) const TO_FOCUSER: LineId = LineId(2);
/// The line back.
pub(super) const FROM_FOCUSER: LineId = LineId(3);
/// What the desk's radio board hears.
pub(super) const DESK_EAR: LineId = LineId(4);

/// How long the story takes, ms.
pub(super) const LENGTH: u64 = 30_000;

/// Times in ms and what happens then.
const STORY: [(u64, Action); 28] = [
    (1_110, desk(Act::ReArm)),
    (1_650, desk(Act::Drive(200))),
    (2_250, Action::Lose(THERE, 1)),
    (2_250, desk(Act::OpenShutter)),
    (3_800, Action::Damage(BACK, 1)),
    (5_300, desk(Act::Focus(12_500))),
    (6_500, desk(Act::Lamp(40))),
    (9_000, Action::Wire(THERE, Condition::Cut)),
    (9_000, Action::Wire(BACK, Condition::Cut)),
    (10_500, Action::Wire(THERE, Condition::Whole)),
    (10_500, Action::Wire(BACK, Condition::Whole)),
    (12_550, desk(Act::Drive(0))),
    (13_150, desk(Act::ReArm)),
    (13_750, desk(Act::Drive(-150))),
    (16_000, Action::Lose(DESK_EAR, 1)),
    (18_050, Action::Restart(DOME)),
    (20_050, desk(Act::ReArm)),
    (20_650, desk(Act::Drive(-300))),
    (23_050, dome(Act::Rain)),
    (23_050, mast(Act::Rain)),
    (24_350, desk(Act::OpenShutter)),
    (25_450, desk(Act::Drive(0))),
    (26_050, dome(Act::Dry)),
    (26_050, mast(Act::Dry)),
    (26_650, desk(Act::OpenShutter)),
    (27_300, desk(Act::Lamp(0))),
    (28_050, desk(Act::Drive(100))),
    (29_250, desk(Act::Drive(0))),
];

const fn desk(act: Act) -> Action {
    Action::Act(DESK, act.code())
}

const fn dome(act: Act) -> Action {
    Action::Act(DOME, act.code())
}

const fn mast(act: Act) -> Action {
    Action::Act(MAST, act.code())
}

/// Writes the story into a script, to begin at `from`.
pub(super) fn write(script: &mut Script, from: Moment) {
    for (millis, action) in STORY {
        script.add(from.plus(core::time::Duration::from_millis(millis)), action);
    }
}

/// What to say of an action when it is done; nothing of those that the boards tell themselves.
pub(super) const fn said(action: Action) -> Option<&'static str> {
    match action {
        Action::Lose(DESK_EAR, _) => {
            Some("story: the next datagram of the field will not be heard at the desk")
        }
        Action::Lose(..) => Some("story: the desk's next frame will be lost on the way"),
        Action::Damage(..) => Some("story: a bit of the dome's next frame will be turned over"),
        Action::Wire(THERE, Condition::Cut) => Some("story: THE WIRE IS CUT, both ways"),
        Action::Wire(THERE, Condition::Whole) => Some("story: the wire is joined again"),
        Action::Restart(_) => Some("story: the dome's watchdog bites, the board restarts"),
        _ => None,
    }
}
