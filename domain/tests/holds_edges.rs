//! The edges of holds: who carries what to the minute, which release ends what, and what a hold's answer lists.
//!
//! The rules are the project's own (marks TX, DI, CF, AL); times and weights are made up.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

mod common;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use common::care::{
    cleaned, colony, colony_ended, colony_moved, in_hive, label, licensed, new_colony, ordered, put_in, seen_in,
    suspected, taken_out,
};
use common::entries::{
    batch, blended, bottled, customer, delivered, delivery, drawn, fill, hive, hold, honey_super, lifted, lot, moved,
    new_hive, placed, pulled, ran, received, run, uncapped, yard,
};
use common::held::{autumn, furnished, held, june, to_jars};
use common::{Book, at, count, text};
use domain::colony::ColonyEnd;
use domain::common::{FlagCode, HoldReason, HoldSet};
use domain::delivery::Returned;
use domain::disease::StandstillLicensed;
use domain::entry::Entry;
use domain::hive::HiveMoved;
use domain::holds::{Covered, HoldAnswer, Holds};
use domain::honey_super::{SuperEnd, SuperLeftInYard, SuperScrapped};
use domain::ids::{EntryId, MemberId};
use domain::subject::Subject;
use domain::taint::{Taint, TaintNoted};
use domain::trace::{Certainty, holds_on};

fn answer(book: &Book, hold: EntryId, now: DateTime<Utc>) -> HoldAnswer {
    Holds::of(&book.house()).answer(hold, now).unwrap()
}

/// What a hold covers, and whether it is here.
fn covers(book: &Book, hold: EntryId, now: DateTime<Utc>) -> BTreeMap<Subject, bool> {
    let covers = answer(book, hold, now).covers;
    covers
        .iter()
        .map(|Covered { subject, here, .. }| (*subject, *here))
        .collect()
}

fn carried(number: u32, to: u32) -> Entry {
    HiveMoved {
        hive_id: hive(number),
        yard_id: yard(to),
        permit: None,
    }
    .into()
}

fn told(by: u32) -> MemberId {
    MemberId::from_uuid(common::uuid(0xA000, by))
}

fn only(hold: EntryId) -> BTreeSet<EntryId> {
    BTreeSet::from([hold])
}

// Where people look for a cause: the yard where all its hives stand, else the first that was named.
#[test]
fn a_cause_of_several_hives_of_one_yard_is_on_the_yard() {
    for (hives, place) in [
        (&[1, 2, 3][..], Subject::from(yard(1))),
        (&[1, 4], hive(1).into()),
        (&[1, 2, 4], hive(1).into()),
        (&[2], hive(2).into()),
    ] {
        let mut book = furnished();
        let treated = book.tell(1, june(5, 9), put_in(hives, 1));
        let on = holds_on(&book.house(), hive(hives[0]).into(), june(6, 9));
        assert_eq!(on.iter().map(|held| held.on).collect::<Vec<_>>(), [place], "{hives:?}");
        let named: Vec<Subject> = answer(&book, treated, june(6, 9))
            .line
            .on
            .iter()
            .map(|named| named.subject)
            .collect();
        assert_eq!(
            named,
            hives.iter().map(|number| hive(*number).into()).collect::<Vec<_>>()
        );
    }
}

#[test]
fn a_hold_says_who_set_it_and_why() {
    let mut book = furnished();
    let drum = HoldSet {
        target: hive(1).into(),
        reason: HoldReason::Other,
        text: Some(text("the stand leans")),
    };
    let by_hand = book.tell(3, june(5, 9), drum);
    let treated = book.tell(1, june(5, 10), put_in(&[2], 1));
    let smoke = TaintNoted {
        super_ids: vec![honey_super(1)],
        taint: Taint::Smoke,
        text: Some(text("diesel")),
    };
    let tainted = book.tell(2, june(5, 11), smoke);
    let Entry::DiseaseSuspected(mut sick) = suspected(in_hive(3)) else {
        panic!("a suspicion")
    };
    sick.text = Some(text("sunken cappings"));
    let sick = book.tell(4, june(5, 12), sick);
    let lines = [by_hand, treated, tainted, sick].map(|hold| answer(&book, hold, june(6, 9)).line);
    assert_eq!(
        lines.map(|line| (line.text, line.set_by)),
        [
            (Some("the stand leans".to_owned()), Some(told(3))),
            (Some("medicine 1".to_owned()), None),
            (Some("diesel".to_owned()), Some(told(2))),
            (Some("sunken cappings".to_owned()), Some(told(4))),
        ]
    );
}

