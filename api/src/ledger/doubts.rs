//! What is doubtful about devices: numbers that have not arrived, numbers that came twice, clocks that were wrong.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use diesel::sql_types::{BigInt, Nullable, Text, Timestamptz, Uuid as SqlUuid};
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use uuid::Uuid;

use super::sql::statement;

/// The most entries that are named of one doubt.
const NAMED_MAX: usize = 20;

statement! {
    /// Doubtful entries that nobody has corrected, each with the other side if there is one.
    Doubtful -> (Text, SqlUuid, SqlUuid, Timestamptz, Nullable<SqlUuid>, Nullable<Timestamptz>),
    "select d.code, e.device_id, e.id, e.effective_at, o.id, o.effective_at
       from entry_doubt d
       join entry e on e.operation_id = d.operation_id and e.seq = d.seq
       left join entry o on o.operation_id = d.operation_id and o.seq = d.other_seq
      where d.operation_id = ",
    operation: Uuid as SqlUuid,
    " and not exists (select from entry c where c.operation_id = d.operation_id and c.quarantine is null
                        and (c.corrects = e.id or c.corrects = o.id))
      order by d.seq desc limit 1000",
}

statement! {
    /// The numbers of each device that have not arrived although later ones have.
    Gaps -> (SqlUuid, BigInt, BigInt),
    "select t.device_id, lower(r), upper(r) - 1 from device_tally t
      cross join lateral unnest(int8multirange(int8range(1, upper(t.counted))) - t.counted) r
      where t.operation_id = ",
    operation: Uuid as SqlUuid,
    " order by 1, 2",
}

/// An entry of a doubt: its id and when it happened.
pub(crate) type Told = (Uuid, DateTime<Utc>);

/// Something doubtful about a device.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct DeviceDoubt {
    /// Which device.
    pub(crate) device: Uuid,
    /// `gap`, `clock_suspect` or `device_cloned`.
    pub(crate) code: String,
    /// The entries it shows in, the newest first.
    pub(crate) entries: Vec<Told>,
    /// The numbers that are missing: first and last of each gap.
    pub(crate) missing: Vec<(i64, i64)>,
}

impl DeviceDoubt {
    /// The doubt in a sentence.
    pub(crate) fn sentence(&self) -> &'static str {
        match self.code.as_str() {
            "gap" => "this device has recorded entries that have not arrived: open it where there is signal",
            "device_cloned" => "two devices count as this one: revoke it, and enrol each of them anew",
            _ => "the clock of this device was wrong: look whether these times are right",
        }
    }
}

/// Every doubt about devices.
///
/// # Errors
/// When the database refuses.
pub(crate) async fn doubts(
    conn: &mut AsyncPgConnection,
    operation: Uuid,
) -> Result<Vec<DeviceDoubt>, diesel::result::Error> {
    type Read = (String, Uuid, Uuid, DateTime<Utc>, Option<Uuid>, Option<DateTime<Utc>>);
    let mut found: BTreeMap<(Uuid, String), DeviceDoubt> = BTreeMap::new();
    fn of(found: &mut BTreeMap<(Uuid, String), DeviceDoubt>, device: Uuid, code: String) -> &mut DeviceDoubt {
        found.entry((device, code.clone())).or_insert_with(|| DeviceDoubt {
            device,
            code,
            entries: Vec::new(),
            missing: Vec::new(),
        })
    }
    let rows: Vec<Read> = Doubtful { operation: &operation }.load(conn).await?;
    for (code, device, id, at, other, other_at) in rows {
        let doubt = of(&mut found, device, code);
        if doubt.entries.len() < NAMED_MAX {
            doubt.entries.push((id, at));
            doubt.entries.extend(other.zip(other_at));
        }
    }
    let gaps: Vec<(Uuid, i64, i64)> = Gaps { operation: &operation }.load(conn).await?;
    for (device, first, last) in gaps {
        of(&mut found, device, "gap".to_owned()).missing.push((first, last));
    }
    Ok(found.into_values().collect())
}
