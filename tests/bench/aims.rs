//! What is aimed at, and whether it was reached: said in words, and nothing is rounded towards it.

use crate::ground::say;
use anyhow::Result;

/// A figure that may not be more, or not less, than an aim.
#[derive(Clone, Copy)]
pub(crate) enum Aim {
    AtMost(f64),
    AtLeast(f64),
}

impl Aim {
    fn reached(self, figure: f64) -> bool {
        match self {
            Self::AtMost(most) => figure <= most,
            Self::AtLeast(least) => figure >= least,
        }
    }

    fn words(self) -> String {
        match self {
            Self::AtMost(most) => format!("at most {most}"),
            Self::AtLeast(least) => format!("at least {least}"),
        }
    }
}

/// Prints a figure beside its aim.
pub(crate) fn judge(what: &str, figure: f64, unit: &str, aim: Aim) -> Result<()> {
    let word = if aim.reached(figure) { "reached" } else { "MISSED" };
    say(&format!("  {word:<8} {what}: {figure:.3}{unit}, aim {}", aim.words()))
}
