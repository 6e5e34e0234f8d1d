//! stdlib
