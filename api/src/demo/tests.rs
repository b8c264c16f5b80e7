//! The plan, folded by the domain itself: does it promise what the demo's tables say, and does nothing in it clash?

use std::collections::{BTreeMap, HashMap};

use chrono::Datelike;
use domain::allocation::Method;
use domain::balance::Band;
use domain::common::Common;
use domain::entry::{self, Entry, Recorded};
use domain::house::House;
use domain::ids::{DeviceId, EntryId, MemberId, OperationId};
use domain::lot_code::LotCode;
use domain::state::State;
use domain::subject::{Subject, SubjectKind};
use domain::trace::trace;
use domain::yields::{Season, season};
use uuid::Uuid;

use super::ARRIVAL;
use super::diary::{OFFSET_MIN, Person, YEAR};
use super::plan::{Plan, season_begins};
use crate::clock;

fn plan() -> Plan {
    Plan::make(OperationId::from_uuid(Uuid::from_u128(1))).unwrap()
}

/// The entries as the ledger would number them, in the order in which the phones send.
fn recorded(plan: &Plan) -> Vec<Recorded> {
    let mut recorded: Vec<Recorded> = Vec::new();
    let mut counters: HashMap<Person, i64> = HashMap::new();
    let mut take = |told: Vec<&super::diary::Told>, newest_first: bool, saw: i64| {
        let mut batch: Vec<Recorded> = Vec::new();
        for told in told {
            let counter = counters.entry(told.by).or_default();
            *counter += 1;
            let person = Uuid::from_u128(10 + told.by as u128);
            batch.push(Recorded {
                id: EntryId::from_uuid(clock::new_id()),
                seq: 0,
                device: DeviceId::from_uuid(person),
                author: MemberId::from_uuid(person),
                device_counter: *counter,
                saw,
                effective_at: told.at,
                utc_offset_min: OFFSET_MIN,
                entry: told.what.clone(),
            });
        }
        let mut chunks: Vec<Vec<Recorded>> = batch.chunks(100).map(<[Recorded]>::to_vec).collect();
        if newest_first {
            chunks.reverse();
        }
        recorded.extend(chunks.into_iter().flatten());
        i64::try_from(recorded.len()).unwrap()
    };
    let mut head = 0;
    for person in [Person::Maren, Person::Tobiah, Person::Ilse, Person::Rook] {
        head = take(plan.of(person, Some(season_begins()), None), false, 0);
    }
    for (person, newest_first) in ARRIVAL {
        take(plan.of(person, None, Some(season_begins())), newest_first, head);
    }
    for (seq, of) in (1..).zip(&mut recorded) {
        of.seq = seq;
    }
    recorded
}

fn house(plan: &Plan) -> House {
    let mut of: BTreeMap<Subject, Vec<Recorded>> = BTreeMap::new();
    for recorded in recorded(plan) {
        for subject in recorded.entry.touches() {
            of.entry(subject).or_default().push(recorded.clone());
        }
    }
    let mut house = House::default();
    for (subject, entries) in of {
        house.insert(subject, State::fold(subject, &entries));
    }
    house
}

fn yard(season: &Season, name: &str) -> (i64, Option<Method>, Option<i64>) {
    let row = season.yards.iter().find(|yard| yard.name == name).unwrap();
    (row.yield_g, row.method, row.colonies_at_start_of_flow)
}

#[test]
fn the_yards_give_what_the_tables_promise() {
    let season = season(&house(&plan()), YEAR);
    let a = Some(Method::A);
    assert_eq!(yard(&season, "Wennock Bank"), (244_000, a, Some(15)));
    assert_eq!(yard(&season, "Ostlehope"), (100_000, a, Some(17)));
    assert_eq!(yard(&season, "Tarnsedge"), (339_000, a, Some(17)));
    assert_eq!((season.total_g, season.unassigned_g, season.method), (683_000, 0, a));
    let runs: Vec<_> = season
        .runs
        .iter()
        .map(|run| (run.name.as_str(), run.supers, run.pot_g))
        .collect();
    assert_eq!(runs, [("25-R2", 28, 344_000), ("25-R3", 30, 339_000)]);
    assert_eq!(season.runs.iter().map(|run| run.on.day()).collect::<Vec<_>>(), [26, 12]);
    // One colony of each fuller yard swarmed and gave nothing.
    assert_eq!(season.hives.len(), 14 + 8 + 16);
}

#[test]
fn the_runs_balance_with_about_eight_in_a_thousand_unexplained() {
    for run in season(&house(&plan()), YEAR).runs {
        let balance = run.balance.unwrap();
        assert!(
            (65..=95).contains(&balance.unexplained_share_bp),
            "{}: {balance:?}",
            run.name
        );
        assert_eq!((balance.band, balance.warnings.len()), (Band::Green, 0), "{}", run.name);
    }
}

