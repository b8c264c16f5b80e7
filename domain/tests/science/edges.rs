//! What holds for every input: both ways lead back, more water means what it means, and nothing breaks.

use domain::described::{Field, Kind};
use domain::reckon::all;
use domain::science::air::{Formula, SEA_LEVEL, air, warmed};
use domain::science::balance::{self, Table};
use domain::science::density::{content, density, volume};
use domain::science::heat::{Warming, damage, pace};
use domain::science::moisture::{Scale, moisture, scales};
use domain::science::rise::{Particle, in_honey};
use domain::science::spin::{speed, spin};
use domain::science::viscosity::{temperature, viscosity};
use domain::units::{
    Brix, Gravities, Humidity, Micrometres, Millilitres, Millimetres, TenthsGrams, Turns, Viscosity, WarmMinutes,
};
use proptest::prelude::*;
use serde_json::{Map, Value};

use crate::{ends, tenths_c, water};

/// Any number for a field of the input, most of them where something may happen.
fn any_number() -> impl Strategy<Value = i64> {
    prop_oneof![
        any::<i64>(),
        -1_000_i64..=20_000,
        0_i64..=1_000_000_000,
        Just(i64::MIN),
        Just(i64::MAX),
    ]
}

fn filled(fields: &[Field], numbers: &mut impl Iterator<Item = i64>) -> Value {
    let mut object = Map::new();
    for field in fields {
        let number = numbers.next().unwrap_or_default();
        if !field.required && number % 3 == 0 {
            continue;
        }
        let value = match field.holds {
            Kind::Whole { from, to } if number % 2 == 0 && from < to => {
                // Half of the time a number that the type takes.
                Value::from(from.saturating_add(number.rem_euclid(to.saturating_sub(from).max(1))))
            }
            Kind::Whole { .. } => Value::from(number),
            Kind::Truth => Value::from(number % 2 == 0),
            Kind::Choice { words } => Value::from(words[usize::try_from(number.rem_euclid(4)).unwrap() % words.len()]),
            Kind::List { fields } => (0..number.rem_euclid(4)).map(|_| filled(fields, numbers)).collect(),
            Kind::Object { fields } => filled(fields, numbers),
            Kind::Text | Kind::Spread | Kind::Values { .. } => Value::from("words"),
        };
        object.insert(field.name.to_owned(), value);
    }
    Value::Object(object)
}

