//! The two doors between whole numbers and fractions, and lines between points.
//!
//! Nothing is rounded but on leaving, and there half away from zero.

use crate::units::Moisture;

/// A whole number as a fraction; exact up to 2^53, beyond which no quantity here goes.
#[allow(clippy::cast_precision_loss, reason = "quantities stay far below 2^53")]
pub(super) const fn fraction(whole: i64) -> f64 {
    whole as f64
}

/// A fraction as the nearest whole number, half away from zero.
#[allow(
    clippy::cast_possible_truncation,
    reason = "rounded first; a cast from a double saturates"
)]
pub(super) fn whole(fraction: f64) -> i64 {
    libm::round(fraction) as i64
}

/// Water in per cent.
pub(super) const fn per_cent(moisture: Moisture) -> f64 {
    fraction(moisture.get()) / 100.0
}

/// The line through rising points, its first and last pieces prolonged.
pub(super) fn between(points: &[(f64, f64)], at: f64) -> f64 {
    let piece = points
        .windows(2)
        .find(|piece| piece.last().is_some_and(|(x, _)| at <= *x))
        .or_else(|| points.windows(2).last());
    match piece {
        Some([(x0, y0), (x1, y1)]) => y0 + (y1 - y0) * (at - x0) / (x1 - x0),
        _ => at,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const LINE: [(f64, f64); 3] = [(1.0, 10.0), (2.0, 20.0), (4.0, 80.0)];

    #[test]
    fn halves_leave_zero() {
        assert_eq!([0.49, 0.5, 1.5, -0.5, -1.49].map(whole), [0, 1, 2, -1, -1]);
    }

    #[test]
    fn points_are_met_and_the_ends_are_prolonged() {
        for (at, value) in [
            (1.0, 10.0),
            (2.0, 20.0),
            (4.0, 80.0),
            (1.5, 15.0),
            (3.0, 50.0),
            (0.0, 0.0),
            (5.0, 110.0),
        ] {
            assert!((between(&LINE, at) - value).abs() < 1e-12, "{at}");
        }
    }
}
