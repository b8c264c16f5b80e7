//! Whether the air in a warm room dries the honey in combs, how far, how long that may take, and what weight it costs
//! (DR-1 to DR-3).
//!
//! The air of the room is taken to the temperature of the comb and held against the humidity with which the honey is in
//! balance. Rates are anecdotes, and a plan says so: 1 to 3 points of moisture a day are the best that is published, 0.3
//! to 1 is what may be planned with. What is booked in the end is what was weighed or measured, never this. Not here: the
//! physics, which is in `science/`, and honey out of the comb, which dries slower and is a lot of its own (ID-6).

use chrono::{DateTime, Utc};

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::allocation::BoxClass;
use crate::described::Spread;
use crate::form::Form;
use crate::honey_super::Super;
use crate::house::House;
use crate::ids::{RoomId, SuperId};
use crate::moisture::deciding;
use crate::plan::Reason;
use crate::plan::described::{chosen_from, planned};
use crate::reckon::Refusal;
use crate::science::air::{self, Formula};
use crate::science::balance::{self, Table};
use crate::science::drying::{self, CAUTION};
use crate::units::{Grams, Hours, Humidity, Moisture, Percent, Temperature};

/// Warmer air softens combs (DR-2): 35 °C is the published top for air through supers.
pub const AIR_AT_MOST: Temperature = Temperature::constant(350);
/// Longer in warmth is a question (DR-2). Our own choice.
pub const DAYS_AT_MOST: i64 = 5;
/// Damper air is a question (DR-2): it is in balance with 17.4 % water.
pub const HUMIDITY_AT_MOST: Percent = Percent::constant(58);
/// Fully capped comb dries several times slower. Common practice.
const CAPPED: Percent = Percent::constant(90);
/// Measured again after a day at the latest. Our own choice.
const MEASURE_WITHIN_H: i64 = 24;
/// And not before this, since a reading has its own error. Our own choice.
const MEASURE_NOT_BEFORE_H: i64 = 6;

/// What the air does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Outlook {
    /// It takes water from the honey, down to what is wanted.
    Dries,
    /// It takes water, but cannot bring the honey down to what is wanted.
    NotFarEnough,
    /// Honeys differ too much to say.
    Unsure,
    /// It gives the honey water.
    Wets,
    /// The honey is as dry as is wanted.
    DryEnough,
    /// Somebody has to measure first.
    Unknown,
}

chosen_from!(Outlook: ["dries", "not_far_enough", "unsure", "wets", "dry_enough", "unknown"]);

planned! {
    /// Honey in combs, and the air round it.
    DryingAsked {
        /// Honey in the stack, without boxes and combs.
        honey_g: Grams, "grams", "160000";
        /// The reading that decides; leave it out where nobody measured.
        moisture_hundredths: Option<Moisture>, "hundredths of a per cent of mass", "1940";
        /// The water wanted.
        goal_moisture_hundredths: Moisture, "hundredths of a per cent of mass", "1800";
        /// Temperature of the air where its humidity was read.
        air_tenths_c: Temperature, "tenths of a degree Celsius", "320";
        /// Its relative humidity.
        humidity_percent: Option<Percent>, "per cent", "35";
        /// Temperature of the combs; that of the air if left out.
        comb_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "300";
        /// Sealed comb.
        capped_percent: Option<Percent>, "per cent", "80";
        /// How long the air has been on already.
        dried_for_h: Option<Hours>, "hours", "0";
    }
}

planned! {
    /// The hours it may take.
    HoursSpan {
        /// At least.
        from_h: i64, "hours";
        /// At most.
        to_h: i64, "hours";
    }
}

