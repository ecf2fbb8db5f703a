//! The frame check sequence; and where it is wrong, which of the common ones would have matched.

use crc::{
    Algorithm, CRC_16_ARC, CRC_16_DNP, CRC_16_EN_13757, CRC_16_GENIBUS, CRC_16_IBM_3740, CRC_16_IBM_SDLC,
    CRC_16_KERMIT, CRC_16_MCRF4XX, CRC_16_MODBUS, CRC_16_SPI_FUJITSU, CRC_16_UMTS, CRC_16_USB, CRC_16_XMODEM,
    CRC_32_BZIP2, CRC_32_ISCSI, CRC_32_ISO_HDLC, CRC_32_JAMCRC, CRC_32_MPEG_2, Crc,
};

use super::{Explained, Frame};
use crate::endpoint::FcsName;

/// Names as in the RevEng catalogue of parametrised CRC algorithms.
const CRCS_16: [(&str, &Algorithm<u16>); 13] = [
    ("CRC-16/IBM-SDLC", &CRC_16_IBM_SDLC),
    ("CRC-16/KERMIT (initial value 0x0000, no final xor)", &CRC_16_KERMIT),
    ("CRC-16/MCRF4XX (no final xor)", &CRC_16_MCRF4XX),
    ("CRC-16/MODBUS (polynomial 0x8005)", &CRC_16_MODBUS),
    ("CRC-16/ARC (polynomial 0x8005)", &CRC_16_ARC),
    ("CRC-16/USB (polynomial 0x8005)", &CRC_16_USB),
    ("CRC-16/XMODEM (not reflected)", &CRC_16_XMODEM),
    ("CRC-16/IBM-3740 (not reflected)", &CRC_16_IBM_3740),
    ("CRC-16/GENIBUS (not reflected)", &CRC_16_GENIBUS),
    ("CRC-16/SPI-FUJITSU (not reflected, initial value 0x1D0F)", &CRC_16_SPI_FUJITSU),
    ("CRC-16/UMTS (polynomial 0x8005, not reflected)", &CRC_16_UMTS),
    ("CRC-16/DNP (polynomial 0x3D65)", &CRC_16_DNP),
    ("CRC-16/EN-13757 (polynomial 0x3D65, not reflected)", &CRC_16_EN_13757),
];

const CRCS_32: [(&str, &Algorithm<u32>); 5] = [
    ("CRC-32/ISO-HDLC", &CRC_32_ISO_HDLC),
    ("CRC-32/JAMCRC (no final xor)", &CRC_32_JAMCRC),
    ("CRC-32/ISCSI (polynomial 0x1EDC6F41)", &CRC_32_ISCSI),
    ("CRC-32/BZIP2 (not reflected)", &CRC_32_BZIP2),
    ("CRC-32/MPEG-2 (not reflected, no final xor)", &CRC_32_MPEG_2),
];

/// Every check of this width over some octets, least significant octet first; the first one is that of the wire.
fn all(fcs: FcsName, octets: &[u8]) -> Vec<(&'static str, Vec<u8>)> {
    match fcs {
        FcsName::Bits16 => CRCS_16
            .iter()
            .map(|(name, crc)| (*name, Crc::<u16>::new(crc).checksum(octets).to_le_bytes().to_vec()))
            .collect(),
        FcsName::Bits32 => CRCS_32
            .iter()
            .map(|(name, crc)| (*name, Crc::<u32>::new(crc).checksum(octets).to_le_bytes().to_vec()))
            .collect(),
    }
}

/// Checks the end of a frame; gives the frame without it, or nothing if it is too short for one.
pub(super) fn check(mut frame: Frame, fcs: FcsName, told: &mut Explained) -> Option<Frame> {
    let width = match fcs {
        FcsName::Bits16 => 2,
        FcsName::Bits32 => 4,
    };
    let least = if width == 2 { 4 } else { 5 };
    if frame.len() < least {
        let (at, octets) = (frame.first().map_or(0, |(at, _)| *at), values(&frame));
        told.part(at, &octets, "too short for a frame");
        told.wrong(
            at,
            "W-10",
            format!("{} octets without stuffing; a frame has at least {least}", frame.len()),
        );
        return None;
    }
    let tail = frame.split_off(frame.len() - width);
    let (body, sent) = (values(&frame), values(&tail));
    let at = tail.first().map_or(0, |(at, _)| *at);
    let checks = all(fcs, &body);
    let Some((name, right)) = checks.first() else { return Some(frame) };
    if *right == sent {
        told.part(at, &sent, format!("FCS: {name} over {} octets", body.len()));
        return Some(frame);
    }
    told.part(at, &sent, "FCS, WRONG");
    let mut what =
        format!("the FCS is {}; {name} over these {} octets is {}", hex(&sent), body.len(), hex(right));
    match other(fcs, &body, &sent) {
        Some(match_) => what.push_str(&format!(". It would be {match_}")),
        None => what.push_str(". No common check matches: some octet differs"),
    }
    told.wrong(at, "W-11", what);
    Some(frame)
}

/// Which other check, order or stretch of octets gives what was sent.
fn other(fcs: FcsName, body: &[u8], sent: &[u8]) -> Option<String> {
    let turned: Vec<u8> = sent.iter().rev().copied().collect();
    let stretches =
        [(body, ""), (body.get(1..).unwrap_or_default(), ", over the octets after the control octet only")];
    for (octets, over) in stretches {
        for (name, check) in all(fcs, octets) {
            if check == sent {
                return Some(format!("right as {name}{over}"));
            }
            if check == turned {
                return Some(format!("right as {name}, most significant octet first{over}"));
            }
        }
    }
    let (sum, xor) =
        body.iter().fold((0_u8, 0_u8), |(sum, xor), octet| (sum.wrapping_add(*octet), xor ^ octet));
    let plain = |value: u8| sent.iter().all(|&octet| octet == value || octet == 0) && sent.contains(&value);
    match () {
        () if plain(sum) => Some("a plain sum of all octets".into()),
        () if plain(xor) => Some("an exclusive or of all octets".into()),
        () => None,
    }
}

/// The octets of a frame without their places.
pub(super) fn values(frame: &[(usize, u8)]) -> Vec<u8> {
    frame.iter().map(|(_, octet)| *octet).collect()
}

/// `B6 AC`
pub(super) fn hex(octets: &[u8]) -> String {
    octets.iter().map(|octet| format!("{octet:02X}")).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check values of the RevEng catalogue over "123456789", as published.
    #[test]
    fn every_check_is_the_one_of_the_catalogue() {
        let of = |fcs| -> Vec<u32> {
            let value =
                |octets: Vec<u8>| octets.iter().rev().fold(0, |all, &octet| all << 8 | u32::from(octet));
            all(fcs, b"123456789").into_iter().map(|(_, octets)| value(octets)).collect()
        };
        let wanted = [
            0x906E, 0x2189, 0x6F91, 0x4B37, 0xBB3D, 0xB4C8, 0x31C3, 0x29B1, 0xD64E, 0xE5CC, 0xFEE8, 0xEA82,
            0xC2B7,
        ];
        assert_eq!(of(FcsName::Bits16), wanted);
        let wanted = [0xCBF4_3926, 0x340B_C6D9, 0xE306_9283, 0xFC89_1918, 0x0376_E6E7];
        assert_eq!(of(FcsName::Bits32), wanted);
    }
}
