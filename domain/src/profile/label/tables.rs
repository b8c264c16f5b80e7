//! The parts of a label and the heights of its figures, with the texts that ask for them (LB-1).

use super::{Heights, LabelItem as Item, Part, When};
use crate::limits::Profile;
use crate::profile::{ProfileKey, Source, Sure};

pub(super) const fn parts(profile: Profile) -> &'static [Part] {
    match profile {
        Profile::Eu => EU,
        Profile::UkEngland => UK_ENGLAND,
        Profile::Canada => CANADA,
        Profile::Usa => USA,
    }
}

pub(super) const fn heights(profile: Profile) -> Heights {
    match profile {
        Profile::Eu => Heights::Mass(BY_MASS, 60, HEIGHTS_EU),
        Profile::UkEngland => Heights::Mass(BY_MASS, 60, HEIGHTS_ENGLAND),
        Profile::Canada => Heights::Panel(BY_PANEL_CANADA, 127, safe_food("schedule 6")),
        Profile::Usa => Heights::Panel(BY_PANEL_USA, 127, from_memory("21 CFR 101.7", "(i)")),
    }
}

/// Up to so many grams, so many tenths of a millimetre.
const BY_MASS: &[(i64, i64)] = &[(50, 20), (200, 30), (1_000, 40)];
/// Up to so many square millimetres, so many tenths of a millimetre: 32, 258, 645 and 2 580 cm².
const BY_PANEL_CANADA: &[(i64, i64)] = &[(3_200, 16), (25_800, 32), (64_500, 64), (258_000, 95)];
/// The same for 5, 25, 100 and 400 square inches.
const BY_PANEL_USA: &[(i64, i64)] = &[(3_225, 16), (16_129, 32), (64_516, 48), (258_064, 64)];

const fn read(text: &'static str, place: &'static str, edition: &'static str) -> Source {
    Source {
        text,
        place,
        edition,
        seen_in: "",
        sure: Sure::Read,
    }
}

const fn elsewhere(text: &'static str, place: &'static str, seen_in: &'static str) -> Source {
    Source {
        seen_in,
        sure: Sure::ReadElsewhere,
        ..read(text, place, "")
    }
}

const fn from_memory(text: &'static str, place: &'static str) -> Source {
    Source {
        seen_in: "not seen",
        sure: Sure::FromMemory,
        ..read(text, place, "")
    }
}

const fn safe_food(place: &'static str) -> Source {
    read(
        "Safe Food for Canadians Regulations, SOR/2018-108",
        place,
        "official XML, July 2026",
    )
}

const HEIGHTS_EU: Source = Source {
    edition: "20 January 1976",
    ..elsewhere(
        "Directive 76/211/EEC",
        "annex I",
        "German Fertigpackungsverordnung, 18 November 2020, section 38",
    )
};
const HEIGHTS_ENGLAND: Source = from_memory(
    "Weights and Measures (Packaged Goods) Regulations",
    "heights as in Directive 76/211/EEC",
);
const FOOD_INFORMATION: Source = Source {
    edition: "25 October 2011",
    ..elsewhere(
        "Regulation (EU) No 1169/2011",
        "article 9",
        "a list of the Irish food authority",
    )
};
const HONEY_NAMES: Source = Source {
    edition: "20 December 2001",
    ..elsewhere("Directive 2001/110/EC", "article 2 and annex I", "transpositions")
};
const BREAKFAST: Source = Source {
    edition: "published 24 May 2024; that it applies from 14 June 2026 is from memory",
    ..elsewhere(
        "Directive (EU) 2024/1438, amending 2001/110/EC",
        "labelling of origin",
        "summaries of the Irish food authority and of the European Parliament",
    )
};
const AVERAGE_MARK: Source = Source {
    edition: "20 January 1976",
    ..elsewhere(
        "Directive 76/211/EEC",
        "annex I",
        "German Fertigpackungsverordnung, 18 November 2020, section 11",
    )
};
const LOT_EU: Source = Source {
    edition: "13 December 2011",
    ..elsewhere("Directive 2011/91/EU", "article 3", "parts of the text and a summary")
};
const INFANTS: Source = Source {
    sure: Sure::CommonPractice,
    ..elsewhere("", "", "widespread practice; no text that was read asks for it")
};
const COOKING: Source = Source {
    edition: "20 December 2001",
    ..elsewhere("Directive 2001/110/EC", "article 2", "German Honigverordnung 2004")
};

const fn part(item: Item, when: When, says: &'static str, source: Source) -> Part {
    Part {
        item,
        when,
        says,
        with_name: false,
        source,
    }
}

const fn with_name(item: Item, when: When, says: &'static str, source: Source) -> Part {
    Part {
        with_name: true,
        ..part(item, when, says, source)
    }
}

const INFANT_PART: Part = part(
    Item::InfantCaution,
    When::Wish(ProfileKey::InfantCaution),
    "not for infants under twelve months, in words of your own",
    INFANTS,
);

