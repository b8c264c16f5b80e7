//! Doubts that show only with several things side by side. What one thing's own entries contradict is a flag of its
//! state (`common.rs`); both are shown together, and neither stops the work in yard and house (CF-18).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::colony::{Disputed, disputed};
use crate::decide::kg;
use crate::honey_super::SAME_HAPPENING;
use crate::house::House;
use crate::ids::{BatchId, ContainerId, CustomerId, EntryId, FillId, HiveId, LotId, MeterId, RunId, SuperId, YardId};
use crate::lot_code::LotCode;
use crate::moisture::Judged;
use crate::subject::Subject;
use crate::text::Name;

mod find;
mod late;
mod numbers;

/// One side of a number that stood in two yards.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct Seen {
    /// The entry.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// The hive it names.
    pub hive_id: HiveId,
    /// The yard in which that hive stood.
    pub yard_id: YardId,
}

/// A reading of a meter found wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct WrongReading {
    /// What was measured.
    pub of: Subject,
    /// Raw and corrected side by side (MO-8).
    pub judged: Judged,
}

/// A doubt with what it is about. The cautious answer holds until somebody settles it (CF-4).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
#[serde(tag = "doubt", rename_all = "snake_case")]
pub enum Doubt {
    /// Several boxes in use bear one number (ID-2). A suffix in the description of one settles it.
    SharedNumber {
        /// The number.
        number: Name,
        /// The boxes; they are shown as the number with a, b, ...
        super_ids: Vec<SuperId>,
    },
    /// One number was seen in two yards by two who did not know of each other, within a time in which nobody carries a
    /// box about: most likely two boxes (CF-8). Registering the second box with a suffix and correcting the entries
    /// that are about it settles it.
    TwoBoxesOneNumber {
        /// The box.
        super_id: SuperId,
        /// Where it was seen.
        seen: Vec<Seen>,
        /// Minutes between the first and the last.
        minutes_apart: i64,
        /// One has come home since: the other is missing.
        one_came_home: bool,
    },
    /// Several lots, or batches of several lots, bear one code (CF-13). Jars with that code belong to all of them.
    SharedCode {
        /// The code.
        code: LotCode,
        /// The lots; they are shown as the code with a, b, ...
        lot_ids: Vec<LotId>,
        /// All jars that may be meant by it.
        batch_ids: Vec<BatchId>,
    },
    /// Something was used that nobody has registered, filled or made (ST-11).
    NotRegistered {
        /// The thing.
        subject: Subject,
        /// What used it.
        used_by: Option<Subject>,
    },
    /// Honey was run into a container that still held other honey (ST-11). The trace goes through both.
    FilledWhileNotEmpty {
        /// The container.
        container_id: ContainerId,
        /// What was still in it.
        held: FillId,
        /// What was run in on top.
        filled: FillId,
        /// How much was still in it, grams.
        rest_g: i64,
    },
    /// Lots that are said to be made of each other (ST-11).
    AncestryLoop {
        /// The lots.
        lot_ids: Vec<LotId>,
    },
    /// Something that arrived after jars were filled reaches them all the same: a review, no recall (TX-4).
    LateForJars {
        /// What it is about.
        subject: Subject,
        /// The entries that came late.
        entry_ids: Vec<EntryId>,
        /// The jars.
        batch_ids: Vec<BatchId>,
        /// Who has any of them.
        customer_ids: Vec<CustomerId>,
    },
    /// A meter was found wrong: readings since the last good check decide nothing (MO-8).
    MeterFoundWrong {
        /// The meter.
        meter_id: MeterId,
        /// What was measured with it.
        readings: Vec<WrongReading>,
    },
    /// Two weighings of one thing differ, or of two none was made on a scale found right (CF-10).
    WeighedTwice {
        /// What was weighed.
        of: Subject,
        /// The weighing that counts.
        used: EntryId,
        /// What it showed, grams.
        used_g: i64,
    },
    /// A colony was found dead, and bees were seen alive in its hive after that (CF-16). Until one of the two is withdrawn,
    /// or another colony is written down for that hive, the count of colonies at the start of flow is a range.
    AliveAfterDead {
        /// Who told what.
        disputed: Disputed,
    },
    /// Several complaints about one lot, and nobody has held it since the second (common practice, no source).
    Complaints {
        /// The lot.
        lot_id: LotId,
        /// The complaints.
        entry_ids: Vec<EntryId>,
        /// The jars they are about.
        batch_ids: Vec<BatchId>,
    },
    /// Two runs are said to have run into one container (CF-4). It is counted with the run its later telling names.
    FilledFromTwoRuns {
        /// The fill.
        fill_id: FillId,
        /// The runs.
        run_ids: Vec<RunId>,
    },
}

