//! What a board states about its link.

use bellwire::{
    link::Config,
    time::{Duration, LONGEST},
};

use crate::{handle::give, status::Status, words};

/// What a board states about its link. Fill it with `bellwire_settings_uart` and change what differs.
#[derive(Debug, Clone, Copy)]
#[repr(C)]
pub struct Settings {
    /// The board's long name; 0: none.
    pub identity: u64,
    /// Fingerprint of the agreement; 0: none, matches any.
    pub fingerprint: u32,
    /// The board's own number, a different one at each start.
    pub number: u32,
    /// Octets per second on the line; 0: so fast that it does not matter.
    pub octet_rate: u32,
    /// Longest pause before the link is kept alive, µs; 0: no keep-alive and no promise to the peer. At most 8 500 000 count for the promise.
    pub keep_alive: u32,
    /// Where the own number comes from: a `bellwire_own`.
    pub own: u8,
    /// Why the board started, as section 4 of the wire text numbers it: 0 not known, 1 power, 2 pin, 3 watchdog, 4 software, 5 low voltage, 6 wake,
    /// 7 fault.
    pub cause: u8,
    /// Sendings of an errand or report in all, at least 1.
    pub tries: u8,
}

impl Settings {
    pub(crate) fn config(self) -> Result<Config, Status> {
        let Self { identity, fingerprint, number, octet_rate, keep_alive, own, cause, tries } = self;
        let own = words::own(own, number)?;
        if tries == 0 || keep_alive > LONGEST.as_ticks() {
            return Err(Status::NoSuchValue);
        }
        let keep_alive = Duration::from_ticks(keep_alive);
        let cause = words::cause(cause)?;
        Ok(Config { identity, fingerprint, octet_rate, keep_alive, cause, tries, ..Config::uart(0, own) })
    }
}

/// The settings for two boards on a UART of `baud` bits per second (8N1): keep-alive after 1 s, five tries. `own` (a `bellwire_own`) and `number` are
/// the board's own number.
#[must_use]
#[no_mangle]
pub unsafe extern "C" fn bellwire_settings_uart(
    settings: *mut Settings,
    baud: u32,
    own: u8,
    number: u32,
) -> Status {
    let fill = || {
        let config = Config::uart(baud, words::own(own, number)?);
        let filled = Settings {
            identity: config.identity,
            fingerprint: config.fingerprint,
            number,
            octet_rate: config.octet_rate,
            keep_alive: config.keep_alive.as_ticks(),
            own,
            cause: 0,
            tries: config.tries,
        };
        // SAFETY: the caller's word.
        unsafe { give(settings, filled) }
    };
    fill().into()
}
