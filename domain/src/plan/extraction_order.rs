//! What to do with the supers in the house, and in which order (FI-2, MO-10, DI-1, ID-4).
//!
//! Ready ones come first, yard by yard: a run ends drained and clean, so each yard is a run of its own and its honey
//! keeps its origin. Then those to be measured, dried, given back to the bees, and last those that must not be touched.
//! Late ones lead their group, then those that wait longest. More water never brings a super forward.
//! What is asked of a house is in `extraction_order/at_hand.rs`, where every super to be spun is put before the decision
//! that the service would make (`decide`). Not here: the cage (`extractor_load.rs`), the air (`drying.rs`).

use std::cmp::Reverse;

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::decide::percent;
use crate::form::Form;
use crate::ids::SuperId;
use crate::ordered::Map;
use crate::plan::Reason;
use crate::plan::described::{chosen_from, planned};
use crate::units::{Days, FrameCount, Hours, Moisture, Percent, Places};

mod at_hand;

pub(crate) use at_hand::since;

/// Where supers wait.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Store {
    /// Warm, as for extracting; also where nobody knows.
    Warm,
    /// Cool.
    Cool,
}

chosen_from!(Store: ["warm", "cool"]);

/// What to do with a super. The first is the readiest.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// Uncap and spin it.
    Extract,
    /// Stop the air, or trust no old reading: measure it again.
    ReMeasure,
    /// Measure it for the first time.
    Measure,
    /// Take water out of it.
    Dry,
    /// Put it back on a hive: bees dry it best while they gather.
    ReturnToHive,
    /// Leave it.
    Hold,
}

chosen_from!(Action: ["extract", "re_measure", "measure", "dry", "return_to_hive", "hold"]);

planned! {
    /// What speaks against touching a super.
    Objection {
        /// Its slug.
        code: String, "words", "\"on_hold\"";
        /// The rule of the trade behind it.
        rule: String, "words", "\"CF-17\"";
        /// What, and what to do.
        sentence: String, "words", "\"on hold: treatment of hive W03\"";
    }
}

planned! {
    /// A super in the house.
    Waiting {
        /// What people call it.
        label: String, "words", "\"S041\"";
        /// Its identity, where there is one.
        super_id: Option<SuperId>, "an identity", "\"00000000-0000-4000-8000-000000000001\"";
        /// The yard its honey is from; several or none: leave it out.
        yard: Option<String>, "words", "\"west yard\"";
        /// How long it has been off the hive.
        waiting_h: Option<Hours>, "hours", "50";
        /// The reading that decides: the highest valid one since it was last changed.
        moisture_hundredths: Option<Moisture>, "hundredths of a per cent of mass", "1780";
        /// Whether a meter found it wetter than its scale.
        off_scale_wet: Option<bool>, "true or false", "false";
        /// How long air has been going through it; leave out where none is.
        drying_for_h: Option<Hours>, "hours", "20";
        /// Whether it was dried and not measured since.
        dried_since_measured: Option<bool>, "true or false", "false";
        /// Sealed comb.
        capped_percent: Option<Percent>, "per cent", "90";
        /// Whether brood was seen; leave out if nobody looked.
        brood_seen: Option<bool>, "true or false", "false";
        /// Frames to be spun.
        frames: Option<FrameCount>, "frames", "9";
        /// Whether bees at its yard still gather.
        flow_on: Option<bool>, "true or false", "false";
        /// A hold, or what a decision would refuse.
        objection: Option<Objection>, "an object", "null";
    }
}

planned! {
    /// The supers in the house.
    OrderAsked {
        /// The supers.
        supers: Vec<Waiting>, "a list of supers", r#"[{"label":"S041","yard":"west yard","waiting_h":50,"moisture_hundredths":1740,"frames":9}]"#;
        /// The most water that is extracted without drying.
        house_limit_hundredths: Moisture, "hundredths of a per cent of mass", "1800";
        /// Where they wait; warm if left out.
        store: Option<Store>, "one of the words", "\"warm\"";
        /// Whether small hive beetles live here.
        beetle_region: Option<bool>, "true or false", "false";
        /// The most days in warmth; three if left out.
        warm_days: Option<Days>, "days", "3";
        /// The most days in a cool room; seven if left out.
        cool_days: Option<Days>, "days", "7";
        /// The most days where small hive beetles live; two if left out.
        beetle_days: Option<Days>, "days", "2";
        /// Frame places of the extractor, for the number of loads.
        places: Option<Places>, "frame places", "9";
    }
}

