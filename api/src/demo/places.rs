//! Where the demo plays: three yards with hives and colonies, the boxes, and the house with its things.

use chrono::TimeDelta;
use domain::allocation::BoxClass;
use domain::colony::{ColonyRegistered, Founding};
use domain::fill::{ContainerKind, ContainerRegistered};
use domain::hive::HiveRegistered;
use domain::honey_super::{SuperRegistered, SuperStored};
use domain::ids::{ColonyId, ContainerId, HiveId, MeterId, OperationId, RoomId, ScaleId, SuperId, YardId};
use domain::limits::Profile;
use domain::meter::{MeterRegistered, ScaleChecked, ScaleRegistered};
use domain::settings::{HouseLimitSet, ProfileChosen};
use domain::units::{FrameCount, Millilitres, Moisture};
use domain::warm_room::RoomRegistered;
use domain::yard::{ColoniesCounted, FlowStarted, YardRegistered};

use super::diary::{Diary, Dice, Person, PlanRefused, at, count, day, grams, name, text};
use crate::clock;

/// A yard as the trade paper of the demo tells of it.
struct YardPlan {
    name: &'static str,
    code: &'static str,
    /// What its hives' codes begin with.
    letter: char,
    ground: &'static str,
    /// Colonies fit to produce at the start of the flow: one a hive.
    colonies: usize,
    flow_from: (u32, u32),
    /// Queen lines and how many colonies have each.
    lines: [(&'static str, usize); 3],
    keeper: Person,
}

const YARDS: [YardPlan; 3] = [
    YardPlan {
        name: "Wennock Bank",
        code: "WEN",
        letter: 'W',
        ground: "chalk, clover and lime",
        colonies: 15,
        flow_from: (6, 1),
        lines: [("Amber", 11), ("Slate", 2), ("Heron", 2)],
        keeper: Person::Ilse,
    },
    YardPlan {
        name: "Ostlehope",
        code: "OST",
        letter: 'O',
        ground: "rape and bramble",
        colonies: 17,
        flow_from: (5, 5),
        lines: [("Heron", 10), ("Amber", 4), ("Slate", 3)],
        keeper: Person::Ilse,
    },
    YardPlan {
        name: "Tarnsedge",
        code: "TSD",
        letter: 'T',
        ground: "damp river meadow",
        colonies: 17,
        flow_from: (6, 1),
        lines: [("Slate", 11), ("Heron", 3), ("Amber", 3)],
        keeper: Person::Tobiah,
    },
];

/// A hive with the effect of its queen line on the yield, per cent.
#[derive(Clone, Debug)]
pub(super) struct HiveAt {
    pub(super) id: HiveId,
    pub(super) line_percent: i64,
}

/// A yard with its hives.
#[derive(Clone, Debug)]
pub(super) struct YardAt {
    pub(super) id: YardId,
    pub(super) hives: Vec<HiveAt>,
    pub(super) keeper: Person,
}

/// A box with what it weighs dry.
#[derive(Clone, Copy, Debug)]
pub(super) struct BoxAt {
    pub(super) id: SuperId,
    pub(super) tare_g: i64,
}

/// A pail, bucket or tank.
#[derive(Clone, Debug)]
pub(super) struct Vessel {
    pub(super) id: ContainerId,
    pub(super) number: String,
    pub(super) tare_g: i64,
}

/// Everything that stands somewhere before the harvest.
#[derive(Debug)]
pub(super) struct Places {
    pub(super) wennock: YardAt,
    pub(super) ostlehope: YardAt,
    pub(super) tarnsedge: YardAt,
    /// Boxes 001 to 068, in that order.
    pub(super) boxes: Vec<BoxAt>,
    pub(super) pails: Vec<Vessel>,
    pub(super) buckets: Vec<Vessel>,
    pub(super) tanks: Vec<Vessel>,
    pub(super) meter: MeterId,
    pub(super) scale: ScaleId,
    pub(super) room: RoomId,
}

/// How many of the business's boxes the harvest needs.
const BOXES: i64 = 68;

/// Tells of all places and things, in spring.
pub(super) fn settle(diary: &mut Diary, dice: &mut Dice, operation: OperationId) -> Result<Places, PlanRefused> {
    rules(diary, operation)?;
    let [wennock, ostlehope, tarnsedge] = &YARDS;
    let places = Places {
        wennock: yard(diary, wennock)?,
        ostlehope: yard(diary, ostlehope)?,
        tarnsedge: yard(diary, tarnsedge)?,
        boxes: boxes(diary, dice)?,
        pails: vessels(diary, "P", 8, (ContainerKind::Pail, 750, 10_800))?,
        buckets: vessels(diary, "B", 13, (ContainerKind::Bucket, 1_250, 21_500))?,
        tanks: [
            vessels(diary, "T1", 1, (ContainerKind::Tank, 9_200, 141_000))?,
            vessels(diary, "T2", 1, (ContainerKind::Tank, 6_400, 85_000))?,
        ]
        .concat(),
        meter: MeterId::from_uuid(clock::new_id()),
        scale: ScaleId::from_uuid(clock::new_id()),
        room: RoomId::from_uuid(clock::new_id()),
    };
    tools(diary, &places)?;
    Ok(places)
}

/// What the owner settles: whose limits apply, and the house's own.
fn rules(diary: &mut Diary, operation_id: OperationId) -> Result<(), PlanRefused> {
    let profile = Profile::Eu;
    let chosen = ProfileChosen { operation_id, profile };
    diary.tell(Person::Maren, at(day(4, 1), 9, 0), chosen);
    let moisture_hundredths = Moisture::new(1_800)?;
    let limit = HouseLimitSet {
        operation_id,
        moisture_hundredths,
    };
    diary.tell(Person::Maren, at(day(4, 1), 9, 5), limit);
    Ok(())
}

fn yard(diary: &mut Diary, plan: &YardPlan) -> Result<YardAt, PlanRefused> {
    let yard_id = YardId::from_uuid(clock::new_id());
    let told_at = at(day(4, 2), 9, 0);
    let registered = YardRegistered {
        yard_id,
        name: name(plan.name)?,
        code: Some(name(plan.code)?),
        ground: Some(text(plan.ground)?),
        latitude_e5: None,
        longitude_e5: None,
    };
    diary.tell(Person::Maren, told_at, registered);
    let lines = plan
        .lines
        .iter()
        .flat_map(|(line, colonies)| std::iter::repeat_n(*line, *colonies));
    let mut hives = Vec::with_capacity(plan.colonies);
    for (number, line) in (1_u8..).zip(lines) {
        let when = told_at + TimeDelta::minutes(i64::from(number));
        let code = format!("{}{number:02}", plan.letter);
        hives.push(hive(diary, (yard_id, when), &code, line)?);
    }
    let (month, day_of_month) = plan.flow_from;
    let on = day(month, day_of_month);
    diary.tell(plan.keeper, at(on, 18, 0), FlowStarted { yard_id, on });
    let fit = count(i64::try_from(plan.colonies).unwrap_or(0))?;
    let counted = ColoniesCounted {
        yard_id,
        on,
        fit,
        unfit: None,
    };
    diary.tell(plan.keeper, at(on, 18, 5), counted);
    Ok(YardAt {
        id: yard_id,
        hives,
        keeper: plan.keeper,
    })
}

fn hive(
    diary: &mut Diary,
    (yard_id, when): (YardId, chrono::DateTime<chrono::Utc>),
    code: &str,
    line: &str,
) -> Result<HiveAt, PlanRefused> {
    let id = HiveId::from_uuid(clock::new_id());
    let code = name(code)?;
    diary.tell(
        Person::Maren,
        when,
        HiveRegistered {
            hive_id: id,
            yard_id,
            code,
        },
    );
    let colony = ColonyRegistered {
        colony_id: ColonyId::from_uuid(clock::new_id()),
        hive_id: id,
        founding: Some(Founding::Wintered),
        parent_id: None,
        queen_line: Some(name(line)?),
    };
    diary.tell(Person::Maren, when + TimeDelta::seconds(20), colony);
    let line_percent = match line {
        "Slate" => 106,
        "Heron" => 96,
        _ => 100,
    };
    Ok(HiveAt { id, line_percent })
}

/// Medium boxes of ten frames, each weighed dry to 50 g: around 7.4 kg, most within 0.35 kg.
fn boxes(diary: &mut Diary, dice: &mut Dice) -> Result<Vec<BoxAt>, PlanRefused> {
    let mut boxes = Vec::new();
    for number in 1..=BOXES {
        let super_id = SuperId::from_uuid(clock::new_id());
        let tare_g = 7_400 + 50 * (dice.between(-8, 8) + dice.between(-8, 8));
        let registered = SuperRegistered {
            super_id,
            number: name(&format!("{number:03}"))?,
            class: BoxClass::Medium,
            frames: FrameCount::new(10)?,
            tare_g: Some(grams(tare_g)?),
        };
        diary.tell(Person::Maren, at(day(4, 5), 9, number), registered);
        let place = Some(name("box store")?);
        let stored = SuperStored {
            super_id,
            wet: false,
            place,
        };
        diary.tell(Person::Maren, at(day(4, 5), 14, number), stored);
        boxes.push(BoxAt { id: super_id, tare_g });
    }
    Ok(boxes)
}

fn vessels(
    diary: &mut Diary,
    letter: &str,
    how_many: i64,
    (container, tare_g, holds_ml): (ContainerKind, i64, i64),
) -> Result<Vec<Vessel>, PlanRefused> {
    let mut vessels = Vec::new();
    for number in 1..=how_many {
        let id = ContainerId::from_uuid(clock::new_id());
        let painted = match container {
            ContainerKind::Tank => letter.to_owned(),
            _ => format!("{letter}{number:02}"),
        };
        let registered = ContainerRegistered {
            container_id: id,
            number: name(&painted)?,
            container,
            tare_g: grams(tare_g)?,
            holds_ml: Millilitres::new(holds_ml)?,
        };
        diary.tell(Person::Rook, at(day(4, 8), 10, number), registered);
        vessels.push(Vessel {
            id,
            number: painted,
            tare_g,
        });
    }
    Ok(vessels)
}

/// Refractometer, scale and warm room.
fn tools(diary: &mut Diary, places: &Places) -> Result<(), PlanRefused> {
    let morning = at(day(4, 9), 9, 0);
    let meter = MeterRegistered {
        meter_id: places.meter,
        name: name("hand refractometer")?,
        compensated: false,
    };
    diary.tell(Person::Tobiah, morning, meter);
    let scale = ScaleRegistered {
        scale_id: places.scale,
        name: name("platform scale")?,
        step_g: Some(grams(50)?),
    };
    diary.tell(Person::Tobiah, morning + TimeDelta::minutes(2), scale);
    let checked = ScaleChecked {
        scale_id: places.scale,
        passed: true,
    };
    diary.tell(Person::Tobiah, at(day(6, 20), 9, 0), checked);
    let room = RoomRegistered {
        room_id: places.room,
        name: name("warm room")?,
    };
    diary.tell(Person::Tobiah, morning + TimeDelta::minutes(4), room);
    Ok(())
}
