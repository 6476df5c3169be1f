//! What facts, table cells and limits are made of: values with a dimension.

use std::cmp::Ordering;

use crownweir_quantity::{
    Angle, Flow, Length, Load, LoadUnit, NominalSize, Notation, Period, Ratio, SizeSystem, Slope,
    Temperature, Velocity, Volume,
};

/// A nominal size by its place on a rule set's ladder of sizes, the smallest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Size(pub u16);

/// A value with its dimension.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Value {
    /// A length.
    Length(Length),
    /// A slope.
    Slope(Slope),
    /// An angle.
    Angle(Angle),
    /// A nominal size.
    Size(Size),
    /// A load.
    Load(Load),
    /// A rate of flow.
    Flow(Flow),
    /// A volume.
    Volume(Volume),
    /// A temperature.
    Temperature(Temperature),
    /// A length of time.
    Period(Period),
    /// A velocity.
    Velocity(Velocity),
    /// A ratio of two like things.
    Ratio(Ratio),
    /// A number of things.
    Count(i64),
    /// A word of a vocabulary.
    Word(&'static str),
    /// Yes or no.
    Truth(bool),
}

/// What kind of thing a value is. Values of different dimensions are never compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[non_exhaustive]
pub enum Dimension {
    /// A length.
    Length,
    /// A slope.
    Slope,
    /// An angle.
    Angle,
    /// A nominal size.
    Size,
    /// A load.
    Load,
    /// A rate of flow.
    Flow,
    /// A volume.
    Volume,
    /// A temperature.
    Temperature,
    /// A length of time.
    Period,
    /// A velocity.
    Velocity,
    /// A ratio of two like things.
    Ratio,
    /// A number of things.
    Count,
    /// A word of the vocabulary given.
    Word(&'static [&'static str]),
    /// Yes or no.
    Truth,
}

impl Dimension {
    /// The dimension's name, as files and messages use it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Length => "length",
            Self::Slope => "slope",
            Self::Angle => "angle",
            Self::Size => "size",
            Self::Load => "load",
            Self::Flow => "flow",
            Self::Volume => "volume",
            Self::Temperature => "temperature",
            Self::Period => "period",
            Self::Velocity => "velocity",
            Self::Ratio => "ratio",
            Self::Count => "count",
            Self::Word(_) => "word",
            Self::Truth => "truth",
        }
    }

    /// Its name with the article before it.
    pub(crate) fn with_article(self) -> String {
        with_article(self.name())
    }

    /// Whether values of the dimension have an order, so that one can be the most or the least.
    #[must_use]
    pub const fn is_ordered(self) -> bool {
        !matches!(self, Self::Word(_) | Self::Truth)
    }

    /// How a value of the dimension is written.
    #[must_use]
    pub const fn example(self) -> &'static str {
        match self {
            Self::Length => "a length such as `6 ft`, `42 in` or `1067 mm`",
            Self::Slope => "a slope such as `1/4 in/ft`, `2 %` or `1:50`",
            Self::Angle => "an angle such as `45 deg`",
            Self::Size => "a nominal size such as `1-1/2 in` or `DN 50`",
            Self::Load => "a load such as `3 dfu` or `0.5 DU`",
            Self::Flow => "a flow such as `2 gpm` or `0.5 L/s`",
            Self::Volume => "a volume such as `1.6 gal` or `6 L`",
            Self::Temperature => "a temperature such as `0 F` or `-18 C`",
            Self::Period => "a time such as `15 min`",
            Self::Velocity => "a velocity such as `2 ft/s` or `0.7 m/s`",
            Self::Ratio => "a ratio such as `0.5`, `50 %` or `7/24`",
            Self::Count => "a whole number",
            Self::Word(_) => "one of the vocabulary's words",
            Self::Truth => "`true` or `false`",
        }
    }
}

/// The name of a dimension with the article before it.
pub(crate) fn with_article(name: &str) -> String {
    let article = if name == Dimension::Angle.name() {
        "an"
    } else {
        "a"
    };
    format!("{article} {name}")
}

impl Value {
    /// How two values of the same dimension compare; none for different dimensions, and for words and truth
    /// values that differ.
    #[must_use]
    #[inline]
    pub fn compare(self, other: Self) -> Option<Ordering> {
        match (self, other) {
            (Self::Length(a), Self::Length(b)) => Some(a.cmp(&b)),
            (Self::Slope(a), Self::Slope(b)) => Some(a.cmp(&b)),
            (Self::Angle(a), Self::Angle(b)) => Some(a.cmp(&b)),
            (Self::Size(a), Self::Size(b)) => Some(a.cmp(&b)),
            (Self::Load(a), Self::Load(b)) => Some(a.cmp(&b)),
            (Self::Flow(a), Self::Flow(b)) => Some(a.cmp(&b)),
            (Self::Volume(a), Self::Volume(b)) => Some(a.cmp(&b)),
            (Self::Temperature(a), Self::Temperature(b)) => Some(a.cmp(&b)),
            (Self::Period(a), Self::Period(b)) => Some(a.cmp(&b)),
            (Self::Velocity(a), Self::Velocity(b)) => Some(a.cmp(&b)),
            (Self::Ratio(a), Self::Ratio(b)) => Some(a.cmp(&b)),
            (Self::Count(a), Self::Count(b)) => Some(a.cmp(&b)),
            // Words of a vocabulary mostly stand in one place: then their letters need not be compared.
            (Self::Word(a), Self::Word(b)) => (std::ptr::eq(a, b) || a == b).then_some(Ordering::Equal),
            (Self::Truth(a), Self::Truth(b)) => (a == b).then_some(Ordering::Equal),
            _ => None,
        }
    }

