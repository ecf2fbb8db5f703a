//! The `bellwire` command.

fn main() {}
