//! From what was told of hives to spells: how long something was in or on a hive, with its wait, wherever the bees
//! took it.
//!
//! Put in and taken out are matched by the bees, not by the place. An end that nobody wrote has not come (CF-17); what
//! is seen after it was said to be out was still in, and begins a spell of its own, so that an end of the one is no end
//! of the other.

use chrono::{DateTime, Days, NaiveDate, NaiveTime, TimeDelta, Utc};

use super::bees::{Carrier, Dwellings};
use crate::entry::local_date;
use crate::honey_super::SAME_HAPPENING;
use crate::ids::{ColonyId, EntryId, HiveId, MedicineId};
use crate::ordered::{Map, Set};

/// How far back something reaches of which nobody wrote the beginning: half a year, so that what stood on a hive last
/// season is not touched, in the north or in the south. Our choice.
pub(super) const UNKNOWN_START: TimeDelta = TimeDelta::days(183);

/// So long before; at the beginning of time there is nothing before it.
pub(super) fn long_before(at: DateTime<Utc>) -> DateTime<Utc> {
    at.checked_sub_signed(UNKNOWN_START).unwrap_or(at)
}

/// What was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Act {
    In,
    AtOnce,
    Out,
    Seen,
}

/// One thing told of one hive.
#[derive(Clone, Copy, Debug)]
pub(super) struct Step {
    pub entry_id: EntryId,
    pub hive: HiveId,
    pub act: Act,
    pub at: DateTime<Utc>,
    pub utc_offset_min: i16,
    pub medicine: Option<MedicineId>,
}

/// The end of a wait: the last day on the wall, and the moment after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct End {
    pub last_day: NaiveDate,
    pub at: DateTime<Utc>,
}

impl End {
    /// The wait ends with its last day (TX-3).
    fn after(out: DateTime<Utc>, utc_offset_min: i16, wait_days: i64) -> Option<Self> {
        let last_day = local_date(out, utc_offset_min).checked_add_days(Days::new(wait_days.unsigned_abs()))?;
        let midnight = last_day.succ_opt()?.and_time(NaiveTime::MIN);
        let at = midnight.checked_sub_signed(TimeDelta::minutes(i64::from(utc_offset_min)))?;
        Some(Self {
            last_day,
            at: at.and_utc(),
        })
    }
}

/// A time in which a hive was under something.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spell {
    pub hive: HiveId,
    pub colony: Option<ColonyId>,
    pub from: DateTime<Utc>,
    /// The bees went elsewhere.
    pub left: Option<DateTime<Utc>>,
    /// It came out.
    pub out: Option<DateTime<Utc>>,
    /// The wait ended; nothing while it is not out, or where nobody knows the wait.
    pub end: Option<End>,
}

impl Spell {
    /// Whether something was there at or after a time and not only when the spell was over.
    pub(super) fn covers(&self, from: DateTime<Utc>, from_day: NaiveDate, until: Option<DateTime<Utc>>) -> bool {
        until.is_none_or(|until| until >= self.from)
            && self.left.is_none_or(|left| from <= left)
            && self.end.is_none_or(|end| from < end.at || from_day <= end.last_day)
    }

    /// When it is over for the bees of the hive.
    pub(super) fn over(&self) -> Option<DateTime<Utc>> {
        match (self.left, self.end) {
            (Some(left), Some(end)) => Some(left.min(end.at)),
            (left, end) => left.or(end.map(|end| end.at)),
        }
    }
}

/// Everything that one telling began.
#[derive(Clone, Debug)]
pub(super) struct Episode {
    pub entry_id: EntryId,
    pub hive: HiveId,
    pub medicine: Option<MedicineId>,
    pub since: DateTime<Utc>,
    pub spells: Vec<Spell>,
    /// It was said to be out by this entry, and was seen in after that.
    pub disputes: Option<EntryId>,
}

/// The wait after something came out: whole days, or nothing if nobody knows.
pub(super) type Wait<'a> = &'a dyn Fn(Option<MedicineId>, DateTime<Utc>) -> Option<i64>;

