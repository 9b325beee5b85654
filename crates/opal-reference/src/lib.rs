//! Data of the trade and of handbooks, with a source for every row.