planned! {
    /// What to do with one super.
    Ordered {
        /// Its place in the order, counted from 1.
        rank: i64, "a number";
        /// What people call it.
        label: String, "words";
        /// Its identity, where there is one.
        super_id: Option<SuperId>, "an identity";
        /// What to do.
        action: Action, "one of the words";
        /// It has waited too long already.
        late: bool, "true or false";
        /// The run it is spun in, counted from 1.
        run: Option<i64>, "a number";
        /// Why, the weightiest first.
        reasons: Vec<Reason>, "a list of reasons";
    }
}

planned! {
    /// Supers that are spun together.
    ProposedRun {
        /// Which, counted from 1.
        number: i64, "a number";
        /// The yard; nothing for honey of unknown or several yards.
        yard: Option<String>, "words";
        /// Supers in it.
        supers: i64, "supers";
        /// Frames in those supers of which somebody knows.
        frames: i64, "frames";
        /// Loads of the extractor, where its places are known.
        loads: Option<i64>, "loads";
        /// Drain and clean the extractor before it.
        drain_first: bool, "true or false";
    }
}

planned! {
    /// Everything in its order.
    OrderPlan {
        /// The supers.
        supers: Vec<Ordered>, "a list of supers";
        /// The runs.
        runs: Vec<ProposedRun>, "a list of runs";
        /// What to heed.
        cautions: Vec<String>, "a list of sentences";
    }
}

/// Less sealed comb than this was called unripe by a teaching handout (IN).
const RIPE_CAPPED: Percent = Percent::constant(75);
/// Bees take a super back as theirs within a day. Our own choice.
const RETURN_WITHIN_H: i64 = 24;

/// Puts the supers in order.
#[must_use]
pub fn plan_extraction_order(asked: &OrderAsked) -> OrderPlan {
    let wait = wait(asked);
    let mut all: Vec<Judged<'_>> = asked.supers.iter().map(|one| judge(one, asked, wait)).collect();
    all.sort_by(|a, b| a.key().cmp(&b.key()));
    // The yard whose first super comes first is spun first.
    let mut yards: Map<Option<&str>, usize> = Map::new();
    for one in all.iter().filter(|one| one.action == Action::Extract) {
        let next = yards.len();
        yards.entry(one.yard()).or_insert(next);
    }
    let run_of = |one: &Judged<'_>| match one.action {
        Action::Extract => yards.get(&one.yard()).copied(),
        _ => None,
    };
    // A stable sort: within a run and within an action the order stays.
    all.sort_by_key(|one| (one.action, run_of(one)));
    let runs = runs(asked, &yards, &all);
    let mut supers = Vec::with_capacity(all.len());
    for (one, rank) in all.into_iter().zip(1..) {
        let run = run_of(&one).map(|run| whole(run) + 1);
        supers.push(Ordered {
            rank,
            label: one.of.label.clone(),
            super_id: one.of.super_id,
            action: one.action,
            late: one.late,
            run,
            reasons: one.reasons,
        });
    }
    OrderPlan {
        supers,
        runs,
        cautions: vec![
            "Full supers are heavy: two people or a trolley from 23 kg. Hot knives burn and cut: away from the body, and \
             unplugged when put down. Local codes and the makers' manuals rule."
                .to_owned(),
        ],
    }
}

/// How long supers may wait, and why.
#[derive(Clone, Copy)]
struct Wait {
    days: i64,
    why: &'static str,
}

fn wait(asked: &OrderAsked) -> Wait {
    let days = |of: Option<Days>, habit: i64| of.map_or(habit, Days::get);
    let cool = asked.store == Some(Store::Cool);
    let stored = if cool {
        Wait {
            days: days(asked.cool_days, 7),
            why: "in a cool room",
        }
    } else {
        Wait {
            days: days(asked.warm_days, 3),
            why: "in warmth",
        }
    };
    let beetles = Wait {
        days: days(asked.beetle_days, 2),
        why: "where small hive beetles live",
    };
    if asked.beetle_region == Some(true) && beetles.days < stored.days {
        beetles
    } else {
        stored
    }
}

struct Judged<'a> {
    of: &'a Waiting,
    action: Action,
    late: bool,
    reasons: Vec<Reason>,
}

impl<'a> Judged<'a> {
    /// Late, then longest waiting, then by what people call it. Nothing of water.
    fn key(&self) -> (bool, Reverse<i64>, &'a str, Option<SuperId>) {
        let waiting = Reverse(self.of.waiting_h.map_or(-1, Hours::get));
        (!self.late, waiting, self.of.label.as_str(), self.of.super_id)
    }

    fn yard(&self) -> Option<&'a str> {
        self.of.yard.as_deref()
    }
}

