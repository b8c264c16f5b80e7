//! The figures of the made-up business: yards, lines, weather, runs and what is packed. All of it is invented.
//!
//! What follows from them is made elsewhere; here stand only tables.

use super::diary::Person;

/// Queen lines, in the order in which everything here counts them.
pub const LINES: [&str; 3] = ["Amber", "Slate", "Heron"];
/// What a line gives against Amber: the truth that the figures of a season have to find again.
pub const EFFECTS: [f64; 3] = [1.00, 1.06, 0.96];

/// Tarnsedge, as an index.
pub const TSD: usize = 0;
/// Ostlehope.
pub const OST: usize = 1;
/// Wennock Bank.
pub const WEN: usize = 2;
/// Quillhanger.
pub const QUI: usize = 3;

/// A yard.
pub(super) struct YardRow {
    pub(super) name: &'static str,
    pub(super) code: &'static str,
    /// What its hives' codes begin with.
    pub(super) letter: char,
    pub(super) ground: &'static str,
    /// Colonies of each line in an even year.
    pub(super) lines: [usize; 3],
    pub(super) flow_from: (u32, u32),
    pub(super) keeper: Person,
}

pub(super) const YARDS: [YardRow; 4] = [
    YardRow {
        name: "Tarnsedge",
        code: "TSD",
        letter: 'T',
        ground: "damp river meadow",
        lines: [3, 11, 4],
        flow_from: (6, 1),
        keeper: Person::Tobiah,
    },
    YardRow {
        name: "Ostlehope",
        code: "OST",
        letter: 'O',
        ground: "rape and bramble",
        lines: [4, 3, 9],
        flow_from: (5, 5),
        keeper: Person::Ilse,
    },
    YardRow {
        name: "Wennock Bank",
        code: "WEN",
        letter: 'W',
        ground: "chalk, clover and lime",
        lines: [10, 2, 2],
        flow_from: (6, 1),
        keeper: Person::Ilse,
    },
    YardRow {
        name: "Quillhanger",
        code: "QUI",
        letter: 'Q',
        ground: "wood edge",
        lines: [4, 1, 7],
        flow_from: (6, 1),
        keeper: Person::Tobiah,
    },
];

/// The stance of late summer, to which the first hives of Quillhanger are carried in an odd year.
pub(super) const MOOR: (&str, &str, &str) = ("Moor stance", "MOO", "moor, ling heather");
/// How many are carried there.
pub(super) const TO_MOOR: usize = 8;

/// Kilograms of a yard in an even and in an odd year.
pub const YIELDS_KG: [[i64; 2]; 4] = [[369, 459], [416, 561], [406, 615], [168, 418]];

/// Part of a run from one yard.
pub(super) struct FromYard {
    pub(super) yard: usize,
    pub(super) kg: i64,
    pub(super) supers: usize,
    /// Water of its supers: mean and spread, hundredths of a per cent.
    pub(super) water: (i64, i64),
    /// When its supers went on; the bearer takes them off two days before the run.
    pub(super) placed: (u32, u32),
    /// From the hives that were carried to the moor.
    pub(super) moor: bool,
}

/// A run.
pub(super) struct RunRow {
    pub(super) name: &'static str,
    pub(super) on: (u32, u32),
    pub(super) from: &'static [FromYard],
    /// How many of the wettest supers are dried, and the water of their stack afterwards.
    pub(super) dried: Option<(usize, i64)>,
    /// Water of what runs out.
    pub(super) water: i64,
    /// Pails of 15 kg that are sold as they are.
    pub(super) pails: usize,
    /// Containers that are kept in stock, and what each holds.
    pub(super) stock: (usize, i64),
    /// The lots it goes into; the last takes what is left.
    pub(super) lots: &'static [LotRow],
}

/// A lot as it is planned.
pub(super) struct LotRow {
    /// Its number within the season.
    pub(super) sequence: u32,
    pub(super) name: &'static str,
    pub(super) made_on: (u32, u32),
    /// Buckets it is made of; nothing where it takes what is left.
    pub(super) buckets: Option<usize>,
    /// Honey of a tank and two buckets besides, all with water of their own.
    pub(super) blend: bool,
    pub(super) heather: bool,
}

const fn from(yard: usize, kg: i64, supers: usize, water: (i64, i64), placed: (u32, u32)) -> FromYard {
    FromYard {
        yard,
        kg,
        supers,
        water,
        placed,
        moor: false,
    }
}

const fn lot(sequence: u32, name: &'static str, made_on: (u32, u32), buckets: Option<usize>) -> LotRow {
    LotRow {
        sequence,
        name,
        made_on,
        buckets,
        blend: false,
        heather: false,
    }
}

/// The runs of an even and of an odd year.
pub(super) const RUNS: [&[RunRow]; 2] = [EVEN, ODD];

