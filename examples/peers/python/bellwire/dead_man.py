"""Lets set-points drive something only while news of it is fresh."""


class DeadMan:
    """A functional stop, not an emergency stop: that one is a hardware circuit which removes power.

    Put it into the `guards` of a port. `drive(value)` is called at each `service`: with the newest value while that
    is younger than `limit` milliseconds, else with `stop`. It starts held. Once held or stale, only a fresh stop value
    and then an operator's act, `rearm`, let set-points drive again; no reconnect and no restart does."""

    def __init__(self, limit, stop, drive):
        self.limit = limit
        self.stop = stop
        self.drive = drive
        self.armed = False
        self.value = None
        drive(stop)

    def news(self, value, arrived):
        """A set-point, and when it arrived."""
        if self.value is None or arrived - self.arrived >= self.limit:
            self.armed = False  # the one before had lapsed by then
        self.value = value
        self.arrived = arrived

    def hold(self):
        """Stops and holds: an operator's act, a danger on the board, the end of a session."""
        self.armed = False
        self.value = None
        self.drive(self.stop)

    def rearm(self, now):
        """An operator's act, never the program's own. False: the newest value is not fresh, or not the stop value."""
        self.service(now)
        self.armed = self.armed or self.value == self.stop
        return self.armed

    def service(self, now):
        """Drives. `Port.service` calls it."""
        if self.value is None or now - self.arrived >= self.limit:
            self.armed = False
            self.value = None
        self.drive(self.value if self.armed else self.stop)
