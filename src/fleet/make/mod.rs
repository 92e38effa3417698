//! Invented boats of any class, made of nothing but its rules file and a number.
