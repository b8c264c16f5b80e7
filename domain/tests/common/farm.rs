//! Seasons told as entries: yards, colonies, and what each gave, weighed full and spun.
#![allow(dead_code, reason = "each test binary uses its own part of this file")]

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::colony::{ColonyEnd, ColonyEnded, ColonyRegistered, Founding};
use domain::entry::Entry;
use domain::extraction::{CappingsWeighed, RunDrained, RunOpened};
use domain::house::House;
use domain::ids::ColonyId;
use domain::units::{Count, Grams};
use domain::yard::{ColoniesCounted, FlowStarted};

use super::entries::{hive, new_hive, new_super, new_yard, placed, pulled, ran, received, run, uncapped, wet, yard};
use super::{Book, count, g, name, uuid};

/// What a box of the farm weighs spun.
const SPUN_G: i64 = 8_000;
/// The most that goes into one box.
const BOX_G: i64 = 15_000;

pub fn colony(number: u32) -> ColonyId {
    ColonyId::from_uuid(uuid(10, number))
}

pub fn day(year: i32, month: u32, day: u32) -> NaiveDate {
    NaiveDate::from_ymd_opt(year, month, day).unwrap()
}

pub fn noon(on: NaiveDate) -> DateTime<Utc> {
    on.and_hms_opt(12, 0, 0).unwrap().and_utc()
}

#[derive(Clone, Default)]
pub struct Farm {
    pub book: Book,
    boxes: u32,
    runs: u32,
}

impl Farm {
    pub fn tell(&mut self, on: NaiveDate, entry: impl Into<Entry>) {
        self.book.tell(1, noon(on), entry);
    }

    pub fn house(&self) -> House {
        self.book.house()
    }

    pub fn yard(&mut self, number: u32, called: &str) {
        self.tell(day(2020, 3, 1), new_yard(number, called));
    }

    /// A hive with bees that were there when writing began; colony and hive bear one number.
    pub fn colony(&mut self, number: u32, of: u32, line: Option<&str>) {
        self.hive(number, of);
        self.bees(number, number, (day(2020, 3, 2), Founding::Wintered, None), line);
    }

    pub fn hive(&mut self, number: u32, of: u32) {
        self.tell(day(2020, 3, 1), new_hive(number, of, &format!("H{number:03}")));
    }

    pub fn bees(
        &mut self,
        number: u32,
        in_hive: u32,
        (on, founding, mother): (NaiveDate, Founding, Option<u32>),
        line: Option<&str>,
    ) {
        let new = ColonyRegistered {
            colony_id: colony(number),
            hive_id: hive(in_hive),
            founding: Some(founding),
            parent_id: mother.map(colony),
            queen_line: line.map(name),
        };
        self.tell(on, new);
    }

    pub fn end(&mut self, number: u32, on: NaiveDate, how: ColonyEnd, into: Option<u32>) {
        let end = ColonyEnded {
            colony_id: colony(number),
            how,
            united_into: into.map(colony),
        };
        self.tell(on, end);
    }

    /// The flow began on 1 May, and so many colonies were fit.
    pub fn flow(&mut self, of: u32, year: i32, fit: Option<i64>) {
        let on = day(year, 5, 1);
        self.tell(on, FlowStarted { yard_id: yard(of), on });
        if let Some(fit) = fit {
            self.tell(on, counted(of, on, fit));
        }
    }

    /// One run on 12 July, taken off two days before, with what hives gave.
    pub fn spun(&mut self, year: i32, gave: &[(u32, i64)]) -> u32 {
        self.spun_on(day(year, 7, 12), gave, true)
    }

    /// A run on some day; what nobody weighed is shared evenly.
    pub fn spun_on(&mut self, on: NaiveDate, gave: &[(u32, i64)], weighed: bool) -> u32 {
        self.runs += 1;
        let of = self.runs;
        let opened = RunOpened {
            run_id: run(of),
            name: Some(name(&format!("R{of}"))),
            extractor: None,
            spin: None,
        };
        self.tell(on, opened);
        let mut pot = 0;
        for (from, grams) in gave {
            let mut left = *grams;
            while left > 0 {
                let net = left.min(BOX_G);
                self.box_of(on, (*from, of), net, weighed);
                left -= net;
                pot += net;
            }
        }
        if pot > 0 {
            self.tell(on + TimeDelta::days(1), ran(of, of, pot));
        }
        of
    }

    fn box_of(&mut self, on: NaiveDate, (from, of): (u32, u32), net: i64, weighed: bool) {
        self.boxes += 1;
        let number = self.boxes;
        self.tell(on - TimeDelta::days(60), new_super(number));
        self.tell(on - TimeDelta::days(58), placed(number, from));
        self.tell(on - TimeDelta::days(2), pulled(number, Some(from)));
        self.tell(
            on - TimeDelta::days(1),
            received(number, weighed.then_some(SPUN_G + net)),
        );
        self.tell(on, uncapped(number, of));
        if weighed {
            self.tell(on, wet(number, of, SPUN_G));
        }
    }

    pub fn new_box(&mut self, number: u32) {
        self.tell(day(2020, 3, 3), new_super(number));
    }

    /// A run of known boxes: box, hive, grams.
    pub fn run_of(&mut self, on: NaiveDate, gave: &[(u32, u32, i64)]) {
        self.runs += 1;
        let of = self.runs;
        for (number, from, net) in gave {
            self.tell(on - TimeDelta::days(20), placed(*number, *from));
            self.tell(on - TimeDelta::days(2), pulled(*number, Some(*from)));
            self.tell(on - TimeDelta::days(1), received(*number, Some(SPUN_G + net)));
            self.tell(on, uncapped(*number, of));
            self.tell(on, wet(*number, of, SPUN_G));
        }
        let pot = gave.iter().map(|(.., net)| net).sum();
        self.tell(on + TimeDelta::days(1), ran(of, of, pot));
    }

    /// Cappings and machine of a run, so that it can be balanced.
    pub fn drained(&mut self, of: u32, on: NaiveDate, (wax_g, machine_g): (i64, i64)) {
        let cappings = CappingsWeighed {
            run_id: run(of),
            honey_g: g(0),
            wax_g: Some(g(wax_g)),
        };
        self.tell(on, cappings);
        let drained = RunDrained {
            run_id: run(of),
            left_in_machine_g: Some(Grams::new(machine_g).unwrap()),
        };
        self.tell(on, drained);
    }

    /// The number of the newest box.
    pub fn boxes(&self) -> u32 {
        self.boxes
    }
}

pub fn counted(of: u32, on: NaiveDate, fit: i64) -> ColoniesCounted {
    ColoniesCounted {
        yard_id: yard(of),
        on,
        fit: count(fit),
        unfit: None::<Count>,
    }
}
