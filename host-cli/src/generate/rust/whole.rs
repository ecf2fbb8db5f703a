//! The enum of all messages: encoding, decoding and serde.

use super::{Named, doc, lifetime};
use crate::{agreement::Agreement, generate::prose, messages::MessageKind};

/// Most columns of a line of code, as rustfmt has them.
const COLUMNS: usize = 100;

pub(super) fn write(agreement: &Agreement, names: &[Named], defmt: &str, out: &mut String) {
    let messages = agreement.table.messages();
    let lends = messages.iter().any(|message| !lifetime(message).is_empty());
    let (life, some) = if lends { ("<'a>", "<'_>") } else { ("", "") };
    let each: Vec<_> = messages.iter().zip(names).collect();
    out.push_str("\n/// Every message.\n#[derive(Debug, Clone, Copy, PartialEq)]\n");
    out.push_str(defmt);
    out.push_str(&format!("pub enum Message{life} {{\n"));
    for (message, named) in &each {
        if message.fields.is_empty() {
            doc("    ", &prose::of_message(message, &agreement.hub), out);
            out.push_str(&format!("    {},\n", named.kind));
        } else {
            out.push_str(&format!("    /// Message {}, {}.\n", message.number, message.name));
            out.push_str(&format!("    {}({}{}),\n", named.kind, named.kind, lifetime(message)));
        }
    }
    out.push_str(&format!("}}\n\nimpl Message{some} {{\n"));
    numbers(&each, out);
    check(&each, out);
    out.push_str(ENCODE);
    out.push_str("}\n\n");
    decode(&each, life, out);
    serialize(&each, some, out);
    deserialize(&each, lends, out);
}

const ENCODE: &str = "
    /// Writes the message to the front of `room` and gives the octets written.
    ///
    /// # Errors
    /// A field that is out of range or too long, with its name; or too little room.
    pub fn encode<'room>(&self, room: &'room mut [u8]) -> Result<&'room mut [u8], Error> {
        self.check()?;
        let number = self.number();
        postcard::to_slice(self, room).map_err(|_| Error {
            number,
            field: \"\",
            fault: Fault::NoRoom,
        })
    }
";

type Each<'t> = [(&'t MessageKind, &'t Named)];

/// An arm of a `match`, in the form that rustfmt gives it.
fn arm(indent: usize, pattern: &str, value: &str, out: &mut String) {
    let lead = " ".repeat(indent);
    let line = format!("{lead}{pattern} => {value},\n");
    if line.len() <= COLUMNS + 1 {
        out.push_str(&line);
    } else {
        out.push_str(&format!("{lead}{pattern} => {{\n{lead}    {value}\n{lead}}}\n"));
    }
}

fn numbers(each: &Each<'_>, out: &mut String) {
    out.push_str("    /// Number of the message on the wire.\n    #[must_use]\n");
    out.push_str("    pub const fn number(&self) -> u32 {\n        match self {\n");
    for (message, named) in each {
        let body = if message.fields.is_empty() { "" } else { "(_)" };
        arm(12, &format!("Self::{}{body}", named.kind), &message.number.to_string(), out);
    }
    out.push_str("        }\n    }\n\n");
    out.push_str("    /// Name of the message, as in the agreement.\n    #[must_use]\n");
    out.push_str("    pub const fn name(&self) -> &'static str {\n        match self {\n");
    for (message, named) in each {
        let body = if message.fields.is_empty() { "" } else { "(_)" };
        arm(12, &format!("Self::{}{body}", named.kind), &format!("\"{}\"", message.name), out);
    }
    out.push_str("        }\n    }\n\n");
}

fn check(each: &Each<'_>, out: &mut String) {
    out.push_str("    /// Whether every field lies within its range.\n    ///\n");
    out.push_str("    /// # Errors\n    /// The first field that does not, with its name.\n");
    out.push_str("    pub fn check(&self) -> Result<(), Error> {\n        let checked = match self {\n");
    for (message, named) in each {
        if message.fields.is_empty() {
            arm(12, &format!("Self::{}", named.kind), "Ok(())", out);
        } else {
            arm(12, &format!("Self::{}(body)", named.kind), "body.check()", out);
        }
    }
    out.push_str("        };\n        checked.map_err(|(field, fault)| Error {\n");
    out.push_str(
        "            number: self.number(),\n            field,\n            fault,\n        })\n    }\n",
    );
}

