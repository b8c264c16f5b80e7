//! The fold over made-up histories: any order, any repeats, any batches give one state, and no honey is lost.
//!
//! Order and repeats: CF-1 of the trade rules and sync scenario 10. Voids and amendments: sync scenarios 20 and 21.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, TimeDelta, Utc};
use common::entries::{
    batch, blended, drawn, fill, honey_super, lot, placed, pulled, ran, read, received, run, uncapped, wet,
};
use common::{Book, amend, at, histories, minute, uuid, void};
use domain::common::{Flag, FlagCode};
use domain::delivery::Goods;
use domain::entry::Recorded;
use domain::fill::FillSource;
use domain::grown::joined;
use domain::house::House;
use domain::ids::EntryId;
use domain::state::State;
use domain::subject::Subject;
use domain::subject::SubjectKind;
use domain::{doubts, next, trace, yields};
use proptest::prelude::*;

fn checked() -> ProptestConfig {
    ProptestConfig {
        cases: 128,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

/// Another order, the same for the same number.
fn shuffled(entries: &[Recorded], seed: u64) -> Vec<Recorded> {
    let mut keyed: Vec<(u64, &Recorded)> = entries
        .iter()
        .map(|told| {
            (
                told.seq
                    .unsigned_abs()
                    .wrapping_mul(0x9E37_79B9_7F4A_7C15)
                    .rotate_left(17)
                    ^ seed
                        .wrapping_mul(0xD6E8_FEB8_6659_FD93)
                        .wrapping_mul(told.seq.unsigned_abs() | 1),
                told,
            )
        })
        .collect();
    keyed.sort_by_key(|(key, _)| *key);
    keyed.into_iter().map(|(_, told)| told.clone()).collect()
}

fn kept(state: &State) -> (String, String) {
    (state.state_json(), state.memo_json())
}

/// The state as a ledger comes to it that keeps it between batches, storing and reading it each time.
fn gone_on(about: Subject, arrived: &[Recorded], batch: usize) -> State {
    let mut state = State::empty(about.kind);
    for (at, new) in arrived.chunks(batch).enumerate() {
        let before = kept(&state);
        // Sent twice in one batch, as after a lost answer.
        let twice: Vec<Recorded> = new.iter().chain(new).cloned().collect();
        if !state.go_on(about, &twice) {
            assert_eq!(kept(&state), before, "what cannot go on changes nothing");
            let so_far = &arrived[..(at * batch + new.len())];
            state = State::fold(about, so_far);
        }
        let (json, memo) = kept(&state);
        let again = State::read(about.kind, &json, &memo).unwrap();
        assert_eq!(kept(&again), (json, memo), "{about}");
        assert_eq!(again, state, "{about}");
        state = again;
    }
    state
}

/// The same where what is past and settled is put away after every batch: what is kept, joined in the end, and how often
/// everything had to be folded anew.
fn gone_on_in_parts(about: Subject, arrived: &[Recorded], batch: usize) -> (State, usize) {
    let mut state = State::empty(about.kind);
    let (mut parts, mut anew) = (Vec::new(), 0);
    for (at, new) in arrived.chunks(batch).enumerate() {
        if !state.go_on(about, new) {
            state = State::fold(about, &arrived[..(at * batch + new.len())]);
            parts.clear();
            anew += 1;
        }
        parts.extend(state.put_away());
        let (json, memo) = kept(&state);
        state = State::read(about.kind, &json, &memo).unwrap();
        if !parts.is_empty() {
            state.begin_away();
        }
    }
    let (json, memo) = kept(&state);
    let json = joined(&json, parts.iter().map(|(state, _)| state.as_str())).unwrap();
    let memo = joined(&memo, parts.iter().map(|(_, memo)| memo.as_str())).unwrap();
    (State::read(about.kind, &json, &memo).unwrap(), anew)
}

fn overdrawn(flags: &[Flag]) -> bool {
    flags.iter().any(|flag| flag.code == FlagCode::Overdrawn)
}

/// What one thing says went to another, and what that other says came from it: grams or jars by pair.
type Moved = BTreeMap<(Subject, Subject), i64>;

/// Both books of every movement, the giver's and the taker's.
fn both_books(house: &House) -> (Moved, Moved) {
    let (mut given, mut got) = (Moved::new(), Moved::new());
    let book = |of: &mut Moved, from: Subject, into: Subject, amount: i64| {
        if amount != 0 {
            *of.entry((from, into)).or_default() += amount;
        }
    };
    for (id, run) in house.runs() {
        for ran in &run.fills {
            book(&mut given, id.into(), ran.fill_id.into(), ran.net_g);
        }
    }
    for (id, fill) in house.fills() {
        for taken in &fill.taken_out {
            book(&mut given, id.into(), taken.into, taken.weight_g);
        }
        let ran_out_of = match fill.source {
            Some(FillSource::RunId(run) | FillSource::CappingsOfRunId(run)) => Some(run),
            _ => None,
        };
        if let Some(run) = ran_out_of {
            book(&mut got, run.into(), id.into(), fill.net_g());
        }
    }
    for (id, lot) in house.lots() {
        // Jars that were emptied are booked as jars there and as grams here.
        for part in lot.parts.iter().filter(|part| part.from.kind != SubjectKind::Batch) {
            book(&mut got, part.from, id.into(), part.weight_g.get());
        }
        for taken in &lot.taken_out {
            book(&mut given, id.into(), taken.into, taken.weight_g);
        }
    }
    for (id, batch) in house.batches() {
        if let (Some(lot), true) = (batch.lot_id, batch.or_lot_ids.is_empty()) {
            book(&mut got, lot.into(), id.into(), batch.used_g);
        }
        for moved in &batch.delivered {
            book(&mut given, id.into(), moved.delivery_id.into(), moved.jars);
        }
    }
    for (subject, state) in house.of_kind(SubjectKind::Delivery) {
        for line in state.as_delivery().into_iter().flat_map(|delivery| &delivery.lines) {
            match line.goods {
                Goods::Jars { batch_id, count } => book(&mut got, batch_id.into(), subject, count.get()),
                Goods::Bulk { fill_id, weight_g } => book(&mut got, fill_id.into(), subject, weight_g.get()),
            }
        }
    }
    (given, got)
}

/// Every gram and jar that left one thing came into another (MB-1, MB-4): the two books of each movement agree, but
/// for a container of two runs and jars of two lots, which are flagged and counted once.
fn assert_books_agree(house: &House) {
    let (given, got) = both_books(house);
    let disputed = |subject: Subject| {
        house
            .get(subject)
            .is_some_and(|state| state.flags().iter().any(|flag| flag.code == FlagCode::OfTwoOrigins))
    };
    let pairs: BTreeSet<(Subject, Subject)> = given.keys().chain(got.keys()).copied().collect();
    for pair in pairs.into_iter().filter(|(_, into)| !disputed(*into)) {
        assert_eq!(given.get(&pair), got.get(&pair), "from {} into {}", pair.0, pair.1);
    }
}

/// What must always be true of origins: jars are of one lot, a lot of at least one part, a fill of a source (ID-6,
/// ID-7, LO-4).
fn assert_origins_known(house: &House) {
    for (id, batch) in house.batches().filter(|(_, batch)| batch.filled_at.is_some()) {
        let flagged = batch.flags.iter().any(|flag| flag.code == FlagCode::OfTwoOrigins);
        assert!(batch.lots().count() == 1 || flagged, "batch {id}");
    }
    for (id, lot) in house.lots().filter(|(_, lot)| lot.made_at.is_some()) {
        assert!(!lot.parts.is_empty() && lot.code.is_some(), "lot {id}");
    }
    for (id, fill) in house.fills().filter(|(_, fill)| fill.filled_at.is_some()) {
        assert!(fill.source.is_some(), "fill {id}");
    }
    for (id, run) in house.runs() {
        for uncapped in &run.supers {
            let went = house.honey_super(uncapped.super_id).is_some_and(|state| {
                state
                    .fillings()
                    .any(|filling| filling.run_id == Some(id) || filling.or_run_ids.contains(&id))
            });
            // A void or an amendment may have taken one side back; then the other side is gone with it.
            assert!(went, "super {} of run {id}", uncapped.super_id);
        }
    }
}

fn assert_nothing_lost(house: &House) {
    for (id, fill) in house.fills() {
        let out: i64 = fill.taken_out.iter().map(|taken| taken.weight_g).sum();
        let found: i64 = fill.differences.iter().map(|found| found.difference_g).sum();
        assert_eq!(fill.content_g, fill.net_g() - fill.skimmed_g - out + found, "fill {id}");
        assert!(
            fill.content_g >= -500 || fill.filled_at.is_none() || overdrawn(&fill.flags),
            "fill {id}"
        );
    }
    for (id, lot) in house.lots() {
        let out: i64 = lot.taken_out.iter().map(|taken| taken.weight_g).sum();
        assert_eq!(
            lot.content_g,
            lot.made_g() - lot.samples_g - lot.wasted_g - out
                + lot.differences.iter().map(|found| found.difference_g).sum::<i64>(),
            "lot {id}"
        );
        assert!(
            lot.content_g >= -500 || lot.made_at.is_none() || overdrawn(&lot.flags),
            "lot {id}"
        );
    }
    for (id, batch) in house.batches() {
        let out = batch.given + batch.broken + batch.samples + batch.own_use + batch.reworked;
        let explained = batch.jars_in_stock + batch.jars_sold() + out + batch.jars_unexplained();
        assert_eq!(batch.jars_good, explained, "batch {id}");
    }
}

proptest! {
    #![proptest_config(checked())]

    #[test]
    fn any_order_and_any_repeats_give_the_same_state_byte_for_byte(steps in histories::steps(60), seed in any::<u64>()) {
        let book = histories::book(&steps);
        for subject in book.subjects() {
            let told = book.about(subject);
            let expected = kept(&State::fold(subject, &told));
            let mut other = shuffled(&told, seed);
            prop_assert_eq!(&kept(&State::fold(subject, &other)), &expected, "{} in another order", subject);
            other.extend(shuffled(&told, seed ^ 0xFF));
            prop_assert_eq!(&kept(&State::fold(subject, &other)), &expected, "{} told twice", subject);
        }
    }

    #[test]
    fn going_on_in_any_batches_gives_what_folding_everything_gives(
        steps in histories::steps(60), seed in any::<u64>(), batch in 1_usize..7, in_time in any::<bool>(),
    ) {
        let book = histories::book(&steps);
        for subject in book.subjects() {
            let mut arrived = shuffled(&book.about(subject), seed);
            if in_time {
                arrived.sort_by_key(Recorded::order);
            }
            let expected = kept(&State::fold(subject, &arrived));
            prop_assert_eq!(kept(&gone_on(subject, &arrived, batch)), expected.clone(), "{}", subject);
            let (in_parts, _) = gone_on_in_parts(subject, &arrived, batch);
            prop_assert_eq!(kept(&in_parts), expected, "{} in parts", subject);
        }
    }

    #[test]
    fn no_honey_and_no_jar_is_lost_or_made_in_any_history(steps in histories::steps(80)) {
        for house in [histories::book(&steps).house(), histories::book_after_a_harvest(&steps).house()] {
            assert_nothing_lost(&house);
            assert_books_agree(&house);
            assert_origins_known(&house);
        }
    }

    #[test]
    fn what_nobody_corrects_counts_once_and_a_withdrawn_draw_gives_its_honey_back(
        steps in histories::steps(40), grams in 1_i64..20_000,
    ) {
        let mut book = histories::book_after_a_harvest(&steps);
        let before = book.state(fill(3)).as_fill().unwrap().content_g;
        let late = minute(9_000);
        let id = book.tell(0, late, drawn(9, 3, grams));
        prop_assert_eq!(book.state(fill(3)).as_fill().unwrap().content_g, before - grams);
        book.tell(1, late, void(id));
        prop_assert_eq!(book.state(fill(3)).as_fill().unwrap().content_g, before);
    }
}

#[test]
fn a_run_of_dried_supers_balances_to_the_gram_with_the_water_booked() {
    // MB-1, DR-3: 20.0 kg gross at 19.5 % dried to 17.8 % before spinning, wet 7.0 kg. Of 13.0 kg net the air took
    // 269 g: 13 000 (100 - 19.5)/(100 - 17.8) = 12 731 g are left.
    let mut book = Book::default();
    book.tell(0, minute(0), placed(1, 1));
    book.tell(0, minute(10), common::entries::received(1, Some(20_000)));
    book.tell(0, minute(20), read(honey_super(1), 1_950));
    let super_ids = vec![honey_super(1)];
    let started = domain::warm_room::DryingStarted {
        super_ids: super_ids.clone(),
        room_id: None,
    };
    book.tell(0, minute(30), started);
    book.tell(
        0,
        minute(3_000),
        domain::warm_room::DryingStopped {
            super_ids,
            room_id: None,
        },
    );
    book.tell(0, minute(3_010), read(honey_super(1), 1_780));
    book.tell(0, minute(3_100), uncapped(1, 1));
    book.tell(0, minute(3_110), wet(1, 1, 7_000));
    book.tell(0, minute(3_200), ran(1, 1, 12_400));
    let cappings = domain::extraction::CappingsWeighed {
        run_id: common::entries::run(1),
        honey_g: common::g(0),
        wax_g: Some(common::g(200)),
    };
    book.tell(0, minute(3_300), cappings);
    let season = yields::season(&book.house(), 2025);
    let balance = season.runs[0].balance.clone().unwrap();
    assert_eq!(
        (balance.net_g, balance.accounted_g, balance.unexplained_g),
        (13_000, 12_400 + 200 + 269, 131)
    );
}

/// Everything that can be asked of a house, asked.
fn ask_everything(house: &House, now: DateTime<Utc>) {
    let _ = next::next(house, now);
    let _ = yields::season(house, 2025);
    let _ = yields::season(house, 1970);
    for doubt in doubts::doubts(house) {
        assert!(!doubt.sentence(house).is_empty() && !doubt.subjects().is_empty());
    }
    for (subject, state) in house.iter() {
        let _ = trace::trace(house, subject, minute(90_000));
        let _ = (state.label(), state.status(), state.flags().len());
    }
}

#[test]
fn a_tare_heavier_than_the_gross_makes_no_honey_and_a_wet_box_heavier_than_full_no_panic() {
    let mut book = Book::default();
    let domain::entry::Entry::ContainerFilled(mut light) = ran(1, 1, 5_000) else {
        panic!("a fill")
    };
    light.tare_g = common::g(9_000);
    book.tell(0, minute(0), light);
    book.tell(0, minute(1), placed(1, 1));
    book.tell(0, minute(2), received(1, Some(5_000)));
    book.tell(0, minute(3), uncapped(1, 1));
    book.tell(0, minute(4), wet(1, 1, 9_000));
    book.tell(0, minute(5), drawn(1, 1, 1_000));
    let house = book.house();
    assert_eq!(house.fill(fill(1)).unwrap().content_g, -1_000);
    assert_nothing_lost(&house);
    ask_everything(&house, minute(10));
}

#[test]
fn a_lot_made_of_itself_and_of_its_own_grandchild_is_folded_and_traced_once() {
    let mut book = Book::default();
    book.tell(0, minute(0), ran(1, 1, 20_000));
    book.tell(
        0,
        minute(1),
        blended(
            1,
            &[(lot(1).into(), 1_000), (lot(3).into(), 1_000), (fill(1).into(), 5_000)],
        ),
    );
    book.tell(0, minute(2), blended(2, &[(lot(1).into(), 2_000)]));
    book.tell(0, minute(3), blended(3, &[(lot(2).into(), 2_000)]));
    let house = book.house();
    assert_nothing_lost(&house);
    ask_everything(&house, minute(10));
    assert!(trace::descends_from(&house, lot(1).into(), lot(3).into()));
}

#[test]
fn a_blend_of_ten_thousand_parts_is_kept_whole() {
    let mut book = Book::default();
    let parts: Vec<(Subject, i64)> = (0..10_000).map(|part| (Subject::from(fill(part)), 1)).collect();
    book.tell(0, minute(0), blended(1, &parts));
    let state = book.state(lot(1));
    assert_eq!(state.as_lot().unwrap().content_g, 10_000);
    let mut house = House::default();
    house.insert(lot(1).into(), state);
    assert_eq!(trace::trace(&house, lot(1).into(), minute(90_000)).back.len(), 10_000);
    let _ = next::next(&house, minute(1));
}

#[test]
fn clocks_at_the_beginning_and_the_end_of_time_do_not_stop_the_fold() {
    let mut book = Book::default();
    for (number, when) in [
        at("1970-01-01T00:00:00Z"),
        DateTime::<Utc>::MIN_UTC,
        DateTime::<Utc>::MAX_UTC,
    ]
    .into_iter()
    .enumerate()
    {
        let number = u32::try_from(number).unwrap();
        book.tell(0, when, placed(number, 1));
        book.tell(1, minute(0), pulled(number, Some(2)));
        book.tell(0, when, received(number, Some(20_000)));
        book.tell(2, when, uncapped(number, 1));
        book.tell(2, when, ran(number, 1, 10_000));
        book.tell(2, when, read(fill(number), 1_700));
        book.tell(0, when, placed(number, 3));
    }
    ask_everything(&book.house(), minute(0));
}

#[test]
fn a_box_placed_in_1970_and_pulled_today_stood_all_those_years_and_is_no_second_box() {
    let mut book = Book::default();
    book.tell(0, at("1970-01-01T00:00:00Z"), placed(1, 1));
    book.tell(0, minute(0), pulled(1, Some(1)));
    let state = book.state(honey_super(1));
    assert!(state.flags().is_empty());
    assert_eq!(state.as_super().unwrap().filling.stands.len(), 1);
}

#[test]
fn withdrawals_of_withdrawals_alternate_whatever_their_number() {
    let mut book = Book::default();
    let mut last = book.tell(0, minute(0), ran(1, 1, 10_000));
    for number in 0..8 {
        let expected = if number % 2 == 0 { 10_000 } else { 0 };
        assert_eq!(
            book.state(fill(1)).as_fill().unwrap().content_g,
            expected,
            "after {number} voids"
        );
        last = book.tell(1, minute(1 + number), void(last));
    }
}

#[test]
fn a_chain_of_a_thousand_voids_and_a_thousand_voids_of_one_entry_end() {
    let mut book = Book::default();
    let first = book.tell(0, minute(0), ran(1, 1, 10_000));
    let mut last = first;
    for number in 0..1_000 {
        last = book.tell(1, minute(number), void(last));
    }
    for number in 0..1_000 {
        book.tell(2, minute(number), void(first));
    }
    let told = book.entries.clone();
    let once = kept(&State::fold(fill(1).into(), &told));
    assert_eq!(kept(&State::fold(fill(1).into(), &shuffled(&told, 5))), once);
}

#[test]
fn voids_that_name_each_other_or_themselves_fall_and_the_entry_stands() {
    let mut book = Book::default();
    let told = |number| EntryId::from_uuid(uuid(0xE000, number));
    book.tell(0, minute(0), ran(1, 1, 10_000));
    book.tell(1, minute(1), void(told(3)));
    book.tell(2, minute(2), void(told(2)));
    book.tell(2, minute(3), void(told(4)));
    assert_eq!(book.state(fill(1)).as_fill().unwrap().content_g, 10_000);
}

#[test]
fn amendments_that_name_each_other_or_nothing_known_change_nothing() {
    let mut book = Book::default();
    let told = |number| EntryId::from_uuid(uuid(0xE000, number));
    book.tell(0, minute(0), ran(1, 1, 10_000));
    book.tell(1, minute(1), amend(told(3), ran(1, 1, 1)));
    book.tell(1, minute(2), amend(told(2), ran(1, 1, 2)));
    book.tell(1, minute(3), amend(told(4), ran(1, 1, 3)));
    book.tell(1, minute(4), amend(told(99), ran(1, 1, 4)));
    assert_eq!(book.state(fill(1)).as_fill().unwrap().content_g, 10_000);
}

#[test]
fn an_amendment_made_in_knowledge_of_the_withdrawal_brings_the_entry_back() {
    let mut book = Book::default();
    let first = book.tell(0, minute(0), ran(1, 1, 10_000));
    book.tell(1, minute(1), void(first));
    book.tell(0, minute(2), amend(first, ran(1, 1, 9_000)));
    let state = book.state(fill(1));
    assert_eq!(state.as_fill().unwrap().content_g, 9_000);
    assert!(state.flags().is_empty(), "nothing was done without sight");
}

#[test]
fn a_placing_amended_to_another_box_and_the_amendment_withdrawn_is_about_the_first_box_only() {
    let mut book = Book::default();
    let first = book.tell(0, minute(0), placed(1, 1));
    let amended = book.tell(0, minute(1), amend(first, placed(2, 1)));
    assert_eq!(book.state(honey_super(1)).status(), "in_store");
    assert_eq!(book.state(honey_super(2)).status(), "on_hive");
    book.tell(0, minute(2), void(amended));
    assert_eq!(book.state(honey_super(1)).status(), "on_hive");
    assert_eq!(
        book.state(honey_super(2)).status(),
        "in_store",
        "it was never about this box"
    );
}

#[test]
fn a_history_makes_things_of_every_kind_from_hive_to_buyer() {
    // Guards the properties above: a generator that makes nothing proves nothing.
    let book = histories::book_after_a_harvest(&[]);
    let kinds: BTreeSet<&str> = book.subjects().iter().map(|subject| subject.kind.name()).collect();
    for kind in ["yard", "hive", "super", "run", "fill", "lot", "batch", "delivery"] {
        assert!(kinds.contains(kind), "{kind}");
    }
    let back = trace::trace(&book.house(), batch(1).into(), minute(90_000)).back;
    assert!(back.iter().any(|step| step.subject.kind.name() == "hive"));
}

/// Fifty fillings of one super, each in a run of its own.
fn fifty_fillings() -> Book {
    let mut book = Book::default();
    for filling in 0..50_u32 {
        let start = minute(i64::from(filling) * 100_000);
        let told = [
            placed(1, filling % 7),
            pulled(1, Some(filling % 7)),
            received(1, Some(18_000)),
            read(honey_super(1), 1_700),
            uncapped(1, filling),
            wet(1, filling, 9_000),
        ];
        for (step, entry) in told.into_iter().enumerate() {
            book.tell(1, start + TimeDelta::days(i64::try_from(step).unwrap()), entry);
        }
    }
    book
}

#[test]
fn what_is_kept_of_a_super_grows_with_no_filling() {
    let book = fifty_fillings();
    let about = honey_super(1).into();
    let entries = book.about(about);
    let mut state = State::empty(about.kind);
    let mut longest = Vec::new();
    let mut away = false;
    for filling in entries.chunks(6) {
        for told in filling {
            assert!(
                state.go_on(about, std::slice::from_ref(told)),
                "goes on without what is away"
            );
            away |= state.put_away().is_some();
            let (json, memo) = kept(&state);
            longest.push(json.len() + memo.len());
            state = State::read(about.kind, &json, &memo).unwrap();
            if away {
                state.begin_away();
            }
        }
    }
    let most = |from: usize, to: usize| longest[from..to].iter().max().copied().unwrap();
    // Numbers of the ledger have a digit more by then.
    assert!(most(240, 300) <= most(60, 120) + 60, "{longest:?}");
    let (joined, anew) = gone_on_in_parts(about, &entries, 3);
    assert_eq!((kept(&joined), anew), (kept(&State::fold(about, &entries)), 0));
}

#[test]
fn what_reaches_back_to_a_filling_that_is_away_is_folded_anew() {
    let mut book = fifty_fillings();
    let late = minute(50 * 100_000);
    book.tell(1, late, wet(1, 3, 8_800));
    let about = honey_super(1).into();
    let entries = book.about(about);
    let (joined, anew) = gone_on_in_parts(about, &entries, 7);
    assert_eq!((kept(&joined), anew), (kept(&State::fold(about, &entries)), 1));
    let filling = joined.as_super().unwrap().filling_of(run(3)).unwrap();
    assert_eq!(filling.wet.as_ref().unwrap().gross_g.get(), 8_800);
}
