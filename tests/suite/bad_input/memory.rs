//! Peak memory of the program on hostile input.
