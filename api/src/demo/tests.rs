//! The plan, folded by the domain itself: does it give what the tables promise, and does only that clash which is told
//! as an incident?

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::OnceLock;

use chrono::Datelike;
use domain::allocation::Method;
use domain::balance::Band;
use domain::common::FlagCode;
use domain::entry::{self, Entry, Recorded};
use domain::house::House;
use domain::ids::{DeviceId, EntryId, MemberId, OperationId};
use domain::lot_code::LotCode;
use domain::moisture::judged;
use domain::state::State;
use domain::subject::{Subject, SubjectKind};
use domain::trace::trace;
use domain::yields::{Season, season};
use uuid::Uuid;

use super::diary::{Person, offset_min};
use super::figures::{PACKING, RUNS, SIZES_G, YIELDS_KG};
use super::plan::{Plan, Size};

fn made(size: Size) -> Plan {
    Plan::make(OperationId::from_uuid(Uuid::from_u128(1)), size).unwrap()
}

fn plan() -> &'static Plan {
    static PLAN: OnceLock<Plan> = OnceLock::new();
    PLAN.get_or_init(|| made(Size::default()))
}

/// The entries as the ledger would number them, in the order in which the phones send.
fn recorded(plan: &Plan) -> Vec<Recorded> {
    let mut recorded: Vec<Recorded> = Vec::new();
    let mut counters: HashMap<Person, i64> = HashMap::new();
    let mut saw: HashMap<Person, i64> = HashMap::new();
    for (sync, told) in plan.by_sync() {
        let person = Uuid::from_u128(10 + sync.person as u128);
        let mut batch: Vec<Recorded> = Vec::new();
        for told in told {
            let counter = counters.entry(told.by).or_default();
            *counter += 1;
            batch.push(Recorded {
                id: told.id,
                seq: 0,
                device: DeviceId::from_uuid(person),
                author: MemberId::from_uuid(person),
                device_counter: *counter,
                saw: saw.get(&sync.person).copied().unwrap_or_default(),
                effective_at: told.at,
                utc_offset_min: offset_min(told.at.date_naive()),
                entry: told.what.clone(),
            });
        }
        let mut chunks: Vec<Vec<Recorded>> = batch.chunks(100).map(<[Recorded]>::to_vec).collect();
        if sync.newest_first {
            chunks.reverse();
        }
        for mut one in chunks.into_iter().flatten() {
            one.seq = i64::try_from(recorded.len()).unwrap() + 1;
            recorded.push(one);
        }
        saw.insert(sync.person, i64::try_from(recorded.len()).unwrap());
    }
    recorded
}

fn folded(plan: &Plan) -> House {
    let recorded = recorded(plan);
    let root: HashMap<EntryId, EntryId> = recorded
        .iter()
        .map(|told| (told.id, told.entry.corrects().unwrap_or(told.id)))
        .collect();
    let mut groups: HashMap<EntryId, Vec<&Recorded>> = HashMap::new();
    for told in &recorded {
        groups.entry(root[&told.id]).or_default().push(told);
    }
    let mut of: BTreeMap<Subject, Vec<Recorded>> = BTreeMap::new();
    for told in &recorded {
        let group = &groups[&root[&told.id]];
        let touched: BTreeSet<Subject> = group.iter().flat_map(|told| told.entry.touches()).collect();
        for subject in touched {
            of.entry(subject).or_default().push(told.clone());
        }
    }
    let mut house = House::default();
    for (subject, entries) in of {
        house.insert(subject, State::fold(subject, &entries));
    }
    house
}

fn house() -> &'static House {
    static HOUSE: OnceLock<House> = OnceLock::new();
    HOUSE.get_or_init(|| folded(plan()))
}

fn yard(season: &Season, name: &str) -> (i64, Option<i64>) {
    let row = season.yards.iter().find(|yard| yard.name == name).unwrap();
    (row.yield_g, row.colonies_at_start_of_flow)
}

const NAMES: [&str; 4] = ["Tarnsedge", "Ostlehope", "Wennock Bank", "Quillhanger"];

