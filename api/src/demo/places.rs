//! Where the demo plays: yards with hives and colonies, the boxes, and the house with its things.

use chrono::{DateTime, NaiveDate, TimeDelta, Utc};
use domain::allocation::BoxClass;
use domain::colony::{ColonyRegistered, Founding};
use domain::fill::{ContainerKind, ContainerRegistered};
use domain::hive::HiveRegistered;
use domain::honey_super::{SuperRegistered, SuperStored};
use domain::ids::{ColonyId, ContainerId, HiveId, MedicineId, MeterId, OperationId, RoomId, ScaleId, SuperId, YardId};
use domain::limits::Profile;
use domain::medicine::{MedicineAmount, MedicineBought, MedicineRegistered};
use domain::meter::{MeterRegistered, ScaleRegistered};
use domain::settings::{HouseLimitSet, ProfileChosen};
use domain::units::{Days, FrameCount, Millilitres, Moisture};
use domain::warm_room::RoomRegistered;
use domain::yard::YardRegistered;

use super::diary::{Diary, Dice, Person, PlanRefused, at, day, grams, name, text};
use super::figures::{LINES, MOOR, OST, YARDS};
use super::yields::{Colony, colonies};

/// A hive with its bees.
#[derive(Clone, Debug)]
pub(super) struct HiveAt {
    pub(super) id: HiveId,
    pub(super) colony: ColonyId,
    pub(super) code: String,
    pub(super) of: Colony,
}

/// A box with what it weighs dry and since when it is free.
#[derive(Clone, Debug)]
pub(super) struct BoxAt {
    pub(super) id: SuperId,
    pub(super) number: String,
    pub(super) class: BoxClass,
    pub(super) tare_g: i64,
    pub(super) free_from: NaiveDate,
}

/// A pail, bucket or tank, and since when it is empty.
#[derive(Clone, Debug)]
pub(super) struct Vessel {
    pub(super) id: ContainerId,
    pub(super) kind: ContainerKind,
    pub(super) number: String,
    pub(super) tare_g: i64,
    pub(super) free_from: NaiveDate,
}

/// The tools and medicines, of which there is one set for the whole business.
#[derive(Clone, Copy, Debug)]
pub(super) struct Tools {
    pub(super) meter: MeterId,
    pub(super) scale: ScaleId,
    pub(super) room: RoomId,
    pub(super) strips: MedicineId,
}

/// Everything that stands somewhere: one part of the business with its four yards. A larger business has several.
#[derive(Debug)]
pub(super) struct Places {
    /// Which part, from 0.
    pub(super) part: usize,
    /// The four yards, then the moor.
    pub(super) yards: [YardId; 5],
    pub(super) hives: Vec<HiveAt>,
    pub(super) boxes: Vec<BoxAt>,
    pub(super) vessels: Vec<Vessel>,
    pub(super) tools: Tools,
}

impl Places {
    pub(super) fn yard(&self, at: usize) -> Result<YardId, PlanRefused> {
        self.yards
            .get(at)
            .copied()
            .ok_or_else(|| not_there(format!("yard {at}")))
    }

    /// The hive with a code, of the first part.
    pub(super) fn hive(&self, code: &str) -> Result<&HiveAt, PlanRefused> {
        let found = self.hives.iter().find(|hive| hive.code == code);
        found.ok_or_else(|| not_there(format!("hive {code}")))
    }

    /// The box with a number.
    pub(super) fn boxed(&self, number: &str) -> Result<SuperId, PlanRefused> {
        let found = self.boxes.iter().find(|of| of.number == number);
        found.map(|of| of.id).ok_or_else(|| not_there(format!("box {number}")))
    }

    /// What a part after the first has behind its names.
    pub(super) fn suffix(&self) -> String {
        suffix(self.part)
    }
}

pub(super) fn not_there(what: impl Into<String>) -> PlanRefused {
    PlanRefused::NotThere { what: what.into() }
}

fn suffix(part: usize) -> String {
    if part == 0 {
        String::new()
    } else {
        format!(" {}", part + 1)
    }
}

const MEDIUM: usize = 140;
const SHALLOW: usize = 40;

