//! Set-points as Rust types.

use serde::Deserialize;

use super::DeadMan;
use crate::{
    frame::Class,
    link::{Event, Message},
    typed,
};

impl<T: Copy + PartialEq> DeadMan<T> {
    /// Takes an event of the link whole: the end of a session and a mismatch hold, as in [`handle_event`](Self::handle_event), and a set-point
    /// from which `pick` takes a value is news. Set-points that do not decode, and messages of other classes, are no news.
    pub fn handle_typed<'e, M: Deserialize<'e>>(
        &mut self,
        event: &Event<'e>,
        pick: impl FnOnce(M) -> Option<T>,
    ) {
        self.handle_event(event);
        if let Event::Message(Message { class: Class::SetPoint, payload, arrived, .. }) = *event
            && let Ok(message) = typed::read::<M>(payload)
            && let Some(value) = pick(message)
        {
            self.handle_set_point(value, arrived);
        }
    }
}