planned! {
    /// What the air does to the honey, and what to do about it.
    DryingPlan {
        /// What the air does.
        outlook: Outlook, "one of the words";
        /// The humidity with which the honey is in balance now; the ends are those between which honeys lie.
        balance_humidity_hundredths_percent: Option<Spread>, "hundredths of a per cent";
        /// The humidity of the room's air at the temperature of the combs.
        at_comb_hundredths_percent: Option<i64>, "hundredths of a per cent";
        /// How far that lies below the balance of usual honey; below zero the honey gains water.
        margin_hundredths_percent: Option<i64>, "hundredths of a per cent";
        /// The driest this air makes honey; the ends are those between which honeys lie.
        driest_moisture_hundredths: Option<Spread>, "hundredths of a per cent of mass";
        /// The water to be taken away, which is the weight to be booked as dried off if it is reached.
        water_g: Option<i64>, "grams";
        /// What the honey weighs then.
        after_g: Option<i64>, "grams";
        /// Hours to plan with, by habit.
        planned: Option<HoursSpan>, "hours";
        /// Hours at the best rate that is published.
        best: Option<HoursSpan>, "hours";
        /// Measure again after so long.
        measure_after_h: Option<i64>, "hours";
        /// Why.
        reasons: Vec<Reason>, "a list of reasons";
        /// What to heed.
        cautions: Vec<String>, "a list of sentences";
    }
}

/// Plans the drying of combs.
///
/// # Errors
/// [`Refusal`] for honey that is nothing but water, and air beyond all formulas.
pub fn plan_drying(asked: &DryingAsked) -> Result<DryingPlan, Refusal> {
    let mut plan = DryingPlan {
        outlook: Outlook::Unknown,
        balance_humidity_hundredths_percent: None,
        at_comb_hundredths_percent: None,
        margin_hundredths_percent: None,
        driest_moisture_hundredths: None,
        water_g: None,
        after_g: None,
        planned: None,
        best: None,
        measure_after_h: None,
        reasons: Vec::new(),
        cautions: vec![
            CAUTION.to_owned(),
            "A dehumidifier runs as its maker's manual says: its water bin, its distance from walls and its plug. \
             Damp floors and electric tools need a protected outlet; never leave a heater alone."
                .to_owned(),
        ],
    };
    warn_of_room(asked, &mut plan.reasons);
    let Some(moisture) = asked.moisture_hundredths else {
        let sentence = "nobody measured the honey: measure middle and outer frames before the air is turned on";
        plan.reasons.push(Reason::new("not_measured", "MO-9", sentence));
        return Ok(plan);
    };
    look_at_air(asked, moisture, &mut plan);
    if moisture <= asked.goal_moisture_hundredths {
        plan.outlook = Outlook::DryEnough;
        let reason = Reason::new("dry_enough", "MO-2", "the honey is as dry as is wanted: extract it");
        plan.reasons.push(reason.with("moisture_hundredths", moisture.get()));
        return Ok(plan);
    }
    let dried = drying::drying(asked.honey_g, moisture, asked.goal_moisture_hundredths)?;
    plan.water_g = Some(dried.water_g);
    plan.after_g = Some(dried.after_g);
    if matches!(plan.outlook, Outlook::Wets | Outlook::NotFarEnough) {
        return Ok(plan);
    }
    reckon_hours(asked, moisture, &mut plan);
    let loss = Reason::new(
        "water_dried_off",
        "DR-3",
        "book what is measured afterwards as water dried off, not as unexplained",
    );
    plan.reasons.push(loss.with("water_g", dried.water_g));
    Ok(plan)
}

/// What is remarkable about the room, whatever the honey is.
fn warn_of_room(asked: &DryingAsked, reasons: &mut Vec<Reason>) {
    let warmest = asked
        .comb_tenths_c
        .map_or(asked.air_tenths_c, |comb| comb.max(asked.air_tenths_c));
    if warmest > AIR_AT_MOST {
        let sentence = "too warm: combs soften above 35 °C and break down near 41 °C";
        reasons.push(Reason::new("too_warm", "DR-2", sentence).with("tenths_c", warmest.get()));
    }
    if let Some(humidity) = asked.humidity_percent.filter(|humidity| *humidity > HUMIDITY_AT_MOST) {
        let sentence = "damp air: 58 % is in balance with 17.4 % water, so it dries nothing below that";
        reasons.push(Reason::new("damp_air", "DR-2", sentence).with("humidity_percent", humidity.get()));
    }
    if let Some(dried) = asked.dried_for_h.filter(|dried| dried.get() > DAYS_AT_MOST * 24) {
        let sentence = "longer than five days in warmth: look for moths and beetles, and whether any air gets through";
        reasons.push(Reason::new("too_long", "DR-2", sentence).with("dried_for_h", dried.get()));
    }
}

