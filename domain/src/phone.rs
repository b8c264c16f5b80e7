//! The rules as a phone has them: rows it has pulled go in, wishes and questions are answered, all of it JSON.
//!
//! The same crate is the service and, built as WebAssembly, the phone's own copy, so a phone without signal decides
//! exactly as the service would. What is absent on purpose: the outbox, the clock and the making of ids, which are the
//! page's. [`Phone::call`] is the only way in; `phone/wasm.rs` hands it bytes.
//!
//! The phone's rows are the fold of what the service knew. Entries that are not sent yet are folded on top of them
//! (`fold_on`), so that a touch shows at once; the next pull replaces the rows beneath.

use chrono::{DateTime, Utc};

use crate::decide::{Warning, decide};
use crate::entry::{Entry, KINDS, ReadRefused, WrittenBy, spec};
use crate::form::{self, Form, Node, Raw, written};
use crate::holds::Holds;
use crate::house::House;
use crate::ids::EntryId;
use crate::next::next;
use crate::ordered::Map;
use crate::reckon;
use crate::state::{FOLD_VERSION, State};
use crate::subject::Subject;
use crate::trace::{holds_on, trace};
use crate::yields::run_balance;

mod at_hand;
mod provisional;
#[cfg(target_arch = "wasm32")]
mod wasm;

/// Asks about everything in the house: what to do next, what is held.
#[derive(Debug, Form)]
struct AskNow {
    now: DateTime<Utc>,
}

/// Asks about the hold of one entry.
#[derive(Debug, Form)]
struct AskHold {
    now: DateTime<Utc>,
    hold_id: EntryId,
}

/// Asks which thing bears a number or code.
#[derive(Debug, Form)]
struct Find {
    code: String,
}

/// Asks for a computation by name.
#[derive(Debug, Form)]
struct Reckon {
    name: String,
}

/// Asks about one thing.
#[derive(Debug, Form)]
struct Ask {
    subject: Subject,
}

/// Asks about one thing as it is now: a wait may be over.
#[derive(Debug, Form)]
struct AskAt {
    now: DateTime<Utc>,
    subject: Subject,
}

/// What kind of entry somebody wants to write.
#[derive(Debug, Form)]
struct Wish {
    kind: String,
}

/// Which copy of the rules this is.
#[derive(Debug, Form)]
struct About {
    version: &'static str,
    fold_version: i32,
    kinds: Vec<KindUnderstood>,
}

#[derive(Debug, Form)]
struct KindUnderstood {
    kind: &'static str,
    min: u16,
    max: u16,
    /// Only the office may write it; from other phones it is kept and not counted.
    office: bool,
}

/// The kind, version and data of an entry; the page adds id, time, counter and salt.
#[derive(Debug, Form)]
struct EntryMade {
    kind: &'static str,
    v: u16,
    /// As it was told: the service reads it with the same code.
    data: Raw,
}

/// What speaks against a wish. In a yard the person may record it anyway, as doubtful.
#[derive(Debug, Form)]
struct Refusal {
    code: &'static str,
    detail: String,
    rule: &'static str,
}

/// Why there is no figure.
#[derive(Debug, Form)]
struct NotReckoned {
    not_reckoned: reckon::Refusal,
}

/// How many rows are held.
#[derive(Debug, Form)]
struct Held {
    held: usize,
}

/// What may be written, and what to look at twice.
#[derive(Debug, Form)]
struct Granted {
    entry: EntryMade,
    warnings: Vec<Warning>,
}

/// What must not be written.
#[derive(Debug, Form)]
struct Refused {
    refused: Refusal,
}

/// The thing that bears a number.
#[derive(Debug, Form)]
struct Found {
    subject: Option<Subject>,
}

/// What does not read, as an answer.
#[derive(Debug, Form)]
struct Unread {
    bad_field: BadField,
}

/// What does not read.
#[derive(Debug, Form)]
struct BadField {
    pointer: String,
    detail: String,
}

/// Rows as the page shows them.
#[derive(Debug, Form)]
pub(crate) struct Shown {
    rows: Vec<ShownRow>,
    /// Corrections of entries that were sent before: they show once the service has them.
    after_sending: Vec<EntryId>,
}

#[derive(Debug, Form)]
pub(crate) struct ShownRow {
    #[serde(flatten)]
    subject: Subject,
    label: Option<String>,
    status: &'static str,
    state: Raw,
}

