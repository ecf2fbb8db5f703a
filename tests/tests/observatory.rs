//! The lessons and the tool hold the same agreement: each message of the lessons is the same octets in the tool, with the same class.

use bellwire::typed;
use bellwire_cli::observatory as tool;
use bellwire_examples::messages as lessons;

fn octets(message: &lessons::Message) -> Vec<u8> {
    let mut out = [0; 64];
    let len = typed::write(message, &mut out).expect("64 octets are enough").len();
    out[..len].to_vec()
}

#[test]
fn messages_of_the_lessons_are_those_of_the_tool() {
    use lessons::Message as L;
    use tool::Message as T;
    assert_eq!(lessons::FINGERPRINT, tool::FINGERPRINT);
    let pairs = [
        (L::DomeRate { rate: -125 }, T::DomeRate { rate: -125 }),
        (L::DomeGoto { azimuth: 12_340 }, T::DomeGoto { azimuth: 12_340 }),
        (L::Rearm, T::ReArm),
        (L::Shutter(lessons::ShutterMove::Stop), T::Shutter { action: tool::ShutterMove::Stop }),
        (
            L::DomeState { azimuth: 1, rate: 2, shutter: 3, motion: lessons::DomeMotion::Rearm },
            T::DomeState { azimuth: 1, rate: 2, shutter: 3, motion: tool::Motion::ReArm },
        ),
        (L::DomeAlarm(lessons::Alarm::Limit), T::DomeAlarm { reason: tool::Alarm::Limit }),
        (L::FocuserGoto { position: 70_000 }, T::FocuserGoto { position: 70_000 }),
        (
            L::FocuserState { position: 300, temperature: -1250 },
            T::FocuserState { position: 300, temperature: -1250 },
        ),
        (
            L::Weather { wind: 43, rain: true, sky: -1850, light: 70_000 },
            T::Weather { wind: 43, rain: true, sky: -1850, light: 70_000 },
        ),
    ];
    for (lesson, tool) in pairs {
        assert_eq!(octets(&lesson), tool.payload(), "{lesson:?}");
    }
}
