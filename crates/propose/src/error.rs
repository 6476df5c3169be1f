//! Why nothing can be proposed or written.

use crownweir_document::Diagnostics;
use crownweir_evaluate::UnknownSizes;

/// Why no remedies can be looked for.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MendError {
    /// The file holds no network.
    #[error(transparent)]
    Network(#[from] Diagnostics),
    /// The rule set does not know a size.
    #[error(transparent)]
    Sizes(#[from] UnknownSizes),
}

/// Why a network's file cannot be changed as asked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ChangeError {
    /// The file holds no network before anything is changed.
    #[error(transparent)]
    Network(#[from] Diagnostics),
    /// A change has no place in the file: the element is not defined where the change asks for it, or what is written
    /// there cannot be changed by itself.
    #[error("what is to be changed of `{element}` has no place in the file")]
    NoPlace {
        /// The element that was to be changed.
        element: String,
    },
    /// With a change made, the file would hold no network.
    #[error("after what is changed of `{element}` the file would hold no network:\n{problems}")]
    Breaks {
        /// The element that was to be changed.
        element: String,
        /// What would be wrong, at its places in the changed text.
        #[source]
        problems: Diagnostics,
    },
}
