//! The command `inject`: one message with its outcome, a lone frame, or raw octets.

mod lone;
pub mod message;
mod session;

use super::named::for_leaf;
use bellwire::frame::Class;
use message::{Message, Motion, message};

use crate::{
    args::{agreed::AgreedArgs, inject::InjectArgs},
    caution,
    exit::Exit,
    fail::Fail,
    lines,
    shell::Shell,
    talk::wiring_of,
};

/// Runs `inject`.
///
/// # Errors
/// What is wrong with the words, what is not allowed without `--arm`, or what the endpoint says.
pub fn run(args: &InjectArgs, shell: &mut Shell<'_>) -> Result<Exit, Fail> {
    if let Some(raw) = &args.raw {
        if raw.0.is_empty() {
            return Err(Fail::new(Exit::Usage, "--raw holds no octets")
                .next("give hex digits, for instance --raw '00 a1'"));
        }
        let framing = wiring_of(&args.endpoint, &args.line).framing;
        caution::open_way("not sent: raw octets may move something, and do not go", framing, args.open_way)?;
        return lone::send(args, &raw.0, "raw octets", shell);
    }
    let payload = args.payload.as_ref().map(|octets| octets.0.as_slice());
    let table = args.agreed.table()?;
    let message = message(&args.message, payload, &table)?;
    if message.payload.len() > 1024 {
        return Err(Fail::new(
            Exit::NotGood,
            format!("not sent: {} octets are too long, 1024 is the most", message.payload.len()),
        ));
    }
    let known = table.read(message.class, &message.payload).map(|(known, _)| known);
    for_leaf(known, args.to.as_deref(), &table)?;
    guard(args, &message, shell)?;
    if args.lone || args.wrong.is_some() {
        let to = args.to.as_deref().map(|to| AgreedArgs::leaf(to, &table)).transpose()?;
        let octets = lone::frame(args, &message, to);
        return lone::send(args, &octets, &message.name, shell);
    }
    session::send(args, &message, &table, shell)
}

/// Lets nothing through that may move something without `--arm`.
fn guard(args: &InjectArgs, message: &Message, shell: &mut Shell<'_>) -> Result<(), Fail> {
    let framing = wiring_of(&args.endpoint, &args.line).framing;
    let why = match message.motion {
        Motion::None => return Ok(()),
        Motion::Moves => format!("{} moves something", message.name),
        Motion::NotKnown if message.class == Class::SetPoint => {
            format!("{} is a set-point, and set-points move something", message.name)
        }
        Motion::NotKnown if framing.is_unordered() => format!("{} may move something", message.name),
        Motion::NotKnown => {
            shell.remark(lines::wrap("", caution::MOVING));
            return Ok(());
        }
    };
    caution::open_way(&format!("not sent: {why}, and not"), framing, args.open_way)?;
    if args.arm {
        shell.remark(lines::wrap("", caution::MOVING));
        return Ok(());
    }
    Err(Fail::new(Exit::Usage, format!("not sent: {why}"))
        .next("add --arm if nobody and nothing is in the way, with the emergency stop at hand"))
}
