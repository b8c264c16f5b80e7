//! Sentences about comparisons: what was seen side by side, and what the same data still allow.

use super::fair::Pair;

/// Differences in per cent, and the colonies a line that it takes to see them: normal arithmetic for a power of 80 % at
/// 5 %, colonies that scatter as in the demonstration business, lines unevenly placed. A design choice held against
/// simulation.
const TO_SEE: [(f64, &str, &str); 5] = [
    (0.06, "a 6 % difference", "1,300"),
    (0.20, "a 20 % difference", "130"),
    (0.30, "a 30 % difference", "65"),
    (0.50, "a 50 % difference", "27"),
    (1.00, "double", "10"),
];

/// Quantiles of the normal distribution at 0.975 and 0.8.
const Z_975: f64 = 1.959_964;
const Z_800: f64 = 0.841_621;

/// Colonies a group that it takes to see a difference in four cases of five, where colonies scatter by so much of
/// their mean. Two groups of one size, with the usual correction for Student's t (Guenther 1981, from memory).
pub(super) fn colonies_to_see(difference: f64, scatter: f64) -> f64 {
    let z = Z_975 + Z_800;
    2.0 * z * z * scatter * scatter / (difference * difference) + Z_975 * Z_975 / 4.0
}

/// Whole per cent above (or, negative, below) one.
fn off(ratio: f64) -> f64 {
    libm::round((ratio - 1.0) * 100.0)
}

fn percent(ratio: f64) -> String {
    format!("{} % {}", off(ratio).abs(), if ratio < 1.0 { "less" } else { "more" })
}

/// What two rows gave side by side.
pub(super) fn of_pair(pair: &Pair, one: &str, other: &str, closely: &str) -> String {
    // Told from the side that gave more.
    let (more, less, ratio, range) = if pair.ratio >= 1.0 {
        (one, other, pair.ratio, pair.range)
    } else {
        (
            other,
            one,
            1.0 / pair.ratio,
            pair.range.map(|(low, high)| (1.0 / high, 1.0 / low)),
        )
    };
    let seen = if off(ratio) == 0.0 {
        format!("{more} made as much as {less} {closely}")
    } else {
        format!("{more} made {} than {less} {closely}", percent(ratio))
    };
    match range {
        None => format!("{seen}; that is too little to say how sure it is."),
        Some((low, high)) => {
            let allow = format!("{seen}; the same data allow {} to {}", percent(low), percent(high));
            if pair.told_apart() {
                format!("{allow}.")
            } else {
                format!("{allow}: not told apart.")
            }
        }
    }
}

/// The guess that is furthest above the others, for somebody who has to choose all the same. Guesses that are printed
/// alike are named together.
pub(super) fn if_you_must_choose(guesses: &[(&str, f64)]) -> Option<String> {
    if guesses.len() < 2 {
        return None;
    }
    let most = guesses.iter().map(|(_, guess)| off(*guess)).reduce(f64::max)?;
    let mut names: Vec<&str> = guesses
        .iter()
        .filter(|(_, guess)| off(*guess) >= most)
        .map(|(name, _)| *name)
        .collect();
    names.sort_unstable();
    let sign = if most < 0.0 { "-" } else { "+" };
    let names = names.join(" or ");
    Some(format!(
        "If you must choose: {names}, best guess {sign}{} %.",
        most.abs()
    ))
}

/// How many colonies a line it takes to see a difference like this one.
pub(super) fn it_takes(ratio: f64) -> String {
    let seen = libm::log(ratio).abs();
    let far = |(difference, ..): &(f64, &str, &str)| (libm::log(1.0 + difference) - seen).abs();
    let fits = TO_SEE.iter().min_by(|a, b| far(a).total_cmp(&far(b)));
    fits.map_or_else(String::new, |(_, difference, colonies)| {
        format!("To see {difference} takes {colonies} colonies a line.")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// V24: statsmodels `TTestIndPower.solve_power`, power 0.8, alpha 0.05.
    #[test]
    fn a_small_difference_takes_many_colonies() {
        for (scatter, colonies) in [(0.45, 80.4), (0.53, 111.2)] {
            let n = colonies_to_see(0.2, scatter);
            assert!((n - colonies).abs() < 0.1, "{n}");
        }
    }

    fn pair(ratio: f64, range: Option<(f64, f64)>) -> Pair {
        Pair {
            one: 0,
            other: 1,
            ratio,
            range,
            n: 8.0,
        }
    }

    /// The sentences of the design, with the figures of V8.
    #[test]
    fn two_lines_are_told_side_by_side() {
        let side = "side by side";
        let said =
            "Slate made 18 % more than Heron side by side; the same data allow 26 % less to 87 % more: not told apart.";
        assert_eq!(
            of_pair(&pair(1.177, Some((0.743, 1.865))), "Slate", "Heron", side),
            said
        );
        let turned = pair(1.0 / 1.177, Some((1.0 / 1.865, 1.0 / 0.743)));
        assert_eq!(of_pair(&turned, "Heron", "Slate", side), said);
        let sure = of_pair(&pair(1.5, Some((1.1, 2.0))), "Slate", "Heron", side);
        assert_eq!(
            sure,
            "Slate made 50 % more than Heron side by side; the same data allow 10 % more to 100 % more."
        );
        assert_eq!(
            of_pair(&pair(0.998, Some((0.8, 1.2))), "Amber", "Heron", side),
            "Heron made as much as Amber side by side; the same data allow 17 % less to 25 % more: not told apart."
        );
        assert!(of_pair(&pair(1.5, None), "Slate", "Heron", side).ends_with("too little to say how sure it is."));
        for word in ["best line", "winner", "significant"] {
            assert!(!said.contains(word));
        }
    }

    #[test]
    fn whoever_must_choose_gets_a_guess() {
        let guesses = [("Amber", 1.0408), ("Heron", 0.9588), ("Slate", 1.0021)];
        assert_eq!(
            if_you_must_choose(&guesses).as_deref(),
            Some("If you must choose: Amber, best guess +4 %.")
        );
        let alike = [("Heron", 1.0149), ("Amber", 1.0121), ("Slate", 0.971)];
        assert_eq!(
            if_you_must_choose(&alike).as_deref(),
            Some("If you must choose: Amber or Heron, best guess +1 %.")
        );
        assert_eq!(if_you_must_choose(&guesses[..1]), None);
        assert_eq!(it_takes(1.177), "To see a 20 % difference takes 130 colonies a line.");
        assert_eq!(it_takes(0.5), "To see double takes 10 colonies a line.");
    }
}
