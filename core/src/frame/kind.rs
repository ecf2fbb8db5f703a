//! Kinds of frames and extensions, and the classes of messages.

/// Class of a message, which decides how it is delivered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
pub enum Class {
    /// Newest wins; unconfirmed; never repeated by the library.
    SetPoint,
    /// Confirmed, in order, exactly once within a session.
    Errand,
    /// Confirmed, order not kept.
    Report,
    /// Unconfirmed.
    Notice,
}

impl Class {
    /// All classes.
    pub const ALL: [Self; 4] = [Self::SetPoint, Self::Errand, Self::Report, Self::Notice];

    /// The word of the wire text: `set-point`, `errand`, `report`, `notice`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::SetPoint => "set-point",
            Self::Errand => "errand",
            Self::Report => "report",
            Self::Notice => "notice",
        }
    }

    /// Whether the class is confirmed: it ends in an outcome.
    #[must_use]
    pub const fn is_confirmed(self) -> bool {
        matches!(self, Self::Errand | Self::Report)
    }

    /// The kind of frame that carries this class.
    #[must_use]
    pub const fn kind(self) -> Kind {
        match self {
            Self::SetPoint => Kind::SetPoint,
            Self::Errand => Kind::Errand,
            Self::Report => Kind::Report,
            Self::Notice => Kind::Notice,
        }
    }
}

/// Kind of a frame: the top three bits of the control octet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(u8)]
pub enum Kind {
    /// Opening of a session.
    Open = 1,
    /// A confirmed message, in order.
    Errand = 2,
    /// A confirmed message, order not kept.
    Report = 3,
    /// A set-point.
    SetPoint = 4,
    /// A bare acknowledgement, also the keep-alive.
    Ack = 5,
    /// An unconfirmed message.
    Notice = 6,
    /// A kind told by a further octet, the [`Extension`].
    Extended = 7,
}

impl Kind {
    /// All kinds, by code.
    pub const ALL: [Self; 7] =
        [Self::Open, Self::Errand, Self::Report, Self::SetPoint, Self::Ack, Self::Notice, Self::Extended];

    /// The kind in a control octet; `None` for the reserved kind 0 (W-12).
    #[must_use]
    pub const fn from_control(control: u8) -> Option<Self> {
        match control >> 5 {
            1 => Some(Self::Open),
            2 => Some(Self::Errand),
            3 => Some(Self::Report),
            4 => Some(Self::SetPoint),
            5 => Some(Self::Ack),
            6 => Some(Self::Notice),
            7 => Some(Self::Extended),
            _ => None,
        }
    }

    /// The word of the wire text, in lower case: `open`, `errand`, `report`, `set-point`, `ack`, `notice`, `extended`.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Open => "open",
            Self::Errand => "errand",
            Self::Report => "report",
            Self::SetPoint => "set-point",
            Self::Ack => "ack",
            Self::Notice => "notice",
            Self::Extended => "extended",
        }
    }

    /// The class of message that this kind carries, if it carries one.
    #[must_use]
    pub const fn class(self) -> Option<Class> {
        match self {
            Self::Errand => Some(Class::Errand),
            Self::Report => Some(Class::Report),
            Self::SetPoint => Some(Class::SetPoint),
            Self::Notice => Some(Class::Notice),
            Self::Open | Self::Ack | Self::Extended => None,
        }
    }

    /// Whether frames of this kind belong to a session: they carry its bits and, on unordered links, its tag.
    #[must_use]
    pub const fn in_session(self) -> bool {
        !matches!(self, Self::Open | Self::Extended)
    }

    /// Whether frames of this kind have a sequence number.
    #[must_use]
    pub const fn is_numbered(self) -> bool {
        self.class().is_some()
    }
}

/// The octet that tells what an extended frame is (section 6).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[cfg_attr(feature = "defmt", derive(defmt::Format))]
#[repr(u8)]
pub enum Extension {
    /// Asks for the same body back.
    Probe = 0x01,
    /// Answers a probe.
    ProbeAnswer = 0x02,
    /// Asks for the counters.
    StatisticsRequest = 0x03,
    /// The counters.
    Statistics = 0x04,
}

impl Extension {
    /// All extensions that this version knows.
    pub const ALL: [Self; 4] = [Self::Probe, Self::ProbeAnswer, Self::StatisticsRequest, Self::Statistics];

    /// The extension with this code, if this version knows it.
    #[must_use]
    pub const fn from_code(code: u8) -> Option<Self> {
        match code {
            0x01 => Some(Self::Probe),
            0x02 => Some(Self::ProbeAnswer),
            0x03 => Some(Self::StatisticsRequest),
            0x04 => Some(Self::Statistics),
            _ => None,
        }
    }

    /// The word of the wire text, in lower case.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Probe => "probe",
            Self::ProbeAnswer => "probe answer",
            Self::StatisticsRequest => "statistics request",
            Self::Statistics => "statistics",
        }
    }
}
