//! The question for a planner, read off a lot of the house, and the entries that a plan comes to.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::{BottlingAsked, BottlingPlan, JarSize, LidsOnHand};
use crate::batch::Bottled;
use crate::decide::{Refused, decide};
use crate::form::Form;
use crate::house::House;
use crate::ids::{BatchId, LotId};
use crate::lot_code::LotCode;
use crate::ordered::Set;
use crate::plan::net_content::Scheme;
use crate::units::{Count, Grams, PerMille, TenthsGrams};

/// What is wanted of a lot of the house. What each field means is told at [`BottlingAsked`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct BottlingWish {
    /// The lot.
    pub lot_id: LotId,
    /// By which rules; those of the profile if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scheme: Option<Scheme>,
    /// What stays in the tank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heel_g: Option<Grams>,
    /// What is lost, thousandths of what leaves the tank.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loss_per_mille: Option<PerMille>,
    /// Jars kept back.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub retained_jars: Option<Count>,
    /// The step of the scale, tenths of a gram.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub scale_step_tenths_g: Option<TenthsGrams>,
    /// How sure it has to be, thousandths.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub confidence_per_mille: Option<PerMille>,
    /// What a kilogram is worth, hundredths of the currency.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub price_per_kg_hundredths: Option<Count>,
    /// The sizes.
    pub sizes: Vec<JarSize>,
    /// The lids.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lids: Vec<LidsOnHand>,
}

/// The question that a wish is, for a lot that may be bottled.
///
/// # Errors
/// [`Refused`], as the decision on a bottling of that lot would: nothing is planned that would be refused.
pub fn bottling_from_house(house: &House, now: DateTime<Utc>, wish: &BottlingWish) -> Result<BottlingAsked, Refused> {
    ask(house, now, wish.lot_id)?;
    let lot = house.lot(wish.lot_id);
    // Every weight there is, but never more than one quantity can tell.
    let content_g = lot.map_or(0, |lot| lot.content_g.max(0));
    let available_g = Grams::new(content_g).unwrap_or(Grams::MAX);
    Ok(BottlingAsked {
        scheme: wish.scheme.unwrap_or_else(|| house.settings().profile().into()),
        available_g,
        heel_g: wish.heel_g,
        loss_per_mille: wish.loss_per_mille,
        // Jars kept back when the lot was released are kept back already.
        retained_jars: wish.retained_jars.or_else(|| {
            let kept = lot?.released()?.samples_kept?.get();
            Count::new((super::RETAINED.get() - kept).max(0)).ok()
        }),
        scale_step_tenths_g: wish.scale_step_tenths_g,
        confidence_per_mille: wish.confidence_per_mille,
        price_per_kg_hundredths: wish.price_per_kg_hundredths,
        sizes: wish.sizes.clone(),
        lids: wish.lids.clone(),
    })
}

/// Asks the decision itself, by the smallest bottling there is: one jar of one gram under a code that nobody has.
fn ask(house: &House, now: DateTime<Utc>, lot_id: LotId) -> Result<(), Refused> {
    let taken: Set<_> = house.batches().filter_map(|(_, batch)| batch.code).collect();
    let mut codes = (1..).map_while(|number| LotCode::make(2000, None, number).ok());
    let Some(code) = codes.find(|code| !taken.contains(code)) else {
        return Ok(());
    };
    let smallest = Bottled {
        batch_id: BatchId::from_uuid(uuid::Uuid::nil()),
        lot_id,
        code,
        nominal_g: Grams::constant(1),
        jars_good: Count::constant(1),
        jars_broken: None,
        used_g: None,
        product: None,
        label_version: None,
    };
    decide(&smallest.into(), house, now).map(|_| ())
}

/// What a batch of a plan is called.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct JarEntry {
    /// Its id.
    pub batch_id: BatchId,
    /// Its code (LO-2).
    pub code: LotCode,
}

impl BottlingPlan {
    /// The entries that the plan comes to, one a size with jars; as many as there are names for.
    #[must_use]
    pub fn entries(&self, lot_id: LotId, names: impl IntoIterator<Item = JarEntry>) -> Vec<Bottled> {
        let sizes = self.sizes.iter().filter(|size| size.jars > 0);
        let entry = |(size, name): (&super::SizePlanned, JarEntry)| {
            Some(Bottled {
                batch_id: name.batch_id,
                lot_id,
                code: name.code,
                nominal_g: size.nominal_g,
                jars_good: Count::new(size.jars).ok()?,
                jars_broken: None,
                used_g: Some(Grams::new(size.filled_g).ok()?),
                product: None,
                label_version: None,
            })
        };
        sizes.zip(names).filter_map(entry).collect()
    }
}
