//! Questions about what the house holds: the next free code, a blend, the drying of a stack.
//!
//! The page names what is wanted; what is there is read off the rows. Not here: the plans themselves, which a phone has
//! in a file of their own. What they ask is answered here, for the page to carry over.

use chrono::{DateTime, Utc};

use crate::form::Form;
use crate::holds::Holds;
use crate::house::House;
use crate::ids::{BatchId, DeviceId, RoomId, SuperId};
use crate::lot_code::{BLOCKS, LotCode};
use crate::plan::blending::{BlendAsked, BlendWish, from_house};
use crate::plan::drying::DryingAsked;
use crate::plan::net_content::ContentAsked;
use crate::reckon::Refusal;
use crate::subject::Subject;
use crate::trace::Held;
use crate::units::{Count, Grams};

/// Asks for a code that nothing on this phone bears.
#[derive(Debug, Form)]
pub(super) struct AskCode {
    /// The year of the season.
    season: u16,
    /// The phone that makes it.
    device_id: DeviceId,
}

/// Asks for the best blend of what is there.
#[derive(Debug, Form)]
pub(super) struct AskBlend {
    now: DateTime<Utc>,
    wish: BlendWish,
}

/// Asks what the air of a room does to supers.
#[derive(Debug, Form)]
pub(super) struct AskDrying {
    now: DateTime<Utc>,
    super_ids: Vec<SuperId>,
    room_id: RoomId,
}

/// Asks about the holds of several things: they are worked out once for all.
#[derive(Debug, Form)]
pub(super) struct AskEach {
    now: DateTime<Utc>,
    subjects: Vec<Subject>,
}

/// Asks what the weights of a batch's jars say.
#[derive(Debug, Form)]
pub(super) struct AskContent {
    batch_id: BatchId,
}

/// A code that is free.
#[derive(Debug, Form)]
pub(super) struct Free {
    code: LotCode,
}

/// What a computation is to be asked.
#[derive(Debug, Form)]
pub(super) struct ToReckon<T> {
    /// Its name.
    reckon: &'static str,
    inputs: T,
}

/// What the drying of supers is to be asked, and what that leaves out.
#[derive(Debug, Form)]
pub(super) struct DryingAtHand {
    #[serde(flatten)]
    asked: ToReckon<DryingAsked>,
    not_weighed: Vec<SuperId>,
    not_measured: Vec<SuperId>,
}

/// What is borne by the thing that a scanned text means: the number behind `/n/` of a service's own address, the lot (10)
/// of a GS1 Digital Link, else the text as it is.
pub(super) fn borne(text: &str) -> String {
    let text = text.trim();
    let Some((_, path)) = text.split_once("://").and_then(|(_, rest)| rest.split_once('/')) else {
        return text.to_owned();
    };
    let path = path.split(['?', '#']).next().unwrap_or_default();
    let parts: Vec<&str> = path.split('/').collect();
    let named = |key: &str| parts.iter().zip(parts.iter().skip(1)).find(|(part, _)| **part == key);
    let number = parts.first().filter(|first| **first == "n").and(parts.get(1));
    let lot = named("01").and_then(|_| named("10")).map(|(_, lot)| lot);
    number.or(lot).map_or_else(|| text.to_owned(), |part| plain(part))
}

/// Characters written as `%` and two hexadecimal digits (RFC 3986, 2.1).
fn plain(part: &str) -> String {
    let mut bytes = Vec::with_capacity(part.len());
    let mut rest = part.as_bytes();
    while let [first, after @ ..] = rest {
        let digits = after.get(..2).and_then(|two| std::str::from_utf8(two).ok());
        match digits
            .and_then(|two| u8::from_str_radix(two, 16).ok())
            .filter(|_| *first == b'%')
        {
            Some(byte) => {
                bytes.push(byte);
                rest = after.get(2..).unwrap_or_default();
            }
            None => {
                bytes.push(*first);
                rest = after;
            }
        }
    }
    String::from_utf8_lossy(&bytes).into_owned()
}

/// The next code of a phone in a season (LO-2). The letter follows from the device, so a phone needs nobody to ask;
/// two phones may share one, and two lots of one code are found by CF-13.
pub(super) fn next_code(house: &House, asked: &AskCode) -> Result<Free, Refusal> {
    let sum: usize = asked
        .device_id
        .uuid()
        .as_bytes()
        .iter()
        .map(|byte| usize::from(*byte))
        .sum();
    let block = BLOCKS.chars().nth(sum % BLOCKS.len());
    let lots = house.lots().filter_map(|(_, lot)| lot.code);
    let batches = house.batches().filter_map(|(_, batch)| batch.code);
    let mine = lots
        .chain(batches)
        .filter(|code| code.season() == asked.season && code.block() == block);
    let sequence = mine.map(LotCode::sequence).max().unwrap_or(0) + 1;
    let code = LotCode::make(asked.season, block, sequence);
    let code = code.map_err(|refused| Refusal::at("no_code", "season", refused.to_string()))?;
    Ok(Free { code })
}

