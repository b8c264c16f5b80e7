//! Which fillings of which supers met a spell, and for how sure.
//!
//! Stands are looked up by hive, so that a cause looks only at the boxes that ever stood where it was.

use chrono::{DateTime, NaiveDate, Utc};

use super::bees::Stay;
use super::spells::{Spell, long_before};
use crate::common::Common;
use crate::honey_super::{Filling, Super, Whereabouts};
use crate::house::House;
use crate::ids::{EntryId, HiveId, SuperId, YardId};
use crate::ordered::{Map, Set};
use crate::state::State;
use crate::trace::{Certainty, Node};

/// One stand of a filling, as it may have been.
#[derive(Clone, Copy, Debug)]
struct StandAt {
    of: usize,
    filling: usize,
    stand: usize,
    from: DateTime<Utc>,
    from_day: NaiveDate,
    until: Option<DateTime<Utc>>,
    candidates: usize,
    told: EntryId,
}

/// When a filling was in its box.
#[derive(Clone, Copy, Debug)]
pub(super) struct InBox {
    /// Nothing while nothing was gathered into it.
    pub from: Option<DateTime<Utc>>,
    /// When it was spun.
    pub until: Option<DateTime<Utc>>,
}

/// A box with what is known of it.
#[derive(Debug)]
pub(super) struct BoxOf<'a> {
    pub id: SuperId,
    pub state: &'a Super,
    /// The same with the fold's memory.
    kept: Option<&'a State>,
    pub fillings: Vec<InBox>,
}

impl BoxOf<'_> {
    /// The filling that is in it, or comes next: what the box itself is asked for.
    pub(super) fn now(&self) -> usize {
        let last = self.fillings.len().saturating_sub(1);
        if self.state.filling.run_id.is_some() {
            last + 1
        } else {
            last
        }
    }

    /// It was spun and is still sticky: what comes next begins with it (AL-6).
    pub(super) fn sticky(&self) -> bool {
        self.state.filling.run_id.is_some()
            && matches!(self.state.whereabouts, Whereabouts::Extracted | Whereabouts::StoredWet)
    }

    /// Whether the maker of one entry about it had seen another.
    fn had_seen(&self, by: EntryId, entry: EntryId) -> bool {
        let marks = self.kept.and_then(|kept| kept.mark(by).zip(kept.mark(entry)));
        marks.is_none_or(|(by, mark)| by.knew_of(&mark))
    }

    pub(super) fn node(&self, filling: usize) -> Node {
        Node {
            subject: self.id.into(),
            filling: Some(filling),
        }
    }
}

/// All stands, by hive.
#[derive(Debug)]
pub(super) struct Stands<'a> {
    pub boxes: Vec<BoxOf<'a>>,
    by_hive: Map<HiveId, Vec<StandAt>>,
    /// Hives that ever stood in a yard, and when.
    in_yard: Map<YardId, Vec<Stay>>,
}

/// A stand that met a cause: on which of its hives, since when, of how many it may have been.
#[derive(Debug)]
struct Meeting {
    hives: Set<HiveId>,
    since: DateTime<Utc>,
    candidates: usize,
    told: EntryId,
}

/// Where a hold meets honey: which filling, since when, how sure.
#[derive(Clone, Debug)]
pub(super) struct Met {
    pub node: Node,
    pub certainty: Certainty,
    /// The entries about the box that say so; none where whoever ends the cause must have known.
    pub told: Vec<EntryId>,
}

impl<'a> Stands<'a> {
    pub(super) fn of(house: &'a House) -> Self {
        let mut this = Self {
            boxes: Vec::new(),
            by_hive: Map::new(),
            in_yard: Map::new(),
        };
        for (id, state) in house.supers() {
            let of = this.boxes.len();
            let mut fillings: Vec<InBox> = Vec::new();
            for (at, filling) in state.fillings().enumerate() {
                let before = fillings.last().and_then(|last| last.until);
                this.add(of, at, filling, before);
                fillings.push(InBox {
                    from: began(filling),
                    until: filling.uncapped_at,
                });
            }
            let kept = house.get(id.into());
            this.boxes.push(BoxOf {
                id,
                state,
                kept,
                fillings,
            });
        }
        for stands in this.by_hive.values_mut() {
            stands.sort_by_key(|stand| stand.from);
        }
        for (id, hive) in house.hives() {
            for (at, stay) in hive.stays.iter().enumerate() {
                // Before its first entry it stood where it was first seen.
                let from = (at > 0).then_some(stay.from);
                let until = hive.stays.get(at + 1).map(|next| next.from);
                this.in_yard
                    .entry(stay.yard_id)
                    .or_default()
                    .push(Stay { hive: id, from, until });
            }
        }
        this
    }