const EU: &[Part] = &[
    with_name(
        Item::Name,
        When::Always,
        "honey, or the name of its listed kind",
        HONEY_NAMES,
    ),
    with_name(
        Item::CookingOnly,
        When::Bakers,
        "that it is meant for cooking only, next to the name",
        COOKING,
    ),
    with_name(
        Item::NetQuantity,
        When::Always,
        "the mass in g or kg, not the volume",
        FOOD_INFORMATION,
    ),
    with_name(
        Item::AverageMark,
        When::Advised,
        "the letter e, at least 3 mm high, of the average system",
        AVERAGE_MARK,
    ),
    part(Item::BestBefore, When::Always, "best before", FOOD_INFORMATION),
    part(
        Item::Operator,
        When::Always,
        "name or firm and address of the food business",
        FOOD_INFORMATION,
    ),
    with_name(
        Item::Origin,
        When::Always,
        "the country or countries where the honey was gathered",
        BREAKFAST,
    ),
    with_name(
        Item::BlendShares,
        When::BlendFrom(2026, 6, 14),
        "every country, the largest share first, each with its per cent, five points at most beside the truth; under 30 g its two-letter code will do; a state may ask the per cent of the four largest only",
        BREAKFAST,
    ),
    part(
        Item::Lot,
        When::LotDuty,
        "L and the lot code; it may be left out where the date shows day and month",
        LOT_EU,
    ),
    INFANT_PART,
];

const ENGLAND: Source = Source {
    edition: "2015",
    ..elsewhere(
        "Honey (England) Regulations 2015, SI 2015/1348",
        "",
        "guides of label makers and beekeepers",
    )
};
const INFORMATION_UK: Source = from_memory("Regulation (EU) No 1169/2011 as retained", "article 9");

const UK_ENGLAND: &[Part] = &[
    with_name(
        Item::Name,
        When::Always,
        "honey, or the reserved name of its kind",
        ENGLAND,
    ),
    with_name(
        Item::CookingOnly,
        When::Bakers,
        "that it is meant for cooking only, next to the name",
        ENGLAND,
    ),
    with_name(Item::NetQuantity, When::Always, "the mass in g or kg", INFORMATION_UK),
    part(
        Item::BestBefore,
        When::Always,
        "best before, or best before end",
        INFORMATION_UK,
    ),
    part(
        Item::Operator,
        When::Always,
        "name and address of the producer or packer",
        ENGLAND,
    ),
    part(Item::Origin, When::Always, "the country of origin", ENGLAND),
    part(
        Item::BlendShares,
        When::Blend,
        "that it is a blend, in the words the regulations give",
        ENGLAND,
    ),
    part(
        Item::Lot,
        When::LotDuty,
        "the lot code; it may be left out where the date shows day and month",
        Source {
            edition: "1996",
            ..elsewhere("Food (Lot Marking) Regulations", "", "a sheet of trading standards")
        },
    ),
    INFANT_PART,
];

const GUIDE_CANADA: Source = elsewhere(
    "label guide for honey of the inspection agency",
    "",
    "a copy from before 2019",
);

const CANADA: &[Part] = &[
    with_name(
        Item::Name,
        When::Always,
        "honey, with the name of a blossom if it is true",
        GUIDE_CANADA,
    ),
    with_name(
        Item::NetQuantity,
        When::Always,
        "the mass in g or kg, on the main panel",
        safe_food("section 221"),
    ),
    part(
        Item::BestBefore,
        When::NotAsked,
        "only where honey keeps for 90 days or less",
        GUIDE_CANADA,
    ),
    part(
        Item::Operator,
        When::Always,
        "name and principal place of business",
        safe_food("part 5"),
    ),
    part(
        Item::Origin,
        When::Traded,
        "Product of Canada or Canadian honey; for imports Product of and the state; of blends every state, the largest share first",
        safe_food("sections 276 to 279"),
    ),
    part(
        Item::Lot,
        When::LotDuty,
        "a lot code or another mark that is not used twice",
        safe_food("part 5"),
    ),
    part(
        Item::Grade,
        When::Traded,
        "the grade; honey between provinces that meets none says Substandard and sous-régulier",
        safe_food("sections 306 to 308"),
    ),
    part(
        Item::ColourClass,
        When::Traded,
        "the class of colour",
        safe_food("section 324"),
    ),
    part(
        Item::TwoLanguages,
        When::Always,
        "English and French",
        from_memory(
            "Safe Food for Canadians Regulations, SOR/2018-108",
            "rules on languages",
        ),
    ),
    INFANT_PART,
];

const FDA: Source = elsewhere(
    "guidance on labelling of honey of the food authority",
    "",
    "a copy of the draft of 2014 and a summary of the final of 2018",
);

const USA: &[Part] = &[
    with_name(
        Item::Name,
        When::Always,
        "honey; a plant as chief source only if it can be shown; no list of ingredients",
        FDA,
    ),
    with_name(
        Item::NetQuantity,
        When::Always,
        "ounces or pounds and grams, in the lowest third of the main panel",
        FDA,
    ),
    part(
        Item::BestBefore,
        When::NotAsked,
        "no federal rule is known",
        from_memory("", ""),
    ),
    part(
        Item::Operator,
        When::Always,
        "name and place of business of maker, packer or distributor; states may ask for more",
        from_memory("21 CFR 101.5", ""),
    ),
    part(
        Item::Origin,
        When::Imported,
        "the country, or countries, of origin",
        from_memory("19 USC 1304", ""),
    ),
    part(
        Item::Lot,
        When::LotDuty,
        "a lot code: no general rule, and a recall without one is larger",
        from_memory("", ""),
    ),
    part(
        Item::Grade,
        When::NotAsked,
        "voluntary; with a grade mark the country of origin stands near it",
        from_memory("United States Standards for Grades of Extracted Honey", ""),
    ),
    INFANT_PART,
];