/// The rows a phone holds, with what it has not sent folded on top.
#[derive(Debug, Default)]
pub struct Phone {
    /// What is shown and decided from.
    house: House,
    /// What stood in the house before unsent entries were folded on.
    beneath: Map<Subject, Option<State>>,
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
        let answer = Node::read(ask)
            .map_err(not_understood)
            .and_then(|ask| self.answer(&ask));
        answer.unwrap_or_else(|bad_field| written(&mut Unread { bad_field }))
    }

    fn answer(&mut self, ask: &Node<'_>) -> Result<String, BadField> {
        Ok(match called(ask) {
            "about" => written(&mut about()),
            "hold" => self.hold(items(ask, "rows")?)?,
            "forget" => {
                *self = Self::default();
                written(&mut Held { held: 0 })
            }
            "fold_on" => {
                let unsent = provisional::read(ask, items(ask, "entries")?)?;
                written(&mut self.fold_on(unsent))
            }
            "decide" => self.decide(asked::<AskNow>(ask)?.now, part(ask, "wish")?)?,
            "next" => written(&mut next(&self.house, asked::<AskNow>(ask)?.now)),
            "find" => written(&mut Found {
                subject: self.house.named(&at_hand::borne(&asked::<Find>(ask)?.code)),
            }),
            #[cfg(feature = "reckon")]
            "reckon" => reckoned(ask)?,
            "holds_on_each" => written(&mut at_hand::holds_on_each(&self.house, &asked(ask)?)),
            "next_code" => or_not_reckoned(at_hand::next_code(&self.house, &asked(ask)?)),
            "blend_at_hand" => written(&mut at_hand::blend(&self.house, &asked(ask)?)),
            "jars_at_hand" => or_not_reckoned(at_hand::net_content(&self.house, &asked(ask)?)),
            "drying_at_hand" => or_not_reckoned(at_hand::drying(&self.house, &asked(ask)?)),
            // Whether a run adds up so far; null while a super of it is not weighed full and wet.
            "balance" => {
                let id = asked::<Ask>(ask)?.subject.as_run();
                let run = id.and_then(|id| Some((id, self.house.run(id)?)));
                written(&mut run.and_then(|(id, run)| run_balance(&self.house, id, run)))
            }
            "holds" => written(&mut Holds::of(&self.house).list(asked::<AskNow>(ask)?.now)),
            "hold_of" => {
                let AskHold { now, hold_id } = asked(ask)?;
                written(&mut Holds::of(&self.house).answer(hold_id, now))
            }
            "holds_on" => {
                let AskAt { now, subject } = asked(ask)?;
                written(&mut holds_on(&self.house, subject, now))
            }
            "trace" => {
                let AskAt { now, subject } = asked(ask)?;
                written(&mut trace(&self.house, subject, now))
            }
            unknown => return Err(no_such_call(unknown)),
        })
    }

    fn hold(&mut self, rows: &[Node<'_>]) -> Result<String, BadField> {
        for (at, row) in rows.iter().enumerate() {
            let subject: Subject = asked(row)?;
            let state = State::told(subject.kind, part(row, "state")?).map_err(|error| BadField {
                pointer: format!("/rows/{at}/state"),
                detail: format!("{subject} cannot be shown by this copy of the rules: {error}"),
            })?;
            self.put(subject, state);
        }
        let held = self.house.iter().count();
        Ok(written(&mut Held { held }))
    }

    fn decide(&self, now: DateTime<Utc>, wish: &Node<'_>) -> Result<String, BadField> {
        let kind = asked::<Wish>(wish)?.kind;
        let spec = spec(&kind).ok_or_else(|| BadField {
            pointer: "/wish/kind".to_owned(),
            detail: format!("the kind {kind:?} is not known to this copy of the rules"),
        })?;
        let data = part(wish, "data")?;
        let entry = Entry::told(spec.kind, spec.newest, data).map_err(bad_data)?;
        Ok(match decide(&entry, &self.house, now) {
            Ok(warnings) => written(&mut Granted {
                entry: EntryMade {
                    kind: spec.kind,
                    v: spec.newest,
                    data: Raw(data.text()),
                },
                warnings,
            }),
            Err(refused) => written(&mut Refused {
                refused: Refusal {
                    code: refused.code,
                    detail: refused.detail,
                    rule: refused.rule,
                },
            }),
        })
    }
}

/// The name of a call.
fn called<'a>(ask: &'a Node<'_>) -> &'a str {
    match ask.get("call") {
        Some(Node::Text(call)) => call,
        _ => "",
    }
}

fn no_such_call(call: &str) -> BadField {
    BadField {
        pointer: "/call".to_owned(),
        detail: format!("there is no call {call:?} in this copy of the rules"),
    }
}

/// Answers a call about computations, for which no rows are needed.
#[must_use]
pub fn reckon_alone(ask: &str) -> String {
    let answer = Node::read(ask)
        .map_err(not_understood)
        .and_then(|ask| match called(&ask) {
            "reckon" => reckoned(&ask),
            other => Err(no_such_call(other)),
        });
    answer.unwrap_or_else(|bad_field| written(&mut Unread { bad_field }))
}

fn reckoned(ask: &Node<'_>) -> Result<String, BadField> {
    let inputs = ask.get("inputs").unwrap_or(&Node::Null);
    let computation = reckon::named(&asked::<Reckon>(ask)?.name);
    let answer = computation.and_then(|computation| computation.reckon_from(inputs));
    Ok(answer.unwrap_or_else(|not_reckoned| written(&mut NotReckoned { not_reckoned })))
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

/// Reads what a call asks.
fn asked<T: Form>(ask: &Node<'_>) -> Result<T, BadField> {
    form::filled(T::blank(), ask).map_err(not_understood)
}

fn not_understood(refused: ReadRefused) -> BadField {
    let (pointer, wrong) = match refused {
        ReadRefused::BadField { pointer, detail } => (pointer, detail),
        other => (String::new(), other.to_string()),
    };
    BadField {
        pointer,
        detail: format!("this call is not understood: {wrong}"),
    }
}

/// A part of a call that is read later.
fn part<'a>(of: &'a Node<'a>, name: &str) -> Result<&'a Node<'a>, BadField> {
    of.get(name).ok_or_else(|| BadField {
        pointer: String::new(),
        detail: format!("this call is not understood: missing field `{name}`"),
    })
}

fn items<'a>(of: &'a Node<'a>, name: &str) -> Result<&'a [Node<'a>], BadField> {
    match part(of, name)? {
        Node::List(items) => Ok(items),
        _ => Err(BadField {
            pointer: format!("/{name}"),
            detail: "this call is not understood: this has to be a list".to_owned(),
        }),
    }
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

fn or_not_reckoned<T: Form>(reckoned: Result<T, reckon::Refusal>) -> String {
    match reckoned {
        Ok(mut answer) => written(&mut answer),
        Err(not_reckoned) => written(&mut NotReckoned { not_reckoned }),
    }
}
