//! syntax
