//! Computations by name at the console: a list, a description, an answer. Needs no database.

use std::fmt::Write;

use domain::reckon::{self, Computation, Refusal};
use domain::science::sources::Standing;
use serde_json::Value;

/// Every computation, a line each.
#[must_use]
pub fn list() -> String {
    let wide = reckon::all()
        .map(|computation| computation.name.len())
        .max()
        .unwrap_or_default();
    reckon::all().fold(String::new(), |mut out, computation| {
        let _ = writeln!(out, "{:wide$}  {}", computation.name, computation.does);
        out
    })
}

/// What a computation asks and answers, where its figures come from and how far they hold.
///
/// # Errors
/// When there is no such computation.
pub fn describe(name: &str) -> Result<String, Refusal> {
    let computation = reckon::named(name)?;
    let mut out = format!("{}: {}\n", computation.name, computation.does);
    let mut table = |heading: &str, fields: &[domain::described::Field]| {
        let _ = writeln!(out, "\n{heading}");
        let wide = fields.iter().map(|field| field.name.len()).max().unwrap_or_default();
        for field in fields {
            let may = if field.required { "" } else { "; may be left out" };
            let example = field
                .example
                .map(|example| format!("; e.g. {example}"))
                .unwrap_or_default();
            let _ = writeln!(
                out,
                "  {:wide$}  {} ({}{may}{example})",
                field.name, field.meaning, field.unit
            );
        }
    };
    table("asks", computation.inputs);
    table("answers", computation.outputs);
    out.push_str(&stands_on(computation));
    Ok(out)
}

fn stands_on(computation: &Computation) -> String {
    let mut out = format!("\nholds   {}\n", computation.holds);
    if !computation.rules.is_empty() {
        let _ = writeln!(out, "rules   {}", computation.rules.join(", "));
    }
    for source in computation.sources {
        let (author, title, edition) = (source.author, source.title, source.edition);
        let sure = match source.standing {
            Standing::Read => "read",
            Standing::FromMemory => "from memory, look it up before relying on it",
            Standing::CommonPractice => "common practice",
            Standing::Exact => "exact",
        };
        let _ = writeln!(out, "source  {author}: {title}, {edition} ({sure})");
    }
    if let Some(caution) = computation.caution {
        let _ = writeln!(out, "heed    {caution}");
    }
    out
}

/// Works something out from inputs typed as `name=value`; for people a line a figure, for programs JSON.
///
/// # Errors
/// When there is no such computation, or an input cannot be read or has no answer.
pub fn answer(name: &str, inputs: &[String], json: bool, sources: bool) -> Result<String, Refusal> {
    let computation = reckon::named(name)?;
    let answer = computation.reckon(&computation.input_of(inputs)?)?;
    if json {
        return Ok(format!("{answer}\n"));
    }
    let mut out = String::new();
    lay_out(&mut out, 0, &answer);
    match (sources, computation.caution) {
        (true, _) => out.push_str(&stands_on(computation)),
        (false, Some(caution)) => {
            let _ = writeln!(out, "\nheed  {caution}");
        }
        (false, None) => {}
    }
    Ok(out)
}

/// Lays an answer out, nested parts deeper.
fn lay_out(out: &mut String, deep: usize, value: &Value) {
    let indent = "  ".repeat(deep);
    match value {
        Value::Object(fields) => {
            let wide = fields.keys().map(String::len).max().unwrap_or_default();
            for (name, value) in fields {
                match plain(value) {
                    Some(text) => {
                        let _ = writeln!(out, "{indent}{name:wide$}  {text}");
                    }
                    None => {
                        let _ = writeln!(out, "{indent}{name}");
                        lay_out(out, deep + 1, value);
                    }
                }
            }
        }
        Value::Array(items) => {
            for (at, item) in items.iter().enumerate() {
                match plain(item) {
                    Some(text) => {
                        let _ = writeln!(out, "{indent}{text}");
                    }
                    None => {
                        if at > 0 {
                            out.push('\n');
                        }
                        lay_out(out, deep, item);
                    }
                }
            }
        }
        other => {
            let _ = writeln!(out, "{indent}{other}");
        }
    }
}

/// A value that fits behind its name.
fn plain(value: &Value) -> Option<String> {
    match value {
        Value::String(text) => Some(text.clone()),
        Value::Null => Some("-".to_owned()),
        Value::Bool(_) | Value::Number(_) => Some(value.to_string()),
        Value::Array(items) if items.is_empty() => Some("none".to_owned()),
        Value::Object(span) => match (span.get("low"), span.get("value"), span.get("high")) {
            (Some(low), Some(value), Some(high)) if span.len() == 3 => Some(format!("{value} ({low} to {high})")),
            _ => None,
        },
        Value::Array(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_computation_is_listed_and_described() {
        let listed = list();
        for computation in reckon::all() {
            assert!(listed.contains(computation.name));
            let described = describe(computation.name).unwrap();
            for field in computation.inputs.iter().chain(computation.outputs) {
                assert!(described.contains(field.name), "{described}");
            }
        }
    }

    /// Water is conserved: 120 kg at 17.1 % and 45 kg at 19.4 % make 165 kg at 17.73 % (arithmetic).
    #[test]
    fn a_blend_is_worked_out_for_people_and_for_programs() {
        let parts =
            r#"parts=[{"weight_g":120000,"moisture_hundredths":1710},{"weight_g":45000,"moisture_hundredths":1940}]"#;
        let inputs = [parts.to_owned()];
        let people = answer("blend_moisture", &inputs, false, true).unwrap();
        assert!(people.contains("17727") && people.contains("source  "), "{people}");
        let programs: Value = serde_json::from_str(&answer("blend_moisture", &inputs, true, false).unwrap()).unwrap();
        assert_eq!(programs["moisture_thousandths"], 17_727, "{programs}");
    }

    #[test]
    fn what_cannot_be_read_is_told_with_its_place() {
        let refused = answer("blend_moisture", &["parts=much".to_owned()], false, false).unwrap_err();
        assert_eq!(refused.pointer, "/parts");
        let refused = answer("blend_moisture", &[], false, false).unwrap_err();
        assert_eq!(refused.pointer, "/parts", "{refused}");
    }

    #[test]
    fn a_wrong_name_is_told_with_those_there_are() {
        let refused = answer("sweetness", &[], false, false).unwrap_err();
        assert!(refused.sentence.contains("there are"), "{refused}");
    }
}