impl Doubt {
    /// The rule of the trade behind it.
    #[must_use]
    pub const fn rule(&self) -> &'static str {
        match self {
            Self::SharedNumber { .. } => "ID-2",
            Self::TwoBoxesOneNumber { .. } => "CF-8",
            Self::SharedCode { .. } => "CF-13",
            Self::NotRegistered { .. } | Self::FilledWhileNotEmpty { .. } | Self::AncestryLoop { .. } => "ST-11",
            Self::LateForJars { .. } => "TX-4",
            Self::MeterFoundWrong { .. } => "MO-8",
            Self::WeighedTwice { .. } => "CF-10",
            Self::AliveAfterDead { .. } => "CF-16",
            Self::FilledFromTwoRuns { .. } => "CF-4",
            Self::Complaints { .. } => "RC-1",
        }
    }

    /// What it is about, first the thing to look at.
    #[must_use]
    pub fn subjects(&self) -> Vec<Subject> {
        fn all<I: Copy + Into<Subject>>(ids: &[I]) -> impl Iterator<Item = Subject> {
            ids.iter().map(|id| (*id).into())
        }
        match self {
            Self::SharedNumber { super_ids, .. } => all(super_ids).collect(),
            Self::TwoBoxesOneNumber { super_id, seen, .. } => {
                let hives = seen.iter().map(|seen| seen.hive_id.into());
                std::iter::once((*super_id).into()).chain(hives).collect()
            }
            Self::SharedCode { lot_ids, batch_ids, .. } => all(lot_ids).chain(all(batch_ids)).collect(),
            Self::NotRegistered { subject, used_by } => std::iter::once(*subject).chain(*used_by).collect(),
            Self::FilledWhileNotEmpty {
                container_id,
                held,
                filled,
                ..
            } => vec![(*container_id).into(), (*held).into(), (*filled).into()],
            Self::AncestryLoop { lot_ids } => all(lot_ids).collect(),
            Self::LateForJars {
                subject,
                batch_ids,
                customer_ids,
                ..
            } => std::iter::once(*subject)
                .chain(all(batch_ids))
                .chain(all(customer_ids))
                .collect(),
            Self::MeterFoundWrong { meter_id, readings } => {
                let measured = readings.iter().map(|reading| reading.of);
                std::iter::once((*meter_id).into()).chain(measured).collect()
            }
            Self::WeighedTwice { of, .. } => vec![*of],
            Self::AliveAfterDead { disputed } => vec![disputed.hive_id.into(), disputed.colony_id.into()],
            Self::Complaints { lot_id, batch_ids, .. } => {
                std::iter::once((*lot_id).into()).chain(all(batch_ids)).collect()
            }
            Self::FilledFromTwoRuns { fill_id, run_ids } => {
                std::iter::once((*fill_id).into()).chain(all(run_ids)).collect()
            }
        }
    }

    /// The doubt in a sentence, with what to do about it.
    #[must_use]
    pub fn sentence(&self, house: &House) -> String {
        let named = |subject: Subject| house.label(subject);
        let list = |subjects: &[Subject]| subjects.iter().map(|one| named(*one)).collect::<Vec<_>>().join(", ");
        let subjects = self.subjects();
        match self {
            Self::SharedNumber { number, super_ids } => format!(
                "{} boxes bear the number {number}, shown as {}: paint a suffix on one and describe it so",
                super_ids.len(),
                list(&subjects)
            ),
            Self::TwoBoxesOneNumber {
                super_id,
                seen,
                minutes_apart,
                one_came_home,
            } => {
                let hives: Vec<Subject> = seen.iter().map(|seen| seen.hive_id.into()).collect();
                format!(
                    "number {} was seen on {} in different yards, {minutes_apart} minutes apart: look for a second box \
                     of that number, register it with a suffix and correct what was told of it{}",
                    named((*super_id).into()),
                    list(&hives),
                    if *one_came_home {
                        "; one came home, the other is missing"
                    } else {
                        ""
                    }
                )
            }
            Self::SharedCode {
                code,
                lot_ids,
                batch_ids,
            } => format!(
                "{} lots bear the code {code}; {} batches of jars may be meant by it",
                lot_ids.len(),
                batch_ids.len()
            ),
            Self::NotRegistered { subject, .. } => {
                format!(
                    "{} {} was used but never registered",
                    subject.kind.name(),
                    named(*subject)
                )
            }
            Self::FilledWhileNotEmpty {
                container_id,
                held,
                filled,
                rest_g,
            } => format!(
                "{} was run into {} while {} of {} was in it",
                named((*filled).into()),
                named((*container_id).into()),
                kg(*rest_g),
                named((*held).into())
            ),
            Self::AncestryLoop { .. } => format!("lots {} are said to be made of each other", list(&subjects)),
            Self::LateForJars {
                subject,
                batch_ids,
                customer_ids,
                ..
            } => format!(
                "what arrived late about {} {} reaches {} batches of jars and {} buyers: look at them again",
                subject.kind.name(),
                named(*subject),
                batch_ids.len(),
                customer_ids.len()
            ),
            Self::MeterFoundWrong { meter_id, readings } => format!(
                "meter {} was found wrong; {} readings since its last good check decide nothing, measure again",
                named((*meter_id).into()),
                readings.len()
            ),
            Self::WeighedTwice { of, used_g, .. } => format!(
                "{} {} was weighed more than once; {} counts",
                of.kind.name(),
                named(*of),
                kg(*used_g)
            ),
            Self::AliveAfterDead { disputed } => format!(
                "the colony of hive {} was found dead on {} and seen alive on {}: look which hive was meant, and withdraw \
                 the other",
                named(disputed.hive_id.into()),
                disputed.ended_at.date_naive(),
                disputed.seen_at.date_naive()
            ),
            Self::Complaints { lot_id, entry_ids, .. } => format!(
                "{} complaints about lot {}: hold it until somebody has opened the jars kept back",
                entry_ids.len(),
                named((*lot_id).into())
            ),
            Self::FilledFromTwoRuns { fill_id, run_ids } => format!(
                "{} is said to come from {} runs; it counts with the one told last",
                named((*fill_id).into()),
                run_ids.len()
            ),
        }
    }
}

/// Every doubt that shows with several things side by side, in an order that does not depend on who told first.
#[must_use]
pub fn doubts(house: &House) -> Vec<Doubt> {
    let mut doubts = numbers::shared_numbers(house);
    doubts.extend(numbers::two_boxes(house));
    doubts.extend(numbers::shared_codes(house));
    doubts.extend(find::not_registered(house));
    doubts.extend(find::filled_while_not_empty(house));
    doubts.extend(find::ancestry_loops(house));
    doubts.extend(find::filled_from_two_runs(house));
    doubts.extend(find::meters_found_wrong(house));
    doubts.extend(find::weighed_twice(house));
    let alive_after_dead = disputed(house)
        .into_iter()
        .map(|disputed| Doubt::AliveAfterDead { disputed });
    doubts.extend(alive_after_dead);
    doubts.extend(find::complaints(house));
    doubts.extend(late::late_for_jars(house));
    doubts
}

/// Two tellings so near in time of one number in two yards are of two boxes. How far the yards lie apart is not
/// written down, so the twelve hours of CF-7 stand for the longest drive.
const NO_TIME_TO_CARRY: chrono::TimeDelta = SAME_HAPPENING;
