//! One function per user action, and the host that it asks for files.
