//! Water in air, against published saturation pressures and another program.

use domain::science::air::{AirRefused, Drying, Formula, SEA_LEVEL, air, drive, warmed};
use domain::units::{Humidity, Pascals};
use psychrometry::psychrolib::{get_hum_ratio_from_rel_hum, get_sat_vap_pres, get_vap_pres_from_rel_hum};
use psychrometry::quantities::{Pressure, Temperature};
use psychrometry::units::{Celcius, Pascal};

use crate::{ends, near, tenths_c, water};

use Formula::{Buck, Magnus};

fn rh(per_cent: i64) -> Humidity {
    Humidity::new(per_cent * 100).unwrap()
}

fn saturation(tenths: i64, formula: Formula) -> i64 {
    air(tenths_c(tenths), rh(50), SEA_LEVEL, formula)
        .unwrap()
        .saturation_tenths_pa
}

#[test]
fn saturation_is_that_of_the_international_formulation() {
    // ES10 to ES50 (O3): IAPWS formulation as in CoolProp 8.0.0, hPa, read. P2: Buck is within 0.05 %. P1: Magnus lies
    // between 0.31 % too low and right; its own values beside.
    for (tenths, iapws, magnus) in [
        (100, 12_282, 12_260),
        (150, 17_058, 17_017),
        (200, 23_393, 23_326),
        (250, 31_699, 31_601),
        (300, 42_470, 42_337),
        (350, 56_290, 56_128),
        (400, 73_849, 73_675),
        (450, 95_950, 95_797),
        (500, 123_519, 123_452),
    ] {
        let buck = saturation(tenths, Buck);
        assert!((buck - iapws).abs() * 2_000 <= iapws, "{tenths}: {buck}");
        assert_eq!(saturation(tenths, Magnus), magnus, "{tenths}");
        assert!(magnus <= iapws && (iapws - magnus) * 100_000 <= 315 * iapws, "{tenths}");
    }
}

#[test]
fn worked_example_w30_is_met() {
    // W30 (A35-30): 35 °C, 30 %: 16.839 hPa, 11.84 g/m3, 10.51 g/kg, dew point 14.8 °C; tolerances 0.001, 0.01, 0.01.
    // Coefficients from memory.
    let got = air(tenths_c(350), rh(30), SEA_LEVEL, Magnus).unwrap();
    near(got.vapour_pressure_tenths_pa, 16_839, 1);
    assert_eq!(got.absolute_humidity_hundredths_g_per_m3, 1_184);
    assert_eq!(got.mixing_ratio_hundredths_g_per_kg, 1_051);
    assert_eq!(got.dew_point_tenths_c, Some(148));
    assert!(!got.extrapolated);
}

#[test]
fn states_of_air_are_met_by_both_formulas() {
    // A25-50 to A35-40: vapour pressure, dew point, water in a cubic metre and to a kilogram, by P1, P4 to P6. The rows by
    // Buck are the same arithmetic with P2.
    for (tenths, per_cent, formula, pressure, dew, g_per_m3, g_per_kg) in [
        (250, 50, Magnus, 15_800, 139, 1_148, 985),
        (300, 40, Magnus, 16_935, 149, 1_210, 1_057),
        (350, 20, Magnus, 11_226, 87, 789, 697),
        (350, 30, Magnus, 16_839, 148, 1_184, 1_051),
        (350, 40, Magnus, 22_451, 194, 1_579, 1_409),
        (250, 50, Buck, 15_843, 139, 1_151, 988),
        (350, 30, Buck, 16_880, 148, 1_187, 1_054),
        (350, 40, Buck, 22_507, 194, 1_583, 1_413),
        (-200, 50, Buck, 628, -278, 54, 39),
        (800, 100, Buck, 474_103, 800, 29_089, 54_694),
        (0, 1, Buck, 61, -504, 5, 4),
        (0, 1, Magnus, 61, -504, 5, 4),
    ] {
        let got = air(tenths_c(tenths), rh(per_cent), SEA_LEVEL, formula).unwrap();
        assert_eq!(
            got.vapour_pressure_tenths_pa, pressure,
            "{tenths} {per_cent} {formula:?}"
        );
        assert_eq!(got.dew_point_tenths_c, Some(dew), "{tenths} {per_cent} {formula:?}");
        assert_eq!(
            got.absolute_humidity_hundredths_g_per_m3, g_per_m3,
            "{tenths} {per_cent} {formula:?}"
        );
        assert_eq!(
            got.mixing_ratio_hundredths_g_per_kg, g_per_kg,
            "{tenths} {per_cent} {formula:?}"
        );
    }
    // In thin mountain air the same vapour is a larger share.
    let high = air(tenths_c(200), rh(60), Pascals::new(80_000).unwrap(), Buck).unwrap();
    assert_eq!(
        (high.vapour_pressure_tenths_pa, high.mixing_ratio_hundredths_g_per_kg),
        (14_030, 1_110)
    );
    let dry = air(tenths_c(200), rh(0), SEA_LEVEL, Buck).unwrap();
    assert_eq!((dry.dew_point_tenths_c, dry.vapour_pressure_tenths_pa), (None, 0));
}

