//! Exact numbers, dimensions, units, dates, and the reading and printing of quantities.