/// What bears on each of several things, in their order.
pub(super) fn holds_on_each(house: &House, asked: &AskEach) -> Vec<Vec<Held>> {
    let holds = Holds::of(house);
    let on = |subject: &Subject| holds.on(*subject, asked.now);
    asked.subjects.iter().map(on).collect()
}

/// The best blend of what the house holds.
pub(super) fn blend(house: &House, asked: &AskBlend) -> ToReckon<BlendAsked> {
    ToReckon {
        reckon: "plan_blend",
        inputs: from_house(house, asked.now, &asked.wish),
    }
}

/// What the air of a room does to supers; refused while nobody read the air.
pub(super) fn drying(house: &House, asked: &AskDrying) -> Result<DryingAtHand, Refusal> {
    let at_hand = DryingAsked::of_supers(house, &asked.super_ids, asked.room_id, asked.now).ok_or_else(|| {
        let sentence = "the air of that room was not read yet; read its temperature and humidity first";
        Refusal::at("no_air", "room_id", sentence)
    })?;
    Ok(DryingAtHand {
        asked: ToReckon {
            reckon: "plan_drying",
            inputs: at_hand.asked,
        },
        not_weighed: at_hand.not_weighed,
        not_measured: at_hand.not_measured,
    })
}

/// Whether the jars of a batch that were weighed hold what they declare, by the rules of the profile (NC-1).
pub(super) fn net_content(house: &House, asked: &AskContent) -> Result<ToReckon<ContentAsked>, Refusal> {
    let unknown = || Refusal::at("unknown_batch", "batch_id", "this batch of jars is not on this phone");
    let batch = house.batch(asked.batch_id).ok_or_else(unknown)?;
    // Jars thrown away after they were weighed were weighed all the same.
    let jars = batch
        .jars_good
        .max(i64::try_from(batch.net_tenths_g.len()).unwrap_or(i64::MAX));
    let inputs = ContentAsked {
        scheme: house.settings().profile().into(),
        nominal_g: batch.nominal_g.unwrap_or(Grams::constant(0)),
        jars: Count::new(jars).unwrap_or(Count::MAX),
        net_tenths_g: batch.net_tenths_g.clone(),
        scale_step_tenths_g: None,
        confidence_per_mille: None,
    };
    Ok(ToReckon {
        reckon: "check_net_content",
        inputs,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_scanned_address_means_its_number_or_its_lot() {
        // The path of a GS1 Digital Link: GS1 Digital Link Standard: URI Syntax 1.4, section 4 (from memory).
        for (text, means) in [
            ("https://bees.example/n/041", "041"),
            ("http://10.0.0.5:8080/n/W%2003", "W 03"),
            ("https://id.example/01/09506000134352/10/25-007-K?15=270101", "25-007-K"),
            (
                "https://id.example/01/09506000134352/22/2A/10/25-007-K/21/7",
                "25-007-K",
            ),
            (" 041 ", "041"),
            ("https://elsewhere.example/10/x", "https://elsewhere.example/10/x"),
            ("https://bees.example/n/50%", "50%"),
        ] {
            assert_eq!(borne(text), means);
        }
    }

    #[test]
    fn a_phone_counts_its_own_codes_and_leaves_those_of_others() -> Result<(), Refusal> {
        use crate::state::State;
        let device_id = DeviceId::from_uuid(uuid::Uuid::from_u128(1));
        let asked = AskCode {
            season: 2025,
            device_id,
        };
        let mut house = House::default();
        let first = next_code(&house, &asked)?.code;
        assert_eq!((first.season(), first.sequence()), (2025, 1));
        assert!(
            first.block().is_some(),
            "a phone without signal has a letter of its own"
        );
        for (at, code) in [LotCode::make(2025, None, 9), LotCode::make(2025, first.block(), 4)]
            .into_iter()
            .enumerate()
        {
            let lot = crate::ids::LotId::from_uuid(uuid::Uuid::from_u128(at as u128 + 7));
            let text = format!(r#"{{"code":"{}"}}"#, code.map_err(|_| Refusal::whole("code", ""))?);
            let subject = Subject::from(lot);
            let state =
                State::read(subject.kind, &text, "{}").map_err(|error| Refusal::whole("state", error.to_string()))?;
            house.insert(subject, state);
        }
        assert_eq!(next_code(&house, &asked)?.code.sequence(), 5);
        Ok(())
    }
}
