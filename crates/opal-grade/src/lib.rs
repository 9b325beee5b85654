//! Words for grade, identity and disclosure.
