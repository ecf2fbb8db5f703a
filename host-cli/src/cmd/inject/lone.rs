//! Octets without a session: raw, a lone frame, or a frame that is wrong on purpose.

use std::time::{Duration, Instant};

use bellwire::frame::{Addresses, Header};

use super::message::Message;
use crate::{
    args::inject::{InjectArgs, Wrong},
    endpoint::{Endpoint, Item, Loss},
    exit::Exit,
    fail::Fail,
    shell::Shell,
    talk::{codec, linger, open_endpoint, wiring_of},
};

/// Sends the octets once, or again and again, and says what was sent.
///
/// # Errors
/// If the endpoint cannot be opened or is lost.
pub(super) fn send(
    args: &InjectArgs,
    octets: &[u8],
    what: &str,
    shell: &mut Shell<'_>,
) -> Result<Exit, Fail> {
    let mut endpoint = open_endpoint(&args.endpoint, &args.line, Loss::End)?;
    let start = Instant::now();
    wait_for_somebody(args, endpoint.as_mut(), shell)?;
    let mut times = 0_u32;
    loop {
        endpoint.write(octets)?;
        times += 1;
        let Some(every) = args.every else { break };
        let due = every.saturating_mul(times);
        if shell.stop.is_set() || args.for_time.is_some_and(|time| due >= time) {
            break;
        }
        while start.elapsed() < due && !shell.stop.is_set() {
            endpoint.next(due.saturating_sub(start.elapsed()).min(Duration::from_millis(50)))?;
        }
    }
    linger(endpoint.as_mut(), &args.endpoint)?;
    let count = if times == 1 { "once".to_owned() } else { format!("{times} times") };
    let text = format!("{what}, {} octets, {count}; without a session no outcome can be told", octets.len());
    if args.json {
        shell.line(serde_json::json!({
            "record": "event", "event": "sent", "octets": octets.len(), "times": times, "text": text
        }))?;
    } else {
        shell.line(format_args!("sent: {text}"))?;
    }
    Ok(Exit::Good)
}

fn wait_for_somebody(
    args: &InjectArgs,
    endpoint: &mut dyn Endpoint,
    shell: &mut Shell<'_>,
) -> Result<(), Fail> {
    let until = Instant::now() + args.wait;
    while !endpoint.present() && !shell.stop.is_set() {
        if Instant::now() >= until {
            return Err(Fail::new(Exit::Unavailable, format!("nobody opened it within {:?}", args.wait))
                .at(args.endpoint.to_string())
                .next("start the other program first, or give it longer with --wait"));
        }
        if let Some(Item::End) = endpoint.next(Duration::from_millis(50))? {
            return Ok(());
        }
    }
    Ok(())
}

/// One frame on the wire, without a session: session bits and tag are zero.
#[must_use]
pub(super) fn frame(args: &InjectArgs, message: &Message, to: Option<u8>) -> Vec<u8> {
    let wiring = wiring_of(&args.endpoint, &args.line);
    let codec = codec(wiring);
    let tag = wiring.framing.is_unordered().then_some(0);
    let header = Header {
        tag,
        addresses: to.map(|to| Addresses { to, from: 0 }),
        ..Header::new(message.class.kind())
    };
    let mut frame = codec.frame(&header, &message.payload);
    match args.wrong {
        None => codec.encode(&frame),
        Some(Wrong::Fcs) => {
            if let Some(last) = frame.last_mut() {
                *last ^= 0x5A;
            }
            codec.encode(&frame)
        }
        Some(Wrong::Cut) => {
            frame.truncate(frame.len() - frame.len() / 3);
            codec.encode(&frame)
        }
        Some(Wrong::Doubled) => codec.encode(&frame).repeat(2),
    }
}
