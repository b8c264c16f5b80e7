//! `yardjar yields`, `season`, `trace` and `next`: answers for people at a desk, as tables, or as JSON for programs.

pub mod reckon;
mod season;
mod tables;

use diesel_async::AsyncPgConnection;
use domain::house::House;
use domain::ids::{DeviceId, MemberId, OperationId, SessionId};
use domain::lot_code::{LotCode, NotALotCode};
use domain::season::report::Report;
use domain::state::State;
use domain::subject::SubjectKind;
use uuid::Uuid;

use crate::auth::{DeviceState, Role, Who};
use crate::clock;
use crate::config::Secret;
use crate::database;
use crate::ledger::read::last_seq;
use crate::ledger_commands::{CommandRefused, open, operations};
use crate::projections::read;
use crate::wire::seasons::{CsvRefused, SeasonAnswer};

/// What is asked.
#[derive(Debug, Clone)]
pub enum Question {
    /// What each yard and hive yielded.
    Yields {
        /// The year of the runs.
        season: i32,
    },
    /// The figures of a season.
    Season {
        /// Which.
        reports: Vec<Report>,
        /// The first year, of reports on several seasons.
        from: i32,
        /// The season, or the last one.
        to: i32,
        /// As CSV.
        csv: bool,
    },
    /// Where something came from and went.
    Trace {
        /// A code or number.
        code: String,
    },
    /// What to do next.
    Next,
}

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
pub enum QuestionRefused {
    /// The database could not be asked.
    #[error("the database could not be asked")]
    Command(#[from] CommandRefused),
    /// A statement failed.
    #[error("the database refused a statement")]
    Statement(#[from] diesel::result::Error),
    /// There is no business yet.
    #[error("there is no operation yet; start the service once, or use `yardjar owner add`")]
    NoOperation,
    /// It is not clear which business is meant.
    #[error("there are {} operations; say which with --operation: {}", .0.len(), .0.join(", "))]
    WhichOperation(Vec<String>),
    /// The answer could not be written.
    #[error("the answer could not be written as CSV")]
    Csv(#[source] CsvRefused),
    /// A kept state does not read.
    #[error("a kept state does not read; run `yardjar rebuild`")]
    Unread(#[source] serde_json::Error),
    /// The code's check character does not fit.
    #[error("{0:?} is mistyped: its last character does not fit the rest; read it off the jar again")]
    Mistyped(String),
    /// Nothing bears the code.
    #[error("nothing here bears the code or number {0:?}; jar codes look like 25-007-K")]
    NoSuchCode(String),
}

/// Answers a question, as tables or as JSON.
///
/// # Errors
/// [`QuestionRefused`], which says what to do.
pub async fn ask(
    url: &Secret,
    operation: Option<&str>,
    question: &Question,
    json: bool,
) -> Result<String, QuestionRefused> {
    let (house, ledger_seq) = house(url, operation).await?;
    match question {
        Question::Season { reports, from, to, csv } => {
            let answered = reports.iter().map(|report| SeasonAnswer {
                ledger_seq,
                answer: report.answer(&house, *from, *to),
            });
            let answers: Vec<SeasonAnswer> = answered.collect();
            if json {
                as_json(&answers)
            } else if *csv {
                season::as_csv(&answers).map_err(QuestionRefused::Csv)
            } else {
                Ok(answers.iter().map(|of| season::tables(&of.answer)).collect())
            }
        }
        Question::Yields { season } => {
            let season = domain::yields::season(&house, *season);
            if json {
                as_json(&season)
            } else {
                Ok(tables::yields(&house, &season))
            }
        }
        Question::Trace { code } => {
            let trace = domain::trace::trace_code(&house, code, clock::now()).ok_or_else(|| not_found(code))?;
            if json {
                as_json(&trace)
            } else {
                Ok(tables::trace(&house, &trace))
            }
        }
        Question::Next => {
            let next = domain::next::next(&house, clock::now());
            if json { as_json(&next) } else { Ok(tables::next(&next)) }
        }
    }
}

/// A slip of the finger in a code can be told from a code that nothing bears (LO-2).
fn not_found(code: &str) -> QuestionRefused {
    match LotCode::parse(code) {
        Err(NotALotCode::WrongCheckCharacter) => QuestionRefused::Mistyped(code.to_owned()),
        _ => QuestionRefused::NoSuchCode(code.to_owned()),
    }
}

fn as_json(answer: &impl serde::Serialize) -> Result<String, QuestionRefused> {
    let mut text = serde_json::to_string_pretty(answer).map_err(QuestionRefused::Unread)?;
    text.push('\n');
    Ok(text)
}

/// Everything of one business, read in one snapshot.
async fn house(url: &Secret, only: Option<&str>) -> Result<(House, i64), QuestionRefused> {
    let mut conn: AsyncPgConnection = database::as_owner(url).await.map_err(CommandRefused::from)?;
    let found = operations(&mut conn, only).await?;
    let operation = match found.as_slice() {
        [] => return Err(QuestionRefused::NoOperation),
        [one] => one.id,
        many => {
            return Err(QuestionRefused::WhichOperation(
                many.iter().map(|one| one.name.clone()).collect(),
            ));
        }
    };
    let (rows, seq) = conn
        .build_transaction()
        .repeatable_read()
        .run(async |conn| {
            open(conn, operation).await?;
            let seq = last_seq(conn, operation).await?;
            let rows = read::load_kinds(conn, &keeper(operation), SubjectKind::ALL).await?;
            Ok::<_, diesel::result::Error>((rows, seq))
        })
        .await?;
    let mut house = House::default();
    for row in rows {
        let state = State::read(row.subject.kind, &row.state, &row.memo).map_err(QuestionRefused::Unread)?;
        house.insert(row.subject, state);
    }
    Ok((house, seq))
}

/// The machine's keeper, who sits at its console and reads everything.
fn keeper(operation: Uuid) -> Who {
    Who {
        operation: OperationId::from_uuid(operation),
        member: MemberId::from_uuid(Uuid::nil()),
        device: DeviceId::from_uuid(Uuid::nil()),
        session: SessionId::from_uuid(Uuid::nil()),
        role: Role::Owner,
        device_state: DeviceState::Active,
        confirmed: false,
    }
}
