//! From what a refractometer shows to the water in honey (MO-4 to MO-7), and back to its scales.
//!
//! Not here: what that water means for keeping (`fermentation`), legal and house limits (`limits`), which of several
//! readings decides (MO-10), the age of a meter's check (MO-8).
//!
//! The formula and the temperature coefficient are those of S. Bogdanov, Book of Honey, chapter 4 (editions 2009
//! to 2016), after Wedmore 1955 and the table of Chataway 1932; read. The formula is printed with a logarithm
//! whose characteristic alone is negative: the constant is -1 + 0.73190 = -0.2681.

use serde::{Deserialize, Serialize};

use crate::described::answered;
use crate::form::Form;
use crate::limits::{READABLE_FROM, READABLE_TO};
use crate::science::number::{fraction, per_cent, whole};
use crate::science::span::{OutsideSpan, Span};
use crate::units::{Brix, Moisture, RefractiveIndex, Temperature};

/// What the meter showed, on the scale it has. The reading itself is always kept as well (MO-6).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// The refractive index, ten-thousandths.
    RefractiveIndex(RefractiveIndex),
    /// Degrees on the sucrose scale, hundredths.
    Brix(Brix),
    /// Water in honey, hundredths of a per cent.
    Moisture(Moisture),
}

/// The water in honey that follows from one reading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measured {
    /// The water at 20 °C, the value that counts; rounded once, half away from zero.
    pub moisture: Moisture,
    /// The same reading turned into water without any correction for temperature.
    pub uncorrected: Moisture,
    /// The refractive index at 20 °C that belongs to `moisture`, ten-thousandths; `None` where the meter shows
    /// water and nothing was corrected, since then no index was ever used.
    pub at_20: Option<RefractiveIndex>,
    /// Everything that makes the value less certain than it looks, in the order of [`Amber`].
    pub amber: Vec<Amber>,
}

/// Why a moisture is shown amber. It still counts (MO-10).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, utoipa::ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Amber {
    /// The honey was colder than 10 °C or warmer than 30 °C, compensating meter or not (MO-7).
    HoneyTemperature,
    /// Nobody knows whether the meter compensates; the wetter of the two possible values was taken (MO-6, CF-4).
    CompensationUnknown,
    /// A correction may have been due and no temperature was taken, so none was made (MO-6).
    TemperatureMissing,
    /// Outside 13.0 to 25.0 % (to the tenth) the table has no points, and the formula runs on without support.
    Extrapolated,
}

/// A reading that cannot be turned into the moisture of honey.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum MoistureRefused {
    /// The reading, or what correction makes of it, lies outside 10 to 35 % (MO-4).
    #[error(
        "the reading means {moisture_hundredths} hundredths of a per cent of water, and honey has between 1000 and 3500"
    )]
    OutsideReadable {
        /// The water it would be, hundredths of a per cent.
        moisture_hundredths: i64,
    },
    /// A Brix value that no honey shows, so that no index can be found for it (MO-4).
    #[error("no honey shows {brix_hundredths} hundredths of a degree Brix")]
    OutsideBrix {
        /// What was read, hundredths of a degree.
        brix_hundredths: i64,
    },
}