// TX-3: the wait is over with its last day on the wall, an hour ahead of UTC.
#[test]
fn an_answer_lists_a_hive_until_its_wait_is_over() {
    let mut book = furnished();
    let treated = book.tell(1, june(5, 9), put_in(&[1], 1));
    book.tell(1, june(15, 9), taken_out(&[1], Some(1)));
    let minute = TimeDelta::minutes(1);
    assert_eq!(
        covers(&book, treated, june(25, 23) - minute),
        BTreeMap::from([(hive(1).into(), true)])
    );
    assert_eq!(covers(&book, treated, june(25, 23)), BTreeMap::new());
    assert_eq!(answer(&book, treated, june(25, 23)).line.until, Some(june(25, 23)));
}

// TX-3: where two phones' walls differ, a wait lasts as long as either says.
#[test]
fn a_box_put_on_before_the_wait_is_over_by_one_of_two_walls_is_held() {
    let held_when_placed = |minute: u32, offset: i16| {
        let mut book = furnished();
        let treated = book.tell(1, june(5, 9), put_in(&[1], 1));
        book.tell(1, june(15, 9), taken_out(&[1], Some(1)));
        book.tell(2, june(25, 22) + TimeDelta::minutes(minute.into()), placed(1, 1));
        book.entries.last_mut().unwrap().utc_offset_min = offset;
        held(&book.house(), honey_super(1), june(26, 9)) == only(treated)
    };
    // The medicine's wall is an hour ahead of UTC, and its last day ends at 23:00 UTC.
    assert!(held_when_placed(30, 120), "the next day on the box's wall");
    assert!(held_when_placed(90, 0), "still the last day on the box's wall");
    assert!(!held_when_placed(90, 60), "over by both");
}

// TX-4: what is used up is not here, and who still has something of it is named.
#[test]
fn an_answer_says_what_is_still_here_and_who_has_the_rest() {
    let mut book = furnished();
    let treated = book.tell(1, june(5, 9), put_in(&[1], 1));
    for number in [1, 2, 3] {
        book.tell(1, june(6, 9), placed(number, 1));
    }
    to_jars(&mut book, 1, june(20, 9));
    to_jars(&mut book, 2, june(20, 9));
    let scrapped = SuperScrapped {
        super_id: honey_super(3),
        how: SuperEnd::Lost,
    };
    book.tell(1, june(20, 9), pulled(3, Some(1)));
    book.tell(1, june(21, 9), scrapped);
    // Lot 1 gave 5 of its 10 kg; all of lot 2 goes into jars, and all of these to three customers.
    book.tell(1, june(21, 9), bottled(12, 2, 10));
    book.tell(1, june(22, 9), delivered(1, 12, 6, Some(1)));
    book.tell(1, june(22, 10), delivered(2, 12, 1, Some(2)));
    book.tell(1, june(22, 11), delivered(3, 12, 3, Some(3)));
    let back = |of, jars| Returned {
        delivery_id: delivery(of),
        batch_id: batch(12),
        jars: count(jars),
        reason: None,
    };
    book.tell(1, june(23, 9), ran(9, 1, 2_000));
    let here = covers(&book, treated, autumn());
    for (subject, is) in [
        (Subject::from(hive(1)), true),
        (honey_super(3).into(), false),
        (fill(1).into(), false),
        (fill(9).into(), true),
        (lot(1).into(), true),
        (lot(2).into(), false),
        (batch(1).into(), true),
        (batch(12).into(), false),
    ] {
        assert_eq!(here.get(&subject), Some(&is), "{subject}");
    }
    book.tell(1, june(23, 9), back(1, 2));
    book.tell(1, june(23, 10), back(2, 1));
    let review = answer(&book, treated, autumn()).review;
    let holders: Vec<_> = review.iter().flat_map(|review| &review.holders).collect();
    let holders: Vec<_> = holders.iter().map(|holder| (holder.customer_id, holder.jars)).collect();
    assert_eq!(holders, [(Some(customer(1)), Some(4)), (Some(customer(3)), Some(3))]);
}

