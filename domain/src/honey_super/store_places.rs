//! What became of the boxes of each place in the store: where moths or damp take boxes, the place tells.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::Whereabouts;
use crate::house::House;
use crate::ids::SuperId;
use crate::ordered::Map;

/// A place in the store with the boxes that stand or last stood there.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct StorePlace {
    /// What people call it.
    pub place: String,
    /// Boxes that stand there.
    pub stored: usize,
    /// Boxes that were last stored there and are no longer supers.
    pub ended: usize,
    /// Those boxes.
    pub ended_super_ids: Vec<SuperId>,
}

/// All places in the store.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, ToSchema)]
pub struct StorePlaces {
    /// The places, by name.
    pub places: Vec<StorePlace>,
}

impl StorePlaces {
    /// Reads them off the boxes.
    #[must_use]
    pub fn of(house: &House) -> Self {
        let mut places: Map<String, StorePlace> = Map::new();
        for (id, state) in house.supers() {
            let Some(place) = &state.place else { continue };
            let of = places.entry(place.to_string()).or_default();
            match state.whereabouts {
                Whereabouts::InStore | Whereabouts::StoredWet => of.stored += 1,
                Whereabouts::Ended => {
                    of.ended += 1;
                    of.ended_super_ids.push(id);
                }
                _ => {}
            }
        }
        Self {
            places: places
                .into_iter()
                .map(|(place, of)| StorePlace { place, ..of })
                .collect(),
        }
    }
}