/// Where something went in, and when.
struct Root {
    carriers: Vec<Carrier>,
    from: DateTime<Utc>,
    /// Ends told before this are of an earlier spell.
    ends_after: DateTime<Utc>,
    medicine: Option<MedicineId>,
    /// Given at once: in and out in one.
    at_once: Option<i16>,
    wait: Option<i64>,
}

/// Follows bees that carry something, from a time on, until nobody knows when.
pub(super) fn followed(dwellings: &Dwellings, hive: HiveId, from: DateTime<Utc>) -> Vec<Spell> {
    let root = Root {
        carriers: dwellings.carriers(hive, from),
        from,
        ends_after: from,
        medicine: None,
        at_once: None,
        wait: None,
    };
    follow(dwellings, &Map::new(), &root)
}

/// The same for named bees.
pub(super) fn followed_colony(dwellings: &Dwellings, colony: ColonyId, from: DateTime<Utc>) -> Vec<Spell> {
    let root = Root {
        carriers: vec![Carrier::Colony(colony)],
        from,
        ends_after: from,
        medicine: None,
        at_once: None,
        wait: None,
    };
    follow(dwellings, &Map::new(), &root)
}

type Outs<'a> = Map<HiveId, Vec<&'a Step>>;

fn same_medicine(one: Option<MedicineId>, other: Option<MedicineId>) -> bool {
    one.is_none() || other.is_none() || one == other
}

fn follow(dwellings: &Dwellings, outs: &Outs<'_>, root: &Root) -> Vec<Spell> {
    type Out = Option<(DateTime<Utc>, i16)>;
    let mut spells = Vec::new();
    let mut passed = Set::new();
    let mut waiting: Set<(DateTime<Utc>, Carrier, Out)> = root
        .carriers
        .iter()
        .map(|carrier| (root.from, *carrier, None))
        .collect();
    while let Some((from, carrier, of_parent)) = waiting.pop_first() {
        if !passed.insert(carrier) {
            continue;
        }
        let stays = dwellings.stays(carrier, from);
        let own = stays.iter().find_map(|stay| {
            let begin = stay.from.map_or(root.ends_after, |begin| begin.max(root.ends_after));
            let of_hive = outs.get(&stay.hive).into_iter().flatten();
            of_hive
                .filter(|step| step.at >= begin && stay.until.is_none_or(|until| step.at <= until))
                .find(|step| same_medicine(step.medicine, root.medicine))
                .map(|step| (step.at, step.utc_offset_min))
        });
        let out = root.at_once.map(|offset| (root.from, offset)).or(own).or(of_parent);
        let end = out
            .zip(root.wait)
            .and_then(|((at, offset), wait)| End::after(at, offset, wait));
        let over = |at: DateTime<Utc>| end.is_some_and(|end| at >= end.at);
        let stays: Vec<_> = stays.into_iter().filter(|stay| !stay.from.is_some_and(over)).collect();
        for (to, at) in dwellings.passed_on(carrier, &stays, from) {
            if !over(at) && !passed.contains(&to) {
                waiting.insert((at, to, out));
            }
        }
        let colony = match carrier {
            Carrier::Colony(colony) => Some(colony),
            Carrier::Hive(_) => None,
        };
        spells.extend(stays.into_iter().map(|stay| Spell {
            hive: stay.hive,
            colony,
            from: stay.from.unwrap_or(from),
            left: stay.until,
            out: out.map(|(at, _)| at),
            end,
        }));
    }
    spells
}