// TX-3: whoever has left the hive by then does not carry what is put into it.
#[test]
fn bees_that_leave_in_the_minute_of_a_treatment_do_not_carry_it() {
    let mut book = furnished();
    book.tell(1, june(1, 9), new_colony(1, 1, None));
    book.tell(1, june(5, 9), colony_moved(1, 2));
    let treated = book.tell(1, june(5, 9), put_in(&[1], 1));
    assert_eq!(held(&book.house(), hive(1), june(6, 9)), only(treated));
    assert_eq!(held(&book.house(), hive(2), june(6, 9)), BTreeSet::new());
}

#[test]
fn dead_bees_do_not_carry_what_is_put_into_their_hive() {
    let mut book = furnished();
    book.tell(1, june(1, 9), new_colony(1, 1, None));
    book.tell(1, june(3, 9), colony_ended(1, ColonyEnd::Dead, None));
    let treated = book.tell(1, june(5, 9), put_in(&[1], 1));
    assert_eq!(
        covers(&book, treated, june(6, 9)),
        BTreeMap::from([(hive(1).into(), true)])
    );
}

#[test]
fn bees_put_to_treated_bees_carry_it_and_bees_put_into_their_empty_hive_do_not() {
    let treated_with = |number, day, hour| {
        let mut book = furnished();
        book.tell(1, june(1, 9), new_colony(1, 1, None));
        let treated = book.tell(1, june(2, 9), put_in(&[1], 1));
        book.tell(1, june(10, 9), colony_moved(1, 2));
        book.tell(1, june(day, hour), new_colony(number, 1, None));
        held(&book.house(), colony(number), june(20, 9)) == only(treated)
    };
    assert!(treated_with(2, 5, 9), "beside them");
    assert!(!treated_with(3, 10, 9), "in the minute they left");
    assert!(!treated_with(4, 12, 9), "days after");
}

#[test]
fn a_colony_has_the_holds_of_the_hive_it_lives_in() {
    let mut book = furnished();
    book.tell(1, june(1, 9), new_colony(1, 1, None));
    let first = book.tell(1, june(2, 9), hold(hive(1), HoldReason::Other));
    let second = book.tell(1, june(2, 10), hold(hive(2), HoldReason::Other));
    book.tell(1, june(10, 9), colony_moved(1, 2));
    book.tell(1, june(20, 9), colony_ended(1, ColonyEnd::Sold, None));
    for (day, hour, holds) in [
        (9, 9, only(first)),
        (10, 9, only(second)),
        (19, 9, only(second)),
        (20, 9, BTreeSet::new()),
    ] {
        assert_eq!(
            held(&book.house(), colony(1), june(day, hour)),
            holds,
            "{day} June, {hour}"
        );
    }
}

#[test]
fn a_hold_on_a_colony_bears_on_the_hives_it_lives_in() {
    let mut book = furnished();
    book.tell(1, june(1, 9), new_colony(1, 1, None));
    let sick = book.tell(1, june(5, 9), hold(colony(1), HoldReason::Disease));
    assert_eq!(held(&book.house(), hive(1), june(6, 9)), only(sick));
    book.tell(1, june(10, 9), colony_moved(1, 2));
    assert_eq!(held(&book.house(), hive(2), june(11, 9)), only(sick));
}

// CF-17: a release is of one cause.
#[test]
fn of_two_medicines_a_release_ends_the_one_it_names() {
    let mut book = furnished();
    book.tell(0, june(1, 9), label(2, 10, false));
    let first = book.tell(1, june(5, 9), put_in(&[1], 1));
    let second = book.tell(1, june(5, 10), put_in(&[1], 2));
    book.tell(1, june(6, 9), placed(1, 1));
    book.tell(2, june(10, 9), lifted(hive(1), first));
    assert_eq!(held(&book.house(), hive(1), june(11, 9)), only(second));
    assert_eq!(
        held(&book.house(), honey_super(1), june(11, 9)),
        BTreeSet::from([first, second])
    );
    book.tell(2, june(12, 9), lifted(honey_super(1), first));
    assert_eq!(held(&book.house(), honey_super(1), june(13, 9)), only(second));
}