/// Holds the air against the honey.
fn look_at_air(asked: &DryingAsked, moisture: Moisture, plan: &mut DryingPlan) {
    let Some(humidity) = asked.humidity_percent else {
        let sentence = "the humidity of the room was not read: without it nobody knows whether the honey dries";
        plan.reasons.push(Reason::new("humidity_not_read", "DR-2", sentence));
        return;
    };
    let comb = asked.comb_tenths_c.unwrap_or(asked.air_tenths_c);
    let humidity = Humidity::new(humidity.get() * 100).unwrap_or(Humidity::MAX);
    let warmed = match air::warmed(asked.air_tenths_c, humidity, comb, Formula::Buck) {
        Ok(warmed) => warmed,
        Err(air::AirRefused::BelowDewPoint { .. }) => {
            plan.outlook = Outlook::Wets;
            let sentence = "the combs are colder than the dew point of the air: water settles on them; warm them slowly in drier air";
            plan.reasons.push(Reason::new("below_dew_point", "DR-2", sentence));
            return;
        }
        Err(air::AirRefused::Outside(outside)) => {
            plan.reasons
                .push(Reason::new("outside_validity", "DR-2", outside.to_string()));
            return;
        }
    };
    let at_comb = warmed.relative_humidity_hundredths_percent;
    plan.at_comb_hundredths_percent = Some(at_comb);
    plan.driest_moisture_hundredths = warmed.driest_moisture_hundredths;
    let balance = match balance::humidity(moisture, Table::Clover) {
        Ok(balance) => balance.relative_humidity_hundredths_percent,
        Err(outside) => {
            plan.reasons
                .push(Reason::new("outside_validity", "DR-2", outside.to_string()));
            return;
        }
    };
    plan.margin_hundredths_percent = Some(balance.value - at_comb);
    let (low, high) = (balance.low, balance.high);
    plan.balance_humidity_hundredths_percent = Some(balance);
    let figures = |reason: Reason| {
        let reason = reason.with("at_comb_hundredths_percent", at_comb);
        reason
            .with("balance_low_hundredths_percent", low)
            .with("balance_high_hundredths_percent", high)
    };
    if at_comb >= high {
        plan.outlook = Outlook::Wets;
        let sentence = "this air gives the honey water: turn it off, close the stack, and dry the room first";
        plan.reasons.push(figures(Reason::new("air_wets", "DR-2", sentence)));
        return;
    }
    if at_comb > low {
        plan.outlook = Outlook::Unsure;
        let sentence = "this air is near the balance: some honeys of this moisture would give water, others take some";
        plan.reasons
            .push(figures(Reason::new("near_balance", "DR-2", sentence)));
        return;
    }
    plan.outlook = Outlook::Dries;
    let goal = asked.goal_moisture_hundredths.get();
    match plan.driest_moisture_hundredths {
        Some(driest) if driest.value > goal => {
            plan.outlook = Outlook::NotFarEnough;
            let sentence =
                "this air takes water, but is in balance with honey wetter than is wanted: make it drier or warmer";
            let reason = figures(Reason::new("not_far_enough", "DR-2", sentence));
            plan.reasons.push(
                reason
                    .with("driest_moisture_hundredths", driest.value)
                    .with("goal_moisture_hundredths", goal),
            );
        }
        _ => {
            let sentence = "this air takes water from every honey of this moisture";
            plan.reasons.push(figures(Reason::new("air_dries", "DR-2", sentence)));
        }
    }
}

