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
    /// Its title.
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
    "J. W. White",
    "Approximate balance of clover honey with the humidity of air",
    "United States Department of Agriculture, read in an online reprint",
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
