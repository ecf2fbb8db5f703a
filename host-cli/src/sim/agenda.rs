//! When each part of a network is next due, so that the next event is found without asking all parts.

use super::moment::Moment;
use std::collections::BTreeSet;

/// A part of a network that has a time of its own, in the order in which events of equal time are taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Part {
    Medium(usize),
    Line(usize),
    Node(usize),
}

/// Each part and when it is next due; the earliest is found, and a part is moved, in logarithmic time.
#[derive(Debug, Clone, Default)]
pub(super) struct Agenda {
    due: BTreeSet<(Moment, Part)>,
    media: Vec<Option<Moment>>,
    lines: Vec<Option<Moment>>,
    nodes: Vec<Option<Moment>>,
}

impl Agenda {
    /// The part is next due at this moment, or not at all.
    pub(super) fn set(&mut self, part: Part, at: Option<Moment>) {
        let (moments, place) = match part {
            Part::Medium(place) => (&mut self.media, place),
            Part::Line(place) => (&mut self.lines, place),
            Part::Node(place) => (&mut self.nodes, place),
        };
        if moments.len() <= place {
            moments.resize(place + 1, None);
        }
        let before = core::mem::replace(&mut moments[place], at);
        if before == at {
            return;
        }
        if let Some(before) = before {
            self.due.remove(&(before, part));
        }
        if let Some(at) = at {
            self.due.insert((at, part));
        }
    }

    /// The earliest part, and at equal times the first in order.
    pub(super) fn first(&self) -> Option<(Moment, Part)> {
        self.due.first().copied()
    }

    /// The earliest part that is not among these nodes.
    pub(super) fn first_but(&self, nodes: &[usize]) -> Option<(Moment, Part)> {
        let among = |part: Part| matches!(part, Part::Node(node) if nodes.contains(&node));
        self.due.iter().copied().find(|(_, part)| !among(*part))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_earliest_comes_first_and_at_equal_times_media_lines_nodes() {
        let mut agenda = Agenda::default();
        let five = Some(Moment::from_millis(5));
        for part in [Part::Node(1), Part::Node(0), Part::Line(7), Part::Medium(2)] {
            agenda.set(part, five);
        }
        agenda.set(Part::Node(3), Some(Moment::from_millis(4)));
        let mut order = Vec::new();
        while let Some((_, part)) = agenda.first() {
            order.push(part);
            agenda.set(part, None);
        }
        assert_eq!(order, [Part::Node(3), Part::Medium(2), Part::Line(7), Part::Node(0), Part::Node(1)]);
    }

    #[test]
    fn a_part_that_moves_is_found_only_where_it_is() {
        let mut agenda = Agenda::default();
        for millis in [9, 3, 6] {
            agenda.set(Part::Node(0), Some(Moment::from_millis(millis)));
        }
        assert_eq!(agenda.first(), Some((Moment::from_millis(6), Part::Node(0))));
        assert_eq!(agenda.first_but(&[0]), None);
    }
}
