//! Decisions about what holds for the whole operation: the house limit and values of the profile.

use crate::decide::supers::percent;
use crate::decide::{Case, Refused, refused};
use crate::limits::Claim;
use crate::profile::{CHECK, ProfileKey, ProfileValue, Rules, Source};
use crate::settings::{HouseLimitSet, ProfileValueChanged, SeasonPlanned};

/// A house may be stricter than the law, never milder (MO-2).
pub(super) fn set_house_limit(case: &Case<'_>, limit: &HouseLimitSet) -> Result<(), Refused> {
    let legal = case.house.settings().legal_limit(Claim::General);
    if limit.moisture_hundredths > legal {
        let (wished, legal) = (percent(limit.moisture_hundredths), percent(legal));
        let detail = format!("{wished} is above the {legal} of the profile; check with your authority");
        return Err(refused("too_wet", "MO-1", detail));
    }
    Ok(())
}

/// A value may be tightened without a word; a milder one may be right, since texts change, and is asked about.
pub(super) fn change_value(case: &mut Case<'_>, change: &ProfileValueChanged) -> Result<(), Refused> {
    let Some(text) = Rules::of_texts(change.profile).text(change.key) else {
        let detail = format!(
            "this profile says nothing of \"{}\"; there is nothing to change",
            change.key.means()
        );
        return Err(refused("not_in_profile", change.key.rule(), detail));
    };
    let Some(value) = change.value else { return Ok(()) };
    if !change.key.takes(value) {
        let detail = format!(
            "that cannot be \"{}\": tell a value of the same kind as the profile's, within what can be true",
            change.key.means()
        );
        return Err(refused("value_cannot_be", change.key.rule(), detail));
    }
    if milder(change.key, value, text.value) {
        let detail = format!("this is not what {} asks for. {CHECK}", named(text.source));
        case.warn("milder_than_text", change.key.rule(), detail);
    }
    Ok(())
}

/// Jars hold something, and no more than all the honey goes into them.
pub(super) fn plan_season(plan: &SeasonPlanned) -> Result<(), Refused> {
    let jars = plan.jars.as_deref().unwrap_or_default();
    if jars.iter().any(|jar| jar.size_g.get() == 0) {
        let detail = "a jar that holds nothing cannot be planned with; tell its size in grams".to_owned();
        return Err(refused("jar_holds_nothing", "AN-2", detail));
    }
    let shares: i64 = jars.iter().map(|jar| jar.share_percent.get()).sum();
    if shares > 100 {
        let detail = format!("the shares of the jars add up to {shares} %; make them 100 % or less");
        return Err(refused("shares_exceed_the_honey", "AN-2", detail));
    }
    Ok(())
}

fn named(source: Source) -> String {
    match (source.text, source.place) {
        ("", _) => "common practice".to_owned(),
        (text, "") => text.to_owned(),
        (text, place) => format!("{text}, {place},"),
    }
}

/// Whether a value asks for less than the text does: more water, shorter keeping, a later answer.
fn milder(key: ProfileKey, value: ProfileValue, text: ProfileValue) -> bool {
    use ProfileValue as Value;
    let keeping = matches!(key, ProfileKey::KeepTraceRecords | ProfileKey::KeepMedicineRecords);
    match (value, text) {
        (Value::MoistureHundredths(value), Value::MoistureHundredths(text)) => value > text,
        (Value::Months(value), Value::Months(text)) if keeping => value < text,
        (Value::Months(value), Value::Months(text)) => value > text,
        (Value::Days(value), Value::Days(text)) => value > text,
        (Value::Hours(value), Value::Hours(text)) => value > text,
        (Value::OnDemand, Value::Hours(_)) => true,
        // Which of two such rules is the stricter is not for us to say.
        (Value::NetContent(_) | Value::LotCode(_), _) => value != text,
        _ => false,
    }
}