/// Tells of the rules, tools and medicines of the whole business.
pub(super) fn equip(diary: &mut Diary, operation: OperationId, year: i32) -> Result<Tools, PlanRefused> {
    let tools = Tools {
        meter: MeterId::from_uuid(diary.id()),
        scale: ScaleId::from_uuid(diary.id()),
        room: RoomId::from_uuid(diary.id()),
        strips: MedicineId::from_uuid(diary.id()),
    };
    rules(diary, operation, year)?;
    let morning = at(day(year, (3, 9)), 9, 0);
    let meter = MeterRegistered {
        meter_id: tools.meter,
        name: name("hand refractometer")?,
        compensated: false,
    };
    diary.tell(Person::Tobiah, morning, meter);
    let scale = ScaleRegistered {
        scale_id: tools.scale,
        name: name("platform scale")?,
        step_g: Some(grams(50)?),
    };
    diary.tell(Person::Tobiah, morning + TimeDelta::minutes(2), scale);
    let room = RoomRegistered {
        room_id: tools.room,
        name: name("warm room")?,
    };
    diary.tell(Person::Tobiah, morning + TimeDelta::minutes(4), room);
    let strips = MedicineRegistered {
        medicine_id: tools.strips,
        name: name("mite strips")?,
        wait_days: Days::new(0)?,
        supers_allowed: false,
        substance: Some(name("synthetic acaricide")?),
    };
    diary.tell(Person::Maren, morning + TimeDelta::minutes(6), strips);
    let bought = MedicineBought {
        medicine_id: tools.strips,
        batch: name("K4411")?,
        quantity: MedicineAmount::Pieces(super::diary::count(400)?),
        supplier: name("the vet in town")?,
        receipt: None,
        use_before: None,
    };
    diary.tell(Person::Maren, morning + TimeDelta::minutes(8), bought);
    Ok(tools)
}

/// What the owner settles: whose limits apply, and the house's own.
fn rules(diary: &mut Diary, operation_id: OperationId, year: i32) -> Result<(), PlanRefused> {
    let on = day(year, (3, 1));
    let profile = Profile::Eu;
    let chosen = ProfileChosen { operation_id, profile };
    diary.tell(Person::Maren, at(on, 9, 0), chosen);
    let moisture_hundredths = Moisture::new(1_800)?;
    let limit = HouseLimitSet {
        operation_id,
        moisture_hundredths,
    };
    diary.tell(Person::Maren, at(on, 9, 5), limit);
    Ok(())
}

/// Tells of one part of the business, in the spring of its first year.
pub(super) fn settle(
    diary: &mut Diary,
    dice: &mut Dice,
    tools: Tools,
    (part, year): (usize, i32),
) -> Result<Places, PlanRefused> {
    let morning = at(day(year, (3, 2)), 9, 0);
    let mut yards = Vec::new();
    let rows = YARDS.iter().map(|row| (row.name, row.code, row.ground)).chain([MOOR]);
    for (called, code, ground) in rows {
        let yard_id = YardId::from_uuid(diary.id());
        let registered = YardRegistered {
            yard_id,
            name: name(&format!("{called}{}", suffix(part)))?,
            code: Some(name(code)?),
            ground: Some(text(ground)?),
            latitude_e5: None,
            longitude_e5: None,
        };
        diary.tell(Person::Maren, morning, registered);
        yards.push(yard_id);
    }
    let yards: [YardId; 5] = yards.try_into().map_err(|_| not_there("a yard"))?;
    let mut places = Places {
        part,
        yards,
        hives: Vec::new(),
        boxes: boxes(diary, dice, (part, year))?,
        vessels: Vec::new(),
        tools,
    };
    for of in colonies().into_iter().filter(|of| of.yards[0].is_some()) {
        let when = morning + TimeDelta::minutes(10 + i64::try_from(places.hives.len()).unwrap_or(0));
        let hive = hive(diary, &places, of, (when, Founding::Wintered))?;
        places.hives.push(hive);
    }
    places.vessels = [
        vessels(diary, ("P", 40), (part, year), (ContainerKind::Pail, 750, 10_800))?,
        vessels(diary, ("B", 24), (part, year), (ContainerKind::Bucket, 1_250, 21_500))?,
        vessels(diary, ("T", 2), (part, year), (ContainerKind::Tank, 9_200, 141_000))?,
    ]
    .concat();
    Ok(places)
}