/// Hours as ranges. Points of a hundredth a day: 30 to 100 planned, 100 to 300 at best.
fn reckon_hours(asked: &DryingAsked, moisture: Moisture, plan: &mut DryingPlan) {
    let points = moisture.get() - asked.goal_moisture_hundredths.get();
    let hours = |slow: i64, fast: i64| HoursSpan {
        from_h: up(points * 24, fast),
        to_h: up(points * 24, slow),
    };
    let planned = hours(30, 100);
    let best = hours(100, 300);
    plan.measure_after_h = Some(planned.from_h.clamp(MEASURE_NOT_BEFORE_H, MEASURE_WITHIN_H));
    let sentence = "the hours are anecdotes and a habit of the trade: 0.3 to 1 point a day may be planned with, 1 to 3 are the \
        best that is published; measure, do not wait for them";
    let reason = Reason::new("hours_are_anecdotal", "DR-2", sentence);
    plan.reasons.push(reason.with("points_hundredths", points));
    if planned.from_h > DAYS_AT_MOST * 24 {
        let sentence =
            "even at a point a day this takes more than five days: blending, or bees while they gather, may do better";
        plan.reasons
            .push(Reason::new("takes_too_long", "DR-2", sentence).with("from_h", planned.from_h));
    }
    match asked.capped_percent {
        Some(capped) if capped >= CAPPED => {
            let sentence = "sealed comb dries several times slower than these hours";
            plan.reasons
                .push(Reason::new("capped", "DR-2", sentence).with("capped_percent", capped.get()));
        }
        Some(_) => {}
        None => {
            let sentence = "nobody told how much is sealed: sealed comb dries several times slower than these hours";
            plan.reasons.push(Reason::new("capped_not_told", "DR-2", sentence));
        }
    }
    plan.planned = Some(planned);
    plan.best = Some(best);
}

fn up(above: i64, below: i64) -> i64 {
    (above + below - 1) / below
}

/// A question read off a house, and what could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct DryingAtHand {
    /// The question.
    pub asked: DryingAsked,
    /// Supers of which the honey was not weighed: their class's usual net stands for it.
    pub not_weighed: Vec<SuperId>,
    /// Supers of which nobody knows the water.
    pub not_measured: Vec<SuperId>,
}

impl DryingAsked {
    /// The question for supers of one stack in a warm room: the wettest decides. Nothing without a reading of the air.
    #[must_use]
    pub fn of_supers(house: &House, supers: &[SuperId], room: RoomId, now: DateTime<Utc>) -> Option<DryingAtHand> {
        let air = house.get(room.into())?.as_room()?.air.last()?;
        let known: Vec<(SuperId, &Super)> = supers
            .iter()
            .filter_map(|id| Some((*id, house.honey_super(*id)?)))
            .collect();
        let water = |state: &Super| deciding(&state.filling.readings, |id| house.meter(id)).measured();
        let weighed = |state: &Super| net(state).is_some();
        let hours = known.iter().filter_map(|(_, state)| {
            let since = state.filling.drying_since?;
            Hours::new((now - since).num_hours().clamp(0, Hours::MAX.get())).ok()
        });
        let honey: i64 = known
            .iter()
            .map(|(_, state)| net(state).unwrap_or_else(|| usual_net(state.class)))
            .sum();
        let capped = known
            .iter()
            .filter_map(|(_, state)| state.filling.pulled.as_ref()?.capped_percent);
        Some(DryingAtHand {
            asked: Self {
                honey_g: Grams::new(honey).unwrap_or(Grams::MAX),
                moisture_hundredths: known.iter().filter_map(|(_, state)| water(state)).max(),
                goal_moisture_hundredths: house.settings().house_limit(),
                air_tenths_c: air.air_tenths_c,
                humidity_percent: air.humidity_percent,
                comb_tenths_c: None,
                capped_percent: capped.max(),
                dried_for_h: hours.max(),
            },
            not_weighed: known
                .iter()
                .filter(|(_, state)| !weighed(state))
                .map(|(id, _)| *id)
                .collect(),
            not_measured: known
                .iter()
                .filter(|(_, state)| water(state).is_none())
                .map(|(id, _)| *id)
                .collect(),
        })
    }
}

/// Honey in a super that was weighed full.
fn net(state: &Super) -> Option<i64> {
    let full = state.filling.full.as_ref()?;
    let tare = state.tare_g.or_else(|| state.class.map(BoxClass::tare))?;
    Some((full.gross_g.get() - tare.get()).max(0))
}

/// Honey in a full box of a class: the middle of published figures (shallow 11.3 to 13.6, medium 15.9 to 18.1, deep 27.2 to
/// 31.8 kg extracted from ten frames); a medium one where nobody told.
const fn usual_net(class: Option<BoxClass>) -> i64 {
    match class {
        Some(BoxClass::Shallow) => 12_500,
        Some(BoxClass::Medium) | None => 17_000,
        Some(BoxClass::Deep) => 29_500,
    }
}

#[cfg(test)]
mod tests;