    /// The value as people write it: lengths, slopes, flows and velocities in `notation`, angles to a tenth of a
    /// degree, sizes by their name on the ladder, loads in the ladder's unit.
    #[must_use]
    pub fn in_words(self, ladder: &Ladder, notation: Notation) -> String {
        match self {
            Self::Length(length) => length.in_notation(notation).to_string(),
            Self::Slope(slope) => slope.in_notation(notation).to_string(),
            Self::Angle(angle) => {
                let tenths = angle
                    .microdegrees()
                    .saturating_add(50_000)
                    .div_euclid(100_000)
                    .saturating_mul(100_000);
                let about = if tenths == angle.microdegrees() {
                    ""
                } else {
                    "about "
                };
                format!("{about}{}", Angle::from_microdegrees(tenths))
            }
            Self::Size(size) => match ladder.rung(size) {
                Some(rung) => rung.name.to_string(),
                None => "an unknown size".to_owned(),
            },
            Self::Load(load) => load.in_unit(ladder.load_unit.unwrap_or_default()).to_string(),
            Self::Flow(flow) => match notation {
                Notation::Inches => flow.to_string(),
                Notation::Millimetres => flow.in_litres_per_second(),
            },
            Self::Volume(volume) => volume.to_string(),
            Self::Temperature(temperature) => temperature.to_string(),
            Self::Period(period) => period.to_string(),
            Self::Velocity(velocity) => velocity.in_notation(notation),
            Self::Ratio(ratio) => ratio.for_people(),
            Self::Count(count) => count.to_string(),
            Self::Word(word) => word.replace('_', " "),
            Self::Truth(truth) => if truth { "yes" } else { "no" }.to_owned(),
        }
    }

    /// The name of the value's dimension.
    #[must_use]
    pub const fn dimension_name(self) -> &'static str {
        match self {
            Self::Length(_) => Dimension::Length.name(),
            Self::Slope(_) => Dimension::Slope.name(),
            Self::Angle(_) => Dimension::Angle.name(),
            Self::Size(_) => Dimension::Size.name(),
            Self::Load(_) => Dimension::Load.name(),
            Self::Flow(_) => Dimension::Flow.name(),
            Self::Volume(_) => Dimension::Volume.name(),
            Self::Temperature(_) => Dimension::Temperature.name(),
            Self::Period(_) => Dimension::Period.name(),
            Self::Velocity(_) => Dimension::Velocity.name(),
            Self::Ratio(_) => Dimension::Ratio.name(),
            Self::Count(_) => Dimension::Count.name(),
            Self::Word(_) => Dimension::Word(&[]).name(),
            Self::Truth(_) => Dimension::Truth.name(),
        }
    }

    /// The name of the value's dimension, and the value as the workings in a report have it, so that it can be reckoned with
    /// anew: of a size, word or truth value as files write it, else a whole number or fraction. Lengths are in nanometres,
    /// slopes fall over length, angles in microdegrees, loads in thousandths, flows in picolitres a minute, volumes in
    /// picolitres, temperatures in 900ths of a kelvin, times in seconds, velocities in nanometres a second, ratios in parts
    /// of 720 million. [`Dimension::read_exact`] reads it.
    #[must_use]
    pub fn exact(self, ladder: &Ladder) -> (&'static str, String) {
        let exact = match self {
            Self::Length(length) => length.nanometres().to_string(),
            Self::Slope(slope) => format!("{}/{}", slope.rise(), slope.run()),
            Self::Angle(angle) => angle.microdegrees().to_string(),
            Self::Size(size) => {
                let name = ladder.rung(size).map(|rung| rung.name.to_string());
                name.unwrap_or_default()
            }
            Self::Load(load) => load.thousandths().to_string(),
            Self::Flow(flow) => flow.picolitres_per_minute().to_string(),
            Self::Volume(volume) => volume.picolitres().to_string(),
            Self::Temperature(temperature) => temperature.kelvin_900ths().to_string(),
            Self::Period(period) => period.seconds().to_string(),
            Self::Velocity(velocity) => velocity.nanometres_per_second().to_string(),
            Self::Ratio(ratio) => ratio.parts_of_720_million().to_string(),
            Self::Count(count) => count.to_string(),
            Self::Word(word) => word.to_owned(),
            Self::Truth(truth) => truth.to_string(),
        };
        (self.dimension_name(), exact)
    }

    /// The value multiplied by a ratio; none where the dimension has no multiples, or on overflow.
    #[must_use]
    pub fn scaled(self, numerator: i64, denominator: i64) -> Option<Self> {
        match self {
            Self::Length(length) => length.checked_scale(numerator, denominator).map(Self::Length),
            Self::Load(load) => load.checked_scale(numerator, denominator).map(Self::Load),
            Self::Flow(flow) => flow.checked_scale(numerator, denominator).map(Self::Flow),
            Self::Volume(volume) => volume.checked_scale(numerator, denominator).map(Self::Volume),
            Self::Count(count) => {
                let product = count.checked_mul(numerator)?;
                let is_whole = product.checked_rem(denominator)? == 0;
                is_whole.then(|| product.checked_div(denominator).map(Self::Count))?
            }
            _ => None,
        }
    }

    /// The sum of two values of a dimension that adds up.
    #[must_use]
    pub fn plus(self, other: Self) -> Option<Self> {
        match (self, other) {
            (Self::Length(a), Self::Length(b)) => a.checked_add(b).map(Self::Length),
            (Self::Load(a), Self::Load(b)) => a.checked_add(b).map(Self::Load),
            (Self::Flow(a), Self::Flow(b)) => a.checked_add(b).map(Self::Flow),
            (Self::Velocity(a), Self::Velocity(b)) => a.checked_add(b).map(Self::Velocity),
            (Self::Ratio(a), Self::Ratio(b)) => a.checked_add(b).map(Self::Ratio),
            (Self::Count(a), Self::Count(b)) => a.checked_add(b).map(Self::Count),
            _ => None,
        }
    }

    /// The difference to another value of a dimension that adds up.
    #[must_use]
    pub fn minus(self, other: Self) -> Option<Self> {
        match (self, other) {
            (Self::Length(a), Self::Length(b)) => a.checked_sub(b).map(Self::Length),
            (Self::Load(a), Self::Load(b)) => a.checked_sub(b).map(Self::Load),
            (Self::Flow(a), Self::Flow(b)) => a.checked_sub(b).map(Self::Flow),
            (Self::Velocity(a), Self::Velocity(b)) => a.checked_sub(b).map(Self::Velocity),
            (Self::Ratio(a), Self::Ratio(b)) => a.checked_sub(b).map(Self::Ratio),
            (Self::Count(a), Self::Count(b)) => a.checked_sub(b).map(Self::Count),
            _ => None,
        }
    }
}

