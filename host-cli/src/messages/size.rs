//! The fewest and the most octets that a message takes.

use super::{Field, Form, MessageKind};

impl MessageKind {
    /// The most octets of its payload, message number included, over all values that its fields allow.
    #[must_use]
    pub fn most_octets(&self) -> usize {
        self.fields.iter().fold(varint(u64::from(self.number)), |sum, field| sum + field.most_octets())
    }
}

impl Field {
    /// The fewest octets of the field, over all values that it allows.
    #[must_use]
    pub fn least_octets(&self) -> usize {
        self.least(&self.form)
    }

    fn least(&self, form: &Form) -> usize {
        match form {
            Form::F32 => 4,
            Form::F64 => 8,
            Form::List(inner, count) => usize::from(*count) * self.least(inner),
            Form::U16 | Form::U32 | Form::U64 | Form::I16 | Form::I32 | Form::I64 => {
                let (low, high) = self.whole_range(form);
                self.whole(form, 0.clamp(low, high))
            }
            _ => 1,
        }
    }

    /// Octets of one number of a variable-length form.
    fn whole(&self, form: &Form, number: i128) -> usize {
        let travels = match form {
            Form::U16 | Form::U32 | Form::U64 => number,
            // Zigzag: 0, -1, 1, -2, 2 …
            _ if number < 0 => -2 * number - 1,
            _ => 2 * number,
        };
        varint(u64::try_from(travels).unwrap_or(u64::MAX))
    }

    /// The most octets of the field, over all values that it allows.
    #[must_use]
    pub fn most_octets(&self) -> usize {
        self.most(&self.form)
    }

    fn most(&self, form: &Form) -> usize {
        match form {
            Form::U8 | Form::I8 | Form::Bool => 1,
            Form::F32 => 4,
            Form::F64 => 8,
            Form::Choice(words) => varint(words.len().saturating_sub(1) as u64),
            Form::Flags(8, _) => 1,
            // Bits without a name may get one later: all of them count.
            Form::Flags(bits, _) => varint(u64::MAX >> (64 - u32::from(*bits).clamp(1, 64))),
            Form::Text(most) | Form::Octets(most) => varint((*most).into()) + usize::from(*most),
            Form::List(inner, count) => usize::from(*count) * self.most(inner),
            Form::Optional(inner) => 1 + self.most(inner),
            Form::U16 | Form::U32 | Form::U64 | Form::I16 | Form::I32 | Form::I64 => {
                let (low, high) = self.whole_range(form);
                self.whole(form, low).max(self.whole(form, high))
            }
        }
    }
}

/// Octets of a variable-length number: seven bits each.
pub(super) fn varint(value: u64) -> usize {
    (64 - value.leading_zeros()).div_ceil(7).max(1) as usize
}

#[cfg(test)]
mod tests {
    use super::{super::Range, *};

    #[test]
    fn the_longest_forms_are_those_of_postcard() {
        let most = |form| Field::new("x", form).most_octets();
        let wanted = |value: &[u8]| value.len();
        assert_eq!(most(Form::U16), wanted(&postcard::to_allocvec(&u16::MAX).unwrap()));
        assert_eq!(most(Form::I16), wanted(&postcard::to_allocvec(&i16::MIN).unwrap()));
        assert_eq!(most(Form::U32), wanted(&postcard::to_allocvec(&u32::MAX).unwrap()));
        assert_eq!(most(Form::I32), wanted(&postcard::to_allocvec(&i32::MAX).unwrap()));
        assert_eq!(most(Form::U64), wanted(&postcard::to_allocvec(&u64::MAX).unwrap()));
        assert_eq!(most(Form::I64), wanted(&postcard::to_allocvec(&i64::MIN).unwrap()));
        assert_eq!(most(Form::Flags(16, vec![])), 3);
        assert_eq!(most(Form::Flags(64, vec![])), 10);
        assert_eq!(most(Form::Text(200)), 202);
        assert_eq!(most(Form::Optional(Box::new(Form::List(Box::new(Form::F64), 3)))), 25);
        assert_eq!(most(Form::Choice(vec![String::new(); 128])), 1);
        assert_eq!(most(Form::Choice(vec![String::new(); 129])), 2);
    }

    #[test]
    fn a_range_makes_it_shorter() {
        let mut field = Field::new("x", Form::I16);
        for (low, high) in [(-64, 63), (-65, 0), (0, 64), (-8192, 8191), (i16::MIN, i16::MAX)] {
            field.range = Some(Range::Whole(low.into(), high.into()));
            let longest = [low, high].map(|end| postcard::to_allocvec(&end).unwrap().len());
            assert_eq!(field.most_octets(), longest[0].max(longest[1]), "{low} to {high}");
        }
    }

    #[test]
    fn the_fewest_octets_are_those_of_the_number_nearest_to_zero() {
        let mut field = Field::new("x", Form::I16);
        for (low, high, nearest) in [(-64, 63, 0), (64, 70, 64), (63, 900, 63), (-900, -65, -65_i16)] {
            field.range = Some(Range::Whole(low, high));
            assert_eq!(
                field.least_octets(),
                postcard::to_allocvec(&nearest).unwrap().len(),
                "{low} to {high}"
            );
        }
        let least = |form| Field::new("x", form).least_octets();
        assert_eq!((least(Form::Text(9)), least(Form::Flags(64, vec![])), least(Form::U64)), (1, 1, 1));
        assert_eq!(least(Form::Optional(Box::new(Form::F64))), 1);
        assert_eq!(least(Form::List(Box::new(Form::F32), 3)), 12);
    }
}
