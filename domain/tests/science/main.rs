//! The figures of honey against what was published, at the tolerance that the figure has.
//!
//! Each test names its source. `read` means the figure was seen there; `from memory` that it was not. The letters before
//! a figure (`H30`, `W25`) are those of the list at the end, which says of every checkable row of the tables behind the
//! formulas whether it is asserted, and if not, why.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]

use domain::described::Spread;
use domain::units::{Moisture, Temperature};

mod air;
mod edges;
mod frost;
mod heat;
mod honey;
mod house;
mod packs;
mod refraction;

/// Hundredths of a per cent of water.
fn water(hundredths: i64) -> Moisture {
    Moisture::new(hundredths).unwrap()
}

/// Tenths of a degree.
fn tenths_c(tenths: i64) -> Temperature {
    Temperature::new(tenths).unwrap()
}

fn ends(spread: Spread) -> [i64; 3] {
    [spread.low, spread.value, spread.high]
}

#[track_caller]
fn near(got: i64, wanted: i64, within: i64) {
    assert!(
        (got - wanted).abs() <= within,
        "{got} is not within {within} of {wanted}"
    );
}

/// A table: its subject, how many of its rows can be checked, those that are asserted, and the others with the reason.
struct Rows {
    subject: &'static str,
    checkable: usize,
    asserted: &'static str,
    without: &'static [(&'static str, &'static str)],
}

/// Rows of one kind with running numbers, as `RI 61`, count as many as they are.
const ROWS: &[Rows] = &[
    Rows {
        subject: "moisture and refraction",
        checkable: 80,
        asserted: "RI*61 C1 C2 C3 C4 C5 C6 C7 C8 C9 B1 B2 B3 B4 B5 CRC60 CRC70 CRC80 CRC84 ICUMSA10",
        without: &[],
    },
    Rows {
        subject: "density",
        checkable: 8,
        asserted: "R1 R2 R3 R4 R5 F4 F5 F6",
        without: &[],
    },
    Rows {
        subject: "balance with air",
        checkable: 12,
        asserted: "CL16.1 CL17.4 CL21.5 CL28.9 CL33.9 MA55 MA60 R1 F2",
        without: &[(
            "R4 R5 R6",
            "ranges of water activity of whole samples, which are not paired with single moistures",
        )],
    },
    Rows {
        subject: "viscosity",
        checkable: 13,
        asserted: "RT14 RT20 RT30 RT40 RT50 RT70 RM13.7 R1 R2 R3 R6 R7",
        without: &[("R5", "the moisture of that honey is not told")],
    },
    Rows {
        subject: "heat",
        checkable: 17,
        asserted: "H30 H40 H50 H60 H70 H80 D20 D30 D40 D50 D60 D70 D80 A1 A2 R5",
        without: &[("R9", "a definition of pressed honey in law, not a computation")],
    },
    Rows {
        subject: "fermentation",
        checkable: 5,
        asserted: "F1 F2 F3 F4 F5",
        without: &[],
    },
    Rows {
        subject: "colour",
        checkable: 7,
        asserted: "US1 US2 US3 US4 US5 US6 US7",
        without: &[],
    },
    Rows {
        subject: "frames and boxes",
        checkable: 22,
        asserted: "L1 L4 L5 L7 L8 L9 L10 N1 N2 N3 N4 N5 N6 W10",
        without: &[
            ("L11 N7", "counts of frames that a box takes"),
            (
                "H1 H2 H4 H5 H6",
                "how much honey a frame or box holds is recorded, not computed",
            ),
            ("W8", "the bee space is not computed"),
        ],
    },
    Rows {
        subject: "extraction",
        checkable: 30,
        asserted: "F1 R70-25 R200-25 R250-25 R300-25 R300-30 R350-35 R400-25 R150-60 F2 M1 M30 M35 M40 M50 M60 M70 M80 \
            M100 M120 M140 M200 F3 ST-air-1.0-mm ST-air-0.2-mm ST-air-0.1-mm ST-wax-0.5-mm ST-wax-0.2-mm \
            ST-air-1.0-mm-at-20-degC",
        without: &[("E1", "the warmth of a room is advice, not a computation")],
    },
    Rows {
        subject: "drying and air",
        checkable: 33,
        asserted: "M1 M2 M3 ME250-19.4 ME160-19.4 ME100-20.0 ME40-19.4 P1 P2 P3 P4 P5 P6 ES10 ES15 ES20 ES25 ES30 ES35 \
            ES40 ES45 ES50 A25-50 A30-40 A35-20 A35-30 A35-40 DF18.6-30 DF18.6-40 DF20.0-40 DF17.4-40 D1 D8",
        without: &[],
    },
    Rows {
        subject: "legal limits",
        checkable: 59,
        // EU, US, CA and UK moistures in the unit tests of the limits; the sieves of Canada here.
        asserted: "EU01 EU02 EU03 EU04 US01 US02 US03 CA01 CA02 CA03 CA04 CA08 CA09 UK01 UK02 UK03 UK04",
        without: &[
            (
                "EU05 EU06 EU07 EU08 EU09 EU10 EU11 EU12 EU13 EU14 EU15 EU16 EU17 EU18 EU19 EU20 CA06 CA07 CA10 CA11 UK05 \
                 UK06 UK07 UK08",
                "what a laboratory measures besides water has no place in the records yet",
            ),
            (
                "EU21 EU22 EU23 EU24 EU25 EU27 US07 CA12 CA13 CA14",
                "rules for labels and names, not figures of honey",
            ),
            ("US04 US05 US06", "points of a grader, who is not replaced"),
            (
                "AU01 AU02 AU03 AU04 AU05",
                "no profile for Australia and New Zealand yet",
            ),
        ],
    },
    Rows {
        subject: "worked examples",
        checkable: 21,
        asserted: "W01 W04 W08 W10 W11 W12 W13 W14 W15 W17 W19 W21 W23 W25 W26 W28 W30 W32 W35 W37 W39",
        without: &[],
    },
    Rows {
        subject: "outside checks",
        checkable: 6,
        asserted: "O1 O3 O4 O9 O13",
        without: &[("O15", "yields are recorded, not computed")],
    },
    Rows {
        subject: "yields",
        checkable: 62,
        asserted: "",
        without: &[(
            "*62",
            "averages of states against which a season may be held; nothing computes a yield",
        )],
    },
];

fn listed(rows: &str) -> Vec<(&str, usize)> {
    rows.split_whitespace()
        .map(|row| match row.split_once('*') {
            Some((kind, many)) => (kind, many.parse().unwrap()),
            None => (row, 1),
        })
        .collect()
}

#[test]
fn every_checkable_row_is_asserted_or_has_a_reason() {
    for rows in ROWS {
        let mut all = listed(rows.asserted);
        for (without, reason) in rows.without {
            assert!(!reason.is_empty());
            all.extend(listed(without));
        }
        let count: usize = all.iter().map(|(_, many)| many).sum();
        assert_eq!(count, rows.checkable, "{}", rows.subject);
        let mut names: Vec<&str> = all.iter().map(|(name, _)| *name).collect();
        names.sort_unstable();
        let named = names.len();
        names.dedup();
        assert_eq!(names.len(), named, "{}: a row is listed twice", rows.subject);
    }
}
