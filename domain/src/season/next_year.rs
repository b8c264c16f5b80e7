//! Boxes and jars for the season to come, from what colonies gave so far: low, middle and high.

use std::collections::BTreeSet;

use super::answer::{Answer, Row};
use super::figure::{Denominator, Figure, Kind};
use super::forecast::{Years, boxes, jars, of_colonies, per_colony};
use super::gathered::{Gathered, seasons_until};
use super::yards::{season_csf, without_accidents};
use crate::house::House;
use crate::ids::{SuperId, YardId};
use crate::settings::PlannedSeason;

/// What a season so far gives to the forecast.
struct SoFar {
    y1_g: Vec<i64>,
    /// Seasons whose colonies were not counted, or of which the count is disputed.
    without: Vec<i32>,
    boxes: i64,
    honey_g: i64,
}

/// The newest seasons that count.
const NEWEST: usize = 5;

/// The answer to "how many boxes and jars next year", for the season after the one asked for.
#[must_use]
pub fn next_year(house: &House, year: i32) -> Answer {
    let so_far = so_far(house, year);
    let next = year + 1;
    let mut answer = Answer::new("forecast", next.to_string());
    answer.words.push(
        "From own seasons, and never one number: in one year of ten a colony gives less than the low figure, in one of \
         ten more than the high one."
            .to_owned(),
    );
    let mut row = Row::new(next.to_string());
    let Some(years) = per_colony(&so_far.y1_g) else {
        row.say("no_season_with_counted_colonies");
        answer.table("season", vec![row]);
        return answer;
    };
    if years.borrowed_spread {
        row.say("borrowed_spread");
        answer
            .words
            .push("With fewer than three own seasons the spread is mostly borrowed.".to_owned());
    }
    let shape = Shape {
        period: next.to_string(),
        n: so_far.y1_g.len().min(NEWEST),
    };
    row.figure("per_colony_g", shape.figure(years, Some));
    for left_out in &so_far.without {
        row.say(format!("{left_out} has no sure count of colonies"));
    }
    let settings = house.settings();
    let Some(plan) = settings.plans.iter().find(|plan| plan.season == next) else {
        row.say("nothing_planned");
        answer.table("season", vec![row]);
        return answer;
    };
    planned(&mut answer, (row, plan), (years, &so_far), &shape);
    answer
}

struct Shape {
    period: String,
    n: usize,
}

impl Shape {
    /// Low, middle and high of something that follows from the kilograms.
    fn figure(&self, years: Years, of: impl Fn(i64) -> Option<i64>) -> Figure {
        let mut figure = Figure::of(&self.period).counting(self.n);
        (figure.low, figure.value, figure.high) = (of(years.low_g), of(years.middle_g), of(years.high_g));
        figure.level_percent = Some(80);
        figure
    }
}

fn planned(
    answer: &mut Answer,
    (mut row, plan): (Row, &PlannedSeason),
    (years, so_far): (Years, &SoFar),
    shape: &Shape,
) {
    let colonies = plan.colonies.get();
    let all = of_colonies(years, colonies);
    let denominator = Denominator {
        kind: Kind::ColoniesAtStartOfFlow,
        low: colonies,
        high: colonies,
    };
    let figure = |of: &dyn Fn(i64) -> Option<i64>| Figure {
        denominator: Some(denominator),
        ..shape.figure(all, of)
    };
    row.figure("honey_g", figure(&Some));
    row.figure("boxes", figure(&|g| boxes(g, so_far.boxes, so_far.honey_g)));
    answer.table("season", vec![row]);
    let jar_row = |planned: &crate::settings::PlannedJars| {
        let (size, share) = (planned.size_g.get(), planned.share_percent.get());
        let count = figure(&|g| jars(g, share, size));
        Row::new(format!("{size} g"))
            .with("jars", count)
            .with("share_percent", Figure::plain(&shape.period, share, 1))
    };
    answer.table("jars", plan.jars.iter().map(jar_row).collect());
}

fn so_far(house: &House, last: i32) -> SoFar {
    let mut so_far = SoFar {
        y1_g: Vec::new(),
        without: Vec::new(),
        boxes: 0,
        honey_g: 0,
    };
    for year in seasons_until(house, last) {
        let gathered = Gathered::of(house, year);
        if gathered.runs.is_empty() {
            continue;
        }
        match y1_of(&gathered) {
            Some(y1) => so_far.y1_g.push(y1),
            None => so_far.without.push(year),
        }
        let used: BTreeSet<SuperId> = gathered.shares().filter_map(|share| share.portion.super_id).collect();
        so_far.boxes += i64::try_from(used.len()).unwrap_or_default();
        so_far.honey_g += gathered.total_g();
    }
    so_far
}

/// What a colony gave in a season, without those that the owner leaves out.
fn y1_of(gathered: &Gathered<'_>) -> Option<i64> {
    let shown: Vec<YardId> = gathered
        .yards()
        .into_iter()
        .filter(|yard| gathered.knows(*yard))
        .collect();
    let (csf, _) = season_csf(gathered, &shown);
    let mut csf = csf?;
    let mut grams = gathered.total_g();
    for yard in &shown {
        let whole = (gathered.yard_g(*yard), gathered.csf(*yard)?);
        if let Some((without, kept_g)) = without_accidents(gathered, *yard, whole) {
            let fewer = whole.1.low - without.denominator?.low;
            csf.low -= fewer;
            csf.high -= fewer;
            grams -= whole.0 - kept_g;
        }
    }
    Figure::of(gathered.period()).per(grams, csf).value
}