#[test]
fn of_two_medicines_only_the_one_that_was_taken_out_runs_out() {
    let mut book = furnished();
    book.tell(0, june(1, 9), label(2, 10, false));
    let first = book.tell(1, june(5, 9), put_in(&[1], 1));
    let second = book.tell(1, june(5, 10), put_in(&[1], 2));
    book.tell(1, june(15, 9), taken_out(&[1], Some(2)));
    assert_eq!(answer(&book, first, june(16, 9)).line.until, None);
    assert_eq!(answer(&book, second, june(16, 9)).line.until, Some(june(25, 23)));
    assert_eq!(held(&book.house(), hive(1), june(26, 9)), only(first));
}

// CF-2: an end told twice within twelve hours has two witnesses. What is seen after it was not out.
#[test]
fn strips_taken_out_twice_on_a_day_were_taken_out_once() {
    let after_six_hours = |entry: Entry| {
        let mut book = furnished();
        book.tell(1, june(5, 9), put_in(&[1], 1));
        let saw = book.newest();
        let out = book.tell_having_seen(1, saw, june(15, 9), taken_out(&[1], Some(1)));
        let again = book.tell_having_seen(2, saw, june(15, 15), entry);
        let house = book.house();
        let holds = Holds::of(&house);
        let list = holds.list(june(16, 9)).holds;
        let texts: Vec<_> = list.into_iter().map(|line| line.text).collect();
        let sides: Vec<_> = holds.doubts().into_iter().flat_map(|(_, flag)| flag.sides).collect();
        let sides: Vec<_> = sides.into_iter().map(|side| (side.entry_id, side.at)).collect();
        (texts, sides, [(out, june(15, 9)), (again, june(15, 15))])
    };
    let medicine = Some("medicine 1".to_owned());
    let (texts, sides, _) = after_six_hours(taken_out(&[1], Some(1)));
    assert_eq!((texts, sides), (vec![medicine.clone()], vec![]));
    // Nobody said which strips were seen: those that were said to be out.
    let (texts, sides, expected) = after_six_hours(seen_in(&[1], None));
    assert_eq!((texts, sides), (vec![medicine.clone(), medicine], expected.to_vec()));
}

#[test]
fn strips_taken_out_long_ago_are_not_those_seen_now() {
    let mut book = furnished();
    book.tell(0, at("2023-12-01T09:00:00Z"), label(2, 10, false));
    book.tell(1, at("2024-01-10T09:00:00Z"), put_in(&[3], 2));
    book.tell(1, at("2024-03-01T09:00:00Z"), taken_out(&[3], Some(2)));
    book.tell(1, at("2024-06-01T09:00:00Z"), placed(1, 3));
    to_jars(&mut book, 1, at("2024-08-01T09:00:00Z"));
    let seen = book.tell(1, june(20, 9), seen_in(&[3], Some(2)));
    assert_eq!(held(&book.house(), hive(3), june(21, 9)), only(seen));
    assert_eq!(held(&book.house(), batch(1), june(21, 9)), BTreeSet::new());
}

#[test]
fn strips_seen_in_a_hive_came_with_its_bees_and_not_before_them() {
    let mut book = furnished();
    book.tell(1, june(1, 8), new_colony(3, 2, None));
    book.tell(1, june(1, 9), placed(1, 2));
    book.tell(1, june(10, 9), pulled(1, Some(2)));
    book.tell(1, june(12, 9), colony_moved(3, 5));
    book.tell(1, june(15, 9), new_colony(2, 2, None));
    let seen = book.tell(1, june(20, 9), seen_in(&[2], None));
    assert_eq!(held(&book.house(), hive(2), june(21, 9)), only(seen));
    assert_eq!(held(&book.house(), honey_super(1), june(21, 9)), BTreeSet::new());
}

// TA-1: a box cleaned before something is gathered in it is clean.
#[test]
fn a_box_put_on_in_the_minute_it_was_cleaned_is_clean() {
    for (hour, free) in [(8, false), (9, true)] {
        let mut book = furnished();
        let smoke = TaintNoted {
            super_ids: vec![honey_super(1)],
            taint: Taint::Smoke,
            text: None,
        };
        book.tell(1, june(5, 9), smoke);
        book.tell(1, june(8, 9), cleaned(&[1]));
        book.tell(1, june(8, hour), placed(1, 1));
        assert_eq!(
            held(&book.house(), honey_super(1), june(9, 9)).is_empty(),
            free,
            "{hour}"
        );
    }
}

