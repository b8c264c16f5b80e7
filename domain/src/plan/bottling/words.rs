//! Why a plan for a bottling is as it is, in sentences.

use super::{AimedBy, BottlingAsked, BottlingPlan, EndedBy, SizePlanned};
use crate::decide::kg;
use crate::plan::Reason;
use crate::plan::net_content::{CONFIDENCE, Scheme};

/// Grams with one decimal.
fn grams(tenths: i64) -> String {
    format!("{}.{} g", tenths / 10, tenths % 10)
}

pub(super) fn reasons(asked: &BottlingAsked, plan: &BottlingPlan) -> Vec<Reason> {
    let mut reasons = Vec::new();
    for size in plan.sizes.iter().filter(|size| size.jars > 0) {
        reasons.push(aim(asked, size));
    }
    for size in &plan.sizes {
        reasons.push(ended(size));
    }
    let retained = plan.jars_retained;
    let wanted = asked.retained_jars.unwrap_or(super::RETAINED).get();
    if retained > 0 {
        let sentence = format!("{retained} jars of this lot are kept back and their place is written down");
        reasons.push(Reason::new("retained", "SA-1", sentence).with("retained_jars", retained));
    }
    if retained < wanted {
        let sentence = format!("{wanted} jars were to be kept back, and {retained} are filled");
        reasons.push(Reason::new("too_few_retained", "SA-1", sentence).with("retained_jars", retained));
    }
    if plan.given_away_g > 0 {
        let worth = plan.given_away_hundredths.map_or_else(String::new, |worth| {
            format!(", worth {}.{:02}", worth / 100, worth % 100)
        });
        let sentence = format!("{} more than declared go into the jars{worth}", kg(plan.given_away_g));
        reasons.push(Reason::new("given_away", "NC-1", sentence).with("given_away_g", plan.given_away_g));
    }
    let sentence = format!(
        "{} stay in the tank, and {} are lost on the way",
        kg(plan.left_g),
        kg(plan.lost_g)
    );
    let reason = Reason::new("left", "MB-5", sentence)
        .with("left_g", plan.left_g)
        .with("lost_g", plan.lost_g);
    reasons.push(reason);
    if plan.jars > 0 {
        let sentence = "weigh ten empty jars for the tare, then full ones at the start, in the middle and at the end";
        reasons.push(Reason::new("check", "NC-3", sentence));
    }
    if asked.scheme == Scheme::Usa {
        let sentence = "the limit for the single jar (maximum allowable variation) was not verified and is not planned for; look \
            it up in the handbook in force";
        reasons.push(Reason::new("single_jar_not_verified", "NC-1", sentence));
    }
    let sentence =
        "the plan releases nothing: the lot has to be measured, free of holds and released before a jar is filled";
    reasons.push(Reason::new("plan_releases_nothing", "MO-10", sentence));
    reasons
}

fn aim(asked: &BottlingAsked, size: &SizePlanned) -> Reason {
    let confidence = asked.confidence_per_mille.unwrap_or(CONFIDENCE).get();
    let sure = format!("{}.{} %", confidence / 10, confidence % 10);
    let (code, rule, why) = match size.aimed_by {
        AimedBy::Mean => (
            "aim_mean",
            "NC-1",
            format!("so that their mean is not below the declaration, with {sure}"),
        ),
        AimedBy::FewBelowFirst => (
            "aim_first_limit",
            "NC-1",
            "so that no more of them than allowed lie below the first limit".to_owned(),
        ),
        AimedBy::NoneBelowSecond => (
            "aim_second_limit",
            "NC-1",
            format!("so that none of them lies below the second limit, with {sure}"),
        ),
        AimedBy::NoneBelowNominal => (
            "aim_none_below",
            "NC-3",
            format!("so that none of them lies below the declaration, with {sure}"),
        ),
        AimedBy::Habit => (
            "aim_habit",
            "NC-3",
            "which is habit and shows nothing: weigh ten jars filled like this and give their spread".to_owned(),
        ),
    };
    let sentence = format!("{}: aim at {}, {why}", size.label, grams(size.aim_tenths_g));
    Reason::new(code, rule, sentence)
        .with("aim_tenths_g", size.aim_tenths_g)
        .with("over_tenths_g", size.over_tenths_g)
}

fn ended(size: &SizePlanned) -> Reason {
    let (code, why) = match size.ended_by {
        EndedBy::Honey => ("ended_by_honey", "then the honey is shared out"),
        EndedBy::Jars => ("ended_by_jars", "then the empty jars are used up"),
        EndedBy::Lids => ("ended_by_lids", "then the lids are used up"),
        EndedBy::Wanted => ("ended_by_wish", "no more are wanted"),
    };
    let sentence = format!("{}: {} jars, {why}", size.label, size.jars);
    Reason::new(code, "ID-7", sentence).with("jars", size.jars)
}
