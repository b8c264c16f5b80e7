//! What happens to bees and boxes besides honey, as short as tests need it; numbers stand for things.

use domain::batch::GlassBroken;
use domain::colony::{ColonyEnd, ColonyEnded, ColonyMoved, ColonyRegistered};
use domain::disease::{
    Disease, DiseaseCleared, DiseaseSuspected, SickPlace, StandstillLicensed, StandstillLifted, StandstillOrdered,
};
use domain::entry::Entry;
use domain::feed::{FeedAmount, FeedKind, FeedPutOn, FeedTakenOff};
use domain::ids::{ColonyId, EntryId, HiveId, MedicineId};
use domain::inspection::HiveInspected;
use domain::medicine::MedicineRegistered;
use domain::taint::{BoxCleaned, Taint, TaintNoted};
use domain::treatment::{TreatmentGiven, TreatmentPutIn, TreatmentSeen, TreatmentTakenOut};
use domain::units::Days;

use super::entries::{batch, hive, honey_super, yard};
use super::{g, name, text, uuid};

pub fn medicine(number: u32) -> MedicineId {
    MedicineId::from_uuid(uuid(12, number))
}
pub fn colony(number: u32) -> ColonyId {
    ColonyId::from_uuid(uuid(11, number))
}
fn hives(numbers: &[u32]) -> Vec<HiveId> {
    numbers.iter().map(|number| hive(*number)).collect()
}

pub fn label(number: u32, wait_days: i64, supers_allowed: bool) -> Entry {
    MedicineRegistered {
        medicine_id: medicine(number),
        name: name(&format!("medicine {number}")),
        wait_days: Days::new(wait_days).unwrap(),
        supers_allowed,
        substance: None,
    }
    .into()
}
pub fn put_in(into: &[u32], number: u32) -> Entry {
    TreatmentPutIn {
        hive_ids: hives(into),
        medicine_id: medicine(number),
        batch: None,
        per_hive: None,
        against: None,
        basis: None,
        way: None,
        duration_days: None,
    }
    .into()
}
pub fn given(to: &[u32], number: u32) -> Entry {
    TreatmentGiven {
        hive_ids: hives(to),
        medicine_id: medicine(number),
        batch: None,
        per_hive: None,
        against: None,
        basis: None,
        way: None,
        duration_days: None,
    }
    .into()
}
pub fn taken_out(of: &[u32], number: Option<u32>) -> Entry {
    TreatmentTakenOut {
        hive_ids: hives(of),
        medicine_id: number.map(medicine),
    }
    .into()
}
pub fn seen_in(of: &[u32], number: Option<u32>) -> Entry {
    TreatmentSeen {
        hive_ids: hives(of),
        medicine_id: number.map(medicine),
    }
    .into()
}
pub fn fed(to: &[u32], grams: i64) -> Entry {
    FeedPutOn {
        hive_ids: hives(to),
        feed: FeedKind::SugarSyrup,
        per_hive: FeedAmount::WeightG(g(grams)),
        product: None,
        batch: None,
        reason: None,
    }
    .into()
}
pub fn feed_off(of: &[u32]) -> Entry {
    FeedTakenOff { hive_ids: hives(of) }.into()
}
pub fn in_hive(number: u32) -> SickPlace {
    SickPlace::HiveId(hive(number))
}
pub fn in_yard(number: u32) -> SickPlace {
    SickPlace::YardId(yard(number))
}
pub fn suspected(place: SickPlace) -> Entry {
    DiseaseSuspected {
        place,
        disease: Disease::AmericanFoulbrood,
        text: None,
    }
    .into()
}
pub fn cleared(place: SickPlace, cause_id: EntryId) -> Entry {
    DiseaseCleared {
        place,
        cause_id,
        reason: text("samples clean"),
        reference: None,
    }
    .into()
}
pub fn ordered(number: u32) -> Entry {
    StandstillOrdered {
        yard_id: yard(number),
        order: name("SN 12"),
        authority: None,
        text: None,
    }
    .into()
}
pub fn order_lifted(number: u32, cause_id: EntryId) -> Entry {
    StandstillLifted {
        yard_id: yard(number),
        cause_id,
        reason: text("samples clean"),
        notice: None,
    }
    .into()
}
pub fn licensed(number: u32, cause_id: EntryId) -> Entry {
    StandstillLicensed {
        yard_id: yard(number),
        cause_id,
        licence: name("L 7"),
        until: None,
    }
    .into()
}
pub fn tainted(numbers: &[u32]) -> Entry {
    TaintNoted {
        super_ids: numbers.iter().map(|number| honey_super(*number)).collect(),
        taint: Taint::Repellent,
        text: None,
    }
    .into()
}
pub fn cleaned(numbers: &[u32]) -> Entry {
    BoxCleaned {
        super_ids: numbers.iter().map(|number| honey_super(*number)).collect(),
        how: text("washed and aired"),
    }
    .into()
}
pub fn glass(number: u32, cleaned: bool) -> Entry {
    GlassBroken {
        batch_id: batch(number),
        jars_discarded: None,
        place: None,
        cleaned: cleaned.then(|| text("line stripped and washed")),
    }
    .into()
}
pub fn inspected(number: u32, eggs_seen: Option<bool>) -> Entry {
    HiveInspected {
        hive_id: hive(number),
        eggs_seen,
        queen_seen: None,
        brood_frames: None,
        stores: None,
        suspicion: None,
        text: None,
    }
    .into()
}
pub fn new_colony(number: u32, lives_in: u32, parent: Option<u32>) -> Entry {
    ColonyRegistered {
        colony_id: colony(number),
        hive_id: hive(lives_in),
        founding: None,
        parent_id: parent.map(colony),
        queen_line: None,
    }
    .into()
}
pub fn colony_moved(number: u32, to: u32) -> Entry {
    ColonyMoved {
        colony_id: colony(number),
        hive_id: hive(to),
    }
    .into()
}
pub fn colony_ended(number: u32, how: ColonyEnd, into: Option<u32>) -> Entry {
    ColonyEnded {
        colony_id: colony(number),
        how,
        united_into: into.map(colony),
    }
    .into()
}