// CF-4: a release is for what was there.
#[test]
fn a_release_does_not_cover_what_comes_in_after_it() {
    for (hour, free) in [(8, true), (9, true), (10, false)] {
        let mut book = furnished();
        let treated = book.tell(1, june(5, 9), put_in(&[1], 1));
        for number in [1, 2] {
            book.tell(1, june(6, 9), placed(number, 1));
            book.tell(1, june(20, 9), pulled(number, Some(1)));
            book.tell(1, june(20, 10), received(number, Some(20_000)));
            book.tell(1, june(20, 11), uncapped(number, number));
            book.tell(1, june(20, 12), ran(number, number, 10_000));
        }
        book.tell(1, june(21, 9), drawn(1, 1, 10_000));
        book.tell(1, june(22, hour), blended(1, &[(fill(2).into(), 5_000)]));
        book.tell(2, june(22, 9), lifted(lot(1), treated));
        let now = held(&book.house(), lot(1), autumn());
        assert_eq!(now, if free { BTreeSet::new() } else { only(treated) }, "{hour}");
    }
}

// CF-12: who releases jars has to have seen by which ways the cause came to them.
#[test]
fn a_release_ends_nothing_that_came_a_way_its_maker_had_not_seen() {
    for saw_it in [true, false] {
        let mut book = furnished();
        let treated = book.tell(1, june(5, 9), put_in(&[1], 1));
        book.tell(1, june(6, 9), placed(1, 1));
        book.tell(1, june(6, 9), placed(2, 4));
        book.tell(1, june(20, 9), pulled(1, Some(1)));
        to_jars(&mut book, 2, june(20, 9));
        let saw = book.newest();
        // The treated super was spun in the same run.
        book.tell_having_seen(2, saw, june(20, 11), uncapped(1, 2));
        let seen = if saw_it { book.newest() } else { saw };
        book.tell_having_seen(3, seen, june(25, 9), lifted(batch(2), treated));
        let house = book.house();
        let now = held(&house, batch(2), autumn());
        assert_eq!(now, if saw_it { BTreeSet::new() } else { only(treated) });
        let blind = Holds::of(&house)
            .doubts()
            .into_iter()
            .filter(|(_, flag)| flag.code == FlagCode::LiftedWithoutSight);
        assert_eq!(blind.count(), usize::from(!saw_it));
    }
}

/// More causes than fit into one word, each with honey of its own.
#[test]
fn a_hundred_and_fifty_causes_keep_apart() {
    const CAUSES: u32 = 150;
    let mut book = Book::default();
    book.tell(0, june(1, 8), common::entries::new_yard(1, "first"));
    book.tell(0, june(1, 8), new_hive(1, 1, "H1"));
    let mut holds = Vec::new();
    for number in 1..=CAUSES {
        book.tell(0, june(1, 9), common::entries::new_super(number));
        book.tell(0, june(1, 10), placed(number, 1));
        holds.push(book.tell(0, june(2, 9), hold(honey_super(number), HoldReason::Other)));
        to_jars(&mut book, number, june(5, 9));
    }
    let expect = |book: &Book, freed: &[u32]| {
        let house = book.house();
        let all = Holds::of(&house);
        assert_eq!(all.list(autumn()).holds.len(), holds.len());
        for (number, own) in (1..).zip(&holds) {
            let on: Vec<_> = all.on(batch(number).into(), autumn());
            let on: Vec<_> = on.iter().map(|held| (held.hold_id, held.certainty)).collect();
            let free = freed.contains(&number);
            let expected = if free { vec![] } else { vec![(*own, Certainty::Sure)] };
            assert_eq!(on, expected, "batch {number}");
            let covered: BTreeSet<Subject> = all
                .answer(*own, autumn())
                .unwrap()
                .covers
                .iter()
                .map(|covered| covered.subject)
                .collect();
            let mut way: BTreeSet<Subject> = BTreeSet::from([
                honey_super(number).into(),
                run(number).into(),
                fill(number).into(),
                lot(number).into(),
            ]);
            way.extend((!free).then(|| Subject::from(batch(number))));
            assert_eq!(covered, way);
        }
    };
    expect(&book, &[]);
    let freed = [1, 2, 63, 64, 65, 66, 128, 129, 150];
    for number in freed {
        book.tell(1, june(9, 9), lifted(batch(number), holds[number as usize - 1]));
    }
    expect(&book, &freed);
}