#[test]
fn nothing_clashes_and_nothing_is_overdrawn() {
    let house = house(&plan());
    for (subject, state) in house.iter() {
        assert_eq!(state.flags(), [], "{} {}", subject.kind.name(), house.label(subject));
        assert_eq!(state.holds(), []);
    }
    for (_, lot) in house.lots() {
        assert!(
            (0..2_000).contains(&lot.content_g),
            "{:?} keeps {} g",
            lot.code,
            lot.content_g
        );
        assert!(lot.released().is_some() && lot.readings.len() == 2);
        assert!(lot.water().measured().unwrap() <= house.settings().house_limit());
    }
    for (_, fill) in house.fills() {
        assert!(fill.content_g >= 0 && fill.net_g() > 0);
    }
    for (_, batch) in house.batches() {
        assert!(batch.jars_in_stock >= 0);
        let mean = batch.net_tenths_g.iter().sum::<i64>() / 15;
        assert!(mean >= batch.nominal_g.unwrap().get() * 10, "{:?}", batch.code);
    }
    let unexplained: i64 = house.batches().map(|(_, batch)| batch.jars_unexplained()).sum();
    assert_eq!(unexplained, 2);
}

#[test]
fn the_supers_are_as_wet_as_the_tables_say() {
    let house = house(&plan());
    for (name, mean, spread) in [("25-R2", 1_690, 40), ("25-R3", 1_790, 70)] {
        let (id, run) = house.runs().find(|(_, run)| run.label_is(name)).unwrap();
        let fillings = run
            .supers
            .iter()
            .map(|uncapped| house.honey_super(uncapped.super_id).unwrap().filling_of(id).unwrap());
        let waters: Vec<i64> = fillings
            .map(|filling| {
                filling
                    .before_drying_hundredths
                    .or(filling.water().measured())
                    .unwrap()
                    .get()
            })
            .collect();
        let count = waters.len() as f64;
        let average = waters.iter().sum::<i64>() as f64 / count;
        let variance = waters
            .iter()
            .map(|water| (*water as f64 - average).powi(2))
            .sum::<f64>()
            / count;
        assert!((average - f64::from(mean)).abs() < 5.0, "{name}: mean {average}");
        assert!(
            (variance.sqrt() - f64::from(spread)).abs() < 6.0,
            "{name}: spread {}",
            variance.sqrt()
        );
    }
    let dried = house
        .supers()
        .filter(|(_, of)| of.fillings().any(|filling| filling.dried_at.is_some()));
    assert_eq!(dried.count(), 8);
}

trait Named {
    fn label_is(&self, name: &str) -> bool;
}

impl Named for domain::extraction::Run {
    fn label_is(&self, name: &str) -> bool {
        self.name.as_ref().is_some_and(|own| own.as_str() == name)
    }
}

#[test]
fn the_code_on_the_console_leads_to_all_three_yards_and_to_buyers() {
    let plan = plan();
    let house = house(&plan);
    let code = LotCode::parse(&plan.jar_code.to_string()).unwrap();
    let (id, _) = house.batches().find(|(_, batch)| batch.code == Some(code)).unwrap();
    let trace = trace(&house, id.into(), crate::clock::now());
    let of = |kind: SubjectKind, steps: &[domain::trace::Step]| {
        steps.iter().filter(|step| step.subject.kind == kind).count()
    };
    assert_eq!(of(SubjectKind::Run, &trace.back), 2);
    assert_eq!(of(SubjectKind::Super, &trace.back), 58);
    assert_eq!(of(SubjectKind::Yard, &trace.back), 3);
    assert_eq!(of(SubjectKind::Customer, &trace.forward), 2);
    let codes: std::collections::BTreeSet<_> = house
        .batches()
        .map(|(_, of)| of.code)
        .chain(house.lots().map(|(_, of)| of.code))
        .collect();
    assert_eq!(codes.len(), 9 + 3, "no code is used twice");
}

#[test]
fn every_entry_reads_back_as_it_is_sent_and_belongs_to_the_year() {
    let plan = plan();
    for told in &plan.told {
        let kind = told.what.kind();
        let newest = entry::spec(kind).unwrap().newest;
        let sent = serde_json::to_string(&told.what).unwrap();
        assert_eq!(Entry::read(kind, newest, &sent).as_ref(), Ok(&told.what), "{sent}");
        assert_eq!(told.at.year(), YEAR, "{sent}");
        let office = entry::spec(kind).unwrap().written_by == entry::WrittenBy::Office;
        assert!(!office || matches!(told.by, Person::Maren | Person::Rook), "{kind}");
    }
}

#[test]
fn every_demo_holds_the_same_harvest() {
    let of = |plan: &Plan| -> Vec<(i64, String, i64)> {
        let season = season(&house(plan), YEAR);
        season
            .hives
            .into_iter()
            .map(|hive| (hive.yield_g, hive.code, hive.disputed_g))
            .collect()
    };
    assert_eq!(of(&plan()), of(&plan()));
}

#[test]
fn a_batch_on_the_shelf_is_no_longer_open() {
    for (_, batch) in house(&plan()).batches() {
        assert!(batch.standing_holds().next().is_none());
        let last = batch.labels.last().unwrap();
        let months = last.best_before.unwrap().year() - YEAR;
        assert_eq!(months, 2, "best before is 24 months away");
    }
}
