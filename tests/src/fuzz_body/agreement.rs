//! Agreement files and what the tool makes of octets with them.

use bellwire_cli::{
    agreement::{Agreement, Fault},
    endpoint::{FcsName, FramingName, Wiring},
    explain::Explained,
    observatory,
};

/// Reads any text as an agreement: it is refused with faults that can be shown, or what comes of it holds together.
///
/// # Panics
/// If it does not.
pub fn agreement(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else { return };
    match Agreement::read(text) {
        Err(faults) => faults_are_clear(text, &faults),
        Ok(agreement) => holds_together(text, &agreement),
    }
}

/// Faults have a place in the file, a sentence, and nothing that steers a terminal.
///
/// # Panics
/// If one does not.
pub fn faults_are_clear(text: &str, faults: &[Fault]) {
    assert!(!faults.is_empty());
    let lines = text.split('\n').count();
    for fault in faults {
        assert!((1..=lines).contains(&fault.line), "{fault:?}");
        let line = text.split('\n').nth(fault.line - 1).unwrap_or_default();
        assert!((1..=line.chars().count() + 1).contains(&fault.column), "{fault:?}");
        let told = fault.to_string();
        assert!(fault.what.len() > 8 && told.len() < 600, "{fault:?}");
        assert!(!told.chars().any(char::is_control), "{fault:?}");
    }
}

fn holds_together(text: &str, agreement: &Agreement) {
    assert_eq!(Agreement::read(text).as_ref(), Ok(agreement));
    let table = &agreement.table;
    assert_eq!(table.messages().is_empty(), table.fingerprint() == 0);
    for message in table.messages() {
        assert!(message.most_octets() <= 1024);
        assert_eq!(table.find(&message.name), Some(message));
        let Some(stop) = &message.stop else { continue };
        assert!(stop.len() <= message.most_octets());
        let (_, mut values) = table.read(message.class, stop).expect("the value that stops is a value");
        assert!(values.all(|(field, value)| field.allows(&value)), "{message:?}");
    }
}

/// Explains any octets; the first three choose framing, FCS and map.
///
/// # Panics
/// If a part or a fault lies outside of the octets.
pub fn explain(data: &[u8]) {
    let Some((&[framing, fcs, map], octets)) = data.split_first_chunk::<3>() else { return };
    let wiring = Wiring {
        framing: FramingName::ALL[usize::from(framing) % FramingName::ALL.len()],
        fcs: FcsName::ALL[usize::from(fcs) % FcsName::ALL.len()],
        map: u32::from(map),
    };
    let told = Explained::new(octets, wiring, &observatory::table());
    assert!(told.parts.iter().all(|part| part.at < octets.len().max(1)), "{told:?}");
    assert!(told.wrong.iter().all(|wrong| wrong.at <= octets.len()), "{told:?}");
}
