//! Words for people: every variant says something, no two of one kind say the same, and what is shown is what is said.
#![cfg(feature = "postcard")]

use std::collections::BTreeSet;

use bellwire::{
    frame::{Class, Extension, MessageNumber, ResetCause},
    framing::{NoRoom, NotAir, NotSent},
    link::{EndReason, SendError},
    port::PostError,
    setpoint::{Motion, RearmError, Reason, Stop},
    stats::{Counter, Statistics},
    timeline, transfer,
    typed::{ReadError, WriteError},
};

/// Each says something of at least this many letters, and all differ.
fn differ(words: &[&str], letters: usize) {
    assert!(words.iter().all(|word| word.len() >= letters), "{words:?}");
    assert_eq!(words.iter().collect::<BTreeSet<_>>().len(), words.len(), "{words:?}");
}

const REASONS: [Reason; 5] =
    [Reason::Boot, Reason::LinkEnded(EndReason::Silence), Reason::Mismatch, Reason::NoNews, Reason::Operator];

#[test]
fn reasons_of_a_stop_and_what_is_missing_to_start() {
    differ(&REASONS.map(Reason::words), 12);
    let missing = [RearmError::Mismatch, RearmError::NoNews, RearmError::NotAtStop];
    differ(&missing.map(RearmError::words), 12);
    for reason in REASONS {
        assert_eq!(reason.to_string(), reason.words());
        for motion in [Motion::Held(reason), Motion::Stale(reason), Motion::MustRearm(reason)] {
            assert_eq!(motion.reason(), Some(reason));
        }
    }
    for missing in missing {
        assert_eq!(missing.to_string(), missing.words());
    }
    assert_eq!(Motion::Running.reason(), None);
    differ(
        &[
            Motion::Held(Reason::Boot),
            Motion::Running,
            Motion::Stale(Reason::Boot),
            Motion::MustRearm(Reason::Boot),
        ]
        .map(Motion::name),
        4,
    );
    assert_eq!(Stop::ALL.map(Stop::name), ["hold", "brake", "coast", "off"]);
}

#[test]
fn causes_of_a_reset() {
    let causes = [
        ResetCause::Unknown,
        ResetCause::Power,
        ResetCause::Pin,
        ResetCause::Watchdog,
        ResetCause::Software,
        ResetCause::LowVoltage,
        ResetCause::Wake,
        ResetCause::Fault,
    ];
    differ(&causes.map(ResetCause::reason), 8);
    assert_eq!(ResetCause::Watchdog.reason(), "the watchdog");
}

#[test]
fn errors_of_writing_reading_and_sending() {
    let write = [WriteError::NoRoom, WriteError::NoMessageNumber, WriteError::NotWritable];
    differ(&write.map(WriteError::words), 12);
    let number = MessageNumber::new(1).expect("small");
    let read = [
        ReadError::BadMessageNumber,
        ReadError::UnknownMessage(number),
        ReadError::CutShort,
        ReadError::BadField,
        ReadError::LeftOver { octets: 1 },
    ];
    differ(&read.map(ReadError::words), 12);
    for error in write {
        assert_eq!(error.to_string(), error.words());
        assert_eq!(PostError::Write(error).to_string(), format!("not sent: {error}"));
    }
    for error in read {
        assert_eq!(error.to_string(), error.words());
    }
    let send = [
        SendError::NotOpen,
        SendError::QueueFull,
        SendError::TooLong { limit: 48 },
        SendError::BadMessageNumber,
    ];
    let words = send.map(|error| error.to_string());
    differ(&words.each_ref().map(String::as_str), 12);
    assert!(words[2].contains("48"), "{words:?}");
    for error in send {
        assert_eq!(PostError::Send(error).to_string(), error.to_string());
    }
    assert!(NoRoom.to_string().len() > 12);
}

#[test]
fn what_was_refused_of_an_exchange_of_times_or_of_a_transfer() {
    use timeline::Refused::{BadLength, Impossible, NotAsked, TooLate};
    for refused in [BadLength, NotAsked, TooLate, Impossible] {
        assert_eq!(refused.to_string(), refused.reason());
    }
    differ(&[BadLength, NotAsked, TooLate, Impossible].map(timeline::Refused::reason), 12);
    let refused = [
        transfer::Refused::BadLength,
        transfer::Refused::BadField,
        transfer::Refused::BadPart,
        transfer::Refused::OutsideWindow,
        transfer::Refused::Repeat,
        transfer::Refused::OldRound,
        transfer::Refused::OtherTransfer,
        transfer::Refused::OtherRole,
        transfer::Refused::Over,
    ];
    for refused in refused {
        assert_eq!(refused.to_string(), refused.reason());
    }
    differ(&refused.map(transfer::Refused::reason), 12);
}

#[test]
fn words_of_the_wire_text() {
    let classes = [Class::SetPoint, Class::Errand, Class::Report, Class::Notice];
    assert_eq!(classes.map(Class::name), ["set-point", "errand", "report", "notice"]);
    let extensions =
        [Extension::Probe, Extension::ProbeAnswer, Extension::StatisticsRequest, Extension::Statistics];
    let names = ["probe", "probe answer", "statistics request", "statistics"];
    assert_eq!(extensions.map(Extension::name), names);
}

#[test]
fn what_a_radio_board_says() {
    let why = [NotSent::Other, NotSent::Busy, NotSent::Airtime, NotSent::TooLong, NotSent::Broken];
    differ(&why.map(NotSent::reason), 12);
    let not = [NotAir::OtherFrame, NotAir::UnknownForm, NotAir::BadLength, NotAir::UnknownReason];
    differ(&not.map(NotAir::reason), 12);
    for not in not {
        assert_eq!(not.to_string(), not.reason());
    }
}

#[test]
fn counters() {
    differ(&Counter::ALL.map(Counter::name), 6);
    assert_eq!(Statistics::default(), Statistics::new());
    assert_eq!(transfer::Whole::default().crc(), transfer::crc_of(&[]), "of nothing");
}
