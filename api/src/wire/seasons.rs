//! How an answer about a season travels: as JSON, and line by line as CSV, a line a figure.

use domain::season::answer::{Answer, Row};
use domain::season::figure::Figure;
use serde::Serialize;
use utoipa::ToSchema;

/// An answer about a season, and which entries it knows of.
#[derive(Debug, Serialize, ToSchema)]
pub(crate) struct SeasonAnswer {
    /// The number of the newest entry that was known.
    pub(crate) ledger_seq: i64,
    /// The answer.
    #[serde(flatten)]
    pub(crate) answer: Answer,
}

/// Why an answer could not be written as CSV.
#[derive(Debug, thiserror::Error)]
pub enum CsvRefused {
    /// A field could not be written.
    #[error("a field could not be written as CSV")]
    Field(#[from] csv::Error),
    /// What was written could not be taken back.
    #[error("the lines of CSV could not be gathered")]
    Gather(#[from] std::io::Error),
}

/// The columns. Figures are whole numbers in the unit that ends the figure's name.
const HEAD: [&str; 23] = [
    "report",
    "period",
    "ledger_seq",
    "table",
    "kind",
    "id",
    "name",
    "beside",
    "on",
    "season",
    "figure",
    "value",
    "low",
    "high",
    "level_percent",
    "denominator",
    "denominator_low",
    "denominator_high",
    "n",
    "method",
    "why_no_range",
    "left_out",
    "words",
];

/// The answer as CSV (RFC 4180), the same figures as in JSON.
pub(crate) fn csv(of: &SeasonAnswer) -> Result<Vec<u8>, CsvRefused> {
    let mut out = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    out.write_record(HEAD)?;
    let answer = &of.answer;
    let lead = [answer.report.clone(), answer.period.clone(), of.ledger_seq.to_string()];
    for table in &answer.tables {
        for row in &table.rows {
            let begin = || lead.iter().cloned().chain([table.name.clone()]).chain(of_row(row));
            if row.figures.is_empty() {
                out.write_record(
                    begin()
                        .chain(std::iter::repeat_n(String::new(), 12))
                        .chain([words(&row.words)]),
                )?;
            }
            for (name, figure) in &row.figures {
                out.write_record(begin().chain(of_figure(name, figure)).chain([words(&row.words)]))?;
            }
        }
    }
    for sentence in &answer.words {
        let begin = lead.iter().cloned().chain(["words".to_owned()]);
        let empty = std::iter::repeat_n(String::new(), 18);
        out.write_record(begin.chain(empty).chain([safe(sentence)]))?;
    }
    Ok(out.into_inner().map_err(csv::IntoInnerError::into_error)?)
}

fn of_row(row: &Row) -> [String; 6] {
    [
        row.id.map(|id| id.kind.name().to_owned()).unwrap_or_default(),
        row.id.map(|id| id.id.to_string()).unwrap_or_default(),
        safe(&row.name),
        safe(row.beside.as_deref().unwrap_or_default()),
        row.on.map(|on| on.to_string()).unwrap_or_default(),
        number(row.season),
    ]
}

fn of_figure(name: &str, figure: &Figure) -> [String; 12] {
    let denominator = figure.denominator;
    [
        name.to_owned(),
        number(figure.value),
        number(figure.low),
        number(figure.high),
        number(figure.level_percent),
        denominator.map(|of| word(&of.kind)).unwrap_or_default(),
        number(denominator.map(|of| of.low)),
        number(denominator.map(|of| of.high)),
        figure.n.to_string(),
        figure.method.map(|method| format!("{method:?}")).unwrap_or_default(),
        figure.why_no_range.map(|why| word(&why)).unwrap_or_default(),
        safe(&left_out(figure)),
    ]
}

fn number<T: ToString>(value: Option<T>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn word(of: &impl Serialize) -> String {
    let word = serde_json::to_value(of).ok();
    word.and_then(|word| Some(word.as_str()?.to_owned()))
        .unwrap_or_default()
}

fn words(of: &[String]) -> String {
    safe(&of.join("; "))
}

fn left_out(figure: &Figure) -> String {
    let each = figure
        .left_out
        .iter()
        .map(|out| format!("{}: {}", out.name, out.reason));
    each.collect::<Vec<_>>().join("; ")
}

/// Text that a spreadsheet does not take for a formula: people name their yards as they like.
fn safe(text: &str) -> String {
    if text.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{text}")
    } else {
        text.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use domain::house::House;
    use domain::season::report::Report;

    /// Every line has as many fields as the head, whatever was asked and however little is known.
    #[test]
    fn every_report_is_written_as_csv() {
        for report in Report::ALL {
            let answer = SeasonAnswer {
                ledger_seq: 7,
                answer: report.answer(&House::default(), 2024, 2025),
            };
            let text = csv(&answer).unwrap();
            let mut read = csv::Reader::from_reader(text.as_slice());
            assert_eq!(read.headers().unwrap().len(), HEAD.len());
            for line in read.records() {
                let line = line.unwrap();
                assert_eq!((line.len(), &line[0]), (HEAD.len(), answer.answer.report.as_str()));
            }
        }
    }

    #[test]
    fn a_name_is_no_formula() {
        assert_eq!(safe("=SUM(A1)"), "'=SUM(A1)");
        assert_eq!(safe("Tarnsedge"), "Tarnsedge");
    }
}
