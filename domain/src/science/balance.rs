//! The humidity of air with which honey is in balance, both ways (DR-2).
//!
//! Air drier than that takes water from the honey, air wetter than that gives it some. Clover honey: five points of
//! J. W. White (United States Department of Agriculture), read in a reprint. Honey in general: E. C. Martin 1958, from
//! memory; the two differ by at most one point of humidity. Between points it is interpolated. Honeys of one moisture
//! differ by two to four points (honeydew and set honey lie higher), hence ranges of four. Not here: how fast it goes.

use crate::described::{Spread, answered, words};
use crate::science::number::{between, fraction, per_cent, whole};
use crate::science::span::{OutsideSpan, Span};
use crate::units::{Humidity, Moisture};

words! {
    /// Whose measurements count.
    Table {
        /// Clover honey, after White; read.
        Clover = "clover",
        /// Honey in general, after Martin; from memory.
        Martin = "martin",
    }
}

/// Moistures of the clover table, and how far its ends are prolonged.
pub const MOISTURE: Span = Span {
    what: "the balance of honey with water in hundredths of a per cent",
    field: "moisture_hundredths",
    from: 1_610,
    to: 3_390,
    refused_below: 1_500,
    refused_above: 3_500,
};
/// Humidities of the clover table, and how far its ends are prolonged.
pub const HUMIDITY: Span = Span {
    what: "the balance of honey with air at a humidity in hundredths of a per cent",
    field: "relative_humidity_hundredths_percent",
    from: 5_200,
    to: 8_100,
    refused_below: 4_700,
    refused_above: 8_200,
};
const MARTIN_MOISTURE: Span = Span {
    from: 1_590,
    to: 3_310,
    ..MOISTURE
};
const MARTIN_HUMIDITY: Span = Span {
    from: 5_000,
    to: 8_000,
    ..HUMIDITY
};

/// Water in per cent, relative humidity in per cent.
const CLOVER: [(f64, f64); 5] = [(16.1, 52.0), (17.4, 58.0), (21.5, 66.0), (28.9, 76.0), (33.9, 81.0)];
const MARTIN: [(f64, f64); 7] = [
    (15.9, 50.0),
    (16.8, 55.0),
    (18.3, 60.0),
    (20.9, 65.0),
    (24.2, 70.0),
    (28.3, 75.0),
    (33.1, 80.0),
];
/// How far honeys of one moisture lie apart, points of relative humidity either way.
pub(super) const HONEYS_DIFFER_BY: f64 = 4.0;

answered! {
    /// The air that leaves honey as it is.
    BalanceHumidity {
        /// The relative humidity; the ends are those between which honeys of this moisture lie.
        relative_humidity_hundredths_percent: Spread, "hundredths of a per cent";
        /// Whether the moisture lies beyond the table.
        extrapolated: bool, "true or false";
    }
}

answered! {
    /// The honey that air leaves as it is, which is as dry as that air can make it.
    BalanceMoisture {
        /// Its water; the ends are those between which honeys lie at this humidity.
        moisture_hundredths: Spread, "hundredths of a per cent of mass";
        /// Whether the humidity lies beyond the table.
        extrapolated: bool, "true or false";
    }
}

/// The humidity with which honey is in balance.
///
/// # Errors
/// [`OutsideSpan`].
pub fn humidity(moisture: Moisture, table: Table) -> Result<BalanceHumidity, OutsideSpan> {
    let span = match table {
        Table::Clover => MOISTURE,
        Table::Martin => MARTIN_MOISTURE,
    };
    let extrapolated = span.extrapolates(moisture.get())?;
    let [low, value, high] = humidities(moisture, table).map(|per_cent| whole(per_cent * 100.0));
    Ok(BalanceHumidity {
        relative_humidity_hundredths_percent: Spread { low, value, high },
        extrapolated,
    })
}

/// The moisture with which air is in balance.
///
/// # Errors
/// [`OutsideSpan`].
pub fn moisture(humidity: Humidity, table: Table) -> Result<BalanceMoisture, OutsideSpan> {
    let span = match table {
        Table::Clover => HUMIDITY,
        Table::Martin => MARTIN_HUMIDITY,
    };
    let extrapolated = span.extrapolates(humidity.get())?;
    let turned: Vec<(f64, f64)> = points(table)
        .iter()
        .map(|(water, humidity)| (*humidity, *water))
        .collect();
    let of_air = fraction(humidity.get()) / 100.0;
    let at = |more: f64| whole(between(&turned, of_air + more) * 100.0);
    Ok(BalanceMoisture {
        moisture_hundredths: Spread {
            low: at(-HONEYS_DIFFER_BY),
            value: at(0.0),
            high: at(HONEYS_DIFFER_BY),
        },
        extrapolated,
    })
}

/// Per cent: lowest, usual, highest.
pub(super) fn humidities(moisture: Moisture, table: Table) -> [f64; 3] {
    let usual = between(points(table), per_cent(moisture));
    [usual - HONEYS_DIFFER_BY, usual, usual + HONEYS_DIFFER_BY]
}

const fn points(table: Table) -> &'static [(f64, f64)] {
    match table {
        Table::Clover => &CLOVER,
        Table::Martin => &MARTIN,
    }
}
