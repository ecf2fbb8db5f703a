//! What ports and directions are called.

use crate::endpoint::PortInfo;

/// What ports and their two directions are called.
#[derive(Debug, Clone, Default)]
pub struct Names {
    /// Names of the ports by index; shown where there is more than one.
    pub ports: Vec<String>,
    /// What frames that come in and frames that go out are called, at most 5 columns each; `in` and `out` if empty.
    pub sides: Option<[String; 2]>,
    /// The same for single ports by index, where those differ.
    pub by_port: Vec<Option<[String; 2]>>,
}

impl Names {
    /// The names of a source's ports.
    #[must_use]
    pub fn of(ports: &[PortInfo], sides: Option<[String; 2]>) -> Self {
        let names = ports.iter().map(|port| port.name.clone()).collect();
        Self { ports: names, sides, by_port: ports.iter().map(|port| port.sides.clone()).collect() }
    }
}