/// Whether every spread in an answer is in order.
fn in_order(value: &Value) -> bool {
    match value {
        Value::Object(object) => {
            let end = |name: &str| object.get(name).and_then(Value::as_i64);
            let spread = match (end("low"), end("value"), end("high")) {
                (Some(low), Some(value), Some(high)) => low <= value && value <= high,
                _ => true,
            };
            spread && object.values().all(in_order)
        }
        Value::Array(list) => list.iter().all(in_order),
        Value::Number(number) => number.is_i64() || number.is_u64(),
        _ => true,
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn whatever_is_asked_is_answered_in_whole_numbers_or_refused(numbers in prop::collection::vec(any_number(), 24)) {
        for computation in all() {
            let input = filled(computation.inputs, &mut numbers.iter().copied());
            match computation.reckon(&input) {
                Ok(answer) => {
                    prop_assert!(in_order(&answer), "{}: {} {}", computation.name, input, answer);
                    prop_assert_eq!(computation.reckon(&input), Ok(answer));
                }
                Err(refusal) => {
                    prop_assert!(!refusal.sentence.is_empty() && !refusal.code.is_empty());
                    prop_assert!(refusal.pointer.is_empty() || refusal.pointer.starts_with('/'));
                }
            }
        }
    }
}

proptest! {
    #[test]
    fn wetter_honey_is_lighter(moisture in 1_200_i64..2_500, honey in 0_i64..=600) {
        let of = |moisture| ends(density(water(moisture), tenths_c(honey)).unwrap().density_g_per_l);
        prop_assert!(of(moisture + 1) <= of(moisture));
        prop_assert!(of(moisture.min(2_400) + 100) < of(moisture.min(2_400)));
    }

    #[test]
    fn warmer_honey_is_lighter_and_thinner(moisture in 1_300_i64..=2_500, honey in 50_i64..550) {
        let weighs = |honey| density(water(moisture), tenths_c(honey)).unwrap().density_g_per_l.value;
        prop_assert!(weighs(honey + 50) < weighs(honey));
        let stiff = |honey| viscosity(water(moisture), tenths_c(honey), false).unwrap().viscosity_mpa_s.value;
        prop_assert!(stiff(honey + 10) < stiff(honey));
    }

    #[test]
    fn wetter_honey_is_thinner_and_in_balance_with_damper_air(moisture in 1_500_i64..=2_490, honey in 50_i64..=800) {
        let stiff = |moisture| viscosity(water(moisture), tenths_c(honey), false).unwrap().viscosity_mpa_s.value;
        // Where honey is thin, a hundredth of a point may be lost in rounding.
        prop_assert!(stiff(moisture + 10) <= stiff(moisture));
        prop_assert!(stiff(moisture) < 100 || stiff(moisture + 10) < stiff(moisture));
        for table in [Table::Clover, Table::Martin] {
            let damp = |moisture| balance::humidity(water(moisture), table).unwrap().relative_humidity_hundredths_percent;
            prop_assert!(damp(moisture + 10).value > damp(moisture).value);
        }
    }

    #[test]
    fn balance_leads_back(moisture in 1_510_i64..=3_490) {
        for table in [Table::Clover, Table::Martin] {
            let humidity = balance::humidity(water(moisture), table).unwrap().relative_humidity_hundredths_percent;
            if let Ok(back) = balance::moisture(Humidity::new(humidity.value).unwrap(), table) {
                // A hundredth of humidity is at most a hundredth of moisture.
                prop_assert!((back.moisture_hundredths.value - moisture).abs() <= 1, "{moisture} {back:?}");
                prop_assert!(back.moisture_hundredths.low < moisture && moisture < back.moisture_hundredths.high);
            }
        }
    }

    #[test]
    fn volume_and_content_lead_back(net in 1_000_i64..=900_000, moisture in 1_200_i64..=2_500, honey in 0_i64..=600) {
        let (moisture, honey) = (water(moisture), tenths_c(honey));
        let took = volume(TenthsGrams::new(net).unwrap(), moisture, honey).unwrap().volume_tenths_ml.value;
        // Ten times as much, so that tenths of a millilitre are whole ones: grams are then tenths of a gram.
        let back = content(Millilitres::new(took).unwrap(), moisture, honey).unwrap().net_g.value;
        prop_assert!((back - net).abs() <= 2, "{net} {took} {back}");
    }

    #[test]
    fn temperature_and_viscosity_lead_back(moisture in 1_370_i64..=2_150, honey in 137_i64..=500) {
        let stiff = viscosity(water(moisture), tenths_c(honey), false).unwrap().viscosity_mpa_s.value;
        let back = temperature(water(moisture), Viscosity::new(stiff).unwrap(), false).unwrap().honey_tenths_c;
        // A millipascal second is up to 0.3 % of thin honey, which is a twentieth of a degree.
        prop_assert!((back.value - honey).abs() <= 1, "{stiff} {back:?}");
        prop_assert!(back.low < honey && honey < back.high);
    }

    #[test]
    fn force_and_speed_lead_back(a_minute in 20_i64..=2_000, radius in 100_i64..=1_000) {
        let radius = Millimetres::new(radius).unwrap();
        let force = spin(Turns::new(a_minute).unwrap(), radius, None, None).force_hundredths_g;
        let back = speed(Gravities::new(force).unwrap(), radius).speed_tenths_turns_per_minute;
        // Half a hundredth of g: relative to the force half as much relative to the speed.
        prop_assert!((back - 10 * a_minute).abs() * 4 * force <= 10 * a_minute + 4 * force, "{force} {back}");
    }

    #[test]
    fn scales_lead_back(moisture_hundredths in 1_000_i64..=3_500) {
        let shown = scales(water(moisture_hundredths)).unwrap();
        let by_brix = moisture(Scale::Brix(Brix::new(shown.brix_hundredths).unwrap()), None, Some(true));
        if let Ok(back) = by_brix {
            prop_assert!((back.moisture.get() - moisture_hundredths).abs() <= 1);
        }
        let by_index = moisture(Scale::RefractiveIndex(shown.refractive_index_e4), None, Some(true));
        if let Ok(back) = by_index {
            // Half a ten-thousandth is two hundredths of a point.
            prop_assert!((back.moisture.get() - moisture_hundredths).abs() <= 3);
        }
    }

    #[test]
    fn air_that_is_warmed_and_cooled_again_is_what_it_was(
        from in -200_i64..=600, more in 0_i64..=200, hundredths in 0_i64..=10_000,
    ) {
        for formula in [Formula::Buck, Formula::Magnus] {
            let humidity = Humidity::new(hundredths).unwrap();
            let warm = warmed(tenths_c(from), humidity, tenths_c(from + more), formula).unwrap();
            prop_assert!(warm.relative_humidity_hundredths_percent <= hundredths);
            let warm_humidity = Humidity::new(warm.relative_humidity_hundredths_percent).unwrap();
            if let Ok(back) = warmed(tenths_c(from + more), warm_humidity, tenths_c(from), formula) {
                // Half a hundredth grows as the air cools: at most fourfold over twenty degrees.
                prop_assert!((back.relative_humidity_hundredths_percent - hundredths).abs() <= 3);
            }
        }
    }

    #[test]
    fn the_dew_point_lies_below_the_air_and_rises_with_its_water(tenths in -200_i64..=800, hundredths in 10_i64..10_000) {
        for formula in [Formula::Buck, Formula::Magnus] {
            let of = |hundredths| air(tenths_c(tenths), Humidity::new(hundredths).unwrap(), SEA_LEVEL, formula).unwrap();
            let (drier, damper) = (of(hundredths), of(hundredths + 1));
            prop_assert!(drier.dew_point_tenths_c.unwrap() <= tenths);
            prop_assert!(drier.dew_point_tenths_c <= damper.dew_point_tenths_c);
            prop_assert!(drier.vapour_pressure_tenths_pa <= damper.vapour_pressure_tenths_pa);
            let saturated = of(10_000);
            prop_assert_eq!(saturated.dew_point_tenths_c, Some(tenths));
            prop_assert_eq!(saturated.vapour_pressure_tenths_pa, saturated.saturation_tenths_pa);
        }
    }

    #[test]
    fn warmth_only_adds_and_the_order_of_steps_does_not_matter(
        steps in prop::collection::vec((-200_i64..=900, 0_i64..=100_000), 0..8), tenths in -200_i64..900,
    ) {
        let mut steps: Vec<Warming> = steps
            .into_iter()
            .map(|(tenths, minutes)| Warming {
                honey_tenths_c: tenths_c(tenths),
                minutes: WarmMinutes::new(minutes).unwrap(),
            })
            .collect();
        let before = damage(&steps, None, None).unwrap();
        steps.push(Warming { honey_tenths_c: tenths_c(tenths), minutes: WarmMinutes::new(1_000).unwrap() });
        let after = damage(&steps, None, None).unwrap();
        prop_assert!(after.hmf_added_hundredths_mg_per_kg.value >= before.hmf_added_hundredths_mg_per_kg.value);
        prop_assert!(after.diastase_left_hundredths_percent <= before.diastase_left_hundredths_percent);
        let (slower, faster) = (pace(tenths_c(tenths)).unwrap(), pace(tenths_c(tenths + 1)).unwrap());
        prop_assert!(faster.minutes_to_30_mg_per_kg.value <= slower.minutes_to_30_mg_per_kg.value);
        prop_assert!(faster.diastase_half_life_minutes <= slower.diastase_half_life_minutes);
    }

    #[test]
    fn larger_bubbles_and_warmer_honey_rise_faster(um in 10_i64..1_000, moisture in 1_370_i64..=2_150, honey in 137_i64..500) {
        let of = |um, honey| {
            let (um, depth) = (Micrometres::new(um).unwrap(), Millimetres::new(500).unwrap());
            in_honey(Particle::Air, um, depth, water(moisture), tenths_c(honey))
        };
        if let (Ok(one), Ok(larger), Ok(warmer)) = (of(um, honey), of(2 * um, honey), of(um, honey + 10)) {
            prop_assert!(larger.minutes.value <= one.minutes.value && warmer.minutes.value <= one.minutes.value);
            // Twice the diameter, four times the speed.
            prop_assert!((larger.rise_um_per_h.value - 4 * one.rise_um_per_h.value).abs() <= 3);
        }
    }
}

#[test]
fn every_span_refuses_what_lies_just_beyond_it_and_marks_what_lies_within() {
    // Each input that has a span is moved to its ends, the others stay at their examples.
    let mut moved = 0;
    for computation in all() {
        let example = |field: &Field| {
            let value: Value = serde_json::from_str(field.example.unwrap()).unwrap();
            (field.name.to_owned(), value)
        };
        let with = |name: &str, value: i64| {
            let mut input: Map<String, Value> = computation.inputs.iter().map(example).collect();
            input.insert(name.to_owned(), Value::from(value));
            computation.reckon(&Value::Object(input))
        };
        for field in computation.inputs {
            let Some(span) = field.span else { continue };
            for (value, beyond) in [
                (span.refused_below - 1, None),
                (span.refused_above + 1, None),
                (span.from, Some(false)),
                (span.to, Some(false)),
                (span.from - 1, Some(true)),
                (span.to + 1, Some(true)),
            ] {
                let Kind::Whole { from, to } = field.holds else {
                    panic!("a span of no number")
                };
                if !(from..=to).contains(&value) {
                    continue;
                }
                let answer = with(field.name, value);
                let refused_there = value < span.refused_below || value > span.refused_above;
                match (answer, beyond) {
                    (Err(refusal), None) => assert_eq!(
                        (refusal.code, refusal.pointer),
                        ("outside_validity", format!("/{}", field.name)),
                        "{} {value}",
                        computation.name
                    ),
                    (Err(_), Some(true)) if refused_there => {}
                    // Cooling air to there may be below its dew point, and thin honey lets large bubbles go.
                    (Err(refusal), _) => assert!(
                        ["below_dew_point", "not_creeping"].contains(&refusal.code),
                        "{} {value}: {refusal}",
                        computation.name
                    ),
                    (Ok(answer), Some(beyond)) => {
                        let marks = ["extrapolated", "hmf_extrapolated"].map(|mark| answer[mark].as_bool());
                        let mark = marks.into_iter().flatten().next().unwrap_or(false);
                        assert_eq!(mark, beyond, "{} {} {value}", computation.name, field.name);
                    }
                    (Ok(answer), None) => panic!("{} {} {value}: {answer}", computation.name, field.name),
                }
                moved += 1;
            }
        }
    }
    assert!(moved > 60, "{moved}");
}
