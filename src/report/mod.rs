//! Reports as text, JSON and JUnit.