#[test]
fn another_program_finds_the_same_over_a_grid() {
    // O1, P3: the crate `psychrometry`, a port of PsychroLib, which has the equations of ASHRAE Fundamentals 2017. Buck
    // stays within 0.1 % of it from 0 to 60 °C, and so do vapour pressure and mixing ratio (whose constant differs by
    // 0.006 %); a step of a hundredth of a gram is left for rounding.
    let sea: fn() -> Pressure<Pascal> = || Pressure::from(101_325.0);
    let mut compared = 0;
    for degrees in 0..=60_i32 {
        for per_cent in (5..=100_i32).step_by(5) {
            let got = air(
                tenths_c(i64::from(degrees) * 10),
                rh(i64::from(per_cent)),
                SEA_LEVEL,
                Buck,
            )
            .unwrap();
            let t = || Temperature::<Celcius>::from(f64::from(degrees));
            let share = f64::from(per_cent) / 100.0;
            let saturated: Pressure<Pascal> = get_sat_vap_pres(t()).unwrap();
            let vapour: Pressure<Pascal> = get_vap_pres_from_rel_hum(t(), share).unwrap();
            let vapour = f64::from(vapour);
            let ratio: f64 = get_hum_ratio_from_rel_hum(t(), share, sea()).unwrap();
            for (ours, theirs, step) in [
                (got.saturation_tenths_pa, f64::from(saturated) * 10.0, 1.0),
                (got.vapour_pressure_tenths_pa, vapour * 10.0, 1.0),
                (got.mixing_ratio_hundredths_g_per_kg, ratio * 100_000.0, 1.0),
            ] {
                let ours = f64::from(i32::try_from(ours).unwrap());
                assert!(
                    (ours - theirs).abs() <= theirs * 0.0012 + step,
                    "{degrees} °C, {per_cent} %: {ours} and {theirs}"
                );
                compared += 1;
            }
            // It has no dew point; at ours, its vapour has to be saturated: a twentieth of a degree is 0.4 %.
            let dew = f64::from(i32::try_from(got.dew_point_tenths_c.unwrap()).unwrap()) / 10.0;
            if dew > 0.1 {
                let at_dew: Pressure<Pascal> = get_sat_vap_pres(Temperature::<Celcius>::from(dew)).unwrap();
                assert!(
                    (f64::from(at_dew) - vapour).abs() <= vapour * 0.005,
                    "{degrees} °C, {per_cent} %"
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 4_000, "{compared}");
}

#[test]
fn warming_air_makes_it_drier_and_keeps_its_water() {
    // Vapour pressure stays; arithmetic on Buck and on the clover table.
    let got = warmed(tenths_c(200), rh(60), tenths_c(330), Buck).unwrap();
    assert_eq!(got.relative_humidity_hundredths_percent, 2_787);
    assert_eq!(got.vapour_pressure_tenths_pa, 14_030);
    assert_eq!((got.driest_moisture_hundredths, got.extrapolated), (None, false));
    let cooled = warmed(tenths_c(350), rh(30), tenths_c(200), Buck).unwrap();
    assert_eq!(cooled.relative_humidity_hundredths_percent, 7_219);
    assert_eq!(cooled.driest_moisture_hundredths.map(ends), Some([2_312, 2_608, 2_909]));
    assert!(!cooled.extrapolated);
    let same = warmed(tenths_c(200), rh(60), tenths_c(200), Magnus).unwrap();
    assert_eq!(
        (same.relative_humidity_hundredths_percent, same.extrapolated),
        (6_000, false)
    );
    // 50 % is beyond the table of balance; 601 and -1 are beyond the formula.
    assert!(warmed(tenths_c(200), rh(50), tenths_c(200), Buck).unwrap().extrapolated);
    assert!(warmed(tenths_c(200), rh(60), tenths_c(601), Buck).unwrap().extrapolated);
    assert!(warmed(tenths_c(-1), rh(60), tenths_c(200), Buck).unwrap().extrapolated);
}

#[test]
fn air_cannot_be_cooled_below_its_dew_point() {
    // Its dew point is 14.8 °C.
    assert!(warmed(tenths_c(350), rh(30), tenths_c(149), Buck).is_ok());
    assert_eq!(
        warmed(tenths_c(350), rh(30), tenths_c(140), Buck),
        Err(AirRefused::BelowDewPoint {
            humidity_hundredths_percent: 10_561
        })
    );
    let refused = warmed(tenths_c(350), rh(30), tenths_c(801), Buck).unwrap_err();
    assert!(matches!(refused, AirRefused::Outside(outside) if outside.pointer == "/to_air_tenths_c"));
    let refused = warmed(tenths_c(-201), rh(30), tenths_c(300), Buck).unwrap_err();
    assert!(matches!(refused, AirRefused::Outside(outside) if outside.pointer == "/air_tenths_c"));
}

#[test]
fn driving_forces_are_met() {
    // DF rows, hPa to the tenth: humidity of balance (clover table, read) times saturation less vapour, both at 35 °C.
    for (moisture, per_cent, drives, at_honey, in_air) in [
        (1_860, 30, 17_000, 33_900, 16_800),
        (1_860, 40, 11_400, 33_900, 22_500),
        (2_000, 40, 13_000, 35_400, 22_500),
        (1_740, 40, 10_100, 32_600, 22_500),
    ] {
        for formula in [Buck, Magnus] {
            let got = drive(water(moisture), tenths_c(350), tenths_c(350), rh(per_cent), formula).unwrap();
            near(got.driving_force_tenths_pa.value, drives, 100);
            near(got.at_honey_tenths_pa.value, at_honey, 100);
            near(got.in_air_tenths_pa, in_air, 100);
            assert_eq!((got.verdict, got.extrapolated), (Drying::Dries, false));
        }
    }
    let got = drive(water(1_860), tenths_c(350), tenths_c(350), rh(30), Magnus).unwrap();
    assert_eq!(ends(got.driving_force_tenths_pa), [14_785, 17_030, 19_275]);
    assert_eq!(ends(got.at_honey_tenths_pa), [31_624, 33_869, 36_114]);
    assert_eq!(got.in_air_tenths_pa, 16_839);
}

#[test]
fn air_dries_wets_or_leaves_in_doubt() {
    let at_20 = |hundredths| {
        let humidity = Humidity::new(hundredths).unwrap();
        drive(water(1_740), tenths_c(200), tenths_c(200), humidity, Buck).unwrap()
    };
    // Honey of 17.4 % is in balance with 58 %, give or take four points.
    assert_eq!(at_20(5_399).verdict, Drying::Dries);
    assert_eq!(at_20(5_400).verdict, Drying::Unsure);
    assert_eq!(at_20(5_800).verdict, Drying::Unsure);
    assert_eq!(at_20(5_800).driving_force_tenths_pa.value, 0);
    assert_eq!(at_20(6_199).verdict, Drying::Unsure);
    assert_eq!(at_20(6_200).verdict, Drying::Wets);
    // Cold honey in warm damp air takes water although that air would dry warm honey.
    let cold = drive(water(1_860), tenths_c(200), tenths_c(350), rh(30), Buck).unwrap();
    assert_eq!(ends(cold.driving_force_tenths_pa), [-3_706, -2_770, -1_835]);
    assert_eq!(cold.verdict, Drying::Wets);
}

#[test]
fn what_lies_beyond_is_marked_whichever_it_is() {
    let asked = |moisture, honey, air| drive(water(moisture), tenths_c(honey), tenths_c(air), rh(30), Buck);
    assert!(!asked(1_610, 0, 600).unwrap().extrapolated);
    assert!(asked(1_609, 350, 350).unwrap().extrapolated);
    assert!(asked(1_700, 601, 350).unwrap().extrapolated);
    assert!(asked(1_700, 350, -1).unwrap().extrapolated);
    for (moisture, honey, air, pointer) in [
        (1_499, 350, 350, "/moisture_hundredths"),
        (1_700, 801, 350, "/honey_tenths_c"),
        (1_700, 350, -201, "/air_tenths_c"),
    ] {
        assert_eq!(asked(moisture, honey, air).unwrap_err().pointer, pointer);
    }
    let state = |tenths| air(tenths_c(tenths), rh(30), SEA_LEVEL, Buck);
    assert!(!state(0).unwrap().extrapolated && !state(600).unwrap().extrapolated);
    assert!(state(-1).unwrap().extrapolated && state(601).unwrap().extrapolated);
    assert!(state(-201).is_err() && state(801).is_err());
}

#[test]
fn two_things_beyond_are_as_marked_as_one() {
    let all_beyond = drive(water(1_550), tenths_c(650), tenths_c(650), rh(30), Buck).unwrap();
    let honey_and_air = drive(water(1_700), tenths_c(650), tenths_c(650), rh(30), Buck).unwrap();
    let moisture_and_honey = drive(water(1_550), tenths_c(650), tenths_c(350), rh(30), Buck).unwrap();
    let moisture_and_air = drive(water(1_550), tenths_c(350), tenths_c(650), rh(30), Buck).unwrap();
    for got in [all_beyond, honey_and_air, moisture_and_honey, moisture_and_air] {
        assert!(got.extrapolated);
    }
    // Both temperatures, and the driest moisture besides: 62 % warmed by a degree is about 60.
    assert!(warmed(tenths_c(610), rh(60), tenths_c(620), Buck).unwrap().extrapolated);
    assert!(warmed(tenths_c(-50), rh(50), tenths_c(-50), Buck).unwrap().extrapolated);
    assert!(warmed(tenths_c(610), rh(60), tenths_c(590), Buck).unwrap().extrapolated);
    assert!(warmed(tenths_c(610), rh(51), tenths_c(610), Buck).unwrap().extrapolated);
    let dry = warmed(tenths_c(610), rh(50), tenths_c(600), Buck).unwrap();
    assert!(dry.extrapolated && dry.driest_moisture_hundredths.is_some());
}