#[test]
fn the_yards_give_what_the_tables_promise() {
    for (year, parity, total, fit) in [
        (2024, 0, 1_359_000, [18, 16, 14, 12]),
        (2025, 1, 2_053_000, [17, 17, 15, 11]),
    ] {
        let season = season(house(), year);
        assert_eq!((season.total_g, season.unassigned_g), (total, 0), "{year}");
        for (at, name) in NAMES.iter().enumerate() {
            let (grams, csf) = yard(&season, name);
            let moor = if (at, parity) == (3, 1) {
                yard(&season, "Moor stance").0
            } else {
                0
            };
            assert_eq!(grams + moor, YIELDS_KG[at][parity] * 1_000, "{year} {name}");
            assert_eq!(csf, Some(fit[at]), "{year} {name}");
        }
        let kg: i64 = RUNS[parity].iter().flat_map(|run| run.from).map(|from| from.kg).sum();
        assert_eq!(kg * 1_000, total, "the runs sum up to the yards");
        for (run, row) in season.runs.iter().zip(RUNS[parity]) {
            let kg: i64 = row.from.iter().map(|from| from.kg).sum();
            let supers: usize = row.from.iter().map(|from| from.supers).sum();
            assert_eq!(
                (run.pot_g, run.supers, run.method),
                (kg * 1_000, supers, Method::A),
                "{}",
                run.name
            );
            assert_eq!((run.on.month(), run.on.day()), row.on, "{}", run.name);
        }
    }
    let moor = season(house(), 2025);
    assert_eq!(
        yard(&moor, "Moor stance"),
        (100_000, Some(8)),
        "what stood on the moor gave there (I21)"
    );
    let spun = |parity: usize| -> usize {
        RUNS[parity]
            .iter()
            .flat_map(|run| run.from)
            .map(|from| from.supers)
            .sum()
    };
    assert_eq!((spun(0), spun(1)), (121, 178));
}

#[test]
fn the_runs_balance() {
    for year in [2024, 2025] {
        for run in season(house(), year).runs {
            let balance = run.balance.unwrap();
            assert!(
                (-40..=190).contains(&balance.unexplained_share_bp),
                "{}: {balance:?}",
                run.name
            );
            assert_eq!((balance.band, balance.warnings.len()), (Band::Green, 0), "{}", run.name);
        }
    }
}

/// What is flagged is what an incident is about, and nothing else.
#[test]
fn only_the_incidents_clash() {
    let house = house();
    let mut flagged = BTreeSet::new();
    for (subject, state) in house.iter() {
        for flag in state.flags() {
            flagged.insert((flag.code.sentence(), house.label(subject)));
        }
    }
    let labels = |code: FlagCode| -> Vec<String> {
        let of = flagged.iter().filter(|(sentence, _)| *sentence == code.sentence());
        of.map(|(_, label)| label.clone()).collect()
    };
    assert_eq!(labels(FlagCode::OnTwoHives), ["017"], "I01");
    assert_eq!(flagged.len(), 1, "{flagged:#?}");
}

#[test]
fn nothing_is_overdrawn_and_every_lot_is_dry_enough() {
    let house = house();
    for (_, lot) in house.lots() {
        assert!(
            (0..500).contains(&lot.content_g),
            "{:?} keeps {} g",
            lot.code,
            lot.content_g
        );
        assert!(lot.released().is_some());
        let water = domain::moisture::deciding(&lot.readings, |id| house.meter(id))
            .measured()
            .unwrap();
        assert!(
            water <= house.settings().release_limit(lot.claim()),
            "{:?}: {water:?}",
            lot.code
        );
    }
    for (_, fill) in house.fills() {
        assert!(fill.content_g >= 0 && fill.net_g() > 0);
    }
    for (_, batch) in house.batches() {
        assert!(batch.jars_in_stock >= 0, "{:?}: {}", batch.code, batch.jars_in_stock);
    }
    let mixed = domain::content::mixed_in(house);
    assert!(mixed.is_empty(), "{mixed:?}");
}

