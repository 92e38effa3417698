//! Source text, spans and a tree of nodes with spans: no domain words.
