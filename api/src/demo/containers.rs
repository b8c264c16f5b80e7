//! Containers, filled one after another out of one run.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::fill::{ContainerFilled, ContainerKind, ContainerWashed, FillSource};
use domain::ids::{FillId, RunId};

use super::diary::{Diary, Person, PlanRefused, at, grams, name};
use super::places::Places;

/// What is in a container.
#[derive(Clone, Debug)]
pub(super) struct Filled {
    pub(super) id: FillId,
    pub(super) net_g: i64,
    pub(super) tank: bool,
    pub(super) of_cappings: bool,
}

/// Net of a full bucket, of a pail that is sold, and what tank and buckets of the blend hold.
pub(super) const BUCKET_G: i64 = 28_400;
pub(super) const PAIL_G: i64 = 15_000;
pub(super) const BLEND_TANK_G: i64 = 120_000;
pub(super) const BLEND_BUCKET_G: i64 = 22_500;
/// From so much on a rest goes into the large tank, if that is empty.
const TANK_FROM_G: i64 = 110_000;
const TANK_HOLDS_G: i64 = 199_000;

/// Fills one container after another out of one run.
pub(super) struct Filler<'a> {
    pub(super) diary: &'a mut Diary,
    pub(super) places: &'a mut Places,
    pub(super) run_id: RunId,
    pub(super) label: String,
    pub(super) when: DateTime<Utc>,
    pub(super) on: NaiveDate,
    /// The next container gets no label, and nobody writes from which run it is until somebody asks.
    pub(super) forgotten: bool,
}

impl Filler<'_> {
    /// Runs honey into an empty container of a kind, which is to be empty again on a day.
    pub(super) fn fill(
        &mut self,
        kind: ContainerKind,
        (net_g, of_cappings): (i64, bool),
        empty_on: Option<NaiveDate>,
    ) -> Result<Filled, PlanRefused> {
        let on = self.on;
        let vessel = self
            .places
            .vessels
            .iter_mut()
            .find(|vessel| vessel.kind == kind && vessel.free_from <= on && fits(vessel.tare_g, kind, net_g))
            .ok_or_else(|| PlanRefused::TooFewVessels {
                run: self.label.clone(),
            })?;
        vessel.free_from = empty_on.map_or(NaiveDate::MAX, |on| on + TimeDelta::days(1));
        let (container_id, tare_g, number) = (vessel.id, vessel.tare_g, vessel.number.clone());
        if let Some(on) = empty_on {
            self.diary
                .tell(Person::Rook, at(on, 19, 0), ContainerWashed { container_id });
        }
        let fill_id = FillId::from_uuid(self.diary.id());
        let (source, when) = if of_cappings {
            (FillSource::CappingsOfRunId(self.run_id), self.when + TimeDelta::days(1))
        } else {
            (FillSource::RunId(self.run_id), self.when)
        };
        self.when += TimeDelta::minutes(4);
        let filled = ContainerFilled {
            fill_id,
            source,
            gross_g: grams(net_g + tare_g)?,
            tare_g: grams(tare_g)?,
            container_id: Some(container_id),
            code: Some(name(&format!("{} {number}", self.label))?),
            label_stuck: Some(true),
            group: None,
            scale_id: Some(self.places.tools.scale),
        };
        if std::mem::take(&mut self.forgotten) {
            super::incidents::without_label(self.diary, when, filled)?;
        } else {
            self.diary.tell(Person::Tobiah, when, filled);
        }
        Ok(Filled {
            id: fill_id,
            net_g,
            tank: kind == ContainerKind::Tank,
            of_cappings,
        })
    }

    /// Buckets until little is left, which goes into a pail.
    pub(super) fn rest(&mut self, mut rest_g: i64, empty_on: Option<NaiveDate>) -> Result<Vec<Filled>, PlanRefused> {
        let mut fills = Vec::new();
        let large_is_free = self.places.vessels.iter().any(|vessel| {
            vessel.kind == ContainerKind::Tank && vessel.free_from <= self.on && vessel.tare_g > SMALL_TANK_G
        });
        if rest_g >= TANK_FROM_G && large_is_free {
            let tank_g = rest_g.min(TANK_HOLDS_G);
            fills.push(self.fill(ContainerKind::Tank, (tank_g, false), empty_on)?);
            rest_g -= tank_g;
        }
        while rest_g > 0 {
            let (kind, net_g) = match rest_g {
                ..=PAIL_G => (ContainerKind::Pail, rest_g),
                _ => (ContainerKind::Bucket, rest_g.min(BUCKET_G)),
            };
            fills.push(self.fill(kind, (net_g, false), empty_on)?);
            rest_g -= net_g;
        }
        Ok(fills)
    }
}

/// The empty weight of the smaller tank.
const SMALL_TANK_G: i64 = 6_400;

/// The blend stands in the small tank, everything else in the large one.
fn fits(tare_g: i64, kind: ContainerKind, net_g: i64) -> bool {
    kind != ContainerKind::Tank || (tare_g > SMALL_TANK_G) == (net_g != BLEND_TANK_G)
}