/// Jars, pails, stock and the rest are the year's kilograms.
#[test]
fn a_years_honey_is_packed_as_the_tables_say() {
    let house = house();
    for (parity, lots, pails, stock_g, rest_g) in [(0, 9, 15, 50_000, 14_000), (1, 13, 25, 160_000, 18_000)] {
        let year = 2024 + parity as i32;
        let of_year = house.lots().filter(|(_, lot)| lot.made_at.unwrap().year() == year);
        let of_year: BTreeMap<_, _> = of_year.collect();
        assert_eq!(of_year.len(), lots, "{year}");
        let mut jars: BTreeMap<(i64, bool), i64> = BTreeMap::new();
        for (_, batch) in house.batches() {
            let Some(lot) = batch.lots().find_map(|lot| of_year.get(&lot)) else {
                continue;
            };
            let heather = lot.claim() == domain::limits::Claim::Heather;
            *jars.entry((batch.nominal_g.unwrap().get(), heather)).or_default() += batch.jars_good;
        }
        for (size, count) in SIZES_G.into_iter().zip(PACKING[parity].jars) {
            assert_eq!(
                jars.get(&(size, false)).copied(),
                Some(count),
                "{year}: jars of {size} g"
            );
        }
        assert_eq!(jars.get(&(250, true)).copied().unwrap_or(0), PACKING[parity].heather);
        let fills = house.fills().filter(|(_, fill)| fill.filled_at.unwrap().year() == year);
        let fills: Vec<_> = fills.map(|(_, fill)| fill).collect();
        let sold = |fill: &&&domain::fill::Fill| {
            fill.taken_out
                .iter()
                .any(|taken| taken.into.kind == SubjectKind::Delivery)
        };
        assert_eq!(fills.iter().filter(sold).count(), pails, "{year}");
        let sold_g: i64 = fills.iter().filter(sold).map(|fill| fill.net_g()).sum();
        assert_eq!(sold_g, 15_000 * pails as i64);
        let in_stock: i64 = fills.iter().map(|fill| fill.content_g).sum();
        assert_eq!(in_stock, stock_g, "{year}");
        let in_jars: i64 = jars.iter().map(|((size, _), count)| size * count).sum();
        let total: i64 = YIELDS_KG.iter().map(|kg| kg[parity] * 1_000).sum();
        assert_eq!(
            total - in_jars - sold_g - in_stock,
            rest_g,
            "{year}: samples, gifts and what overfills"
        );
    }
}

#[test]
fn the_supers_are_as_wet_as_the_tables_say() {
    let house = house();
    for (year, parity) in [(24, 0), (25, 1)] {
        for row in RUNS[parity] {
            let name = format!("{year}-{}", row.name);
            let (id, run) = house
                .runs()
                .find(|(_, run)| run.name.as_ref().unwrap().as_str() == name)
                .unwrap();
            for from in row.from {
                let mut waters: Vec<f64> = Vec::new();
                for uncapped in &run.supers {
                    let filling = house.honey_super(uncapped.super_id).unwrap().filling_of(id).unwrap();
                    let hive = filling.last_stand().unwrap().hive_id;
                    let home = house.hive(hive).unwrap().yard_at(filling.stands[0].from).unwrap();
                    let of_moor = house.label(home.into()) == "Moor stance";
                    if house.label(home.into()) != NAMES[from.yard] && !(from.moor && of_moor) {
                        continue;
                    }
                    // What was dried has been measured before; what the wrong meter showed is corrected.
                    let before = filling.before_drying_hundredths.map(|water| water.get());
                    let reading = filling
                        .readings
                        .iter()
                        .max_by_key(|reading| reading.moisture_hundredths);
                    let read = reading.map(|reading| {
                        let judged = judged(reading, |id| house.meter(id));
                        judged
                            .corrected_hundredths
                            .or(reading.moisture_hundredths)
                            .unwrap()
                            .get()
                    });
                    waters.push(before.or(read).unwrap() as f64);
                }
                assert!(
                    waters.len() >= from.supers - 1,
                    "{name}: {} of {}",
                    waters.len(),
                    from.supers
                );
                let count = waters.len() as f64;
                let average = waters.iter().sum::<f64>() / count;
                let spread = (waters.iter().map(|water| (water - average).powi(2)).sum::<f64>() / count).sqrt();
                assert!((average - from.water.0 as f64).abs() < 12.0, "{name}: mean {average}");
                // A few at even steps lie closer together than many.
                assert!(
                    from.supers < 8 || (spread - from.water.1 as f64).abs() < 15.0,
                    "{name}: spread {spread}"
                );
            }
        }
    }
}

