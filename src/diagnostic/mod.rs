//! Messages about bad input: code, labels, help, and three printers.
