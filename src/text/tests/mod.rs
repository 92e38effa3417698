//! Tests of the room.
