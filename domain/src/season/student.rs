//! Student's t, from a library; degrees of freedom need not be whole here.

use statrs::distribution::{ContinuousCDF, StudentsT};

/// The quantile of Student's t.
pub(crate) fn student_t(p: f64, df: f64) -> Option<f64> {
    let t = StudentsT::new(0.0, 1.0, df).ok()?.inverse_cdf(p);
    t.is_finite().then_some(t)
}
