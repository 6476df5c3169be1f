//! A network as the text of a file, which reads as the same network.
//!
//! It writes no file, and states nothing that the network does not hold.

mod braces;
mod error;
mod figures;
mod hoist;
mod lines;
mod passages;
mod paths;
mod text;

use crate::model::Network;
pub use error::{WriteError, WriteFault};
use figures::Figures;
use paths::Paths;

impl Network {
    /// The network as a network file in YAML, read or edited, to be saved. What is read from it is the same in all that a
    /// check looks at, every quantity to the last digit; written once more it is the same text. Each thing has a line, and
    /// runs stand as a path from node to node, drains before vents, in the order in which they are numbered.
    ///
    /// - Lengths, slopes, heights and places that follow from others are left to follow. One is stated where it would come
    ///   out otherwise: figures that were stated twice may differ by as much as rounding explains.
    /// - A slope that was chosen between bounds is stated.
    /// - What models, repetitions and defaults stood for is written out, and comments are not kept. What most pipes of a run
    ///   share is stated for the run.
    /// - Where there is no pipe yet, the point of disposal stands alone.
    /// - A run that no pipe belongs to is left out. Where two of one name can only be told apart by their names, as may be
    ///   after edits of runs that had none, one has a number behind it.
    /// - A pipe that was added and says by which opening it enters a fitting, without its being stated, has it stated where
    ///   no order of the runs says so.
    ///
    /// ```
    /// # let file = "
    /// # crownweir: network/1
    /// # name: drain
    /// # drains:
    /// #   - {slope: 1/4 in/ft, path: [{fitting: {name: a}}, {pipe: {name: p, length: 3 ft}}, {disposal: {name: z}}]}
    /// # ";
    /// use crownweir_network::{Edit, Network, PipeProperty};
    ///
    /// let mut network = Network::read("n.yaml", file.as_bytes(), &Default::default())?;
    /// network.edit(&[Edit::Pipe {
    ///     pipe: "p".to_owned(),
    ///     set: PipeProperty::Size("3 in".parse().ok()),
    /// }])?;
    /// let text = network.to_yaml()?;
    /// assert_eq!(
    ///     text,
    ///     "\
    /// crownweir: network/1
    /// name: drain
    /// units: inches
    /// drains:
    ///   - size: 3 in
    ///     slope: 1/4 in/ft
    ///     path:
    ///       - fitting: {name: a}
    ///       - pipe: {name: p, length: 3 ft}
    ///       - disposal: {name: z}
    /// "
    /// );
    /// let again = Network::read("again.yaml", text.as_bytes(), &Default::default())?;
    /// assert_eq!(again.to_yaml()?, text);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// What no network file can state. None of a network that was read. An edit can bring it about, such as one that gives
    /// a height to a node on no storey; and passages or tests that were put in place of the network's own.
    pub fn to_yaml(&self) -> Result<String, WriteError> {
        let mut faults = error::Faults::default();
        let paths = Paths::of(self);
        let figures = Figures::of(self, &paths, &mut faults);
        let text = text::write(self, &paths, &figures, &mut faults);
        faults.or(text)
    }
}
