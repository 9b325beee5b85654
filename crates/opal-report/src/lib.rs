//! Machine output, sheets and cards.
