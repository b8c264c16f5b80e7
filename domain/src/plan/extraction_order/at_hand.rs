//! The question for a house: every super in it, with what the book knows and what a decision would say.

use chrono::{DateTime, TimeDelta, Utc};

use super::{Objection, OrderAsked, Store, Waiting};
use crate::decide::Decider;
use crate::extraction::SuperUncapped;
use crate::honey_super::{Super, Whereabouts};
use crate::house::House;
use crate::ids::{RunId, SuperId};
use crate::moisture::{Water, deciding};
use crate::ordered::Set;
use crate::plan::extractor_load::frames_in;
use crate::profile::ProfileKey;
use crate::subject::{Subject, SubjectKind};
use crate::trace::yards_of_stand;
use crate::units::{Hours, Places, Temperature};

/// A room read below this within the last week is cool. Our own choice.
const COOL_BELOW: Temperature = Temperature::constant(180);
const AIR_GOOD_FOR: TimeDelta = TimeDelta::days(7);

impl OrderAsked {
    /// The question for everything that waits in a house.
    #[must_use]
    pub fn of_house(house: &House, now: DateTime<Utc>, places: Option<Places>) -> Self {
        Self::of_decider(&Decider::new(house, now), places)
    }

    /// The same, where the ways of the honey were read already.
    #[must_use]
    pub fn of_decider(decider: &Decider<'_>, places: Option<Places>) -> Self {
        let house = decider.house();
        let settings = house.settings();
        let rules = settings.rules();
        let limit = settings.house_limit();
        let waits = |state: &Super| matches!(state.whereabouts, Whereabouts::InHouse | Whereabouts::Drying);
        let supers = house.supers().filter(|(_, state)| waits(state));
        Self {
            supers: supers.map(|(id, state)| waiting(decider, id, state)).collect(),
            house_limit_hundredths: limit,
            store: Some(store(house, decider.now())),
            beetle_region: Some(rules.yes(ProfileKey::BeetleRegion)),
            warm_days: rules.days(ProfileKey::SupersWaitWarm),
            cool_days: rules.days(ProfileKey::SupersWaitCool),
            beetle_days: rules.days(ProfileKey::SupersWaitBeetle),
            places,
        }
    }
}

/// Since when a super is off the hive.
pub(crate) fn since(state: &Super) -> Option<DateTime<Utc>> {
    let pulled = state.filling.pulled.as_ref().map(|pulled| pulled.at);
    [pulled, state.filling.received_at].into_iter().flatten().min()
}

fn waiting(decider: &Decider<'_>, id: SuperId, state: &Super) -> Waiting {
    let (house, now) = (decider.house(), decider.now());
    let filling = &state.filling;
    let water = deciding(&filling.readings, |id| house.meter(id));
    let yard = one_yard(house, state);
    let pulled = filling.pulled.as_ref();
    Waiting {
        label: house.label(id.into()),
        super_id: Some(id),
        yard: yard.map(|yard| house.label(yard)),
        waiting_h: since(state).map(|since| hours(now - since)),
        moisture_hundredths: water.measured(),
        off_scale_wet: Some(matches!(water, Water::OffScaleWet { .. })),
        drying_for_h: (state.whereabouts == Whereabouts::Drying)
            .then(|| filling.drying_since.map_or(Hours::MIN, |since| hours(now - since))),
        dried_since_measured: Some(filling.dried_at.is_some() && water == Water::Unmeasured),
        capped_percent: pulled.and_then(|pulled| pulled.capped_percent),
        brood_seen: pulled.and_then(|pulled| pulled.brood_seen),
        frames: frames_in(state),
        flow_on: yard
            .and_then(Subject::as_yard)
            .and_then(|yard| house.yard(yard))
            .map(|yard| {
                let today = now.date_naive();
                yard.flows
                    .iter()
                    .any(|flow| flow.from <= today && flow.until.is_none_or(|until| until >= today))
            }),
        objection: objection(decider, id),
    }
}

/// The yard all its honey is from; nothing where it may be from several, or from none that is known (AL-5).
fn one_yard(house: &House, state: &Super) -> Option<Subject> {
    let stands = state.filling.stands.iter();
    let yards: Vec<Set<Subject>> = stands.map(|stand| yards_of_stand(house, stand)).collect();
    let one = *yards.first()?.first()?;
    let sure = yards.iter().all(|yards| yards.len() == 1 && yards.contains(&one));
    sure.then_some(one)
}

/// A hold on it, or what the service would refuse if somebody uncapped it.
fn objection(decider: &Decider<'_>, id: SuperId) -> Option<Objection> {
    let held = decider.holds().on(id.into(), decider.now());
    if let Some(held) = held.first() {
        let sentence = format!(
            "on hold: {} {} since {}; if it has to be spun, then in a run of its own",
            held.on.kind.name(),
            held.label,
            held.since.date_naive()
        );
        return Some(against("on_hold", "CF-17", sentence));
    }
    // A run that nobody has opened yet: nothing is known of it that could speak against it.
    let uncapping = SuperUncapped {
        super_id: id,
        run_id: RunId::from_uuid(uuid::Uuid::nil()),
        frames_set_aside: None,
        group: None,
    };
    let refused = decider.decide(&uncapping.into()).err()?;
    Some(against(refused.code, refused.rule, refused.detail))
}

fn against(code: &str, rule: &str, sentence: String) -> Objection {
    Objection {
        code: code.to_owned(),
        rule: rule.to_owned(),
        sentence,
    }
}

/// Cool only where every room that was read lately is: warmth is the worse case.
fn store(house: &House, now: DateTime<Utc>) -> Store {
    let rooms = house
        .of_kind(SubjectKind::Room)
        .filter_map(|(_, state)| state.as_room());
    let lately = rooms
        .filter_map(|room| room.air.last())
        .filter(|air| now - air.at <= AIR_GOOD_FOR);
    let mut cool = lately.map(|air| air.air_tenths_c < COOL_BELOW).peekable();
    if cool.peek().is_some() && cool.all(|cool| cool) {
        Store::Cool
    } else {
        Store::Warm
    }
}

fn hours(time: TimeDelta) -> Hours {
    Hours::new(time.num_hours().clamp(0, Hours::MAX.get())).unwrap_or(Hours::MAX)
}
