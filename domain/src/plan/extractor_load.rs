//! How to load an extractor: which frames opposite which, in how many loads, how fast, how long, with what care (SF-1).
//!
//! Balance is in `extractor_load/balance.rs`, speeds and minutes in `extractor_load/speeds.rs`. Frames go back into
//! their own boxes, or the wet weight of a box says nothing (WT-1); so they are kept in the order of their boxes unless
//! somebody wishes otherwise. Not here: which supers are to be spun, which is `extraction_order.rs`.

use crate::allocation::BoxClass;
use crate::extraction::Spin;
use crate::honey_super::Super;
use crate::house::House;
use crate::ids::{RunId, SuperId};
use crate::plan::Reason;
use crate::plan::described::planned;
use crate::science::spin::Comb;
use crate::units::{FrameCount, Grams, Millimetres, Places, Temperature, Turns};

mod balance;
mod speeds;

use balance::{Cage, EXHAUSTIVE, Item};

/// More frames are not planned at once.
pub const MOST_FRAMES: usize = 6_000;
/// What a full frame is taken to weigh where no frame was weighed: a full medium frame. Published pages give 1.6 to
/// 2.3 kg of honey, and wood and wax are about 0.45 kg.
const UNWEIGHED: Grams = Grams::constant(2_400);

planned! {
    /// The frames of one box.
    BoxOfFrames {
        /// What people call the box.
        label: String, "words", "\"S041\"";
        /// Frames to be spun.
        frames: FrameCount, "frames", "9";
        /// What each weighs, wood and wax too; where it is left out, as the others weigh on average.
        each_g: Option<Grams>, "grams", "2400";
    }
}

planned! {
    /// What is to be spun, and in what.
    LoadAsked {
        /// How the extractor holds its frames.
        spin: Spin, "one of the words", "\"radial\"";
        /// How many frames it holds.
        places: Places, "frame places", "9";
        /// What is to be spun, box by box, in the order in which it comes.
        boxes: Vec<BoxOfFrames>, "a list of boxes", r#"[{"label":"S041","frames":9,"each_g":2400},{"label":"S042","frames":8,"each_g":2200}]"#;
        /// Whether frames of several boxes may be sorted by weight; mark each frame with its box then.
        sort_across_boxes: Option<bool>, "true or false", "false";
        /// What a spun frame weighs that is put opposite a single full one.
        counterweight_g: Option<Grams>, "grams", "700";
        /// From the axis to the middle of the comb; a large machine's if left out, which is the slower answer.
        radius_mm: Option<Millimetres>, "millimetres", "300";
        /// What holds the combs; new wax if left out, which is the slower answer.
        comb: Option<Comb>, "one of the words", "\"wired_or_plastic\"";
        /// Temperature of the honey in the comb.
        honey_tenths_c: Option<Temperature>, "tenths of a degree Celsius", "330";
        /// Whether it is ling heather or another honey that sets to a jelly.
        jelly: Option<bool>, "true or false", "false";
        /// The highest speed that the maker allows.
        maker_turns_per_minute: Option<Turns>, "turns a minute", "300";
    }
}

planned! {
    /// One place in the cage.
    Place {
        /// Which, counted from 1 round the axis.
        place: i64, "a number";
        /// The box of the frame in it; nothing for a counterweight or an empty place.
        label: Option<String>, "words";
        /// What is in it weighs.
        weight_g: i64, "grams";
    }
}

planned! {
    /// One filling of the cage.
    Load {
        /// Which, counted from 1.
        number: i64, "a number";
        /// Frames in it.
        frames: i64, "frames";
        /// What stands where.
        places: Vec<Place>, "a list of places";
        /// The largest difference of two opposite places; in a cage with an odd number of places the sum of all pulls.
        imbalance_g: i64, "grams";
        /// The sum of all pulls, as a mass at the middle of the combs.
        net_imbalance_g: i64, "grams";
    }
}

planned! {
    /// One step of spinning a load.
    Step {
        /// What is done.
        what: String, "words";
        /// From this speed.
        from_turns_per_minute: i64, "turns a minute";
        /// Up to this one.
        to_turns_per_minute: i64, "turns a minute";
        /// For at least so long.
        from_min: i64, "minutes";
        /// And at most so long.
        to_min: i64, "minutes";
    }
}

