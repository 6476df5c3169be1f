//! Shared helpers of the end-to-end tests.