    fn add(&mut self, of: usize, filling: usize, state: &Filling, before: Option<DateTime<Utc>>) {
        for (at, stand) in state.stands.iter().enumerate() {
            // Nobody wrote when it was put on: it may have been there since it was last spun.
            let (from, from_day) = if stand.assumed {
                let from = long_before(stand.from).max(before.unwrap_or(DateTime::<Utc>::MIN_UTC));
                (from.min(stand.from), from.date_naive())
            } else {
                (stand.from, stand.from_day)
            };
            for hive in stand.candidates() {
                self.by_hive.entry(hive).or_default().push(StandAt {
                    of,
                    filling,
                    stand: at,
                    from,
                    from_day,
                    until: stand.until,
                    candidates: 1 + stand.or_hive_ids.len(),
                    told: stand.entry_id,
                });
            }
        }
    }

    /// The hives that stood in a yard at any time from one on, each with its time there.
    pub(super) fn hives_in(&self, yard: YardId, since: DateTime<Utc>) -> Vec<Spell> {
        let all = self.in_yard.get(&yard).into_iter().flatten();
        all.filter(|stay| stay.until.is_none_or(|until| until >= since))
            .map(|stay| Spell {
                hive: stay.hive,
                colony: None,
                from: stay.from.map_or(since, |from| from.max(since)),
                left: stay.until,
                out: None,
                end: None,
            })
            .collect()
    }

    /// The fillings that met one of some spells. What follows the wood stays with the box in all that comes after.
    /// What a named person released from this cause, having met it by then, is left out.
    pub(super) fn met(&self, cause: EntryId, spells: &[Spell], wood: bool) -> Vec<Met> {
        let mut stands: Map<(usize, usize, usize), Meeting> = Map::new();
        for spell in spells {
            let Some(of_hive) = self.by_hive.get(&spell.hive) else {
                continue;
            };
            for stand in of_hive {
                // By their beginnings: what follows came when the spell was over.
                if spell.left.is_some_and(|left| stand.from > left) {
                    break;
                }
                if spell.covers(stand.from, stand.from_day, stand.until) {
                    let since = stand.from.max(spell.from);
                    let key = (stand.of, stand.filling, stand.stand);
                    let meeting = stands.entry(key).or_insert_with(|| Meeting {
                        hives: Set::new(),
                        since,
                        candidates: stand.candidates,
                        told: stand.told,
                    });
                    meeting.hives.insert(spell.hive);
                    meeting.since = meeting.since.min(since);
                }
            }
        }
        let mut fillings: Map<(usize, usize), (Certainty, Vec<EntryId>)> = Map::new();
        for ((of, filling, _), meeting) in stands {
            let Some(in_box) = self.boxes.get(of) else { continue };
            // Only what whoever released it had seen (CF-12).
            let released = |lift: &crate::common::Lift| {
                let covers = lift.cause_id == cause && lift.lifted.at >= meeting.since;
                covers && in_box.had_seen(lift.lifted.entry_id, meeting.told)
            };
            if in_box.state.lifts().iter().any(released) {
                continue;
            }
            // Wherever of several places it was, it met this.
            let certainty = if meeting.hives.len() == meeting.candidates {
                Certainty::Sure
            } else {
                Certainty::Possible
            };
            let last = if wood { in_box.now().max(filling) } else { filling };
            for filling in filling..=last {
                let kept = fillings.entry((of, filling)).or_insert((certainty, Vec::new()));
                kept.0 = kept.0.max(certainty);
                kept.1.push(meeting.told);
            }
        }
        let met = fillings.into_iter().filter_map(|((of, filling), (certainty, told))| {
            Some(Met {
                node: self.boxes.get(of)?.node(filling),
                certainty,
                told,
            })
        });
        met.collect()
    }

    /// The fillings that were in a box between two times, the one that comes next among them while there is no end.
    pub(super) fn in_box(&self, in_box: &BoxOf<'_>, from: DateTime<Utc>, until: Option<DateTime<Utc>>) -> Vec<Met> {
        let next = InBox {
            from: None,
            until: None,
        };
        let all = in_box
            .fillings
            .iter()
            .copied()
            .chain((in_box.now() >= in_box.fillings.len()).then_some(next));
        let within = all.enumerate().filter(|(_, filling)| {
            filling.until.is_none_or(|spun| spun >= from)
                && until.is_none_or(|until| filling.from.is_some_and(|began| began < until))
        });
        within
            .map(|(at, _)| Met {
                node: in_box.node(at),
                certainty: Certainty::Sure,
                told: Vec::new(),
            })
            .collect()
    }
}

/// When something was first gathered into a filling, as far as anybody wrote.
fn began(filling: &Filling) -> Option<DateTime<Utc>> {
    let stood = filling.stands.first().map(|stand| stand.from);
    stood
        .or(filling.pulled.as_ref().map(|pulled| pulled.at))
        .or(filling.received_at)
        .or(filling.uncapped_at)
}

/// The yard a box is in, as far as anybody wrote.
pub(crate) fn yard_of_box(house: &House, state: &Super) -> Option<YardId> {
    match state.whereabouts {
        Whereabouts::InYard => state.yard_id,
        Whereabouts::OnHive | Whereabouts::Pulled => {
            let stand = state.filling.last_stand()?;
            house.hive(stand.hive_id)?.yard()
        }
        _ => None,
    }
}