fn judge<'a>(one: &'a Waiting, asked: &OrderAsked, wait: Wait) -> Judged<'a> {
    let (action, first) = action(one, asked.house_limit_hundredths);
    let late = one.waiting_h.is_some_and(|hours| hours.get() > wait.days * 24);
    let mut reasons = vec![first];
    if late {
        let sentence = format!("off the hive for more than {} days {}", wait.days, wait.why);
        let hours = one.waiting_h.map_or(0, Hours::get);
        reasons.push(Reason::new("waits_too_long", "FI-2", sentence).with("waiting_h", hours));
    }
    if one.brood_seen == Some(true) {
        let sentence = "brood was seen: set those frames aside, extracted honey is from broodless comb";
        reasons.push(Reason::new("brood_seen", "DI-1", sentence));
    }
    if let Some(capped) = one
        .capped_percent
        .filter(|capped| *capped < RIPE_CAPPED && action == Action::Extract)
    {
        let sentence = format!(
            "only {} % is sealed, yet it measures dry enough: sample the open cells too",
            capped.get()
        );
        reasons.push(Reason::new("little_capped", "MO-9", sentence).with("capped_percent", capped.get()));
    }
    if action == Action::Extract && one.yard.is_none() {
        let sentence = "its yard is not known for sure: spun by itself, so that other honey keeps its origin";
        reasons.push(Reason::new("yard_unknown", "AL-5", sentence));
    }
    Judged {
        of: one,
        action,
        late,
        reasons,
    }
}

fn action(one: &Waiting, limit: Moisture) -> (Action, Reason) {
    if let Some(against) = &one.objection {
        let reason = Reason::new(&against.code, &against.rule, against.sentence.as_str());
        return (Action::Hold, reason);
    }
    if let Some(hours) = one.drying_for_h.map(Hours::get) {
        let sentence = format!("drying for {hours} h: stop the air, measure again");
        let reason = Reason::new("drying", "DR-2", sentence).with("drying_for_h", hours);
        return (Action::ReMeasure, reason);
    }
    let too_wet = |reason: Reason| {
        let unripe = one.capped_percent.is_some_and(|capped| capped < RIPE_CAPPED);
        let fresh = one.waiting_h.is_some_and(|hours| hours.get() <= RETURN_WITHIN_H);
        if unripe && fresh && one.flow_on == Some(true) {
            (Action::ReturnToHive, reason)
        } else {
            (Action::Dry, reason)
        }
    };
    match one.moisture_hundredths {
        _ if one.off_scale_wet == Some(true) => too_wet(Reason::new(
            "off_scale_wet",
            "MO-4",
            "it is wetter than the meter reaches",
        )),
        Some(water) if water > limit => {
            let sentence = format!("{} is above the house limit {}", percent(water), percent(limit));
            let reason = Reason::new("too_wet", "MO-2", sentence);
            too_wet(
                reason
                    .with("moisture_hundredths", water.get())
                    .with("house_limit_hundredths", limit.get()),
            )
        }
        Some(water) => {
            let sentence = format!("{} is within the house limit {}", percent(water), percent(limit));
            let reason = Reason::new("dry_enough", "MO-2", sentence);
            let reason = reason.with("moisture_hundredths", water.get());
            (Action::Extract, reason.with("house_limit_hundredths", limit.get()))
        }
        None if one.dried_since_measured == Some(true) => {
            let sentence = "dried and not measured since";
            (Action::ReMeasure, Reason::new("dried_not_measured", "MO-10", sentence))
        }
        None => {
            let sentence = "not measured: middle and outer frames; capped is no proof of dry";
            (Action::Measure, Reason::new("not_measured", "MO-9", sentence))
        }
    }
}

fn runs(asked: &OrderAsked, yards: &Map<Option<&str>, usize>, all: &[Judged<'_>]) -> Vec<ProposedRun> {
    let mut runs: Vec<ProposedRun> = Vec::with_capacity(yards.len());
    let mut in_order: Vec<(&Option<&str>, &usize)> = yards.iter().collect();
    in_order.sort_by_key(|(_, at)| **at);
    for (yard, at) in in_order {
        runs.push(ProposedRun {
            number: whole(*at) + 1,
            yard: yard.map(str::to_owned),
            supers: 0,
            frames: 0,
            loads: None,
            drain_first: *at > 0,
        });
    }
    for one in all.iter().filter(|one| one.action == Action::Extract) {
        let run = yards.get(&one.yard()).and_then(|at| runs.get_mut(*at));
        if let Some(run) = run {
            run.supers += 1;
            run.frames += one.of.frames.map_or(0, FrameCount::get);
        }
    }
    if let Some(places) = asked.places.map(Places::get) {
        for run in &mut runs {
            run.loads = Some((run.frames + places - 1) / places);
        }
    }
    runs
}

fn whole(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests;
