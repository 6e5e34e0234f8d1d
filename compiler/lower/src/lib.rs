//! lower