planned! {
    /// How to spin it all.
    LoadPlan {
        /// The loads in order.
        loads: Vec<Load>, "a list of loads";
        /// Frames in all of them.
        frames: i64, "frames";
        /// The largest imbalance of any load.
        largest_imbalance_g: i64, "grams";
        /// Whether no other arrangement has a smaller one.
        proven_best: bool, "true or false";
        /// The steps of each load.
        steps: Vec<Step>, "a list of steps";
        /// The run takes at least so long, changing frames included, uncapping not.
        from_min: i64, "minutes";
        /// And at most so long.
        to_min: i64, "minutes";
        /// Why.
        reasons: Vec<Reason>, "a list of reasons";
        /// What to heed.
        cautions: Vec<String>, "a list of sentences";
    }
}

/// Why there is no plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LoadRefused {
    /// Nothing to spin.
    #[error("there are no frames to spin; give at least one box with frames")]
    NoFrames,
    /// Too many at once.
    #[error("{got} frames are more than are planned at once, {MOST_FRAMES}; plan the run in parts")]
    TooMany {
        /// Frames asked for.
        got: usize,
    },
}

/// A machine, as far as a house does not know it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Machine {
    /// How it holds its frames.
    pub spin: Spin,
    /// How many.
    pub places: Places,
}

impl LoadAsked {
    /// The question for supers in the house. Supers that nobody knows, or of which nobody counted the frames, are left
    /// out.
    #[must_use]
    pub fn of_supers(house: &House, supers: &[SuperId], machine: Machine) -> Self {
        let known = supers.iter().filter_map(|id| Some((*id, house.honey_super(*id)?)));
        let boxes = known.filter_map(|(id, state)| {
            let frames = frames_in(state)?;
            Some(BoxOfFrames {
                label: house.label(id.into()),
                frames,
                each_g: each_frame(state),
            })
        });
        Self {
            spin: machine.spin,
            places: machine.places,
            boxes: boxes.collect(),
            sort_across_boxes: None,
            counterweight_g: None,
            radius_mm: None,
            comb: None,
            honey_tenths_c: None,
            jelly: None,
            maker_turns_per_minute: None,
        }
    }

    /// The question for what was uncapped into a run and not weighed wet yet; the machine's kind as the run tells it.
    #[must_use]
    pub fn of_run(house: &House, id: RunId, machine: Machine) -> Option<Self> {
        let run = house.run(id)?;
        let is_full = |super_id: &SuperId| {
            let filling = house.honey_super(*super_id).and_then(|state| state.filling_of(id));
            filling.is_none_or(|filling| filling.wet.is_none())
        };
        let supers = run.supers.iter().map(|uncapped| uncapped.super_id);
        let full: Vec<SuperId> = supers.filter(is_full).collect();
        let spin = run.spin.unwrap_or(machine.spin);
        Some(Self::of_supers(house, &full, Machine { spin, ..machine }))
    }
}

/// Frames of a super that go into the extractor: those set aside stay out (DI-1).
#[must_use]
pub fn frames_in(state: &Super) -> Option<FrameCount> {
    let aside = state.filling.frames_set_aside.map_or(0, FrameCount::get);
    FrameCount::new((state.frames?.get() - aside).max(0)).ok()
}

/// What a box weighs without frames. Common practice, no source: 2 to 3.5 kg a medium, 3 to 5 kg a deep one.
const fn bare_box(class: BoxClass) -> i64 {
    match class {
        BoxClass::Deep => 3_500,
        BoxClass::Medium => 2_500,
        BoxClass::Shallow => 2_200,
    }
}

/// What a full frame of a super weighs on average, if the super was weighed.
fn each_frame(state: &Super) -> Option<Grams> {
    let frames = state.frames.filter(|frames| frames.get() > 0)?;
    let gross = state.filling.full.as_ref()?.gross_g.get();
    let box_g = bare_box(state.class.unwrap_or(BoxClass::Medium));
    Grams::new((gross - box_g).max(0) / frames.get()).ok()
}

