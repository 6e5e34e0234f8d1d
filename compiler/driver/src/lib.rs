//! driver
