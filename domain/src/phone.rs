//! The rules as a phone has them: rows it has pulled go in, wishes and questions are answered, all of it JSON.
//!
//! The same crate is the service and, built as WebAssembly, the phone's own copy, so a phone without signal decides
//! exactly as the service would. What is absent on purpose: the outbox, the clock and the making of ids, which are the
//! page's. [`Phone::call`] is the only way in; `phone/wasm.rs` hands it bytes.
//!
//! The phone's rows are the fold of what the service knew. Entries that are not sent yet are folded on top of them
//! (`fold_on`), so that a touch shows at once; the next pull replaces the rows beneath.

use std::borrow::Cow;
use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use serde_json::value::RawValue;
use uuid::Uuid;

use crate::decide::{Warning, decide};
use crate::entry::{Entry, KINDS, ReadRefused, WrittenBy, spec};
use crate::holds::Holds;
use crate::house::House;
use crate::ids::DeviceId;
use crate::next::next;
use crate::reckon;
use crate::state::{FOLD_VERSION, State};
use crate::subject::{Subject, SubjectKind};
use crate::trace::{holds_on, trace};
use crate::yields::run_balance;

mod at_hand;
mod provisional;
#[cfg(target_arch = "wasm32")]
mod wasm;

use provisional::Unsent;

/// Which call it is; the rest of the text is read once that is known, for rows are not copied before.
#[derive(Debug, Deserialize)]
struct Head<'a> {
    #[serde(borrow)]
    call: Cow<'a, str>,
}

/// Keeps state rows, in place of older ones of the same things.
#[derive(Debug, Deserialize)]
struct Hold<'a> {
    #[serde(borrow)]
    rows: Vec<PulledRow<'a>>,
}

/// Folds everything that is not sent yet on top of the rows, in place of what was folded on before.
#[derive(Debug, Deserialize)]
struct FoldOn<'a> {
    device_id: DeviceId,
    #[serde(borrow)]
    entries: Vec<Unsent<'a>>,
}

/// Asks whether something may be done.
#[derive(Debug, Deserialize)]
struct Decide<'a> {
    now: DateTime<Utc>,
    #[serde(borrow)]
    wish: Wish<'a>,
}

/// Asks about everything in the house: what to do next, what is held.
#[derive(Debug, Deserialize)]
struct AskNow {
    now: DateTime<Utc>,
}

/// Asks about the hold of one entry.
#[derive(Debug, Deserialize)]
struct AskHold {
    now: DateTime<Utc>,
    hold_id: crate::ids::EntryId,
}

/// Asks which thing bears a number or code.
#[derive(Debug, Deserialize)]
struct Find {
    code: String,
}

/// Asks for a computation by name.
#[derive(Debug, Deserialize)]
struct Reckon {
    name: String,
    inputs: serde_json::Value,
}

/// Asks about one thing.
#[derive(Debug, Deserialize)]
struct Ask {
    subject: Subject,
}

/// Asks about one thing as it is now: a wait may be over.
#[derive(Debug, Deserialize)]
struct AskAt {
    now: DateTime<Utc>,
    subject: Subject,
}

/// A state row as pulled. More may stand in it; only this is read.
#[derive(Debug, Deserialize)]
struct PulledRow<'a> {
    kind: SubjectKind,
    id: Uuid,
    #[serde(borrow)]
    state: &'a RawValue,
}

/// What somebody wants to write.
#[derive(Debug, Deserialize)]
struct Wish<'a> {
    kind: String,
    #[serde(borrow)]
    data: &'a RawValue,
}

/// What the rules say.
#[derive(Debug, Serialize)]
#[serde(untagged)]
enum Answer {
    About(About),
    Held { held: usize },
    Rows(Shown),
    Granted { entry: EntryMade, warnings: Vec<Warning> },
    Refused { refused: Refusal },
    BadField { bad_field: BadField },
    Found { subject: Option<Subject> },
    Json(Box<RawValue>),
}

/// Which copy of the rules this is.
#[derive(Debug, Serialize)]
struct About {
    version: &'static str,
    fold_version: i32,
    kinds: Vec<KindUnderstood>,
}