/// Plans the loads.
///
/// # Errors
/// [`LoadRefused`] when there is nothing to spin, or too much for one plan.
pub fn plan_extractor_loads(asked: &LoadAsked) -> Result<LoadPlan, LoadRefused> {
    let got: usize = asked.boxes.iter().map(|one| count(one.frames.get())).sum();
    match got {
        0 => return Err(LoadRefused::NoFrames),
        got if got > MOST_FRAMES => return Err(LoadRefused::TooMany { got }),
        _ => {}
    }
    let average = average(&asked.boxes);
    let frames: Vec<(&str, i64)> = asked
        .boxes
        .iter()
        .flat_map(|one| {
            let weight = one.each_g.unwrap_or(average).get();
            std::iter::repeat_n((one.label.as_str(), weight), count(one.frames.get()))
        })
        .collect();
    let items: Vec<Item> = frames
        .iter()
        .enumerate()
        .map(|(at, (_, weight_g))| Item {
            frame: Some(at),
            weight_g: *weight_g,
        })
        .collect();
    let places = count(asked.places.get());
    let counterweight_g = asked.counterweight_g.map_or(0, Grams::get);
    let across = asked.sort_across_boxes == Some(true);
    let split = if across {
        balance::sorted(&items, places, counterweight_g)
    } else {
        balance::in_order(&items, places)
    };
    let cages = split.iter().map(|load| balance::arrange(load, places, counterweight_g));
    let loads: Vec<Load> = cages
        .zip(1..)
        .map(|(cage, number)| load(number, &cage, &frames))
        .collect();
    let largest_imbalance_g = loads.iter().map(|load| load.imbalance_g).max().unwrap_or(0);
    let even = places.is_multiple_of(2);
    let steps = speeds::steps(asked);
    let (from_min, to_min) = speeds::minutes(&steps, loads.len());
    let mut plan = LoadPlan {
        frames: whole(got),
        largest_imbalance_g,
        proven_best: even || (places <= EXHAUSTIVE && (!across || loads.len() == 1)),
        steps,
        from_min,
        to_min,
        reasons: Vec::new(),
        cautions: speeds::cautions(asked),
        loads,
    };
    plan.reasons = reasons(asked, &plan);
    Ok(plan)
}

fn load(number: i64, cage: &Cage, frames: &[(&str, i64)]) -> Load {
    let places = cage.places.iter().zip(1..).map(|(item, place)| Place {
        place,
        label: item
            .frame
            .and_then(|at| frames.get(at))
            .map(|(label, _)| (*label).to_owned()),
        weight_g: item.weight_g,
    });
    Load {
        number,
        frames: whole(cage.places.iter().filter(|item| item.frame.is_some()).count()),
        places: places.collect(),
        imbalance_g: cage.imbalance_g,
        net_imbalance_g: cage.net_g,
    }
}

/// What the frames that were weighed weigh on average.
fn average(boxes: &[BoxOfFrames]) -> Grams {
    let weighed = boxes
        .iter()
        .filter_map(|one| Some((one.frames.get(), one.each_g?.get())));
    let (frames, grams) = weighed.fold((0_i64, 0_i64), |(frames, grams), (count, each)| {
        (frames + count, grams.saturating_add(count * each))
    });
    let mean = if frames > 0 { grams / frames } else { UNWEIGHED.get() };
    Grams::new(mean).unwrap_or(UNWEIGHED)
}

fn reasons(asked: &LoadAsked, plan: &LoadPlan) -> Vec<Reason> {
    let mut reasons = Vec::new();
    let places = asked.places.get();
    let opposite = if places % 2 == 0 {
        "frames that weigh alike stand opposite each other"
    } else {
        "a cage with an odd number of places has no opposites: the frames are set so that their pulls cancel"
    };
    reasons.push(Reason::new("balance", "SF-1", opposite).with("largest_imbalance_g", plan.largest_imbalance_g));
    let odd = plan.loads.iter().any(|load| load.frames % 2 != 0) && places % 2 == 0;
    if odd && asked.counterweight_g.is_none() {
        let sentence = "a load has a frame with nothing opposite: put a spun frame there, or keep it for the next load";
        reasons.push(Reason::new("single_frame", "SF-1", sentence));
    }
    if let Some(part) = plan.loads.iter().find(|load| load.frames < places) {
        let sentence = "a load does not fill the cage: spread it as planned, and begin slower";
        reasons.push(
            Reason::new("part_load", "SF-1", sentence)
                .with("frames", part.frames)
                .with("load", part.number),
        );
    }
    if asked.boxes.iter().any(|one| one.each_g.is_none()) {
        let sentence = "some frames were not weighed and are taken to weigh as the others: feel for the heavy ones";
        reasons.push(Reason::new("not_weighed", "SF-1", sentence));
    }
    let boxes = if asked.sort_across_boxes == Some(true) {
        "frames of several boxes are mixed: mark each, or the wet weight of a box says nothing"
    } else {
        "frames keep the order of their boxes, so that each box gets its own back to be weighed wet"
    };
    reasons.push(Reason::new("boxes", "WT-1", boxes));
    reasons.extend(speeds::reasons(asked));
    reasons
}

fn count(of: i64) -> usize {
    usize::try_from(of).unwrap_or(0)
}

fn whole(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

#[cfg(test)]
mod tests;