const EVEN: &[RunRow] = &[
    RunRow {
        name: "R1",
        on: (5, 30),
        from: &[from(OST, 255, 22, (1_740, 50), (5, 10))],
        dried: None,
        water: 1_740,
        pails: 3,
        stock: (0, 0),
        lots: &[
            lot(1, "early blossom", (6, 20), Some(3)),
            lot(5, "blossom of May", (9, 2), None),
        ],
    },
    RunRow {
        name: "R2",
        on: (7, 9),
        from: &[
            from(OST, 161, 14, (1_760, 60), (6, 3)),
            from(WEN, 46, 4, (1_760, 60), (6, 2)),
        ],
        dried: None,
        water: 1_760,
        pails: 2,
        stock: (0, 0),
        lots: &[lot(2, "clover and bramble", (7, 16), None)],
    },
    RunRow {
        name: "R3",
        on: (7, 22),
        from: &[
            from(WEN, 300, 25, (1_730, 60), (6, 4)),
            from(TSD, 108, 9, (1_840, 90), (6, 6)),
        ],
        dried: None,
        water: 1_750,
        pails: 4,
        stock: (0, 0),
        lots: &[
            LotRow {
                blend: true,
                ..lot(3, "lime and meadow", (7, 23), Some(0))
            },
            lot(4, "lime", (8, 12), None),
        ],
    },
    RunRow {
        name: "R4",
        on: (7, 30),
        from: &[
            from(QUI, 168, 16, (1_830, 90), (6, 8)),
            from(TSD, 81, 8, (1_830, 90), (6, 20)),
            from(WEN, 60, 6, (1_830, 90), (7, 12)),
        ],
        dried: Some((15, 1_750)),
        water: 1_760,
        pails: 3,
        stock: (0, 0),
        lots: &[
            lot(6, "wood edge", (8, 20), Some(4)),
            lot(7, "wood edge and meadow", (10, 9), None),
        ],
    },
    RunRow {
        name: "R5",
        on: (9, 12),
        from: &[from(TSD, 180, 17, (1_960, 80), (7, 26))],
        dried: Some((17, 1_790)),
        water: 1_790,
        pails: 3,
        stock: (2, 25_000),
        lots: &[
            lot(8, "late meadow", (10, 2), Some(2)),
            lot(9, "late meadow, set", (11, 5), None),
        ],
    },
];

const ODD: &[RunRow] = &[
    RunRow {
        name: "R1",
        on: (5, 24),
        from: &[from(OST, 388, 34, (1_710, 40), (5, 3))],
        dried: None,
        water: 1_710,
        pails: 4,
        stock: (0, 0),
        lots: &[
            lot(1, "rape", (6, 5), Some(6)),
            lot(2, "rape and hawthorn", (6, 10), None),
        ],
    },
    RunRow {
        name: "R2",
        on: (6, 26),
        from: &[
            from(WEN, 244, 20, (1_690, 40), (5, 28)),
            from(OST, 100, 8, (1_690, 40), (5, 27)),
        ],
        dried: None,
        water: 1_690,
        pails: 4,
        stock: (0, 0),
        lots: &[
            lot(3, "clover", (7, 4), Some(5)),
            lot(8, "clover and bramble", (8, 8), None),
        ],
    },
    RunRow {
        name: "R3",
        on: (7, 12),
        from: &[from(TSD, 339, 30, (1_790, 70), (6, 4))],
        dried: Some((8, 1_760)),
        water: 1_758,
        pails: 5,
        stock: (0, 0),
        lots: &[
            lot(6, "river meadow", (7, 22), Some(5)),
            lot(7, "river meadow, July", (7, 25), None),
        ],
    },
    RunRow {
        name: "R4",
        on: (7, 19),
        from: &[
            from(WEN, 371, 28, (1_660, 40), (6, 10)),
            from(OST, 45, 4, (1_660, 40), (6, 28)),
        ],
        dried: None,
        water: 1_660,
        pails: 6,
        stock: (4, 23_000),
        lots: &[
            lot(5, "lime", (7, 28), Some(2)),
            lot(5, "lime, second tank", (7, 28), Some(2)),
            lot(4, "lime and clover", (7, 30), None),
        ],
    },
    RunRow {
        name: "R5",
        on: (7, 28),
        from: &[
            from(QUI, 318, 28, (1_720, 50), (6, 21)),
            from(OST, 28, 2, (1_720, 50), (7, 2)),
            from(TSD, 45, 4, (1_720, 50), (6, 30)),
        ],
        dried: None,
        water: 1_720,
        pails: 6,
        stock: (2, 30_000),
        lots: &[
            lot(9, "wood edge", (8, 12), Some(4)),
            lot(10, "wood edge, dark", (10, 27), None),
        ],
    },
    RunRow {
        name: "R6a",
        on: (9, 14),
        from: &[FromYard {
            moor: true,
            ..from(QUI, 100, 11, (2_080, 90), (8, 4))
        }],
        dried: None,
        water: 2_080,
        pails: 0,
        stock: (1, 8_000),
        lots: &[LotRow {
            heather: true,
            ..lot(12, "ling heather", (9, 30), None)
        }],
    },
    RunRow {
        name: "R6b",
        on: (9, 14),
        from: &[from(TSD, 75, 9, (1_920, 80), (7, 30))],
        dried: Some((9, 1_780)),
        water: 1_780,
        pails: 0,
        stock: (0, 0),
        lots: &[lot(11, "late meadow", (9, 25), None)],
    },
];

/// What a year's honey is packed into besides pails and stock.
pub(super) struct Packing {
    /// Jars of 500 g, 250 g and 1 kg.
    pub(super) jars: [i64; 3],
    /// Jars of heather honey, 250 g.
    pub(super) heather: i64,
}

pub(super) const PACKING: [Packing; 2] = [
    Packing {
        jars: [1_450, 900, 120],
        heather: 0,
    },
    Packing {
        jars: [1_900, 1_200, 160],
        heather: 360,
    },
];

/// Sizes of the jars, in the order of [`Packing`].
pub(super) const SIZES_G: [i64; 3] = [500, 250, 1_000];
