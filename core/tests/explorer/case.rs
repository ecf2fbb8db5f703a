//! One case: what may happen in a world, and what the channel and the boards are like.

/// What may still happen; it only shrinks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub struct Left {
    /// Errands or reports, either at any time, by sender.
    pub items: [u8; 2],
    /// Notices, by sender.
    pub notices: [u8; 2],
    /// Set-points of the desk, each at rest or moving.
    pub set_points: u8,
    pub restarts: [u8; 2],
    /// Sessions that silence may end.
    pub silences: u8,
    /// Sessions that a board's program ends.
    pub ends: u8,
    /// Frames whose closing delimiter is lost.
    pub cut_ends: u8,
    /// Runs of 51 errands from the desk without any loss.
    pub streams: u8,
    /// Runs of 130 set-points that are all lost.
    pub outages: u8,
}

/// How time passes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Time {
    /// Each board's clock runs by itself: any timer may fire before any other, and a frame may be under way for ever.
    Free,
    /// One clock. Every frame and copy is dead when it is older than this many µs.
    Lifetime(u32),
}

/// What is wrong around the links, in a case that must fail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WrongWorld {
    /// Messages that come to a link that is down are kept, and handed in once it is up.
    KeepsEarlyFrames,
    /// The dead-man is not told that sessions end.
    DeafDeadMan,
    /// Set-points are stamped when they are handed out.
    LateStamp,
    /// Copies live three times as long as the links were told.
    LongLivedCopies,
}

#[derive(Debug, Clone, Copy)]
pub struct Case {
    pub name: &'static str,
    pub left: Left,
    pub time: Time,
    pub tries: u8,
    /// T_ka in µs; 0: none.
    pub keep_alive: u32,
    /// How much larger own numbers are after each start.
    pub step: u32,
    pub numberless: [bool; 2],
    /// Frames may also arrive damaged.
    pub damage: bool,
    /// A time-out fires only when nothing is under way, and fewer frames are lost than there are tries.
    pub punctual: bool,
    /// Nothing is lost or doubled: frames are only late, and overtake on a radio.
    pub calm: bool,
    pub wrong: Option<WrongWorld>,
}

impl Case {
    pub const fn new(name: &'static str) -> Self {
        let left = Left {
            items: [0; 2],
            notices: [0; 2],
            set_points: 0,
            restarts: [0; 2],
            silences: 0,
            ends: 0,
            cut_ends: 0,
            streams: 0,
            outages: 0,
        };
        Self {
            name,
            left,
            time: Time::Free,
            tries: 2,
            keep_alive: 0,
            step: 16,
            numberless: [false; 2],
            damage: false,
            punctual: false,
            calm: false,
            wrong: None,
        }
    }

    pub const fn items(mut self, desk: u8, dome: u8) -> Self {
        self.left.items = [desk, dome];
        self
    }

    pub const fn notices(mut self, desk: u8, dome: u8) -> Self {
        self.left.notices = [desk, dome];
        self
    }

    pub const fn set_points(mut self, count: u8) -> Self {
        self.left.set_points = count;
        self
    }

    pub const fn restarts(mut self, desk: u8, dome: u8) -> Self {
        self.left.restarts = [desk, dome];
        self
    }

    /// Sessions that silence may end; boards then send keep-alives.
    pub const fn silences(mut self, count: u8) -> Self {
        self.left.silences = count;
        self.keep_alive = 1_000_000;
        self
    }

    pub const fn ends(mut self, count: u8) -> Self {
        self.left.ends = count;
        self
    }

    pub const fn cut_ends(mut self, count: u8) -> Self {
        self.left.cut_ends = count;
        self
    }

    pub const fn streams(mut self, count: u8) -> Self {
        self.left.streams = count;
        self
    }

    pub const fn outages(mut self, count: u8) -> Self {
        self.left.outages = count;
        self
    }

    pub const fn lifetime(mut self, us: u32) -> Self {
        self.time = Time::Lifetime(us);
        self
    }

    pub const fn numberless(mut self, desk: bool, dome: bool) -> Self {
        self.numberless = [desk, dome];
        self
    }

    pub const fn damage(mut self) -> Self {
        self.damage = true;
        self
    }

    pub const fn step(mut self, step: u32) -> Self {
        self.step = step;
        self
    }

    /// One clock: a time-out fires only when nothing is under way; no copies; items are sent once both boards are open, and from then
    /// on fewer frames are lost than there are tries.
    pub const fn punctual(mut self, tries: u8) -> Self {
        self.punctual = true;
        self.time = Time::Lifetime(1_000_000);
        self.tries = tries;
        self
    }

    pub const fn calm(mut self) -> Self {
        self.calm = true;
        self
    }

    pub const fn wrong(mut self, wrong: WrongWorld) -> Self {
        self.wrong = Some(wrong);
        self
    }

    /// The lifetime that the boards are told, µs.
    pub const fn stated_lifetime(&self) -> u32 {
        match self.time {
            Time::Free => 0,
            Time::Lifetime(us) => us,
        }
    }

    /// How long a frame lives, if it dies at all.
    pub fn real_lifetime(&self) -> Option<u32> {
        match (self.time, self.wrong) {
            (Time::Free, _) => None,
            (Time::Lifetime(us), Some(WrongWorld::LongLivedCopies)) => Some(us * 3),
            (Time::Lifetime(us), _) => Some(us),
        }
    }
}
