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
    /// At the desk: the operator sends the focuser there, µm.
    Focus(u16),
    /// At the desk: the operator wants the porch lamp at this level, %.
    Lamp(u8),
    /// At the dome and the mast: it begins to rain.
    Rain,
    /// There: the rain ends.
    Dry,
}

impl Act {
    /// As a number, for a script.
    #[must_use]
    pub const fn code(self) -> u32 {
        match self {
            Self::Drive(rate) => 0x1_0000 | rate.cast_unsigned() as u32,
            Self::Focus(position) => 0x2_0000 | position as u32,
            Self::Lamp(level) => 0x3_0000 | level as u32,
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
            _ => {
                let value = u16::try_from(code & 0xFFFF).ok()?;
                match code >> 16 {
                    1 => Some(Self::Drive(value.cast_signed())),
                    2 => Some(Self::Focus(value)),
                    3 => u8::try_from(value).ok().map(Self::Lamp),
                    _ => None,
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_act_is_found_again_by_its_number() {
        let others = [Act::ReArm, Act::OpenShutter, Act::CloseShutter, Act::Rain, Act::Dry];
        let values = (i16::MIN..=i16::MAX).map(Act::Drive).chain((0..=u16::MAX).map(Act::Focus));
        for act in values.chain((0..=u8::MAX).map(Act::Lamp)).chain(others) {
            assert_eq!(Act::of(act.code()), Some(act));
        }
        assert_eq!((Act::of(0), Act::of(6), Act::of(0x4_0000), Act::of(0x3_0100)), (None, None, None, None));
    }
}