// CF-4: a pail said to have run out of two extractors may be of either.
#[test]
fn a_sure_cause_is_possible_behind_a_way_that_is_only_possible() {
    let mut book = furnished();
    let treated = book.tell(1, june(5, 9), put_in(&[1], 1));
    book.tell(1, june(6, 9), placed(1, 1));
    to_jars(&mut book, 1, june(20, 9));
    let certainty = |book: &Book, subject: Subject| holds_on(&book.house(), subject, autumn())[0].certainty;
    assert_eq!(held(&book.house(), fill(1), autumn()), only(treated));
    assert_eq!(certainty(&book, batch(1).into()), Certainty::Sure);
    let saw = book.newest() - 4;
    book.tell_having_seen(2, saw, june(20, 12), ran(1, 2, 10_000));
    assert_eq!(certainty(&book, run(1).into()), Certainty::Sure);
    assert_eq!(certainty(&book, fill(1).into()), Certainty::Possible);
}

/// The places to look in besides, under an order on the first yard of 10 June.
fn contacts(before: &[(DateTime<Utc>, Entry)], after: &[(DateTime<Utc>, Entry)]) -> Vec<String> {
    let mut book = furnished();
    for (when, entry) in before {
        book.tell(1, *when, entry.clone());
    }
    let order = book.tell(1, june(10, 9), ordered(1));
    for (when, entry) in after {
        book.tell(1, *when, entry.clone());
    }
    let yards = answer(&book, order, june(20, 9)).contact_yards;
    yards.into_iter().map(|named| named.label).collect()
}

// DI-2, DI-3.
#[test]
fn contact_yards_are_those_that_boxes_and_hives_were_in_since() {
    let in_second = SuperLeftInYard {
        super_id: honey_super(1),
        yard_id: yard(2),
    };
    // A box that had come from there before, a hive that had been there before.
    let before = [
        (june(1, 9), placed(1, 4)),
        (june(5, 9), moved(1, 4, 1)),
        (june(2, 9), carried(2, 2)),
        (june(6, 9), carried(2, 1)),
    ];
    assert_eq!(contacts(&before, &[]), [""; 0]);
    assert_eq!(contacts(&before, &[(june(12, 9), carried(3, 2))]), ["second"]);
    let left = [(june(12, 9), pulled(1, Some(1))), (june(12, 10), in_second.into())];
    assert_eq!(contacts(&before, &left), ["second"]);
}

// DI-2: sickness reaches back to the beginning of its season, and so do its contacts.
#[test]
fn contacts_of_a_sickness_are_those_of_its_season() {
    let contacts = |there| {
        let mut book = furnished();
        book.tell(1, at(there), placed(1, 4));
        book.tell(1, at(there) + TimeDelta::days(4), moved(1, 4, 1));
        let sick = book.tell(1, june(10, 9), suspected(in_hive(1)));
        let yards = answer(&book, sick, june(20, 9)).contact_yards;
        yards.into_iter().map(|named| named.label).collect::<Vec<_>>()
    };
    assert_eq!(contacts("2025-05-01T09:00:00Z"), ["second"]);
    assert_eq!(contacts("2024-09-01T09:00:00Z"), [""; 0]);
}

#[test]
fn boxes_stacked_in_a_yard_are_under_its_order_and_hives_until_they_leave() {
    let mut book = furnished();
    let stacked = |number, place| SuperLeftInYard {
        super_id: honey_super(number),
        yard_id: yard(place),
    };
    book.tell(1, june(3, 9), stacked(5, 1));
    book.tell(1, june(3, 9), stacked(6, 2));
    book.tell(1, june(3, 9), placed(7, 4));
    let order = book.tell(1, june(10, 9), ordered(1));
    book.tell(1, june(15, 9), carried(3, 2));
    let house = book.house();
    assert_eq!(held(&house, honey_super(5), june(12, 9)), only(order));
    assert_eq!(held(&house, honey_super(6), june(12, 9)), BTreeSet::new());
    assert_eq!(held(&house, honey_super(7), june(12, 9)), BTreeSet::new());
    assert_eq!(held(&house, hive(3), june(12, 9)), only(order));
    assert_eq!(held(&house, hive(3), june(16, 9)), BTreeSet::new());
}

