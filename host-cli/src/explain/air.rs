//! What a radio board puts around a datagram on its UART (section 11.5 of the wire text).

use bellwire::framing::{Air, NotAir};

use super::{
    Explained, Frame,
    crcs::values,
    head::{Rest, number},
};

/// Tells the octets of this layer of a checked frame without its FCS; gives the datagram, if there is one in it.
pub(super) fn explain(mut frame: Frame, told: &mut Explained) -> Result<Option<Frame>, Frame> {
    let octets = values(&frame);
    let air = match Air::read(&octets) {
        Err(NotAir::OtherFrame) => {
            let at = frame.first().map_or(0, |(at, _)| *at);
            told.wrong(at, "W-63", "a frame, but none of a radio board: its layer is extension 0x16, AIR");
            return Err(frame);
        }
        air => air,
    };
    let datagram = match air {
        Ok(Air::Send { datagram } | Air::Heard { datagram, .. }) => datagram.len(),
        _ => 0,
    };
    let datagram = frame.split_off(frame.len() - datagram);
    let mut rest = Rest::new(&frame);
    let mut part = |count: usize, what: &dyn Fn(&[u8]) -> String| {
        let (at, octets) = rest.take(count);
        if !octets.is_empty() {
            told.part(at, &octets, what(&octets));
        }
        at
    };
    part(1, &|_| "control: extended".to_owned());
    part(1, &|_| "extension 0x16: air".to_owned());
    let form_at = part(1, &|form| {
        let name = match form {
            [1] => "send this datagram",
            [2] => "this datagram was heard",
            [3] => "it goes out",
            [4] => "it does not go out",
            _ => "not known",
        };
        format!("form {}: {name}", number(form))
    });
    let clock = |time: &[u8]| format!("time {} µs by the board's clock", number(time));
    let tail = |_: &[u8]| "tail: the last two octets of the datagram".to_owned();
    match air {
        Ok(Air::Heard { strength, .. }) => {
            part(4, &clock);
            part(1, &|_| match strength {
                Some(dbm) => format!("strength {dbm} dBm"),
                None => "strength not told".to_owned(),
            });
        }
        Ok(Air::Sent { .. }) => {
            part(4, &clock);
            part(2, &tail);
        }
        Ok(Air::NotSent { why, .. }) => {
            part(1, &|_| format!("reason {}: {}", why as u8, why.reason()));
            part(2, &tail);
        }
        Ok(Air::Send { .. }) => {}
        Err(error) => {
            part(usize::MAX, &|_| "body".to_owned());
            told.wrong(form_at, "W-63", error.reason());
        }
    }
    Ok(Some(datagram).filter(|datagram| !datagram.is_empty()))
}
