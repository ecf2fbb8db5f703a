//! Which values a field must be checked for, beyond what its type holds.

use crate::messages::{Field, Form, Range};

/// What to check, for each value inside a list or an optional field.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Check {
    /// Nothing: the type says it all.
    Nothing,
    /// A whole number: not below, not above; `None` where the type says so already.
    Whole(Option<i128>, Option<i128>),
    /// A floating-point number of 32 bits: the outermost that lie within the range.
    Single(f32, f32),
    /// One of 64 bits.
    Double(f64, f64),
    /// At most so many octets.
    Most(u16),
}

impl Check {
    /// What a field must be checked for.
    #[must_use]
    pub(super) fn of(field: &Field) -> Self {
        let form = field.form.inner();
        match (form, field.range, form.limits()) {
            (Form::Text(most) | Form::Octets(most), ..) => Self::Most(*most),
            (_, Some(Range::Whole(low, high)), Some((least, largest))) => {
                match ((low > least).then_some(low), (high < largest).then_some(high)) {
                    (None, None) => Self::Nothing,
                    (low, high) => Self::Whole(low, high),
                }
            }
            (Form::F32, Some(Range::Float(low, high)), _) => Self::Single(above(low), -above(-high)),
            (_, Some(Range::Float(low, high)), _) => Self::Double(low, high),
            _ => Self::Nothing,
        }
    }
}

/// The smallest number of 32 bits that is not below `low`.
#[allow(clippy::cast_possible_truncation)]
fn above(low: f64) -> f32 {
    let near = low as f32;
    if f64::from(near) < low { near.next_up() } else { near }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ends_of_ranges_are_the_outermost_numbers_within() {
        for end in [0.1, -0.1, 60.0, 1e30, f64::from(f32::MAX), 16_777_217.0] {
            let (low, high) = (above(end), -above(-end));
            assert!(f64::from(low) >= end && f64::from(low.next_down()) < end, "{end}");
            assert!(f64::from(high) <= end && f64::from(high.next_up()) > end, "{end}");
        }
    }
}
