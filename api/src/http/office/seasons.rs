//! The figures of a season, each report under a path of its own; as JSON, or as CSV to whoever accepts that before it.

use actix_web::http::header::{ACCEPT, Accept, Header};
use actix_web::{HttpRequest, HttpResponse, get, web};
use diesel_async::AsyncPgConnection;
use domain::house::House;
use domain::season::report::Report;
use domain::state::State;
use futures_util::FutureExt;
use serde::Deserialize;
use utoipa::IntoParams;

use super::super::calls::Calls;
use crate::auth::{Right, Who};
use crate::http::problem::{CommonProblems, Problem};
use crate::http::{App, Session};
use crate::ledger::read::last_seq;
use crate::projections::read;
use crate::wire::seasons::{SeasonAnswer, csv};

/// Years that a calendar has.
const YEARS: std::ops::RangeInclusive<i32> = 1_970..=9_999;

/// Which seasons.
#[derive(Debug, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct FromTo {
    /// The first year.
    #[param(minimum = 1970, maximum = 9999)]
    from: i32,
    /// The last year.
    #[param(minimum = 1970, maximum = 9999)]
    to: i32,
}

/// What a report is answered from, and the newest entry it knows of.
async fn at_hand(conn: &mut AsyncPgConnection, who: &Who, report: Report) -> Result<(House, i64), Problem> {
    let seq = last_seq(conn, who.operation.uuid()).await?;
    let rows = read::load_bare(conn, who, report.needs()).await?;
    let mut house = House::default();
    for row in rows {
        let state = State::read(row.subject.kind, &row.state, &row.memo).map_err(Problem::internal)?;
        house.insert(row.subject, state);
    }
    Ok((house, seq))
}

async fn answered(
    app: &App,
    session: Session,
    report: Report,
    FromTo { from, to }: FromTo,
    request: &HttpRequest,
) -> Result<HttpResponse, Problem> {
    for (pointer, year) in [("/from", from), ("/to", to)] {
        if !YEARS.contains(&year) {
            let detail = "a year from 1970 to 9999".to_owned();
            let pointer = pointer.to_owned();
            return Err(Problem::BadField { pointer, detail });
        }
    }
    if from > to {
        return Err(Problem::BadField {
            pointer: "/from".to_owned(),
            detail: "the first year comes after the last; exchange them".to_owned(),
        });
    }
    let work = app.snapshot(&session, move |conn, who| {
        async move {
            who.may(if report.tells_prices() {
                Right::ReadCustomers
            } else {
                Right::Read
            })?;
            at_hand(conn, &who, report).await
        }
        .boxed()
    });
    let (house, ledger_seq) = work.await?;
    let answer = SeasonAnswer {
        ledger_seq,
        answer: report.answer(&house, from, to),
    };
    if wants_csv(request) {
        let text = csv(&answer).map_err(Problem::internal)?;
        return Ok(HttpResponse::Ok()
            .content_type("text/csv; charset=utf-8; header=present")
            .body(text));
    }
    Ok(HttpResponse::Ok().json(answer))
}

/// Whether CSV is wanted before JSON.
fn wants_csv(request: &HttpRequest) -> bool {
    if !request.headers().contains_key(ACCEPT) {
        return false;
    }
    let ranked = Accept::parse(request).map(|accept| accept.ranked()).unwrap_or_default();
    let first = ranked
        .into_iter()
        .map(|wanted| wanted.essence_str().to_owned())
        .find(|wanted| {
            matches!(
                wanted.as_str(),
                "text/csv" | "application/json" | "*/*" | "application/*" | "text/*"
            )
        });
    first.is_some_and(|wanted| matches!(wanted.as_str(), "text/csv" | "text/*"))
}

/// Declares the reports on one season and those on several.
macro_rules! seasons {
    (one { $($one:ident $one_path:tt $one_id:tt $one_report:ident $one_says:tt;)* }
     several { $($several:ident $several_path:tt $several_id:tt $several_report:ident $several_says:tt;)* }) => {
        $(
            #[utoipa::path(tag = "seasons", operation_id = $one_id, summary = $one_says, security(("bearer" = [])),
                params(("year" = i32, Path, description = "the year of the runs", minimum = 1970, maximum = 9999)),
                responses((status = 200, content((SeasonAnswer = "application/json"), (String = "text/csv")),
                    description = "Tables of figures, each with its range, denominator, n, method and what was left \
                        out; in CSV a line a figure"), CommonProblems))]
            #[get($one_path)]
            pub(crate) async fn $one(
                app: web::Data<App>,
                session: Session,
                year: web::Path<i32>,
                request: HttpRequest,
            ) -> Result<HttpResponse, Problem> {
                let of = FromTo { from: *year, to: *year };
                answered(&app, session, Report::$one_report, of, &request).await
            }
        )*
        $(
            #[utoipa::path(tag = "seasons", operation_id = $several_id, summary = $several_says,
                security(("bearer" = [])), params(FromTo),
                responses((status = 200, content((SeasonAnswer = "application/json"), (String = "text/csv")),
                    description = "Tables of figures, each with its range, denominator, n, method and what was left \
                        out; in CSV a line a figure"), CommonProblems))]
            #[get($several_path)]
            pub(crate) async fn $several(
                app: web::Data<App>,
                session: Session,
                of: web::Query<FromTo>,
                request: HttpRequest,
            ) -> Result<HttpResponse, Problem> {
                answered(&app, session, Report::$several_report, of.into_inner(), &request).await
            }
        )*

        pub(super) fn routes(cfg: &mut impl Calls) {
            $(cfg.service($one);)*
            $(cfg.service($several);)*
        }
    };
}

seasons! {
    one {
        yards "/v1/seasons/{year}/yards" "season_yards" Yards "What the yards yielded";
        colonies "/v1/seasons/{year}/colonies" "season_colonies" Colonies "What each colony gave, against its yard";
        balance "/v1/seasons/{year}/balance" "season_balance" Balance "Where the honey went, and what weighing alone explains";
        costs "/v1/seasons/{year}/costs" "season_costs" Costs "What a kilogram cost, in cash and in full";
        moisture "/v1/seasons/{year}/moisture" "season_moisture" Moisture "What water cost";
        harvest "/v1/seasons/{year}/harvest" "season_harvest" Harvest "When the honey came in";
        forecast "/v1/seasons/{year}/forecast" "season_forecast" Forecast "Boxes and jars for the season after this one";
        context "/v1/seasons/{year}/context" "season_context" Context "Kilograms per harvested colony beside the state's years";
    }
    several {
        yard_factors "/v1/yard-factors" "yard_factors" YardFactors "What yards gave, freed of good and bad years";
        queen_lines "/v1/queen-lines" "queen_lines" QueenLines "Queen lines side by side";
    }
}
