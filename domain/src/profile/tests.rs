//! The tables against the published limits, and the owner's changes over them.

use serde_json::{Value, json};

use super::composition::{Bound, Limit, limits};
use super::*;

const PUBLISHED: &str = include_str!("../../tests/data/legal-limits.csv");
const PROFILES: [Profile; 4] = [Profile::Eu, Profile::UkEngland, Profile::Canada, Profile::Usa];
const CLAIMS: [Claim; 4] = [Claim::General, Claim::Heather, Claim::Bakers, Claim::BakersHeather];

fn word<T: Serialize>(of: T) -> Value {
    serde_json::to_value(of).unwrap()
}

/// Hundredths of a figure printed with at most two decimals.
fn hundredths(figure: &str) -> i64 {
    let (whole, part) = figure.split_once('.').unwrap_or((figure, ""));
    whole.parse::<i64>().unwrap() * 100 + format!("{part:0<2}").parse::<i64>().unwrap()
}

#[test]
fn every_published_limit_stands_in_its_profile_with_a_text_that_was_read() {
    let mut rows = 0;
    for line in PUBLISHED.lines().filter(|line| !line.starts_with('#')).skip(1) {
        let mut fields = line.split(',');
        let mut next = || fields.next().unwrap();
        let (profile, names, bound, figure) = (next(), next(), next(), next());
        let profile: Profile = serde_json::from_value(json!(profile)).unwrap();
        let source = if names.starts_with("moisture_") {
            assert_eq!(bound, "at_most", "{line}");
            let key: ProfileKey = serde_json::from_value(json!(names)).unwrap();
            let row = Rules::of_texts(profile).text(key).unwrap();
            let most = Moisture::constant(hundredths(figure));
            assert_eq!(row.value, ProfileValue::MoistureHundredths(most), "{line}");
            row.source
        } else {
            let same = |limit: &&Limit| {
                word(limit.parameter) == json!(names)
                    && word(limit.bound) == json!(bound)
                    && limit.hundredths == hundredths(figure)
            };
            let found: Vec<&Limit> = limits(profile).iter().filter(same).collect();
            assert!(!found.is_empty(), "{line}");
            found[0].source
        };
        assert!(source.sure <= Sure::ReadElsewhere, "{line}");
        assert!(!source.text.is_empty() && !source.edition.is_empty(), "{line}");
        rows += 1;
    }
    assert_eq!(rows, 44);
}

#[test]
fn what_the_tables_hold_beyond_the_published_rows_is_marked_as_less_sure() {
    let listed = PUBLISHED.lines().filter(|line| !line.starts_with('#')).count() - 1;
    let of = |profile: &Profile| {
        let waters = Rules::of_texts(*profile).all();
        let waters = waters
            .iter()
            .filter(|row| word(row.key).as_str().unwrap().starts_with("moisture_"))
            .count();
        waters + limits(*profile).len()
    };
    // Canada No. 3 at third hand, England's HMF from memory.
    assert_eq!(PROFILES.iter().map(of).sum::<usize>(), listed + 2);
    let hmf = limits(Profile::UkEngland)
        .iter()
        .find(|limit| limit.parameter == composition::Parameter::Hmf);
    assert_eq!(hmf.unwrap().source.sure, Sure::FromMemory);
    assert_eq!(hmf.unwrap().bound, Bound::AtMost);
}

#[test]
fn every_value_says_where_it_is_from_and_fits_its_key() {
    for profile in PROFILES {
        let all = Rules::of_texts(profile).all();
        for row in &all {
            assert!(row.key.takes(row.value), "{profile:?} {:?}", row.key);
            assert_eq!(row.check, CHECK);
            assert!(!row.means.is_empty());
            let Source {
                text,
                edition,
                seen_in,
                sure,
                ..
            } = row.source;
            match sure {
                Sure::Read | Sure::ReadElsewhere => assert!(!text.is_empty() && !edition.is_empty(), "{:?}", row.key),
                _ => assert!(!seen_in.is_empty(), "{profile:?} {:?}", row.key),
            }
        }
        let mut keys: Vec<ProfileKey> = all.iter().map(|row| row.key).collect();
        keys.sort();
        keys.dedup();
        assert_eq!(keys.len(), all.len(), "{profile:?} tells each value once");
    }
}

#[test]
fn records_are_kept_and_requests_answered_as_the_texts_ask() {
    // RT-1, RC-4, RC-5: Canada two years, 24 hours, a mock recall a year (SOR/2018-108, sections 84, 90, 91, read);
    // medicines five years in the European Union (2019/6 article 108) and the United Kingdom.
    let canada = Rules::of_texts(Profile::Canada);
    assert_eq!(canada.months(ProfileKey::KeepTraceRecords).map(Months::get), Some(24));
    assert_eq!(canada.months(ProfileKey::RecallExercise).map(Months::get), Some(12));
    assert_eq!(word(canada.value(ProfileKey::RequestAnswer)), json!({"hours": 24}));
    assert_eq!(canada.text(ProfileKey::RequestAnswer).unwrap().source.sure, Sure::Read);
    for profile in [Profile::Eu, Profile::UkEngland] {
        let rules = Rules::of_texts(profile);
        assert_eq!(rules.months(ProfileKey::KeepMedicineRecords).map(Months::get), Some(60));
        assert_eq!(rules.value(ProfileKey::RequestAnswer), Some(ProfileValue::OnDemand));
    }
}