#[derive(Debug, Serialize)]
struct KindUnderstood {
    kind: &'static str,
    min: u16,
    max: u16,
    /// Only the office may write it; from other phones it is kept and not counted.
    office: bool,
}

/// The kind, version and data of an entry; the page adds id, time, counter and salt.
#[derive(Debug, Serialize)]
struct EntryMade {
    kind: &'static str,
    v: u16,
    /// As it was told: the service reads it with the same code.
    data: Box<RawValue>,
}

/// What speaks against a wish. In a yard the person may record it anyway, as doubtful.
#[derive(Debug, Serialize)]
struct Refusal {
    code: &'static str,
    detail: String,
    rule: &'static str,
}

/// Why there is no figure.
#[derive(Debug, Serialize)]
struct NotReckoned {
    not_reckoned: reckon::Refusal,
}

/// What does not read.
#[derive(Debug, Serialize)]
struct BadField {
    pointer: String,
    detail: String,
}

/// Rows as the page shows them.
#[derive(Debug, Serialize)]
pub(crate) struct Shown {
    rows: Vec<ShownRow>,
    /// Corrections of entries that were sent before: they show once the service has them.
    after_sending: Vec<crate::ids::EntryId>,
}

#[derive(Debug, Serialize)]
pub(crate) struct ShownRow {
    #[serde(flatten)]
    subject: Subject,
    label: Option<String>,
    status: &'static str,
    state: Box<RawValue>,
}

/// The rows a phone holds, with what it has not sent folded on top.
#[derive(Debug, Default)]
pub struct Phone {
    /// What is shown and decided from.
    house: House,
    /// What stood in the house before unsent entries were folded on.
    beneath: BTreeMap<Subject, Option<State>>,
}