#[test]
fn the_code_on_the_console_leads_to_two_yards_and_to_buyers() {
    let house = house();
    let code = LotCode::parse(&plan().jar_code.to_string()).unwrap();
    let (id, _) = house.batches().find(|(_, batch)| batch.code == Some(code)).unwrap();
    let trace = trace(house, id.into(), crate::clock::now());
    let of = |kind: SubjectKind, steps: &[domain::trace::Step]| {
        steps.iter().filter(|step| step.subject.kind == kind).count()
    };
    assert_eq!(of(SubjectKind::Run, &trace.back), 1);
    assert_eq!(of(SubjectKind::Super, &trace.back), 34);
    assert_eq!(of(SubjectKind::Yard, &trace.back), 2);
    assert!(of(SubjectKind::Customer, &trace.forward) >= 2);
    let codes: Vec<_> = house
        .batches()
        .map(|(_, of)| of.code)
        .chain(house.lots().map(|(_, of)| of.code))
        .collect();
    let once: BTreeSet<_> = codes.iter().collect();
    assert_eq!(once.len() + 1, codes.len(), "only the code of I20 is on two lots");
}

#[test]
fn every_entry_reads_back_as_it_is_sent_and_is_sent() {
    let plan = plan();
    let sent: usize = plan.by_sync().iter().map(|(_, told)| told.len()).sum();
    assert_eq!(sent, plan.told.len());
    let ids: BTreeSet<EntryId> = plan.told.iter().map(|told| told.id).collect();
    assert_eq!(ids.len(), plan.told.len());
    for told in &plan.told {
        let kind = told.what.kind();
        let newest = entry::spec(kind).unwrap().newest;
        let data = serde_json::to_string(&told.what).unwrap();
        assert_eq!(Entry::read(kind, newest, &data).as_ref(), Ok(&told.what), "{data}");
        assert!((2024..=2026).contains(&told.at.year()), "{} {data}", told.at);
        let office = entry::spec(kind).unwrap().written_by == entry::WrittenBy::Office;
        assert!(!office || matches!(told.by, Person::Maren | Person::Rook), "{kind}");
    }
}

#[test]
fn one_seed_is_one_business_down_to_the_last_entry() {
    let same = |one: &Plan, other: &Plan| {
        let of = |plan: &Plan| -> Vec<_> {
            let told = plan.told.iter();
            told.map(|told| (told.id, told.by, told.at, serde_json::to_string(&told.what).unwrap()))
                .collect()
        };
        of(one) == of(other)
    };
    assert!(same(plan(), &made(Size::default())));
    assert!(!same(
        plan(),
        &made(Size {
            seed: 7,
            ..Size::default()
        })
    ));
}

/// Other seeds and sizes meet the same totals.
#[test]
fn a_larger_business_gives_so_many_times_as_much() {
    let size = Size {
        scale: 2,
        seasons: 3,
        seed: 11,
    };
    let plan = made(size);
    assert!(plan.told.iter().all(|told| (2023..=2026).contains(&told.at.year())));
    let house = folded(&plan);
    for (year, kg) in [(2023, 2_053), (2024, 1_359), (2025, 2_053)] {
        assert_eq!(season(&house, year).total_g, 2 * kg * 1_000, "{year}");
    }
    let codes: Vec<_> = house.batches().map(|(_, of)| of.code).collect();
    let once: BTreeSet<_> = codes.iter().collect();
    assert_eq!(once.len(), codes.len(), "no code is on two batches");
}

/// 95 u and 9.5 hours a colony, 0.55 u and 0.09 hours a kilogram.
#[test]
fn the_books_of_a_year_add_up() {
    for (year, cost, minutes) in [
        (2024, 60 * 9_500 + 1_359 * 55, 60 * 570 + 7_339),
        (2025, 60 * 9_500 + 2_053 * 55, 60 * 570 + 11_086),
    ] {
        let (mut spent, mut worked) = (0, 0);
        for told in &plan().told {
            match &told.what {
                Entry::CostBooked(booked) if booked.on.year() == year => spent += booked.amount_hundredths.get(),
                Entry::WorkBooked(booked) if booked.on.year() == year => worked += booked.minutes.get(),
                _ => {}
            }
        }
        assert_eq!((spent, worked), (cost, minutes), "{year}");
    }
}
