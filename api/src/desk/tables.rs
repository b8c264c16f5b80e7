//! Answers as tables of plain text, columns aligned.

use std::fmt::Write;

use domain::allocation::Method;
use domain::house::House;
use domain::next::Next;
use domain::trace::{Certainty, Step, Trace};
use domain::yields::{RunYield, Season};

/// One table: a head, rows, and which columns hold numbers.
pub(super) struct Table {
    rows: Vec<Vec<String>>,
    numbers: Vec<usize>,
}

impl Table {
    pub(super) fn new(head: &[&str], numbers: &[usize]) -> Self {
        Self {
            rows: vec![head.iter().map(ToString::to_string).collect()],
            numbers: numbers.to_vec(),
        }
    }

    pub(super) fn row(&mut self, cells: Vec<String>) {
        self.rows.push(cells);
    }

    pub(super) fn write(&self, out: &mut String) {
        let columns = self.rows.iter().map(Vec::len).max().unwrap_or_default();
        let width = |at: usize| {
            self.rows
                .iter()
                .filter_map(|row| row.get(at))
                .map(|cell| cell.chars().count())
                .max()
        };
        let widths: Vec<usize> = (0..columns).map(|at| width(at).unwrap_or_default()).collect();
        for row in &self.rows {
            let mut line = String::new();
            for (at, (cell, width)) in row.iter().zip(&widths).enumerate() {
                let _ = if self.numbers.contains(&at) {
                    write!(line, "  {cell:>width$}")
                } else {
                    write!(line, "  {cell:<width$}")
                };
            }
            let _ = writeln!(out, "{}", line.trim_end());
        }
    }
}

pub(super) fn kg(grams: i64) -> String {
    let tenths = (grams.abs() + 50) / 100;
    let sign = if grams < 0 && tenths > 0 { "-" } else { "" };
    format!("{sign}{}.{}", tenths / 10, tenths % 10)
}

fn or_dash<T: ToString>(value: Option<T>) -> String {
    value.map_or_else(|| "-".to_owned(), |value| value.to_string())
}

fn letter(method: Option<Method>) -> String {
    or_dash(method.map(|method| format!("{method:?}")))
}

fn span(low: &str, high: &str) -> String {
    if low == high {
        low.to_owned()
    } else {
        format!("{low} to {high}")
    }
}

/// The season: yards, hives, runs, and what the letters mean.
pub(super) fn yields(house: &House, season: &Season) -> String {
    let mut out = format!(
        "Season {}: {} kg, method {}\n\n",
        season.season,
        kg(season.total_g),
        letter(season.method)
    );
    if season.runs.is_empty() {
        let _ = writeln!(out, "No run in this season.");
        return out;
    }
    let mut yards = Table::new(
        &["yard", "kg", "method", "CSF", "PC", "Y1 kg/CSF", "Y2 kg/PC"],
        &[1, 3, 4, 5, 6],
    );
    for yard in &season.yards {
        yards.row(vec![
            yard.name.clone(),
            kg(yard.yield_g),
            letter(yard.method),
            span(&or_dash(yard.colonies_low), &or_dash(yard.colonies_high)),
            span(&yard.producing_low.to_string(), &yard.producing_high.to_string()),
            span(&or_dash(yard.y1_low_g.map(kg)), &or_dash(yard.y1_high_g.map(kg))),
            span(&or_dash(yard.y2_low_g.map(kg)), &or_dash(yard.y2_high_g.map(kg))),
        ]);
    }
    yards.row(vec!["unassigned".to_owned(), kg(season.unassigned_g)]);
    yards.write(&mut out);
    out.push('\n');
    let mut hives = Table::new(&["hive", "yard", "kg", "method", "disputed kg"], &[2, 4]);
    for hive in &season.hives {
        let yard = hive.yard_id.map(|yard| house.label(yard.into()));
        let disputed = if hive.disputed_g == 0 {
            String::new()
        } else {
            kg(hive.disputed_g)
        };
        hives.row(vec![
            hive.code.clone(),
            or_dash(yard),
            kg(hive.yield_g),
            letter(hive.method),
            disputed,
        ]);
    }
    hives.write(&mut out);
    out.push('\n');
    let mut runs = Table::new(
        &["run", "day", "supers", "kg", "method", "unexplained", "of net", "band"],
        &[2, 3, 5, 6],
    );
    for run in &season.runs {
        runs.row(run_row(run));
    }
    runs.write(&mut out);
    out.push_str(
        "\nCSF: colonies fit to produce at the start of the flow. PC: colonies that honey was taken from.\n\
         Method A: supers weighed full and spun. B: weighed full, box by its class. C: by full frames. D: equal shares.\n",
    );
    out
}

