//! Ctrl-C and its relatives: the first asks the command to finish, the second ends it at once.

use signal_hook::{consts::TERM_SIGNALS, flag};

use crate::{exit::Exit, shell::Stop};

/// Makes SIGINT, SIGTERM and SIGQUIT set `stop`; a second one ends the process without clean-up.
pub fn watch(stop: &Stop) {
    for signal in TERM_SIGNALS {
        // Order matters: the second signal finds the flag set by the first. A system that refuses keeps its default: ending at once.
        let _ = flag::register_conditional_shutdown(*signal, Exit::NotGood.code().into(), stop.flag());
        let _ = flag::register(*signal, stop.flag());
    }
}
