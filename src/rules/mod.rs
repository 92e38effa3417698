//! Class rules: model, loader, library of versions, lint of single rules.