/// The water in honey from one reading (MO-4 to MO-7), hundredths of a per cent.
///
/// An uncompensated meter is corrected by n20 = n + 0.00023 (t - 20), whatever its scale: water and Brix are
/// taken back to the index, corrected, and taken forth again. A compensated meter is never corrected. Where nobody
/// knows which of the two it is (`compensated` is `None`), the wetter value counts. Nothing is rounded on the way.
///
/// # Errors
/// [`MoistureRefused`] when the reading, before or after correction, is not that of honey.
pub fn moisture(
    raw: Scale,
    honey_temperature: Option<Temperature>,
    compensated: Option<bool>,
) -> Result<Measured, MoistureRefused> {
    let index = index_of(raw)?;
    let uncorrected = readable(match raw {
        Scale::Moisture(shown) => shown.get(),
        Scale::RefractiveIndex(_) | Scale::Brix(_) => hundredths(water_from_index(index)),
    })?;

    let corrected_index = match (compensated, honey_temperature) {
        (Some(true), _) | (_, None) => None,
        (Some(false), Some(temperature)) => Some(index_at_20(index, temperature)),
        // The lower index is the wetter honey.
        (None, Some(temperature)) => {
            let corrected = index_at_20(index, temperature);
            (corrected < index).then_some(corrected)
        }
    };
    let moisture = match corrected_index {
        Some(corrected) => readable(hundredths(water_from_index(corrected)))?,
        None => uncorrected,
    };
    let index_was_used = corrected_index.is_some() || !matches!(raw, Scale::Moisture(_));

    Ok(Measured {
        moisture,
        uncorrected,
        at_20: index_was_used.then(|| stored_index(corrected_index.unwrap_or(index))),
        amber: ambers(moisture, honey_temperature, compensated),
    })
}

/// The refractive index at 20 °C of honey with this much water, ten-thousandths; the inverse of the formula.
///
/// Supported by the table between 13.0 and 25.0 %. Ten of its 61 points differ from this by one in the last place,
/// all where the table rounds the other way.
#[must_use]
pub fn refractive_index_at_20(moisture: Moisture) -> RefractiveIndex {
    stored_index(index_from_water(per_cent(moisture)))
}

/// The moistures of the table, and how far the formula is run beyond it (MO-4, MO-5).
pub const MOISTURE: Span = Span {
    what: "the refraction of honey with water in hundredths of a per cent",
    field: "moisture_hundredths",
    from: 1_300,
    to: 2_500,
    refused_below: READABLE_FROM.get(),
    refused_above: READABLE_TO.get(),
};

answered! {
    /// What the scales of refractometers show for honey at 20 °C.
    Scales {
        /// Refractive index at 20 °C and 589.3 nm.
        refractive_index_e4: RefractiveIndex, "ten-thousandths";
        /// Degrees on the sucrose scale.
        brix_hundredths: i64, "hundredths of a degree Brix";
        /// All that is not water, as the grades of the United States mean it. Not degrees Brix.
        soluble_solids_hundredths: i64, "hundredths of a per cent of mass";
        /// Whether the moisture lies beyond the table.
        extrapolated: bool, "true or false";
    }
}

/// What the scales of refractometers show for honey at 20 °C (MO-5).
///
/// # Errors
/// [`OutsideSpan`].
pub fn scales(moisture: Moisture) -> Result<Scales, OutsideSpan> {
    let extrapolated = MOISTURE.extrapolates(moisture.get())?;
    Ok(Scales {
        refractive_index_e4: refractive_index_at_20(moisture),
        brix_hundredths: hundredths(brix_from_index(index_from_water(per_cent(moisture)))),
        soluble_solids_hundredths: Moisture::MAX.get() - moisture.get(),
        extrapolated,
    })
}

/// The water beside soluble solids, which are all the rest; what a scale of solids shows, not one of Brix.
#[must_use]
pub fn of_soluble_solids(solids: Brix) -> Moisture {
    Moisture::new(Moisture::MAX.get() - solids.get()).unwrap_or(Moisture::MAX)
}

/// Whether a moisture was got by taking degrees Brix from 100, which no sucrose scale allows.
///
/// On that scale moisture and degrees Brix of honey add up to between 97.9 and 98.6.
#[must_use]
pub const fn is_100_minus_brix(moisture: Moisture, brix: Brix) -> bool {
    let sum = moisture.get() + brix.get();
    sum >= Moisture::MAX.get() - 50 && sum <= Moisture::MAX.get() + 50
}

/// Moisture to the tenth of a per cent, half up: 17.05 is 17.1 (MO-3).
#[must_use]
pub fn rounded_to_tenth(moisture: Moisture) -> Moisture {
    Moisture::new((moisture.get() + 5) / 10 * 10).unwrap_or(Moisture::MAX)
}

