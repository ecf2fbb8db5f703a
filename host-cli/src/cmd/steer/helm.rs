//! What the keys mean: the wanted rate, the ramp toward it, and when the motor may be asked to move at all.
//!
//! Pure: told of keys and of the time, it says what to send. All doubt ends in silence: then the dome's dead-man stops the motor.

use std::time::Duration;

/// A key, as far as it means something here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Key {
    /// The left arrow: one step toward lower azimuth.
    Left,
    /// The right arrow: one step toward higher azimuth.
    Right,
    /// The up arrow: one step faster the same way.
    Up,
    /// The down arrow: one step slower, not past zero.
    Down,
    /// `a`: arm.
    Arm,
    /// `q`, Escape, Ctrl-C, Ctrl-D: stop and leave.
    Leave,
    /// Ctrl-Z: stop, be silent and suspend.
    Suspend,
    /// Space, and every key that means nothing else.
    Stop,
}

/// How far arming has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Arming {
    /// Nothing is sent.
    Silent,
    /// The stop value is sent; the re-arm errand is next.
    StopFirst,
    /// The re-arm errand is on its way; the stop value is sent all along.
    Asked,
    /// The arrows work.
    Armed,
}

/// What to send at a tick.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Order {
    /// Nothing.
    Silence,
    /// This rate, in 0.01 °/s.
    Rate(i16),
    /// The stop value, and then the re-arm errand.
    StopThenRearm,
}

/// Steps, limits and period, rates in 0.01 °/s.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Settings {
    /// Change of the wanted rate by one press.
    pub(super) step: i16,
    /// Largest rate.
    pub(super) limit: i16,
    /// Largest change of the rate in one period.
    pub(super) ramp: i16,
    /// Time between two set-points.
    pub(super) period: Duration,
}

/// The state of the hand at the keyboard.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Helm {
    settings: Settings,
    arming: Arming,
    wanted: i16,
    rate: i16,
    was_armed: bool,
}

impl Helm {
    /// Silent and at rest.
    #[must_use]
    pub(super) const fn new(settings: Settings) -> Self {
        Self { settings, arming: Arming::Silent, wanted: 0, rate: 0, was_armed: false }
    }

    /// How far arming has come.
    #[must_use]
    pub(super) const fn arming(&self) -> Arming {
        self.arming
    }

    /// Whether it was ever armed, so that something may move.
    #[must_use]
    pub(super) const fn was_armed(&self) -> bool {
        self.was_armed
    }

    /// The rate that the arrows have set, 0.01 °/s.
    #[must_use]
    pub(super) const fn wanted(&self) -> i16 {
        self.wanted
    }

    /// The rate on its way there, 0.01 °/s.
    #[must_use]
    pub(super) const fn rate(&self) -> i16 {
        self.rate
    }

    /// A key was pressed.
    pub(super) fn key(&mut self, key: Key) {
        let step = self.settings.step;
        let onward = step.saturating_mul(self.wanted.signum());
        match key {
            Key::Left => self.want(self.wanted.saturating_sub(step)),
            Key::Right => self.want(self.wanted.saturating_add(step)),
            Key::Up => self.want(self.wanted.saturating_add(onward)),
            Key::Down if self.wanted.saturating_abs() <= step => self.want(0),
            Key::Down => self.want(self.wanted.saturating_sub(onward)),
            // Armed and at rest it arms anew: the board may have stopped by itself meanwhile.
            Key::Arm if self.arming == Arming::Silent || (self.arming == Arming::Armed && self.at_rest()) => {
                self.arming = Arming::StopFirst;
            }
            Key::Arm | Key::Stop => self.stop(),
            Key::Leave | Key::Suspend => self.silence(),
        }
    }

    const fn at_rest(&self) -> bool {
        self.wanted == 0 && self.rate == 0
    }

    fn want(&mut self, rate: i16) {
        if self.arming == Arming::Armed {
            self.wanted = rate.clamp(-self.settings.limit, self.settings.limit);
        }
    }

    /// Stops at once, without a ramp, and stays armed.
    fn stop(&mut self) {
        self.wanted = 0;
        self.rate = 0;
    }

    /// Forgets the rate and sends nothing more until armed again: the link went down, the program stood still, the user leaves.
    pub(super) fn silence(&mut self) {
        self.stop();
        self.arming = Arming::Silent;
    }

