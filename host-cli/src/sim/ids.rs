//! Names of the parts of a network.

/// A node of a [`Network`](super::Network), in the order of adding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct NodeId(pub usize);

/// A line of a [`Network`](super::Network), in the order of adding; the ears on a medium are lines too.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct LineId(pub usize);

/// A shared medium of a [`Network`](super::Network), in the order of adding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct MediumId(pub usize);

/// One end of a line: a port of a node.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Plug {
    /// The node.
    pub node: NodeId,
    /// Its port, from 0.
    pub port: usize,
}

impl Plug {
    /// Port 0 of a node.
    #[must_use]
    pub const fn of(node: NodeId) -> Self {
        Self { node, port: 0 }
    }
}