/// A hive with its colony.
pub(super) fn hive(
    diary: &mut Diary,
    places: &Places,
    of: Colony,
    (when, founding): (DateTime<Utc>, Founding),
) -> Result<HiveAt, PlanRefused> {
    let row = YARDS.get(of.home).ok_or_else(|| not_there("a yard"))?;
    let code = match places.part {
        0 => format!("{}{:02}", row.letter, of.number),
        part => format!("{}{}-{:02}", row.letter, part + 1, of.number),
    };
    let id = HiveId::from_uuid(diary.id());
    let colony = ColonyId::from_uuid(diary.id());
    let registered = HiveRegistered {
        hive_id: id,
        yard_id: places.yard(of.home)?,
        code: name(&code)?,
    };
    diary.tell(Person::Maren, when, registered);
    let parent_id = (founding == Founding::Split)
        .then(|| {
            places
                .hives
                .iter()
                .find(|hive| hive.of.home == OST && hive.of.line == of.line)
        })
        .flatten()
        .map(|hive| hive.colony);
    let line = LINES.get(of.line).copied().unwrap_or("unknown");
    let bees = ColonyRegistered {
        colony_id: colony,
        hive_id: id,
        founding: Some(founding),
        parent_id,
        queen_line: Some(name(line)?),
    };
    diary.tell(Person::Maren, when + TimeDelta::seconds(20), bees);
    Ok(HiveAt { id, colony, code, of })
}

/// Boxes of ten frames, each weighed dry to 50 g: medium ones around 7.4 kg with a deviation of 0.35, shallow ones
/// around 6.1 with 0.30.
fn boxes(diary: &mut Diary, dice: &mut Dice, (part, year): (usize, i32)) -> Result<Vec<BoxAt>, PlanRefused> {
    let mut boxes = Vec::new();
    for at_box in 0..MEDIUM + SHALLOW {
        let (class, mean, spread) = if at_box < MEDIUM {
            (BoxClass::Medium, 7_400.0, 350.0)
        } else {
            (BoxClass::Shallow, 6_100.0, 300.0)
        };
        #[allow(clippy::cast_possible_truncation, reason = "a few kilograms")]
        let tare_g = super::diary::to_step((mean + spread * dice.normal().clamp(-2.5, 2.5)).round() as i64, 50);
        let id = SuperId::from_uuid(diary.id());
        let number = format!("{:03}", 1 + at_box + part * (MEDIUM + SHALLOW));
        let minute = i64::try_from(at_box).unwrap_or(0);
        register_box(diary, (id, &number), (class, tare_g), at(day(year, (3, 5)), 9, minute))?;
        boxes.push(BoxAt {
            id,
            number,
            class,
            tare_g,
            free_from: day(year, (3, 6)),
        });
    }
    Ok(boxes)
}

/// A box with its number, put into the store.
pub(super) fn register_box(
    diary: &mut Diary,
    (super_id, number): (SuperId, &str),
    (class, tare_g): (BoxClass, i64),
    when: DateTime<Utc>,
) -> Result<(), PlanRefused> {
    let registered = SuperRegistered {
        super_id,
        number: name(number)?,
        class,
        frames: FrameCount::new(10)?,
        tare_g: Some(grams(tare_g)?),
    };
    diary.tell(Person::Maren, when, registered);
    let stored = SuperStored {
        super_id,
        wet: false,
        place: Some(name("box store")?),
    };
    diary.tell(Person::Maren, when + TimeDelta::seconds(30), stored);
    Ok(())
}

fn vessels(
    diary: &mut Diary,
    (letter, how_many): (&str, usize),
    (part, year): (usize, i32),
    (container, tare_g, holds_ml): (ContainerKind, i64, i64),
) -> Result<Vec<Vessel>, PlanRefused> {
    let mut vessels = Vec::new();
    for number in 1..=how_many {
        let id = ContainerId::from_uuid(diary.id());
        let painted = match container {
            ContainerKind::Tank => format!("{letter}{}", number + part * how_many),
            _ => format!("{letter}{:02}", number + part * how_many),
        };
        // The second tank is the smaller.
        let small = container == ContainerKind::Tank && number == 2;
        let (tare_g, holds_ml) = if small { (6_400, 85_000) } else { (tare_g, holds_ml) };
        let minute = i64::try_from(number).unwrap_or(0);
        let registered = ContainerRegistered {
            container_id: id,
            number: name(&painted)?,
            container,
            tare_g: grams(tare_g)?,
            holds_ml: Millilitres::new(holds_ml)?,
        };
        diary.tell(Person::Rook, at(day(year, (3, 8)), 10, minute), registered);
        vessels.push(Vessel {
            id,
            kind: container,
            number: painted,
            tare_g,
            free_from: day(year, (3, 9)),
        });
    }
    Ok(vessels)
}