    /// The outcome of the re-arm errand.
    pub(super) fn rearmed(&mut self, delivered: bool) {
        self.was_armed |= delivered;
        if self.arming == Arming::Asked {
            if delivered { self.arming = Arming::Armed } else { self.silence() }
        }
    }

    /// What to send now, `since` the last tick. After a pause longer than three periods (at least 200 ms: a suspended or starved
    /// program) the old rate is not taken up again.
    pub(super) fn tick(&mut self, since: Duration) -> Order {
        if since > (self.settings.period * 3).max(Duration::from_millis(200))
            && self.arming != Arming::StopFirst
        {
            self.silence();
        }
        match self.arming {
            Arming::Silent => Order::Silence,
            Arming::StopFirst => {
                self.arming = Arming::Asked;
                Order::StopThenRearm
            }
            Arming::Asked => Order::Rate(0),
            Arming::Armed => {
                let change =
                    self.wanted.saturating_sub(self.rate).clamp(-self.settings.ramp, self.settings.ramp);
                self.rate = self.rate.saturating_add(change);
                Order::Rate(self.rate)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PERIOD: Duration = Duration::from_millis(50);

    fn helm() -> Helm {
        Helm::new(Settings { step: 50, limit: 300, ramp: 10, period: PERIOD })
    }

    fn armed() -> Helm {
        let mut helm = helm();
        helm.key(Key::Arm);
        assert_eq!(helm.tick(PERIOD), Order::StopThenRearm);
        helm.rearmed(true);
        helm
    }

    #[test]
    fn nothing_is_sent_before_arming_whatever_is_pressed() {
        let mut helm = helm();
        for key in [Key::Left, Key::Right, Key::Up, Key::Down, Key::Stop] {
            helm.key(key);
            assert_eq!(helm.tick(PERIOD), Order::Silence);
        }
        assert_eq!(helm.wanted(), 0);
    }

    #[test]
    fn arming_sends_the_stop_value_first_and_arrows_wait_for_the_outcome() {
        let mut helm = helm();
        helm.key(Key::Arm);
        assert_eq!(helm.tick(PERIOD), Order::StopThenRearm);
        helm.key(Key::Right);
        assert_eq!(helm.tick(PERIOD), Order::Rate(0));
        helm.rearmed(false);
        assert_eq!((helm.arming(), helm.tick(PERIOD)), (Arming::Silent, Order::Silence));
    }

    #[test]
    fn arrows_latch_and_the_ramp_follows() {
        let mut helm = armed();
        helm.key(Key::Right);
        helm.key(Key::Right);
        let rates: Vec<_> = (0..12).map(|_| helm.tick(PERIOD)).collect();
        assert_eq!(rates[0], Order::Rate(10));
        assert_eq!(rates[9..], [Order::Rate(100); 3]);
        helm.key(Key::Down);
        helm.key(Key::Down);
        helm.key(Key::Down);
        assert_eq!(helm.wanted(), 0);
        (0..20).for_each(|_| helm.key(Key::Left));
        assert_eq!(helm.wanted(), -300);
        helm.key(Key::Up);
        assert_eq!(helm.wanted(), -300);
    }

    #[test]
    fn stop_is_at_once_and_arming_while_moving_is_a_stop() {
        for key in [Key::Stop, Key::Arm] {
            let mut helm = armed();
            helm.key(Key::Right);
            helm.tick(PERIOD);
            helm.key(key);
            assert_eq!(helm.tick(PERIOD), Order::Rate(0));
            assert_eq!(helm.arming(), Arming::Armed);
            helm.key(Key::Arm);
            assert_eq!(helm.tick(PERIOD), Order::StopThenRearm, "at rest it arms anew");
        }
    }

    #[test]
    fn leaving_suspending_and_standing_still_are_silence() {
        for key in [Key::Leave, Key::Suspend] {
            let mut helm = armed();
            helm.key(Key::Right);
            helm.key(key);
            assert_eq!(helm.tick(PERIOD), Order::Silence);
        }
        let mut helm = armed();
        helm.key(Key::Right);
        helm.tick(PERIOD);
        assert_eq!(helm.tick(Duration::from_millis(201)), Order::Silence);
        assert_eq!(helm.tick(PERIOD), Order::Silence);
    }
}
