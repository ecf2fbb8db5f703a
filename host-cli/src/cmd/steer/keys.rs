//! Where keys come from: the terminal, or a test.

use std::{
    io::{self, IsTerminal},
    time::Duration,
};

use crossterm::{
    event::{self, Event, KeyCode, KeyEvent, KeyEventKind, KeyModifiers},
    terminal,
};

use rustix::event::{PollFd, PollFlags, Timespec, poll};

use super::helm::Key;
use crate::{exit::Exit, fail::Fail};

/// A source of keys.
pub(super) trait Keys {
    /// The next key that was pressed, if any; does not wait.
    ///
    /// # Errors
    /// If the source is lost: then the program must stop and be silent.
    fn next(&mut self) -> Result<Option<Key>, Fail>;

    /// Gives the terminal back, suspends the program, and takes the terminal again when it goes on.
    ///
    /// # Errors
    /// If the terminal is lost.
    fn suspend(&mut self) -> Result<(), Fail>;
}

/// The terminal, key by key. It gets its own mode back when this is dropped.
#[derive(Debug)]
pub(super) struct Terminal(());

impl Terminal {
    /// Whether there is a terminal to take.
    ///
    /// # Errors
    /// If standard input is none.
    pub(super) fn check() -> Result<(), Fail> {
        if io::stdin().is_terminal() {
            return Ok(());
        }
        Err(Fail::new(Exit::Usage, "steer takes its keys from a terminal, and standard input is none")
            .next("to send one value from a script: bellwire inject ENDPOINT dome-rate rate=0 --arm"))
    }

    /// Takes the terminal.
    ///
    /// # Errors
    /// If standard input is no terminal.
    pub(super) fn take() -> Result<Self, Fail> {
        Self::check()?;
        terminal::enable_raw_mode().map_err(|e| lost(&e))?;
        Ok(Self(()))
    }

    /// A terminal that has been closed gives no key and no error: it must be asked.
    fn is_there() -> Result<(), Fail> {
        let stdin = io::stdin();
        let mut asked = [PollFd::new(&stdin, PollFlags::empty())];
        poll(&mut asked, Some(&Timespec { tv_sec: 0, tv_nsec: 0 })).map_err(|e| lost(&e.into()))?;
        let gone = PollFlags::HUP | PollFlags::ERR | PollFlags::NVAL;
        if asked.iter().any(|asked| asked.revents().intersects(gone)) {
            return Err(Fail::new(Exit::Io, "the terminal is lost: silent from here on"));
        }
        Ok(())
    }
}

impl Drop for Terminal {
    fn drop(&mut self) {
        let _ = terminal::disable_raw_mode();
    }
}

fn lost(error: &io::Error) -> Fail {
    Fail::io("the terminal is lost", error)
}

impl Keys for Terminal {
    fn next(&mut self) -> Result<Option<Key>, Fail> {
        Self::is_there()?;
        while event::poll(Duration::ZERO).map_err(|e| lost(&e))? {
            if let Some(key) = meaning(&event::read().map_err(|e| lost(&e))?) {
                return Ok(Some(key));
            }
        }
        Ok(None)
    }

    fn suspend(&mut self) -> Result<(), Fail> {
        terminal::disable_raw_mode().map_err(|e| lost(&e))?;
        let stopped = signal_hook::low_level::emulate_default_handler(signal_hook::consts::SIGTSTP);
        stopped.map_err(|e| lost(&e))?;
        terminal::enable_raw_mode().map_err(|e| lost(&e))
    }
}

/// What an event of the terminal means. Every key that means nothing else is stop.
fn meaning(event: &Event) -> Option<Key> {
    match event {
        Event::Key(KeyEvent { kind: KeyEventKind::Release, .. }) | Event::Resize(..) => None,
        Event::Key(key) => Some(key_meaning(key)),
        _ => Some(Key::Stop),
    }
}

fn key_meaning(key: &KeyEvent) -> Key {
    let control = key.modifiers.contains(KeyModifiers::CONTROL);
    match key.code {
        KeyCode::Char('c' | 'd') if control => Key::Leave,
        KeyCode::Char('z') if control => Key::Suspend,
        _ if !(key.modifiers - KeyModifiers::SHIFT).is_empty() => Key::Stop,
        KeyCode::Left => Key::Left,
        KeyCode::Right => Key::Right,
        KeyCode::Up => Key::Up,
        KeyCode::Down => Key::Down,
        KeyCode::Char('a') => Key::Arm,
        KeyCode::Char('q') | KeyCode::Esc => Key::Leave,
        _ => Key::Stop,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pressed(code: KeyCode, modifiers: KeyModifiers) -> Option<Key> {
        meaning(&Event::Key(KeyEvent::new(code, modifiers)))
    }

    #[test]
    fn every_key_but_the_bound_ones_is_stop() {
        let none = KeyModifiers::NONE;
        assert_eq!(pressed(KeyCode::Left, none), Some(Key::Left));
        assert_eq!(pressed(KeyCode::Char('a'), none), Some(Key::Arm));
        assert_eq!(pressed(KeyCode::Char('c'), KeyModifiers::CONTROL), Some(Key::Leave));
        assert_eq!(pressed(KeyCode::Char('z'), KeyModifiers::CONTROL), Some(Key::Suspend));
        for code in (' '..='~').filter(|c| !matches!(c, 'a' | 'q')).map(KeyCode::Char) {
            assert_eq!(pressed(code, none), Some(Key::Stop), "{code:?}");
        }
        for code in
            [KeyCode::Enter, KeyCode::Tab, KeyCode::F(1), KeyCode::Home, KeyCode::Backspace, KeyCode::Delete]
        {
            assert_eq!(pressed(code, none), Some(Key::Stop), "{code:?}");
        }
        assert_eq!(pressed(KeyCode::Left, KeyModifiers::ALT), Some(Key::Stop));
        assert_eq!(pressed(KeyCode::Char('a'), KeyModifiers::CONTROL), Some(Key::Stop));
        assert_eq!(meaning(&Event::FocusLost), Some(Key::Stop));
        assert_eq!(meaning(&Event::Resize(80, 24)), None);
    }
}
