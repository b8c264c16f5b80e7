//! Which things an entry is about once corrections are counted in.
//!
//! The rule: an entry and all its corrections, direct and indirect, are linked to everything that any of them
//! touches. So whichever arrives first, the links end up the same, and a fold sees a correction together with
//! what it corrects. Corrections whose original has not arrived are linked to nothing yet.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use domain::entry::Recorded;
use domain::subject::Subject;
use uuid::Uuid;

/// An entry that corrects or is corrected.
#[derive(Clone, Debug)]
pub(crate) struct Member {
    /// The entry.
    pub(crate) recorded: Recorded,
    /// What it corrects.
    pub(crate) corrects: Option<Uuid>,
}

impl Member {
    pub(crate) fn new(recorded: Recorded) -> Self {
        let corrects = recorded.entry.corrects().map(domain::ids::EntryId::uuid);
        Self { recorded, corrects }
    }
}

/// An original with its corrections, and everything they touch.
#[derive(Debug)]
pub(crate) struct Related {
    /// The entries.
    pub(crate) members: Vec<Recorded>,
    /// What each of them is linked to.
    pub(crate) subjects: BTreeSet<Subject>,
}

/// Groups entries by the original that their corrections lead back to. What leads to none is in no group.
pub(crate) fn relate(members: Vec<Member>) -> Vec<Related> {
    let mut corrects: HashMap<Uuid, Option<Uuid>> = HashMap::new();
    for member in &members {
        corrects.insert(member.recorded.id.uuid(), member.corrects);
    }
    let mut roots = HashMap::new();
    let mut groups: BTreeMap<Uuid, Related> = BTreeMap::new();
    let mut taken = HashSet::new();
    for member in members {
        let id = member.recorded.id.uuid();
        let Some(root) = root_of(id, &corrects, &mut roots) else {
            continue;
        };
        if !taken.insert(id) {
            continue;
        }
        let group = groups.entry(root).or_insert_with(|| Related {
            members: Vec::new(),
            subjects: BTreeSet::new(),
        });
        group.subjects.extend(member.recorded.entry.touches());
        group.members.push(member.recorded);
    }
    groups.into_values().collect()
}

/// Follows corrections back; none where the original is missing or they run in a circle.
fn root_of(id: Uuid, corrects: &HashMap<Uuid, Option<Uuid>>, known: &mut HashMap<Uuid, Option<Uuid>>) -> Option<Uuid> {
    let mut passed = Vec::new();
    let mut on_the_way = HashSet::new();
    let mut at = id;
    let root = loop {
        if let Some(root) = known.get(&at) {
            break *root;
        }
        if !on_the_way.insert(at) {
            break None;
        }
        passed.push(at);
        match corrects.get(&at) {
            None => break None,
            Some(None) => break Some(at),
            Some(Some(target)) => at = *target,
        }
    };
    known.extend(passed.into_iter().map(|id| (id, root)));
    root
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_are_found_and_circles_and_orphans_have_none() {
        let id = Uuid::from_u128;
        let corrects = HashMap::from([
            (id(1), None),
            (id(2), Some(id(1))),
            (id(3), Some(id(2))),
            (id(4), Some(id(9))),
            (id(5), Some(id(6))),
            (id(6), Some(id(5))),
            (id(7), Some(id(7))),
        ]);
        let mut known = HashMap::new();
        let mut root = |n| root_of(id(n), &corrects, &mut known);
        assert_eq!([root(3), root(2), root(1)], [Some(id(1)); 3]);
        assert_eq!([root(4), root(5), root(6), root(7), root(8)], [None; 5]);
    }
}
