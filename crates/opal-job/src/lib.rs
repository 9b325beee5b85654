//! One stone's steps, the ports to the outside, and the use cases.
