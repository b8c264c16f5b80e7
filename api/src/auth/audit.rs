//! The books about people, devices and keys: rows that are only ever added, in the deed's own transaction.

use diesel_async::{AsyncPgConnection, RunQueryDsl};
use serde_json::Value;

use super::enter::Who;
use crate::clock;
use crate::schema::audit;

/// Notes a deed. `detail` holds ids and fixed words only, never a name or a free text.
///
/// # Errors
/// When the database refuses.
pub async fn note(
    conn: &mut AsyncPgConnection,
    who: &Who,
    deed: &str,
    detail: &Value,
) -> Result<(), diesel::result::Error> {
    use diesel::ExpressionMethods;
    let row = (
        audit::operation_id.eq(who.operation.uuid()),
        audit::id.eq(clock::new_id()),
        audit::at.eq(clock::now()),
        audit::member_id.eq(who.member.uuid()),
        audit::device_id.eq(who.device.uuid()),
        audit::deed.eq(deed),
        audit::detail.eq(detail),
    );
    diesel::insert_into(audit::table).values(row).execute(conn).await?;
    Ok(())
}
