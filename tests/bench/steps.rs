//! Where the time of a push goes, by the service's own count of its steps, beside the same steps of the replay.

use std::collections::BTreeMap;

use anyhow::{Context, Result};

use crate::ground::say;
use crate::replay::Took;

/// The steps of a push in their order, and which of the replay's each is.
const STEPS: [(&str, &str); 9] = [
    ("read", "body to entries, hashed"),
    ("connection", "waiting for a connection"),
    ("begin", ""),
    ("turn", "session and row lock"),
    ("look up", "ids, device, kept states"),
    ("times", "what was seen before"),
    ("links", "numbers, chain, corrections"),
    ("fold", "kept states to new ones"),
    ("write", "entries, links, states, device"),
];

/// Microseconds and statements of each step since the service started.
#[derive(Clone, Default)]
pub(crate) struct Steps(BTreeMap<String, (f64, f64)>);

impl Steps {
    pub(crate) async fn read(http: &reqwest::Client, url: &str) -> Result<Self> {
        let text = http
            .get(format!("{url}/metrics"))
            .send()
            .await?
            .error_for_status()?
            .text()
            .await?;
        let mut steps = Self::default();
        for line in text.lines() {
            let Some((name, rest)) = line.split_once("{step=\"") else {
                continue;
            };
            let (step, value) = rest.split_once("\"} ").context("a figure of a step")?;
            let of = steps.0.entry(step.to_owned()).or_default();
            match name {
                "write_microseconds_total" => of.0 = value.parse()?,
                "write_statements_total" => of.1 = value.parse()?,
                _ => {}
            }
        }
        Ok(steps)
    }

    fn since(&self, before: &Self, step: &str, pushes: f64) -> (f64, f64) {
        let now = self.0.get(step).copied().unwrap_or_default();
        let then = before.0.get(step).copied().unwrap_or_default();
        ((now.0 - then.0) / pushes / 1e3, (now.1 - then.1) / pushes)
    }
}

/// Prints statements and milliseconds a push, by step; `whole` is what the caller waited, in seconds.
pub(crate) fn table(size: usize, pushes: usize, whole: f64, steps: (&Steps, &Steps), replay: Took) -> Result<()> {
    #[expect(clippy::cast_precision_loss, reason = "small numbers, for people")]
    let pushes = pushes as f64;
    say(&format!(
        "{:<34} {:>12} {:>12} {:>12}",
        format!("one push of {size}, by step"),
        "statements",
        "service ms",
        "replay ms"
    ))?;
    let of_replay = |step| match step {
        "turn" => Some(replay.turn),
        "look up" => Some(replay.look_up),
        "write" => Some(replay.write),
        "commit" => Some(replay.commit),
        _ => None,
    };
    let (before, after) = steps;
    let mut inside = 0.0;
    for (step, words) in STEPS.into_iter().chain([("commit", "")]) {
        let (ms, statements) = after.since(before, step, pushes);
        inside += ms;
        let replay = of_replay(step).map_or(String::new(), |seconds| format!("{:.2}", seconds / pushes * 1e3));
        let words = if words.is_empty() {
            String::new()
        } else {
            format!(": {words}")
        };
        say(&format!(
            "  {:<32} {statements:>12.2} {ms:>12.2} {replay:>12}",
            format!("{step}{words}")
        ))?;
    }
    let whole = whole / pushes * 1e3;
    say(&format!(
        "  {:<32} {:>12} {:>12.2}",
        "HTTP, answer, and the rest",
        "",
        whole - inside
    ))?;
    say(&format!(
        "  {:<32} {:>12} {whole:>12.2} {:>12.2}",
        "all",
        "",
        replay.all() / pushes * 1e3
    ))
}
