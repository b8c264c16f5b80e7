//! Whether the same push costs more the more was told before: the same things season after season, up to 500,000
//! entries, and a database in which a thousand operations work.

use anyhow::Result;
use diesel_async::SimpleAsyncConnection;

use crate::aims::{Aim, judge};
use crate::bench::{Bench, Business, middle, rate};
use crate::ground::say;
use crate::harvest::Harvest;

/// Things of the operation that grows: with hives, yard, meter and scale about a thousand.
const SUPERS: usize = 600;
/// Entries before which it is measured, roughly.
const SIZES: [i64; 3] = [1_000, 50_000, 500_000];
/// Operations of the crowded database, and entries copied into each.
const OPERATIONS: u32 = 1_000;
const COPIED: u32 = 500;
/// Runs, of which the median counts.
const RUNS: usize = 3;
/// How much dearer an entry may become.
const DEARER: f64 = 1.3;

/// Measures and prints all of it.
pub(crate) async fn growth(bench: &mut Bench) -> Result<()> {
    say(&format!(
        "{:<34} {:>12} {:>12} {:>7}",
        "the same push, by 500", "entries/s", "us an entry", "times"
    ))?;
    let mut business = bench.business().await?;
    let mut harvest = Harvest::new(SUPERS);
    let told = harvest.register();
    bench.fill(&mut business, &told, 500).await?;
    let mut figures = Vec::new();
    for size in SIZES {
        while business.last_seq + 5_000 < size {
            // Nobody works through ten years within the quarter of an hour that a token lasts.
            business.access = bench.sign_in(&business.login).await?;
            let season = harvest.short_season();
            bench.fill(&mut business, &season, 500).await?;
        }
        let what = format!("after {} entries", business.last_seq);
        let took = an_entry(bench, &mut business, &mut harvest).await?;
        line(&what, took, figures.first().copied())?;
        figures.push(took);
    }
    bench.crowd_in().await?;
    let mut business = bench.business().await?;
    let mut harvest = Harvest::new(SUPERS);
    let told = harvest.register();
    bench.fill(&mut business, &told, 500).await?;
    let took = an_entry(bench, &mut business, &mut harvest).await?;
    line(
        &format!("beside {OPERATIONS} operations"),
        took,
        figures.first().copied(),
    )?;
    let first = figures.first().copied().unwrap_or(f64::NAN);
    for (size, took) in SIZES.iter().zip(&figures).skip(1) {
        judge(
            &format!("after {size} entries"),
            took / first,
            " times",
            Aim::AtMost(DEARER),
        )?;
    }
    judge(
        &format!("beside {OPERATIONS} operations"),
        took / first,
        " times",
        Aim::AtMost(DEARER),
    )
}

fn line(what: &str, took: f64, first: Option<f64>) -> Result<()> {
    let times = first.map_or(1.0, |first| took / first);
    say(&format!(
        "{what:<34} {:>12.0} {:>12.1} {times:>7.2}",
        1.0 / took,
        took * 1e6
    ))
}

/// Seconds an entry of short seasons, each into settled tables.
async fn an_entry(bench: &mut Bench, business: &mut Business, harvest: &mut Harvest) -> Result<f64> {
    let mut runs = Vec::new();
    for _ in 0..RUNS {
        bench.settle().await?;
        let season = harvest.short_season();
        let took = bench.fill(business, &season, 500).await?;
        runs.push(1.0 / rate(season.len(), took));
    }
    Ok(middle(runs))
}

impl Bench {
    /// Copies what the first business has into a thousand others.
    async fn crowd_in(&mut self) -> Result<()> {
        let copy = |table: &str, columns: &str, seq: &str| {
            format!(
                "insert into {table} (operation_id, {columns})
                 select o.business, {columns} from crowd o, {table} t
                  where t.operation_id = (select operation_id from operation_ledger order by last_seq desc limit 1)
                    and t.{seq} <= {COPIED};"
            )
        };
        let entry = "seq, id, kind, v, body, device_id, author_id, device_counter, saw, happened_at, utc_offset_min,
                     effective_at, received_at, content_hash, chain, corrects, quarantine";
        let all = format!(
            "create temporary table crowd as select gen_random_uuid() as business from generate_series(1, {OPERATIONS});
             insert into operation select (jsonb_populate_record(one.o, jsonb_build_object('id', c.business))).*
               from crowd c, (select o from operation o limit 1) one;
             {} {}
             insert into state_row (operation_id, kind, id, changed_seq, status, flags, state, memo, fold_version)
             select c.business, 'hive', gen_random_uuid(), n, 'in_use', 0, '{{}}', '{{}}', 0
               from crowd c, generate_series(1, {COPIED}) n;
             drop table crowd",
            copy("entry", entry, "seq"),
            copy("entry_subject", "kind, subject_id, seq", "seq"),
        );
        self.written.1.batch_execute(&all).await?;
        Ok(())
    }
}
