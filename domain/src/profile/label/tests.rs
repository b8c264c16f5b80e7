//! Label parts and figure heights against the published tables.

use super::*;

const PROFILES: [Profile; 4] = [Profile::Eu, Profile::UkEngland, Profile::Canada, Profile::Usa];

fn jar(profile: Profile, nominal_g: i64) -> LabelQuestion {
    LabelQuestion {
        profile,
        nominal_g: Some(Grams::constant(nominal_g)),
        panel_mm2: None,
        labelled_on: None,
        claim: None,
        several_countries: false,
        imported: false,
        leaves_province: false,
        dated_to_the_day: false,
    }
}

fn need(question: &LabelQuestion, item: LabelItem) -> Option<Needed> {
    let found = label_fields(question)
        .fields
        .into_iter()
        .find(|field| field.item == item);
    found.map(|field| field.needed)
}

#[test]
fn figures_grow_at_50_200_and_1000_grams() {
    // German Fertigpackungsverordnung, 18 November 2020, section 38, for Directive 76/211/EEC: 2, 3, 4, 6 mm, each
    // bound belonging to the smaller figure.
    for (nominal_g, tenths_mm) in [
        (28, 20),
        (50, 20),
        (51, 30),
        (200, 30),
        (201, 40),
        (500, 40),
        (1_000, 40),
        (1_001, 60),
    ] {
        let height = label_fields(&jar(Profile::Eu, nominal_g)).figure_height.unwrap();
        assert_eq!(height.tenths_mm, tenths_mm, "{nominal_g} g");
        assert!(height.source.text.contains("76/211"));
    }
}

#[test]
fn canadian_figures_follow_the_panel() {
    // Safe Food for Canadians Regulations, SOR/2018-108, schedule 6: 1.6, 3.2, 6.4, 9.5, 12.7 mm up to 32, 258, 645 and
    // 2 580 cm², and above.
    for (cm2, tenths_mm) in [
        (32, 16),
        (33, 32),
        (258, 32),
        (259, 64),
        (645, 64),
        (646, 95),
        (2_580, 95),
        (2_581, 127),
    ] {
        let mut question = jar(Profile::Canada, 500);
        question.panel_mm2 = Some(SquareMillimetres::constant(cm2 * 100));
        assert_eq!(
            label_fields(&question).figure_height.unwrap().tenths_mm,
            tenths_mm,
            "{cm2} cm²"
        );
    }
    assert_eq!(label_fields(&jar(Profile::Canada, 500)).height_needs, Some("panel_mm2"));
}

#[test]
fn every_profile_asks_for_name_weight_and_operator_and_names_its_text() {
    for profile in PROFILES {
        let fields = label_fields(&jar(profile, 500)).fields;
        for item in [LabelItem::Name, LabelItem::NetQuantity, LabelItem::Operator] {
            let field = fields.iter().find(|field| field.item == item).unwrap();
            assert_eq!(field.needed, Needed::Required, "{profile:?} {item:?}");
            assert!(!field.source.text.is_empty(), "{profile:?} {item:?}");
        }
        for field in &fields {
            assert!(
                !field.source.text.is_empty() || !field.source.seen_in.is_empty(),
                "{profile:?} {field:?}"
            );
        }
        let mut items: Vec<LabelItem> = fields.iter().map(|field| field.item).collect();
        items.sort();
        items.dedup();
        assert_eq!(items.len(), fields.len(), "{profile:?} names each part once");
    }
}

#[test]
fn a_lot_code_may_be_left_out_where_the_date_has_a_day() {
    // LO-3: Directive 2011/91/EU for the European Union; Canada asks for it always.
    let mut dated = jar(Profile::Eu, 500);
    assert_eq!(need(&dated, LabelItem::Lot), Some(Needed::Required));
    dated.dated_to_the_day = true;
    assert_eq!(need(&dated, LabelItem::Lot), Some(Needed::Advised));
    dated.profile = Profile::Canada;
    assert_eq!(need(&dated, LabelItem::Lot), Some(Needed::Required));
    dated.profile = Profile::Usa;
    assert_eq!(need(&dated, LabelItem::Lot), Some(Needed::Advised));
}

#[test]
fn shares_of_a_blend_are_asked_from_14_june_2026() {
    // Directive (EU) 2024/1438; the day is from memory.
    let mut blend = jar(Profile::Eu, 500);
    assert_eq!(need(&blend, LabelItem::BlendShares), Some(Needed::NotAsked));
    blend.several_countries = true;
    assert_eq!(need(&blend, LabelItem::BlendShares), Some(Needed::Required));
    blend.labelled_on = NaiveDate::from_ymd_opt(2026, 6, 13);
    assert_eq!(need(&blend, LabelItem::BlendShares), Some(Needed::NotAsked));
    blend.labelled_on = NaiveDate::from_ymd_opt(2026, 6, 14);
    assert_eq!(need(&blend, LabelItem::BlendShares), Some(Needed::Required));
}

#[test]
fn canada_grades_what_leaves_the_province_and_asks_for_no_date() {
    // SOR/2018-108, sections 306 to 308 and 324; durable life only for 90 days or less.
    let mut home = jar(Profile::Canada, 500);
    assert_eq!(need(&home, LabelItem::Grade), Some(Needed::NotAsked));
    assert_eq!(need(&home, LabelItem::BestBefore), Some(Needed::NotAsked));
    home.leaves_province = true;
    assert_eq!(need(&home, LabelItem::Grade), Some(Needed::Required));
    assert_eq!(need(&home, LabelItem::ColourClass), Some(Needed::Required));
}

#[test]
fn bakers_honey_says_that_it_is_for_cooking() {
    let mut bakers = jar(Profile::Eu, 500);
    assert_eq!(need(&bakers, LabelItem::CookingOnly), Some(Needed::NotAsked));
    bakers.claim = Some(Claim::BakersHeather);
    assert_eq!(need(&bakers, LabelItem::CookingOnly), Some(Needed::Required));
}
