//! Quantities as whole numbers of the smallest useful unit. What is out of range never exists.
//!
//! The ranges here are those outside which a value cannot be true; what is merely unlikely is a warning and
//! belongs beside the step that raises it.

use serde::{Deserialize, Serialize};

/// A number that cannot be a quantity of its kind.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what} must lie between {low} and {high}, and {got} does not")]
pub struct OutOfRange {
    what: &'static str,
    low: i64,
    high: i64,
    got: i64,
}

/// Declares a quantity: its name in messages, its stored integer, and the range in which it can be true.
macro_rules! quantities {
    ($($(#[$doc:meta])* $name:ident($int:ty) $what:literal $low:literal ..= $high:literal),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, utoipa::ToSchema)]
        #[serde(try_from = "i64", into = "i64")]
        #[schema(value_type = i64)]
        pub struct $name($int);

        impl $name {
            /// The least value there is.
            pub const MIN: Self = Self($low);
            /// The greatest value there is.
            pub const MAX: Self = Self($high);

            /// Reads a quantity.
            ///
            /// # Errors
            /// [`OutOfRange`] when it cannot be true.
            pub const fn new(value: i64) -> Result<Self, OutOfRange> {
                if value < $low || value > $high {
                    return Err(OutOfRange { what: $what, low: $low, high: $high, got: value });
                }
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
                Ok(Self(value as $int))
            }

            /// A quantity known when the program is built; a wrong one fails the build.
            #[must_use]
            #[allow(clippy::panic)]
            pub const fn constant(value: i64) -> Self {
                match Self::new(value) {
                    Ok(quantity) => quantity,
                    Err(_) => panic!("a constant is out of its range"),
                }
            }

            /// The stored whole number.
            #[must_use]
            pub const fn get(self) -> i64 { self.0 as i64 }
        }

        impl TryFrom<i64> for $name {
            type Error = OutOfRange;
            fn try_from(value: i64) -> Result<Self, OutOfRange> { Self::new(value) }
        }

        impl From<$name> for i64 {
            fn from(quantity: $name) -> i64 { quantity.get() }
        }
    )*};
}

quantities! {
    /// Degrees north in hundred-thousandths: about a metre on the ground.
    LatitudeE5(i32) "a latitude in hundred-thousandths of a degree" -9_000_000 ..= 9_000_000,
    /// Degrees east in hundred-thousandths.
    LongitudeE5(i32) "a longitude in hundred-thousandths of a degree" -18_000_000 ..= 18_000_000,
    /// Grams, at most ten tonnes. Differences are plain `i64`, since they may be negative.
    Grams(i64) "a weight in grams" 0 ..= 10_000_000,
    /// The net content of a pack, tenths of a gram, at most 100 kg.
    TenthsGrams(i32) "a weight in tenths of a gram" 0 ..= 1_000_000,
    /// Water in honey, hundredths of a per cent of mass.
    Moisture(u16) "a moisture in hundredths of a per cent" 0 ..= 10_000,
    /// Refractive index at 589.3 nm, ten-thousandths.
    RefractiveIndex(u16) "a refractive index in ten-thousandths" 13_000 ..= 16_000,
    /// Degrees Brix on the sucrose scale, hundredths. Not 100 minus moisture.
    Brix(u16) "a Brix value in hundredths" 0 ..= 9_500,
    /// Temperature, tenths of a degree Celsius.
    Temperature(i16) "a temperature in tenths of a degree Celsius" -400 ..= 1_500,
    /// A scatter of weights, hundredths of a gram.
    HundredthsGrams(i32) "a weight in hundredths of a gram" 0 ..= 1_000_000,
    /// Thousandths of something that cannot exceed the whole.
    PerMille(u16) "a number of thousandths" 0 ..= 1_000,
    /// Whole per cent of something that cannot exceed the whole.
    Percent(u8) "a percentage" 0 ..= 100,
    /// A count of frames in one box.
    FrameCount(u8) "a number of frames" 0 ..= 30,
    /// How full a box is, in quarters.
    Quarters(u8) "a fullness in quarters" 0 ..= 4,
    /// A count of jars, labels, boxes or colonies.
    Count(u32) "a count" 0 ..= 1_000_000,
    /// Volume in millilitres.
    Millilitres(u32) "a volume in millilitres" 1 ..= 10_000_000,
    /// A size of mesh in micrometres.
    Micrometres(u32) "a mesh in micrometres" 1 ..= 20_000,
    /// Whole days.
    Days(u16) "a number of days" 0 ..= 3_660,
    /// Colour of honey, mm on the Pfund scale, which ends at 140 (from memory).
    Pfund(u8) "a colour in mm Pfund" 0 ..= 140,
    /// Minutes of work.
    Minutes(u16) "a number of minutes" 0 ..= 10_000,
    /// Relative humidity of air, hundredths of a per cent.
    Humidity(u16) "a relative humidity in hundredths of a per cent" 0 ..= 10_000,
    /// Pressure of the air, pascals, from high mountains to deep valleys.
    Pascals(u32) "a pressure of the air in pascals" 60_000 ..= 110_000,
    /// Turns a minute.
    Turns(u16) "a speed in turns a minute" 0 ..= 5_000,
    /// A relative centrifugal force, hundredths of standard gravity.
    Gravities(u32) "a force in hundredths of standard gravity" 0 ..= 1_000_000,
    /// A length in millimetres.
    Millimetres(u16) "a length in millimetres" 1 ..= 10_000,
    /// Viscosity, millipascal seconds.
    Viscosity(u32) "a viscosity in millipascal seconds" 1 ..= 100_000_000,
    /// Density, grams per litre.
    GramsPerLitre(u16) "a density in grams per litre" 1_000 ..= 1_600,
    /// Minutes of warmth, at most ten years.
    WarmMinutes(u32) "a time in minutes" 0 ..= 5_260_000,
    /// Hydroxymethylfurfural, hundredths of a milligram per kilogram.
    Hmf(u32) "an HMF content in hundredths of a milligram per kilogram" 0 ..= 1_000_000,
    /// Diastase number (Schade), tenths.
    Diastase(u16) "a diastase number in tenths" 0 ..= 1_000,
    /// An amount of any unit, thousandths.
    Thousandths(i64) "an amount in thousandths" 0 ..= 1_000_000_000,
    /// Whole months.
    Months(u16) "a number of months" 0 ..= 1_200,
    /// Whole hours.
    Hours(u16) "a number of hours" 0 ..= 8_784,
    /// A count of frame places in an extractor.
    Places(u16) "a number of frame places" 2 ..= 200,
    /// Area in square millimetres.
    SquareMillimetres(u32) "an area in square millimetres" 1 ..= 10_000_000,
    /// Minutes east of UTC.
    OffsetMinutes(i16) "an offset from UTC in minutes" -840 ..= 840,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_weight_below_nothing_is_refused_with_its_range() {
        let refused = Grams::new(-1).map_err(|refused| refused.to_string());
        assert_eq!(
            refused,
            Err("a weight in grams must lie between 0 and 10000000, and -1 does not".to_owned())
        );
    }

    #[test]
    fn moisture_of_140_per_cent_does_not_exist() {
        assert!(Moisture::new(14_000).is_err());
        assert_eq!(Moisture::constant(1_780).get(), 1_780);
    }
}
