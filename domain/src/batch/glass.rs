//! Broken glass: the batch is held until somebody releases it (NC-4).

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Batch;
use crate::common::{HoldReason, set_hold};
use crate::entry::entry;
use crate::fold::{Memo, Told};
use crate::form::Form;
use crate::ids::{BatchId, EntryId};
use crate::text::{Name, Text};
use crate::units::Count;

entry! {
    /// Glass broke while jars were filled or handled: the batch is held (NC-4). Throw the neighbours away and clean the
    /// line before going on; the jars thrown away are also told as taken out.
    GlassBroken = "glass_broken" v 1 touches(batch_id) wish BreakGlass for batch_id: BatchId
    {}
    optional {
        /// Jars thrown away with it.
        jars_discarded: Count,
        /// Where on the line.
        place: Name,
        /// How the line was cleaned; absent means it is not told yet.
        cleaned: Text,
    }
}

/// Glass that broke.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct Broke {
    /// The entry, which is also that of the hold.
    pub entry_id: EntryId,
    /// When.
    pub at: DateTime<Utc>,
    /// Jars thrown away with it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub jars_discarded: Option<Count>,
    /// Where on the line.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<Name>,
    /// How the line was cleaned.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cleaned: Option<Text>,
}

impl Batch {
    pub(super) fn break_glass(&mut self, told: &Told<'_>, memo: &mut Memo, glass: &GlassBroken) {
        self.broke.push(Broke {
            entry_id: told.id(),
            at: told.at(),
            jars_discarded: glass.jars_discarded,
            place: glass.place.clone(),
            cleaned: glass.cleaned.clone(),
        });
        set_hold(self, told, memo, HoldReason::Glass, None);
    }
}
