//! How long the steps of a write take, and how many statements each sends: two figures a step, counted up for ever, so
//! that whoever reads `/metrics` twice knows where the time of the writes between went.

use std::time::Instant;

/// The clock of one write, set back after each step.
#[derive(Debug)]
pub(crate) struct Steps(Instant);

impl Steps {
    /// A first step begins.
    pub(crate) fn begin() -> Self {
        Self(Instant::now())
    }

    /// Something was asked that most writes do not ask.
    pub(crate) fn asked_besides(step: &'static str, statements: u64) {
        metrics::counter!("write_statements_total", "step" => step).increment(statements);
    }

    /// A step has ended, and the next begins.
    pub(crate) fn done(&mut self, step: &'static str, statements: u64) {
        let took = u64::try_from(self.0.elapsed().as_micros()).unwrap_or(u64::MAX);
        metrics::counter!("write_microseconds_total", "step" => step).increment(took);
        metrics::counter!("write_statements_total", "step" => step).increment(statements);
        self.0 = Instant::now();
    }
}