/// What to tell the reader about a value.
fn ambers(moisture: Moisture, honey_temperature: Option<Temperature>, compensated: Option<bool>) -> Vec<Amber> {
    let mut amber = Vec::new();
    if honey_temperature.is_some_and(|temperature| !(100..=300).contains(&temperature.get())) {
        amber.push(Amber::HoneyTemperature);
    }
    if compensated.is_none() {
        amber.push(Amber::CompensationUnknown);
    }
    if compensated != Some(true) && honey_temperature.is_none() {
        amber.push(Amber::TemperatureMissing);
    }
    // The formula gives 12.985 and 25.021 at the two ends of the table, hence the comparison in tenths.
    if !(1_300..=2_500).contains(&rounded_to_tenth(moisture).get()) {
        amber.push(Amber::Extrapolated);
    }
    amber
}

/// Takes a moisture over if a reading can be it (MO-4).
fn readable(moisture_hundredths: i64) -> Result<Moisture, MoistureRefused> {
    Moisture::new(moisture_hundredths)
        .ok()
        .filter(|moisture| (READABLE_FROM..=READABLE_TO).contains(moisture))
        .ok_or(MoistureRefused::OutsideReadable { moisture_hundredths })
}

/// The index behind a reading, at whatever temperature it was taken.
fn index_of(raw: Scale) -> Result<f64, MoistureRefused> {
    match raw {
        Scale::RefractiveIndex(index) => Ok(fraction(index.get()) / 10_000.0),
        Scale::Brix(brix) => index_from_brix(brix),
        Scale::Moisture(moisture) => Ok(index_from_water(per_cent(moisture))),
    }
}

/// MO-6, with the coefficient of the same source as the formula: 0.00023 for each degree above 20 °C.
fn index_at_20(index: f64, temperature: Temperature) -> f64 {
    index + 0.000_023 * fraction(temperature.get() - 200)
}

/// MO-5: the water of honey in per cent from its index at 20 °C.
fn water_from_index(index: f64) -> f64 {
    (-0.2681 - libm::log10(index - 1.0)) / 0.002_243
}

/// MO-5 the other way round.
fn index_from_water(per_cent: f64) -> f64 {
    1.0 + libm::pow(10.0, -0.2681 - 0.002_243 * per_cent)
}

/// Degrees Brix of a sucrose solution from its index at 20 °C.
///
/// The polynomial is a public fit to the ICUMSA table, read in a copy of an encyclopaedia article; it meets the
/// CRC handbook's sucrose points within 0.07 degrees (0.14 at 84). Moisture is not 100 minus this.
fn brix_from_index(n: f64) -> f64 {
    (((((11_758.74 * n - 88_885.21) * n + 270_177.93) * n - 413_145.80) * n + 318_417.95) * n) - 99_127.453_6
}

