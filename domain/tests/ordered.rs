//! Our ordered maps against the library's, step by step.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};

use domain::ordered::{Map, Set};
use proptest::prelude::*;

/// Something that is done to a map.
#[derive(Clone, Debug)]
enum Step {
    Insert(u16, u32),
    Entry(u16, u32),
    Remove(u16),
    /// Keeps what this divides.
    Retain(u32),
}

fn step() -> impl Strategy<Value = Step> {
    // Few keys, so that many steps meet a key that is there.
    let key = 0..3_000_u16;
    prop_oneof![
        20 => (key.clone(), any::<u32>()).prop_map(|(key, value)| Step::Insert(key, value)),
        10 => (key.clone(), any::<u32>()).prop_map(|(key, value)| Step::Entry(key, value)),
        10 => key.prop_map(Step::Remove),
        1 => (2..50_u32).prop_map(Step::Retain),
    ]
}

fn alike(ours: &Map<u16, u32>, theirs: &BTreeMap<u16, u32>) {
    assert_eq!(ours.len(), theirs.len());
    assert_eq!(ours.is_empty(), theirs.is_empty());
    assert!(ours.iter().eq(theirs));
    assert!(ours.keys().eq(theirs.keys()) && ours.values().eq(theirs.values()));
    assert!(ours.clone().into_iter().eq(theirs.clone()));
    assert_eq!(*ours, theirs.clone().into_iter().collect());
    assert_eq!(format!("{ours:?}"), format!("{theirs:?}"));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn a_map_is_what_the_librarys_map_is(steps in prop::collection::vec(step(), 0..200), from: u16, to: u16) {
        let (mut ours, mut theirs) = (Map::new(), BTreeMap::new());
        for step in steps {
            match step {
                Step::Insert(key, value) => prop_assert_eq!(ours.insert(key, value), theirs.insert(key, value)),
                Step::Entry(key, value) => {
                    prop_assert_eq!(ours.entry(key).or_insert(value), theirs.entry(key).or_insert(value));
                }
                Step::Remove(key) => {
                    prop_assert_eq!(ours.get(&key), theirs.get(&key));
                    prop_assert_eq!(ours.remove(&key), theirs.remove(&key));
                    prop_assert!(!ours.contains_key(&key));
                }
                Step::Retain(by) => {
                    ours.retain(|_, value| value.is_multiple_of(by));
                    theirs.retain(|_, value| value.is_multiple_of(by));
                }
            }
            alike(&ours, &theirs);
        }
        let (from, to) = (from.min(to) % 3_000, from.max(to) % 3_000);
        if from <= to {
            prop_assert!(ours.between(&from, &to).eq(theirs.range(from..=to)));
        }
    }

    /// So many that the order is kept in several pieces.
    #[test]
    fn a_large_map_is_the_same(items in prop::collection::vec((0..20_000_u16, any::<u32>()), 3_000..6_000), gone: u16) {
        let mut ours: Map<u16, u32> = items.iter().copied().collect();
        let mut theirs: BTreeMap<u16, u32> = items.iter().copied().collect();
        alike(&ours, &theirs);
        for (from, to) in [(0, u16::MAX), (5_000, 5_000), (1, 19_999), (4_000, 12_000), (30_000, 40_000)] {
            prop_assert!(ours.between(&from, &to).eq(theirs.range(from..=to)));
        }
        for (key, _) in items.iter().filter(|(key, _)| key % 7 == gone % 7) {
            prop_assert_eq!(ours.remove(key), theirs.remove(key));
        }
        for value in ours.values_mut() {
            *value /= 2;
        }
        for value in theirs.values_mut() {
            *value /= 2;
        }
        alike(&ours, &theirs);
        for key in 0..20_000 {
            prop_assert_eq!(ours.get(&key), theirs.get(&key));
        }
        let told = serde_json::to_string(&ours).unwrap();
        prop_assert_eq!(&told, &serde_json::to_string(&theirs).unwrap());
        prop_assert_eq!(serde_json::from_str::<Map<u16, u32>>(&told).unwrap(), ours);
    }

    #[test]
    fn a_set_is_what_the_librarys_set_is(
        items in prop::collection::vec(0..2_000_u16, 0..2_000), others in prop::collection::vec(0..2_000_u16, 0..50),
    ) {
        let (mut ours, mut theirs) = (Set::new(), BTreeSet::new());
        for item in &items {
            prop_assert_eq!(ours.insert(*item), theirs.insert(*item));
        }
        let other_theirs: BTreeSet<u16> = others.iter().copied().collect();
        let other: Set<u16> = others.iter().copied().collect();
        prop_assert_eq!(ours.cmp(&other), theirs.cmp(&other_theirs));
        prop_assert!(ours.difference(&other).eq(theirs.difference(&other_theirs)));
        prop_assert!(other.difference(&ours).eq(other_theirs.difference(&theirs)));
        for item in &others {
            prop_assert_eq!(ours.contains(item), theirs.contains(item));
            prop_assert_eq!(ours.remove(item), theirs.remove(item));
        }
        ours.retain(|item| item % 3 > 0);
        theirs.retain(|item| item % 3 > 0);
        prop_assert_eq!(format!("{ours:?}"), format!("{theirs:?}"));
        while !ours.is_empty() {
            prop_assert_eq!(ours.first(), theirs.first());
            prop_assert_eq!(ours.pop_first(), theirs.pop_first());
        }
        prop_assert_eq!(theirs.len(), 0);
    }
}
