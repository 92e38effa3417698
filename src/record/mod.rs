//! Measured records and forms: model, loader, schema.