fn decode(each: &Each<'_>, life: &str, out: &mut String) {
    let (of, lent) = if life.is_empty() { ("", "&[u8]") } else { ("<'a>", "&'a [u8]") };
    out.push_str(&format!("impl{of} Message{life} {{\n"));
    out.push_str("    /// Reads a whole message; text and octets stay where they are.\n    ///\n");
    out.push_str("    /// # Errors\n    /// The first thing that is wrong, with the field's name.\n");
    out.push_str(&format!("    pub fn decode(octets: {lent}) -> Result<Self, Error> {{\n"));
    out.push_str("        let error = |number, (field, fault)| Error {\n            number,\n            field,\n            fault,\n        };\n");
    out.push_str("        let Ok((number, mut rest)) = postcard::take_from_bytes::<u32>(octets) else {\n");
    out.push_str("            return Err(error(0, (\"\", Fault::NoSuchMessage)));\n        };\n");
    out.push_str(
        "        let message = Self::take(number, &mut rest).map_err(|wrong| error(number, wrong))?;\n",
    );
    out.push_str("        if !rest.is_empty() {\n            return Err(error(number, (\"\", Fault::LeftOver)));\n        }\n");
    out.push_str("        message.check()?;\n        Ok(message)\n    }\n\n");
    out.push_str("    /// Takes the fields of the message with this number.\n");
    out.push_str(&format!(
        "    fn take(number: u32, rest: &mut {lent}) -> Result<Self, Wrong> {{\n        match number {{\n"
    ));
    for (message, named) in each {
        let kind = &named.kind;
        let value = match message.fields.is_empty() {
            true => format!("Ok(Self::{kind})"),
            false => format!("{kind}::take(rest).map(Self::{kind})"),
        };
        arm(12, &message.number.to_string(), &value, out);
    }
    out.push_str("            _ => Err((\"\", Fault::NoSuchMessage)),\n        }\n    }\n}\n\n");
}

fn serialize(each: &Each<'_>, some: &str, out: &mut String) {
    out.push_str("/// The number of the message is the enum's discriminant, gaps and all.\n");
    out.push_str(&format!("impl Serialize for Message{some} {{\n"));
    out.push_str("    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {\n");
    out.push_str("        let (all, number, name) = (\"Message\", self.number(), self.name());\n        match self {\n");
    for (message, named) in each {
        if message.fields.is_empty() {
            arm(12, &format!("Self::{}", named.kind), "to.serialize_unit_variant(all, number, name)", out);
        } else {
            let value = "to.serialize_newtype_variant(all, number, name, body)";
            arm(12, &format!("Self::{}(body)", named.kind), value, out);
        }
    }
    out.push_str("        }\n    }\n}\n\n");
}

fn deserialize(each: &Each<'_>, lends: bool, out: &mut String) {
    let life = if lends { "<'de>" } else { "" };
    out.push_str(&format!("impl<'de> Deserialize<'de> for Message{life} {{\n"));
    out.push_str("    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {\n");
    out.push_str("        from.deserialize_enum(\"Message\", &[], Numbers)\n    }\n}\n\n");
    out.push_str(
        "/// Reads a message by its number.\nstruct Numbers;\n\nimpl<'de> Visitor<'de> for Numbers {\n",
    );
    out.push_str(&format!("    type Value = Message{life};\n\n"));
    out.push_str("    fn expecting(&self, to: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {\n");
    out.push_str("        to.write_str(\"the number of a message\")\n    }\n\n");
    out.push_str("    fn visit_enum<A: EnumAccess<'de>>(self, from: A) -> Result<Self::Value, A::Error> {\n");
    out.push_str("        let (number, body) = from.variant::<u32>()?;\n        match number {\n");
    for (message, named) in each {
        let kind = &named.kind;
        let value = match message.fields.is_empty() {
            true => format!("body.unit_variant().map(|()| Message::{kind})"),
            false => format!("body.newtype_variant().map(Message::{kind})"),
        };
        arm(12, &message.number.to_string(), &value, out);
    }
    out.push_str(
        "            _ => Err(serde::de::Error::custom(\"no such message\")),\n        }\n    }\n}\n",
    );
}
