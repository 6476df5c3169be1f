//! What cannot be written.

use std::error::Error;

/// Why something does not go into the text or file that was asked for. It says what the writer says.
#[derive(Debug, thiserror::Error)]
#[error(transparent)]
pub struct Unwritable(Box<dyn Error + Send + Sync>);

impl Unwritable {
    /// For a writer's error.
    #[must_use]
    pub fn new(error: impl Error + Send + Sync + 'static) -> Self {
        Self(Box::new(error))
    }
}