/// The index that shows a Brix value, by halving an interval on which the polynomial only rises (0 to 97.8
/// degrees). Sixty halvings leave nothing that a double could still tell apart.
fn index_from_brix(brix: Brix) -> Result<f64, MoistureRefused> {
    let wanted = fraction(brix.get()) / 100.0;
    let (mut low, mut high) = (1.333, 1.54);
    if !(brix_from_index(low)..=brix_from_index(high)).contains(&wanted) {
        return Err(MoistureRefused::OutsideBrix {
            brix_hundredths: brix.get(),
        });
    }
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if brix_from_index(middle) < wanted {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok((low + high) / 2.0)
}

/// Per cent to hundredths of a per cent: the one rounding, half away from zero.
fn hundredths(per_cent: f64) -> i64 {
    whole(per_cent * 100.0)
}

/// An index to ten-thousandths, half away from zero. What correction drives out of the range of its type stops
/// at the edge; the moisture of such a reading has been refused before.
fn stored_index(index: f64) -> RefractiveIndex {
    let ten_thousandths = whole(index * 10_000.0);
    let kept = ten_thousandths.clamp(RefractiveIndex::MIN.get(), RefractiveIndex::MAX.get());
    RefractiveIndex::new(kept).unwrap_or(RefractiveIndex::MIN)
}

#[cfg(test)]
mod tests {
    use std::error::Error;

    use proptest::prelude::*;

    use super::*;

    const TABLE: &str = include_str!("../../tests/data/moisture-refractive-index.csv");

    fn index(ten_thousandths: i64) -> Scale {
        Scale::RefractiveIndex(RefractiveIndex::constant(ten_thousandths))
    }

    fn celsius(degrees: i64) -> Option<Temperature> {
        Temperature::new(degrees * 10).ok()
    }

    /// The rows of the table: hundredths of a per cent, ten-thousandths.
    fn table() -> Result<Vec<(i64, i64)>, Box<dyn Error>> {
        let mut rows = Vec::new();
        for line in TABLE
            .lines()
            .filter(|line| line.starts_with(|first: char| first.is_ascii_digit()))
        {
            let (water, index) = line.split_once(',').ok_or("a row has two columns")?;
            let water = water.replace('.', "").parse::<i64>()? * 10;
            rows.push((water, index.replace('.', "").parse()?));
        }
        Ok(rows)
    }

    #[test]
    fn all_61_points_of_the_table_are_met_within_three_hundredths() -> Result<(), Box<dyn Error>> {
        // MO-5; Bogdanov after Chataway, read. No point may count as extrapolated, and each gives its own tenth.
        let rows = table()?;
        assert_eq!(rows.len(), 61);
        for (water, ten_thousandths) in rows {
            let got = moisture(index(ten_thousandths), celsius(20), Some(false))?;
            assert!((got.moisture.get() - water).abs() <= 3, "{ten_thousandths}: {got:?}");
            assert_eq!(rounded_to_tenth(got.moisture).get(), water);
            assert_eq!(got.amber, []);
            let back = refractive_index_at_20(Moisture::new(water)?);
            assert!((back.get() - ten_thousandths).abs() <= 1, "{water}: {back:?}");
        }
        Ok(())
    }

    #[test]
    fn the_test_values_of_mo_5_are_met_within_five_hundredths() -> Result<(), Box<dyn Error>> {
        // A meter maker's table, read.
        for (ten_thousandths, water) in [
            (15_044, 1_300),
            (15_018, 1_400),
            (14_992, 1_500),
            (14_966, 1_600),
            (14_890, 1_900),
            (14_865, 2_000),
            (14_840, 2_100),
            (14_815, 2_200),
        ] {
            let got = moisture(index(ten_thousandths), None, Some(true))?;
            assert!((got.moisture.get() - water).abs() <= 5, "{ten_thousandths}: {got:?}");
        }
        Ok(())
    }

    #[test]
    fn worked_examples_w01_and_w04_are_met_to_the_hundredth() -> Result<(), Box<dyn Error>> {
        // MO-6. W01: 1.4940 at 25 °C is 1.49515 at 20 °C and 16.57 %. W04: 1.4890 at 28 °C, 1.49084, 18.26 %.
        // Tolerance 0.01 points; from the read formula and coefficient.
        let w01 = moisture(index(14_940), celsius(25), Some(false))?;
        assert!((w01.moisture.get() - 1_657).abs() <= 1, "{w01:?}");
        assert!((index_at_20(1.494, Temperature::constant(250)) - 1.495_15).abs() < 0.000_005);
        assert!(
            w01.at_20.is_some_and(|n| (14_951..=14_952).contains(&n.get())),
            "{w01:?}"
        );
        assert!(
            w01.uncorrected > w01.moisture,
            "an uncorrected warm reading shows too wet"
        );

        let w04 = moisture(index(14_890), celsius(28), Some(false))?;
        assert!((w04.moisture.get() - 1_826).abs() <= 1, "{w04:?}");
        assert_eq!(w04.at_20, RefractiveIndex::new(14_908).ok());
        assert_eq!(w04.amber, []);
        Ok(())
    }

    #[test]
    fn eighty_brix_is_18_29_per_cent_and_not_20() -> Result<(), Box<dyn Error>> {
        // W08: n20 1.49078, 18.29 %, tolerance 0.03. The trap: 100 minus Brix is not moisture.
        let w08 = moisture(Scale::Brix(Brix::constant(8_000)), None, Some(true))?;
        assert!((w08.moisture.get() - 1_829).abs() <= 3, "{w08:?}");
        assert_eq!(w08.at_20, RefractiveIndex::new(14_908).ok());
        for brix in 7_700..=8_300 {
            let got = moisture(Scale::Brix(Brix::new(brix)?), None, Some(true))?;
            assert!(
                10_000 - brix - got.moisture.get() > 140,
                "{brix} looks like 100 minus Brix: {got:?}"
            );
        }
        Ok(())
    }

    #[test]
    fn the_sucrose_points_of_a_handbook_are_met() {
        // CRC Handbook of Chemistry and Physics, 102nd edition, read in a copy; four decimals of index.
        for (n, brix, within) in [
            (1.4419, 60.0, 0.07),
            (1.4654, 70.0, 0.07),
            (1.4906, 80.0, 0.08),
            (1.5010, 84.0, 0.14),
        ] {
            assert!((brix_from_index(n) - brix).abs() < within, "{n}");
        }
    }

    #[test]
    fn five_degrees_of_warmth_left_uncorrected_are_about_0_45_points() -> Result<(), Box<dyn Error>> {
        // 0.090 points per °C, computed from the read formula and coefficient.
        let got = moisture(index(14_940), celsius(25), Some(false))?;
        let difference = got.uncorrected.get() - got.moisture.get();
        assert!((44..=46).contains(&difference), "{difference}");
        Ok(())
    }

    #[test]
    fn a_compensated_meter_is_never_corrected() -> Result<(), Box<dyn Error>> {
        // MO-6.
        let shown = Moisture::constant(1_780);
        let got = moisture(Scale::Moisture(shown), celsius(28), Some(true))?;
        assert_eq!((got.moisture, got.uncorrected, got.at_20), (shown, shown, None));
        assert_eq!(got.amber, []);
        Ok(())
    }

    #[test]
    fn an_uncompensated_percentage_goes_back_to_the_index_and_forth_again() -> Result<(), Box<dyn Error>> {
        // MO-6: 18.26 % is what an index of 1.49084 shows; at 28 °C the same honey shows 1.4890, near 18.98 %.
        let shown = moisture(index(14_890), None, Some(true))?.moisture;
        let got = moisture(Scale::Moisture(shown), celsius(28), Some(false))?;
        assert!((got.moisture.get() - 1_826).abs() <= 1, "{got:?}");
        assert_eq!(got.uncorrected, shown);
        Ok(())
    }

    #[test]
    fn outside_10_to_30_degrees_is_amber_even_with_compensation() -> Result<(), Box<dyn Error>> {
        // MO-7; the two bounds themselves are still fine.
        let at = |tenths: i64| moisture(index(14_940), Temperature::new(tenths).ok(), Some(true)).map(|got| got.amber);
        assert_eq!(at(99)?, [Amber::HoneyTemperature]);
        assert_eq!(at(100)?, []);
        assert_eq!(at(300)?, []);
        assert_eq!(at(301)?, [Amber::HoneyTemperature]);
        Ok(())
    }

    #[test]
    fn with_unknown_compensation_the_wetter_value_counts() -> Result<(), Box<dyn Error>> {
        // MO-6, CF-4.
        let warm = moisture(index(14_940), celsius(28), None)?;
        assert_eq!(warm.moisture, warm.uncorrected);
        let cold = moisture(index(14_940), celsius(12), None)?;
        assert_eq!(
            cold.moisture,
            moisture(index(14_940), celsius(12), Some(false))?.moisture
        );
        assert!(cold.moisture > cold.uncorrected);
        for got in [warm, cold] {
            assert_eq!(got.amber, [Amber::CompensationUnknown]);
        }
        Ok(())
    }

    #[test]
    fn at_20_degrees_unknown_compensation_uses_no_index() -> Result<(), Box<dyn Error>> {
        let got = moisture(Scale::Moisture(Moisture::constant(1_780)), celsius(20), None)?;
        assert_eq!((got.at_20, got.moisture.get()), (None, 1_780));
        Ok(())
    }

    #[test]
    fn a_correction_that_could_not_be_made_is_told() -> Result<(), Box<dyn Error>> {
        let got = moisture(index(14_940), None, Some(false))?;
        assert_eq!(got.amber, [Amber::TemperatureMissing]);
        let got = moisture(index(14_940), None, None)?;
        assert_eq!(got.amber, [Amber::CompensationUnknown, Amber::TemperatureMissing]);
        Ok(())
    }

    #[test]
    fn beyond_the_table_is_never_silent_and_beyond_honey_is_refused() -> Result<(), Box<dyn Error>> {
        // MO-4 and the valid range of MO-5.
        let shown = |hundredths| moisture(Scale::Moisture(Moisture::constant(hundredths)), None, Some(true));
        assert_eq!(shown(1_280)?.amber, [Amber::Extrapolated]);
        assert_eq!(shown(1_300)?.amber, []);
        assert_eq!(shown(2_500)?.amber, []);
        assert_eq!(shown(2_506)?.amber, [Amber::Extrapolated]);
        assert!(shown(1_000).is_ok() && shown(3_500).is_ok());
        assert_eq!(
            shown(999),
            Err(MoistureRefused::OutsideReadable {
                moisture_hundredths: 999
            })
        );
        assert!(shown(3_501).is_err());
        assert!(moisture(index(13_000), celsius(-40), Some(false)).is_err());
        assert!(moisture(index(16_000), celsius(150), Some(false)).is_err());
        assert!(moisture(Scale::Brix(Brix::MIN), None, Some(true)).is_err());
        assert!(moisture(Scale::Brix(Brix::MAX), None, Some(true)).is_err());
        Ok(())
    }

    #[test]
    fn moisture_is_rounded_half_up_to_the_tenth_for_the_ladder() {
        // MO-3: 17.05 is 17.1.
        for (from, to) in [(1_705, 1_710), (1_704, 1_700), (1_804, 1_800), (10_000, 10_000), (0, 0)] {
            assert_eq!(rounded_to_tenth(Moisture::constant(from)), Moisture::constant(to));
        }
    }

    proptest! {
        #[test]
        fn warmer_honey_never_comes_out_wetter(n in 14_600_i64..=15_100, t in -50_i64..=500) {
            let at = |tenths: i64| moisture(index(n), Temperature::new(tenths).ok(), Some(false));
            if let (Ok(cooler), Ok(warmer)) = (at(t), at(t + 1)) {
                prop_assert!(warmer.moisture <= cooler.moisture);
                prop_assert_eq!(warmer.uncorrected, cooler.uncorrected);
            }
        }

        #[test]
        fn unknown_compensation_is_never_drier_than_either_answer(n in 14_600_i64..=15_050, t in 0_i64..=400) {
            let with = |compensated| moisture(index(n), Temperature::new(t).ok(), compensated).map(|got| got.moisture);
            if let (Ok(unknown), Ok(yes), Ok(no)) =
                (with(None), with(Some(true)), with(Some(false)))
            {
                prop_assert_eq!(unknown, yes.max(no));
            }
        }

        #[test]
        fn at_20_degrees_nothing_is_corrected(hundredths in 1_000_i64..=3_500) {
            let raw = Scale::Moisture(Moisture::constant(hundredths));
            let got = moisture(raw, Temperature::new(200).ok(), Some(false));
            prop_assert_eq!(got.map(|got| got.moisture.get()), Ok(hundredths));
        }
    }
}
