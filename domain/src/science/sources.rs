//! The publications behind the figures, each named once.
//!
//! `Read` means that the figures were seen in the text named, or in the copy or excerpt of it that the entry names.
//! `FromMemory` means that they were not, and have to be looked up before anybody relies on them.

use serde::Serialize;

/// How sure it is that a source says what is taken from it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// The figures were read.
    Read,
    /// The figures are remembered.
    FromMemory,
    /// What the trade does; no publication stands behind it.
    CommonPractice,
    /// An exact definition, or nothing but arithmetic.
    Exact,
}

/// One publication.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Source {
    /// Who wrote or issued it.
    pub author: &'static str,
    /// Its title, or its subject where the title was not seen.
    pub title: &'static str,
    /// Edition, year, chapter or table.
    pub edition: &'static str,
    /// Whether it was read.
    pub standing: Standing,
}

const fn source(author: &'static str, title: &'static str, edition: &'static str, standing: Standing) -> Source {
    Source {
        author,
        title,
        edition,
        standing,
    }
}

/// Refraction, its temperature coefficient and the table of 61 points.
pub const BOGDANOV: Source = source(
    "S. Bogdanov",
    "Book of Honey, chapter 4, physical properties",
    "2009 to 2016; table after Chataway 1932, formula after Wedmore 1955",
    Standing::Read,
);
/// Sucrose scale from refraction.
pub const BRIX_FIT: Source = source(
    "encyclopaedia article on degrees Brix",
    "polynomial fitted to the ICUMSA sucrose table",
    "copy of an online encyclopaedia",
    Standing::Read,
);
/// Specific gravity against moisture.
pub const WHITE_DENSITY: Source = source(
    "J. W. White",
    "Composition of honey, specific gravity at 20/20 degrees",
    "1975, as reprinted by R. Krell, FAO Agricultural Services Bulletin 124, 1996, table 2.2; two of its points agree \
     with trade specifications that were read",
    Standing::FromMemory,
);
/// Equilibrium of clover honey.
pub const CLOVER_BALANCE: Source = source(
    "United States Department of Agriculture, after J. W. White",
    "table of clover honey in balance with the humidity of air",
    "read in an online reprint",
    Standing::Read,
);
/// Equilibrium of honey in general.
pub const MARTIN_BALANCE: Source = source(
    "E. C. Martin",
    "Hygroscopic properties of honey",
    "1958, as reprinted by S. Bogdanov and E. Crane",
    Standing::FromMemory,
);
/// Conservation of water and solids.
pub const MASS_BALANCE: Source = source(
    "textbook",
    "conservation of water and solids",
    "arithmetic",
    Standing::Exact,
);
/// Viscosity against moisture and temperature.
pub const MUNRO: Source = source(
    "J. A. Munro",
    "The viscosity and thixotropy of honey",
    "1943, as reprinted by R. Krell, FAO Agricultural Services Bulletin 124, 1996, table 2.1; fitted here; seven rounded \
     points of trade notes agree within a factor of two",
    Standing::FromMemory,
);
/// How long HMF takes.
pub const KUSHNIR_SUBERS: Source = source(
    "D. Cramp, after Kushnir and Subers 1964",
    "A Practical Manual of Beekeeping, table 3, times in which 30 mg/kg of HMF form",
    "read in an online excerpt; fitted here",
    Standing::Read,
);
/// How long diastase lasts.
pub const WHITE_DIASTASE: Source = source(
    "J. W. White, I. Kushnir and M. H. Subers",
    "half-lives of diastase by temperature",
    "1964, as quoted in trade notes of 2009, read; fitted here",
    Standing::Read,
);
/// Classes of moisture and yeasts.
pub const FERMENTATION_LADDER: Source = source(
    "D. Cramp",
    "A Practical Manual of Beekeeping, table 2",
    "read in an online excerpt",
    Standing::Read,
);
/// Yeasts in the cold.
pub const COLD_YEASTS: Source = source(
    "J. Powell",
    "introduction to beekeeping, course notes",
    "online; the abstract of a study of storage agrees",
    Standing::Read,
);
/// Colour classes of the United States.
pub const US_COLOUR: Source = source(
    "United States Department of Agriculture",
    "colour designations of extracted honey",
    "1985, read on a meter maker's page",
    Standing::Read,
);
/// Colour classes of Canada.
pub const CANADA_COLOUR: Source = source(
    "Canadian Food Inspection Agency",
    "Canadian Grade Compendium, volume 6, tables 1 and 2",
    "limits from memory; only the names were read",
    Standing::FromMemory,
);
/// Pfund from absorbance.
pub const WHITE_ABSORBANCE: Source = source(
    "J. W. White",
    "Instrumental colour classification of honey",
    "1984",
    Standing::FromMemory,
);
/// Saturated vapour.
pub const BUCK: Source = source(
    "A. L. Buck",
    "New equations for computing vapor pressure",
    "1981, coefficients as revised 1996; compared with the IAPWS formulation",
    Standing::FromMemory,
);
/// Saturated vapour, the older formula.
pub const MAGNUS: Source = source(
    "World Meteorological Organization",
    "Guide to instruments and methods of observation, Magnus formula",
    "coefficients 6.112, 17.62 and 243.12; compared with the IAPWS formulation",
    Standing::FromMemory,
);
/// Vapour as an ideal gas, circles, and balls in a fluid.
pub const TEXTBOOK_PHYSICS: Source = source(
    "textbook",
    "ideal gas, motion on a circle, Stokes' law",
    "as taught everywhere",
    Standing::Exact,
);
/// What combs bear.
pub const COMB_HABIT: Source = source(
    "common practice",
    "what combs are spun at",
    "no publication was found",
    Standing::CommonPractice,
);
/// How fast honey dries.
pub const DRYING_RATES: Source = source(
    "how-to pages on reducing the moisture of honey",
    "1 to 3 points a day at best; 0.3 to 1 is common practice",
    "two online copies",
    Standing::Read,
);
/// Sieves.
pub const ASTM_SIEVES: Source = source(
    "ASTM International",
    "E11, woven wire test sieves",
    "read in the table of a library of fluid mechanics",
    Standing::Read,
);
/// Tolerances of packs and their sampling in the European Union.
pub const GERMAN_PACKS: Source = source(
    "Federal Republic of Germany",
    "Fertigpackungsverordnung, section 9 and annex 3, implementing Directive 76/211/EEC",
    "18 November 2020",
    Standing::Read,
);
/// The average system in the United Kingdom.
pub const UK_PACKS: Source = source(
    "United Kingdom",
    "guidance on packaged goods, average system",
    "online",
    Standing::Read,
);
/// Tolerances of packs and their sampling in Canada.
pub const CANADA_PACKS: Source = source(
    "Canada",
    "Safe Food for Canadians Regulations, schedules 4 and 5",
    "SOR/2018-108",
    Standing::Read,
);
/// Moisture in the European Union.
pub const HONEY_DIRECTIVE: Source = source(
    "European Union",
    "Directive 2001/110/EC, annex II",
    "read in the German (2004), French (2003) and Welsh (2015) transpositions",
    Standing::Read,
);
/// Moisture in Canada.
pub const CANADA_GRADES: Source = source(
    "Canadian Food Inspection Agency",
    "Canadian Grade Compendium, volume 6, and the former Honey Regulations, table III",
    "No. 1 read; No. 2 read in a quotation of 2015; No. 3 at third hand",
    Standing::Read,
);
/// Moisture in the United States.
pub const US_GRADES: Source = source(
    "United States Department of Agriculture",
    "United States Standards for Grades of Extracted Honey",
    "effective 23 May 1985; a summary was read",
    Standing::Read,
);
/// Pounds, gallons and inches.
pub const EXACT_UNITS: Source = source(
    "international yard and pound agreement; United States and United Kingdom law on measures",
    "definitions of pound, inch and gallons",
    "1959 and later",
    Standing::Exact,
);
/// Prediction of a mean and of one more observation of a normal sample, binomial chances.
pub const STATISTICS: Source = source(
    "textbook",
    "Student's t, prediction intervals, binomial distribution, Bonferroni's inequality",
    "arithmetic",
    Standing::Exact,
);
/// How long full supers may wait.
pub const WAITING_HABIT: Source = source(
    "the trade",
    "how long full supers wait before they are spoilt",
    "no publication",
    Standing::CommonPractice,
);
/// Freezing stored combs.
pub const COMB_FROST: Source = source(
    "COLOSS",
    "BEEBOOK, volume II, standard methods for wax moth research",
    "section 5.8.1",
    Standing::Read,
);
/// What stands on a label.
pub const LABEL_LAW: Source = source(
    "European Union, United Kingdom, Canada, United States of America",
    "acts and guidance on labelling of honey, each named beside its part",
    "see each part",
    Standing::Read,
);
