//! What a frame says, for the books and the ladder.

use bellwire::{
    fcs::Fcs16,
    frame::{Header, Kind, Open, Read, Reader},
    framing::Framing,
};

/// A frame that was read without a link.
#[derive(Debug, Clone)]
pub struct Sight {
    pub header: Header,
    pub open: Option<Open>,
    pub payload: Vec<u8>,
}

impl Sight {
    /// Reads what a board has sent.
    pub fn of<F: Framing + Default>(octets: &[u8]) -> Self {
        let mut reader = Reader::<F, Fcs16, 64>::new(F::default());
        let mut rest = octets;
        while !rest.is_empty() {
            let (done, read) = reader.feed(rest);
            rest = &rest[done..];
            if let Some(Read::Frame(view)) = read {
                return Self { header: view.header, open: view.open(), payload: view.payload.to_vec() };
            }
        }
        panic!("a board sent {octets:02X?}")
    }

    /// In words, at most 34 characters.
    pub fn words(&self) -> String {
        let Header { kind, number, ack, .. } = self.header;
        let mut words = match (&self.open, self.payload.get(1)) {
            (Some(open), _) => {
                let echo = open.echo.map_or("-".to_owned(), |echo| echo.to_string());
                let ask = if open.ask { " asks" } else { "" };
                format!("OPEN {} echo {echo}{ask}", open.mine)
            }
            (None, _) if kind == Kind::Ack => "ACK".to_owned(),
            (None, Some(message)) => format!("{} {message} #{number}", kind.name()),
            (None, None) if self.payload.is_empty() => format!("void #{number}"),
            (None, None) => kind.name().to_owned(),
        };
        if let Some(ack) = ack {
            words += &format!(" next {}", ack.next);
            if let Some(held) = ack.held {
                words += &format!(" held {held:b}");
            }
        }
        words
    }
}
