//! What a person or the world does to a board.

/// What a person or the world does to a board.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Act {
    /// At the desk: the operator wants this rate, 0.01 °/s; 0 is letting go.
    Drive(i16),
    /// At the desk: the operator re-arms the dome.
    ReArm,
    /// At the desk: the operator has the shutter opened.
    OpenShutter,
    /// At the desk: the operator has the shutter closed.
    CloseShutter,
    /// At the dome: it begins to rain.
    Rain,
    /// At the dome: the rain ends.
    Dry,
}

impl Act {
    /// As a number, for a script.
    #[must_use]
    pub const fn code(self) -> u32 {
        match self {
            Self::Drive(rate) => 0x1_0000 | rate.cast_unsigned() as u32,
            Self::ReArm => 1,
            Self::OpenShutter => 2,
            Self::CloseShutter => 3,
            Self::Rain => 4,
            Self::Dry => 5,
        }
    }

    /// The act of this number.
    #[must_use]
    pub fn of(code: u32) -> Option<Self> {
        match code {
            1 => Some(Self::ReArm),
            2 => Some(Self::OpenShutter),
            3 => Some(Self::CloseShutter),
            4 => Some(Self::Rain),
            5 => Some(Self::Dry),
            _ => u16::try_from(code.checked_sub(0x1_0000)?).ok().map(|rate| Self::Drive(rate.cast_signed())),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_act_is_found_again_by_its_number() {
        let others = [Act::ReArm, Act::OpenShutter, Act::CloseShutter, Act::Rain, Act::Dry];
        for act in (i16::MIN..=i16::MAX).map(Act::Drive).chain(others) {
            assert_eq!(Act::of(act.code()), Some(act));
        }
        assert_eq!((Act::of(0), Act::of(6), Act::of(0x2_0000)), (None, None, None));
    }
}