// A hive stood where it was first seen before anybody wrote of it, and nowhere else before it came there.
#[test]
fn an_order_reaches_a_hive_first_seen_later_and_not_one_that_came_later() {
    let mut book = furnished();
    book.tell(1, june(6, 9), placed(1, 7));
    book.tell(1, june(6, 9), placed(2, 4));
    let order = book.tell(1, june(5, 9), ordered(1));
    book.tell(1, june(8, 9), pulled(1, Some(7)));
    book.tell(1, june(8, 9), pulled(2, Some(4)));
    book.tell(1, june(10, 9), new_hive(7, 1, "H7"));
    book.tell(1, june(20, 9), carried(4, 1));
    assert_eq!(held(&book.house(), honey_super(1), june(21, 9)), only(order));
    assert_eq!(held(&book.house(), honey_super(2), june(21, 9)), BTreeSet::new());
}

/// What left the first yard in spite of an order of 10 June.
fn moved_in_spite(events: &[(DateTime<Utc>, Entry)], licence: Option<(u32, Option<NaiveDate>)>) -> Vec<Subject> {
    let mut book = furnished();
    let begin = june(1, 9);
    for (number, on) in [(1, 1), (2, 4)] {
        book.tell(1, begin, placed(number, on));
    }
    let other = book.tell(1, june(9, 9), ordered(2));
    let order = book.tell(1, june(10, 9), ordered(1));
    if let Some((yard, until)) = licence {
        let Entry::StandstillLicensed(of) = licensed(yard, if yard == 1 { order } else { other }) else {
            panic!("a licence");
        };
        book.tell(1, june(11, 9), StandstillLicensed { until, ..of });
    }
    for (when, entry) in events {
        book.tell(1, *when, entry.clone());
    }
    let moved = answer(&book, order, june(30, 9)).moved;
    moved.into_iter().map(|named| named.subject).collect()
}

// DI-3.
#[test]
fn what_leaves_a_yard_under_an_order_without_a_licence_is_named() {
    let day = |day| NaiveDate::from_ymd_opt(2025, 6, day);
    let gone = |subject: Subject| vec![subject];
    let with_permit = HiveMoved {
        hive_id: hive(1),
        yard_id: yard(2),
        permit: Some(common::name("P 4")),
    };
    let (one, box_one) = (Subject::from(hive(1)), Subject::from(honey_super(1)));
    let in_house = |number, from| {
        move |when| {
            vec![
                (when, pulled(number, Some(from))),
                (when + TimeDelta::hours(1), received(number, None)),
            ]
        }
    };
    for (events, licence, expected) in [
        (vec![(june(12, 9), carried(1, 2))], None, gone(one)),
        (vec![(june(10, 9), carried(1, 2))], None, gone(one)),
        (vec![(june(10, 8), carried(1, 2))], None, vec![]),
        (vec![(june(12, 9), carried(4, 1))], None, vec![]),
        (vec![(june(12, 9), with_permit.into())], None, vec![]),
        (vec![(june(12, 9), carried(1, 2))], Some((1, None)), vec![]),
        (vec![(june(10, 12), carried(1, 2))], Some((1, None)), gone(one)),
        (vec![(june(12, 9), carried(1, 2))], Some((2, None)), gone(one)),
        (vec![(june(13, 9), carried(1, 2))], Some((1, day(13))), vec![]),
        (vec![(june(14, 9), carried(1, 2))], Some((1, day(13))), gone(one)),
        (vec![(june(12, 9), moved(1, 1, 4))], None, gone(box_one)),
        (vec![(june(10, 8), moved(1, 1, 4))], None, vec![]),
        (vec![(june(12, 9), moved(1, 1, 2))], None, vec![]),
        (vec![(june(12, 9), moved(2, 4, 1))], None, vec![]),
        (vec![(june(12, 9), moved(1, 1, 4))], Some((1, None)), vec![]),
        (in_house(1, 1)(june(12, 9)), None, gone(box_one)),
        (in_house(1, 1)(june(12, 9)), Some((1, None)), vec![]),
        (in_house(1, 1)(june(9, 9)), None, vec![]),
        (in_house(2, 4)(june(12, 9)), None, vec![]),
    ] {
        assert_eq!(moved_in_spite(&events, licence), expected, "{events:?} {licence:?}");
    }
}