/// The nominal sizes of a rule set in order, with the names by which files call them, and the unit of its loads.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Ladder {
    pub(crate) rungs: Vec<Rung>,
    /// The unit that loads are counted in; without one, a load may be in any.
    pub(crate) load_unit: Option<LoadUnit>,
}

/// One nominal size.
#[derive(Debug, Clone, PartialEq)]
pub struct Rung {
    /// The name that messages use.
    pub name: NominalSize,
    /// Other names for the same size.
    pub also: Vec<NominalSize>,
    /// The diameter by which rules reckon half sizes and numbers of diameters.
    pub diameter: Length,
}

impl Ladder {
    /// The notation of the system by which the first size is named: a code that names its sizes by DN is read in
    /// millimetres.
    #[must_use]
    pub fn notation(&self) -> Notation {
        match self.rungs.first().map(|rung| rung.name.system()) {
            Some(SizeSystem::Dn | SizeSystem::Millimetre) => Notation::Millimetres,
            _ => Notation::Inches,
        }
    }

    /// The unit that the rule set counts loads in.
    #[must_use]
    pub fn load_unit(&self) -> LoadUnit {
        self.load_unit.unwrap_or_default()
    }

    /// The place of a name on the ladder.
    #[must_use]
    pub fn find(&self, name: NominalSize) -> Option<Size> {
        self.rungs
            .iter()
            .position(|rung| rung.name == name || rung.also.contains(&name))
            .and_then(|at| u16::try_from(at).ok())
            .map(Size)
    }

    /// The size at a place.
    #[must_use]
    pub fn rung(&self, size: Size) -> Option<&Rung> {
        self.rungs.get(usize::from(size.0))
    }

    /// Every size, the smallest first.
    pub fn sizes(&self) -> impl Iterator<Item = Size> + use<> {
        (0..u16::try_from(self.rungs.len()).unwrap_or(u16::MAX)).map(Size)
    }

    /// The ladder without the sizes above `largest`.
    #[must_use]
    pub fn up_to(&self, largest: Size) -> Self {
        let mut shorter = self.clone();
        shorter.rungs.truncate(usize::from(largest.0) + 1);
        shorter
    }

    /// The smallest size of at least the diameter given.
    #[must_use]
    pub fn at_least(&self, diameter: Length) -> Option<Size> {
        self.sizes()
            .find(|&size| self.rung(size).is_some_and(|rung| rung.diameter >= diameter))
    }

    /// The size a number of steps up.
    #[must_use]
    pub fn up(&self, size: Size, steps: u16) -> Option<Size> {
        let up = Size(size.0.checked_add(steps)?);
        self.rung(up).map(|_| up)
    }
}