impl Phone {
    /// A phone that has pulled nothing yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Answers one call; both sides are JSON. Never fails: what cannot be read is answered as `bad_field` with the
    /// place and what to do.
    #[must_use]
    pub fn call(&mut self, ask: &str) -> String {
        let answer = self
            .answer(ask)
            .unwrap_or_else(|bad_field| Answer::BadField { bad_field });
        serde_json::to_string(&answer).unwrap_or_else(|error| {
            // No state or sentence of ours fails to be written; were one to, the page must hear of it.
            format!(r#"{{"bad_field":{{"pointer":"","detail":{:?}}}}}"#, error.to_string())
        })
    }

    fn answer(&mut self, ask: &str) -> Result<Answer, BadField> {
        let head: Head<'_> = read(ask)?;
        Ok(match &*head.call {
            "about" => Answer::About(about()),
            "hold" => self.hold(&read::<Hold<'_>>(ask)?.rows)?,
            "forget" => {
                *self = Self::default();
                Answer::Held { held: 0 }
            }
            "fold_on" => {
                let FoldOn { device_id, entries } = read(ask)?;
                Answer::Rows(self.fold_on(provisional::read(&entries, device_id)?))
            }
            "decide" => {
                let Decide { now, wish } = read(ask)?;
                self.decide(now, &wish)?
            }
            "next" => json(&next(&self.house, read::<AskNow>(ask)?.now))?,
            "find" => Answer::Found {
                subject: self.house.named(&at_hand::borne(&read::<Find>(ask)?.code)),
            },
            "reckon" => {
                let Reckon { name, inputs } = read(ask)?;
                or_not_reckoned(reckon::named(&name).and_then(|computation| computation.reckon(&inputs)))?
            }
            "next_code" => or_not_reckoned(at_hand::next_code(&self.house, &read(ask)?))?,
            "plan_blend" => or_not_reckoned(at_hand::blend(&self.house, &read(ask)?))?,
            "net_content" => or_not_reckoned(at_hand::net_content(&self.house, &read(ask)?))?,
            "plan_drying" => or_not_reckoned(at_hand::drying(&self.house, &read(ask)?))?,
            // Whether a run adds up so far; null while a super of it is not weighed full and wet.
            "balance" => {
                let id = read::<Ask>(ask)?.subject.as_run();
                let run = id.and_then(|id| Some((id, self.house.run(id)?)));
                json(&run.and_then(|(id, run)| run_balance(&self.house, id, run)))?
            }
            "holds" => json(&Holds::of(&self.house).list(read::<AskNow>(ask)?.now))?,
            "hold_of" => {
                let AskHold { now, hold_id } = read(ask)?;
                json(&Holds::of(&self.house).answer(hold_id, now))?
            }
            "holds_on" => {
                let AskAt { now, subject } = read(ask)?;
                json(&holds_on(&self.house, subject, now))?
            }
            "trace" => {
                let AskAt { now, subject } = read(ask)?;
                json(&trace(&self.house, subject, now))?
            }
            unknown => {
                return Err(BadField {
                    pointer: "/call".to_owned(),
                    detail: format!("there is no call {unknown:?} in this copy of the rules"),
                });
            }
        })
    }

    fn hold(&mut self, rows: &[PulledRow<'_>]) -> Result<Answer, BadField> {
        for (at, row) in rows.iter().enumerate() {
            let subject = Subject {
                kind: row.kind,
                id: row.id,
            };
            let state = State::read(row.kind, row.state.get(), "{}").map_err(|error| BadField {
                pointer: format!("/rows/{at}/state"),
                detail: format!("{subject} cannot be shown by this copy of the rules: {error}"),
            })?;
            self.put(subject, state);
        }
        Ok(Answer::Held {
            held: self.house.iter().count(),
        })
    }

    fn decide(&self, now: DateTime<Utc>, wish: &Wish<'_>) -> Result<Answer, BadField> {
        let spec = spec(&wish.kind).ok_or_else(|| BadField {
            pointer: "/wish/kind".to_owned(),
            detail: format!("the kind {:?} is not known to this copy of the rules", wish.kind),
        })?;
        let entry = Entry::read(spec.kind, spec.newest, wish.data.get()).map_err(bad_data)?;
        Ok(match decide(&entry, &self.house, now) {
            Ok(warnings) => Answer::Granted {
                entry: EntryMade {
                    kind: spec.kind,
                    v: spec.newest,
                    data: wish.data.to_owned(),
                },
                warnings,
            },
            Err(refused) => Answer::Refused {
                refused: Refusal {
                    code: refused.code,
                    detail: refused.detail,
                    rule: refused.rule,
                },
            },
        })
    }
}

fn about() -> About {
    let kinds = KINDS.iter().map(|spec| KindUnderstood {
        kind: spec.kind,
        min: spec.oldest,
        max: spec.newest,
        office: spec.written_by == WrittenBy::Office,
    });
    About {
        version: env!("CARGO_PKG_VERSION"),
        fold_version: FOLD_VERSION,
        kinds: kinds.collect(),
    }
}

fn read<'a, T: Deserialize<'a>>(ask: &'a str) -> Result<T, BadField> {
    // Tracking the path would forbid borrowing the rows from the text; line and column say where.
    serde_json::from_str(ask).map_err(|error| BadField {
        pointer: String::new(),
        detail: format!("this call is not understood: {error}"),
    })
}

fn bad_data(refused: ReadRefused) -> BadField {
    match refused {
        ReadRefused::BadField { pointer, detail } => BadField {
            pointer: format!("/wish/data{pointer}"),
            detail,
        },
        other => BadField {
            pointer: "/wish/kind".to_owned(),
            detail: other.to_string(),
        },
    }
}

fn or_not_reckoned<T: Serialize>(reckoned: Result<T, reckon::Refusal>) -> Result<Answer, BadField> {
    match reckoned {
        Ok(answer) => json(&answer),
        Err(refused) => json(&NotReckoned { not_reckoned: refused }),
    }
}

fn json<T: Serialize>(value: &T) -> Result<Answer, BadField> {
    let raw = serde_json::value::to_raw_value(value);
    raw.map(Answer::Json).map_err(|error| BadField {
        pointer: String::new(),
        detail: error.to_string(),
    })
}
