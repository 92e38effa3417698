//! Start-up only.

fn main() {}
