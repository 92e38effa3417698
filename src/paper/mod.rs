//! Papers: layout, fonts, PDF.