fn run_row(run: &RunYield) -> Vec<String> {
    let mut row = vec![
        run.name.clone(),
        run.on.to_string(),
        run.supers.to_string(),
        kg(run.pot_g),
    ];
    row.push(letter(Some(run.method)));
    match &run.balance {
        Some(balance) => {
            let share = balance.unexplained_share_bp;
            let sign = if share < 0 { "-" } else { "" };
            row.push(kg(balance.unexplained_g));
            row.push(format!("{sign}{}.{:02} %", share.abs() / 100, share.abs() % 100));
            row.push(format!("{:?}", balance.band).to_lowercase());
        }
        None => row.push("not balanced".to_owned()),
    }
    row
}

/// A trace: back to the hives, forward to the buyers, holds, and the jars one by one.
pub(super) fn trace(house: &House, trace: &Trace) -> String {
    let mut out = format!("{} {}\n", trace.subject.kind.name(), trace.label);
    for held in &trace.holds {
        let _ = writeln!(
            out,
            "HOLD {:?} since {} on {} {}",
            held.reason,
            held.since.date_naive(),
            held.on.kind.name(),
            held.label
        );
    }
    steps(&mut out, "\nCame from", &trace.back);
    steps(&mut out, "\nWent to", &trace.forward);
    if !trace.affected.batches.is_empty() {
        let _ = writeln!(out, "\nJars in a recall from here: {}", trace.affected.jars);
        let head = [
            "batch",
            "filled",
            "in stock",
            "to buyers",
            "to the public",
            "given, broken, samples",
            "unexplained",
        ];
        let mut jars = Table::new(&head, &[1, 2, 3, 4, 5, 6]);
        for batch in &trace.affected.batches {
            let counts = [
                batch.jars_filled,
                batch.in_stock,
                batch.sold_to_customers,
                batch.sold_to_public,
            ];
            let mut row = vec![batch.code.clone()];
            row.extend(counts.iter().map(ToString::to_string));
            row.extend(
                [batch.given_broken_samples, batch.unexplained]
                    .iter()
                    .map(ToString::to_string),
            );
            jars.row(row);
        }
        jars.write(&mut out);
    }
    if !trace.affected.customers.is_empty() {
        let _ = writeln!(out, "\nTo ring");
        let mut buyers = Table::new(&["buyer", "phone"], &[]);
        for buyer in &trace.affected.customers {
            let state = house.get(*buyer).and_then(|state| state.as_customer());
            let phone = state.and_then(|state| state.phone.as_ref()).map(ToString::to_string);
            buyers.row(vec![house.label(*buyer), or_dash(phone)]);
        }
        buyers.write(&mut out);
    }
    out
}

/// Things of one kind on one line: what a person reads out on the telephone.
fn steps(out: &mut String, title: &str, steps: &[Step]) {
    if steps.is_empty() {
        return;
    }
    let _ = writeln!(out, "{title}");
    let mut kinds: Vec<&'static str> = Vec::new();
    for step in steps {
        if !kinds.contains(&step.subject.kind.name()) {
            kinds.push(step.subject.kind.name());
        }
    }
    for kind in kinds {
        let of_kind = steps.iter().filter(|step| step.subject.kind.name() == kind);
        let mut names: Vec<String> = of_kind
            .map(|step| match step.certainty {
                Certainty::Sure => step.label.clone(),
                Certainty::Possible => format!("{} (possible)", step.label),
            })
            .collect();
        names.sort();
        names.dedup();
        let _ = writeln!(out, "  {kind} ({}): {}", names.len(), names.join(", "));
    }
}

/// What to do next.
pub(super) fn next(next: &Next) -> String {
    if next.tasks.is_empty() {
        return "Nothing waits in the house.\n".to_owned();
    }
    let mut table = Table::new(&["", "what", "to do", "why", "rule"], &[]);
    for task in &next.tasks {
        let act = serde_json::to_value(task.act).ok();
        let act = act
            .as_ref()
            .and_then(|act| act.as_str())
            .unwrap_or_default()
            .replace('_', " ");
        let late = if task.late { "late" } else { "" };
        let what = format!("{} {}", task.subject.kind.name(), task.label);
        table.row(vec![late.to_owned(), what, act, task.why.clone(), task.rule.clone()]);
    }
    let mut out = String::new();
    table.write(&mut out);
    out
}
