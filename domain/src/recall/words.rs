//! A recall as one plain text, for an authority or for the telephone (RC-5).

use std::fmt::Write;

use chrono::{DateTime, Utc};

use super::{Buyer, Recall, Sent};
use crate::decide::kg;
use crate::trace::{AffectedBatch, Certainty};

/// Writes a recall down: what it is about, where that came from, every jar, everybody who has some.
#[must_use]
pub fn plain_text(recall: &Recall, now: DateTime<Utc>) -> String {
    let mut out = String::new();
    let list = |named: &[crate::holds::Named]| {
        let words: Vec<String> = named
            .iter()
            .map(|one| format!("{} {}", one.subject.kind.name(), one.label))
            .collect();
        if words.is_empty() {
            "nothing".to_owned()
        } else {
            words.join(", ")
        }
    };
    let jars = recall.affected.jars;
    // Writing to a text in memory cannot fail.
    let _ = writeln!(out, "TRACE of {}", now.format("%Y-%m-%d %H:%M UTC"));
    let _ = writeln!(out, "\nAbout: {}", list(&recall.from));
    let _ = writeln!(out, "\nONE STEP BACK\n{}", list(&recall.back));
    for supplier in &recall.suppliers {
        let _ = writeln!(out, "bought from {supplier}");
    }
    let _ = writeln!(
        out,
        "\nJARS: {jars} filled, {} declared; {} of them surely affected",
        kg(recall.affected.net_g),
        recall.jars_surely
    );
    for batch in &recall.affected.batches {
        let _ = writeln!(out, "{}", of_batch(batch));
    }
    let _ = writeln!(out, "\nONE STEP FORWARD");
    if recall.buyers.is_empty() {
        let _ = writeln!(out, "nothing has left the house");
    }
    for buyer in &recall.buyers {
        let _ = writeln!(out, "{}", of_buyer(buyer));
        for sent in &buyer.sent {
            let _ = writeln!(out, "  {}", of_goods(sent));
        }
    }
    out
}

fn how_sure(certainty: Certainty) -> &'static str {
    match certainty {
        Certainty::Sure => "",
        Certainty::Possible => ", possibly",
    }
}

fn of_batch(batch: &AffectedBatch) -> String {
    format!(
        "batch {}{}: {} filled = {} in stock + {} to named buyers + {} to the public + {} given, broken or sampled + {} \
         reworked + {} unexplained",
        batch.code,
        how_sure(batch.certainty),
        batch.jars_filled,
        batch.in_stock,
        batch.sold_to_customers,
        batch.sold_to_public,
        batch.given_broken_samples,
        batch.reworked,
        batch.unexplained
    )
}

fn of_buyer(buyer: &Buyer) -> String {
    let label = buyer.label.as_deref().unwrap_or("not named");
    let who = if buyer.customer_id.is_some() {
        ""
    } else {
        "the public: "
    };
    let mut words = vec![format!("{who}{label}")];
    words.extend(buyer.phone.as_ref().map(|phone| format!("telephone {phone}")));
    words.extend(
        buyer
            .address
            .as_ref()
            .map(|address| address.as_str().replace('\n', ", ")),
    );
    words.join("; ")
}

fn of_goods(sent: &Sent) -> String {
    let day = sent
        .at
        .map_or_else(|| "no date".to_owned(), |at| at.date_naive().to_string());
    let much = match (sent.jars, sent.weight_g) {
        (Some(jars), _) => format!("{jars} jars"),
        (None, grams) => kg(grams.unwrap_or(0)),
    };
    let note = sent
        .note_number
        .as_ref()
        .map_or_else(String::new, |note| format!(", note {note}"));
    format!(
        "{day}: {much} of {}{}{note}",
        sent.goods.label,
        how_sure(sent.certainty)
    )
}