fn change(profile: Profile, key: ProfileKey, value: ProfileValue) -> Changed {
    Changed {
        entry_id: EntryId::from_uuid(uuid::Uuid::from_u128(1)),
        at: DateTime::from_timestamp(1_790_000_000, 0).unwrap(),
        by: MemberId::from_uuid(uuid::Uuid::from_u128(2)),
        profile,
        key,
        value,
        reason: Text::new("the inspector's letter").unwrap(),
    }
}

fn water(hundredths: i64) -> ProfileValue {
    ProfileValue::MoistureHundredths(Moisture::constant(hundredths))
}

#[test]
fn the_owners_value_counts_in_its_profile_only() {
    let changes = [change(Profile::Eu, ProfileKey::MoistureGeneral, water(1_900))];
    let eu = Rules::changed_by(Profile::Eu, &changes);
    assert_eq!(eu.legal_limit(Claim::General).get(), 1_900);
    assert_eq!(eu.legal_limit(Claim::Heather).get(), 2_300);
    assert_eq!(
        eu.release_limit(Claim::General, Some(Moisture::constant(1_950))).get(),
        1_900
    );
    let shown = eu
        .all()
        .into_iter()
        .find(|row| row.key == ProfileKey::MoistureGeneral)
        .unwrap();
    assert_eq!((shown.value, shown.text_value), (water(1_900), water(2_000)));
    assert!(shown.changed.is_some());
    let england = Rules::changed_by(Profile::UkEngland, &changes);
    assert_eq!(england.legal_limit(Claim::General).get(), 2_000);
}

#[test]
fn a_changed_grade_moves_the_limit_that_follows_from_it() {
    // MO-2: half a point below the best grade; Canada's general limit is its last grade.
    let changes = [
        change(Profile::Canada, ProfileKey::MoistureGradeOne, water(1_750)),
        change(Profile::Canada, ProfileKey::MoistureGradeThree, water(1_950)),
    ];
    let canada = Rules::changed_by(Profile::Canada, &changes);
    assert_eq!(canada.house_limit_default().get(), 1_700);
    assert_eq!(canada.legal_limit(Claim::General).get(), 1_950);
}

#[test]
fn a_habit_of_the_house_holds_under_every_profile() {
    let changes = [change(Profile::Eu, ProfileKey::BeetleRegion, ProfileValue::Yes(true))];
    assert!(Rules::changed_by(Profile::Canada, &changes).yes(ProfileKey::BeetleRegion));
}

#[test]
fn a_value_of_the_wrong_kind_or_for_nothing_changes_nothing() {
    let changes = [
        change(Profile::Eu, ProfileKey::MoistureGeneral, ProfileValue::OnDemand),
        change(Profile::Eu, ProfileKey::MoistureGradeOne, water(1_500)),
        change(Profile::Eu, ProfileKey::MoistureHeather, water(5_000)),
    ];
    let (changed, texts) = (Rules::changed_by(Profile::Eu, &changes), Rules::of_texts(Profile::Eu));
    for claim in CLAIMS {
        assert_eq!(changed.legal_limit(claim), texts.legal_limit(claim));
    }
    assert!(changed.grades().is_empty());
    assert_eq!(changed.house_limit_default(), texts.house_limit_default());
}

#[test]
fn what_does_not_reach_honey_is_said_with_its_text() {
    // RT-2: honey is not on the food list of FSMA 204 (summaries). RT-3: Regulation (EC) 178/2002 article 18, SFCR 90. RT-4:
    // SOR/2018-108, sections 86(3) and 90 (read).
    let rules = |profile| notes(profile).iter().map(|note| note.rule).collect::<Vec<_>>();
    assert_eq!(rules(Profile::Usa), ["RT-2", "RT-3"]);
    assert_eq!(rules(Profile::Canada), ["RT-3", "RT-4"]);
    assert_eq!(
        (rules(Profile::Eu), rules(Profile::UkEngland)),
        (vec!["RT-3"], vec!["RT-3"])
    );
    for profile in [Profile::Eu, Profile::UkEngland, Profile::Canada, Profile::Usa] {
        for note in notes(profile) {
            assert!(!note.source.text.is_empty() && note.says.ends_with('.'), "{note:?}");
        }
    }
    let settings = Settings {
        profile: Some(Profile::Usa),
        ..Settings::default()
    };
    assert_eq!(ProfileInForce::of(&settings).notes.len(), 2);
}
