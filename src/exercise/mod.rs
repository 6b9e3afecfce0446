//! Where you are in a practice pattern, and how it went.