/// Matches everything told of one kind of thing put into hives.
pub(super) fn episodes(dwellings: &Dwellings, mut steps: Vec<Step>, wait: Wait<'_>) -> Vec<Episode> {
    steps.sort_by_key(|step| (step.at, step.entry_id, step.hive));
    let mut outs: Outs<'_> = Map::new();
    for step in steps.iter().filter(|step| step.act == Act::Out) {
        outs.entry(step.hive).or_default().push(step);
    }
    let mut known = Known::default();
    for step in steps.iter().filter(|step| matches!(step.act, Act::In | Act::AtOnce)) {
        let root = Root {
            carriers: dwellings.carriers(step.hive, step.at),
            from: step.at,
            ends_after: step.at,
            medicine: step.medicine,
            at_once: (step.act == Act::AtOnce).then_some(step.utc_offset_min),
            wait: wait(step.medicine, step.at),
        };
        known.add(step, None, follow(dwellings, &outs, &root));
    }
    // In the order of time: what one sighting begins, the next one finds begun.
    for step in steps.iter().filter(|step| matches!(step.act, Act::Out | Act::Seen)) {
        if known.explains(step) {
            continue;
        }
        let before = known.last_out(step);
        let medicine = step.medicine.or_else(|| before.and_then(|before| before.medicine));
        let from = before.map_or(long_before(step.at), |before| before.out);
        let root = Root {
            carriers: dwellings.carriers(step.hive, step.at),
            from,
            ends_after: step.at,
            medicine,
            at_once: None,
            wait: wait(medicine, step.at),
        };
        let mut spells = follow(dwellings, &outs, &root);
        // Before the bees came to this hive nobody knows where it was: there it was, then.
        if !spells
            .iter()
            .any(|spell| spell.hive == step.hive && spell.from <= step.at)
        {
            spells.extend(follow(
                dwellings,
                &outs,
                &Root {
                    carriers: vec![Carrier::Hive(step.hive)],
                    ..root
                },
            ));
        }
        let disputes = before
            .and_then(|before| outs.get(&step.hive)?.iter().find(|out| out.at == before.out))
            .map(|out| out.entry_id)
            .filter(|out| *out != step.entry_id);
        known.add(&Step { medicine, ..*step }, disputes, spells);
    }
    known.episodes
}

#[derive(Clone, Copy)]
struct Before {
    out: DateTime<Utc>,
    medicine: Option<MedicineId>,
}

/// The episodes so far, found by hive.
#[derive(Default)]
struct Known {
    episodes: Vec<Episode>,
    in_hive: Map<HiveId, Vec<(Spell, Option<MedicineId>)>>,
}

impl Known {
    fn add(&mut self, step: &Step, disputes: Option<EntryId>, spells: Vec<Spell>) {
        for spell in &spells {
            self.in_hive
                .entry(spell.hive)
                .or_default()
                .push((*spell, step.medicine));
        }
        self.episodes.push(Episode {
            entry_id: step.entry_id,
            hive: step.hive,
            medicine: step.medicine,
            since: spells
                .iter()
                .map(|spell| spell.from)
                .min()
                .unwrap_or(step.at)
                .min(step.at),
            spells,
            disputes,
        });
    }

    fn of(&self, step: &Step) -> impl Iterator<Item = &(Spell, Option<MedicineId>)> {
        let medicine = step.medicine;
        let of_hive = self.in_hive.get(&step.hive).into_iter().flatten();
        of_hive.filter(move |(_, other)| same_medicine(*other, medicine))
    }

    /// Whether it was in there by the book; an end may have two witnesses (CF-2).
    fn explains(&self, step: &Step) -> bool {
        let grace = if step.act == Act::Out {
            SAME_HAPPENING
        } else {
            TimeDelta::zero()
        };
        self.of(step).any(|(spell, _)| {
            spell.from <= step.at
                && spell.left.is_none_or(|left| step.at <= left)
                && spell.out.is_none_or(|out| step.at - out <= grace)
        })
    }

    fn last_out(&self, step: &Step) -> Option<Before> {
        let outs = self.of(step).filter_map(|(spell, medicine)| {
            Some(Before {
                // Bees that went elsewhere may have left it behind.
                out: [spell.out, spell.left].into_iter().flatten().min()?,
                medicine: *medicine,
            })
        });
        outs.filter(|before| before.out <= step.at && step.at - before.out <= UNKNOWN_START)
            .max_by_key(|before| before.out)
    }
}
