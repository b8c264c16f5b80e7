//! What was refused, kept for somebody to look at: the newest thousand an operation.

use diesel_async::{AsyncPgConnection, RunQueryDsl};

use super::push::RefusedEntry;
use super::sql::{KeepLetters, TrimLetters};
use super::turn::Turn;
use crate::clock;

/// The most bytes that are kept of one.
const KEPT_MAX: usize = 64 * 1024;

/// Keeps what was refused.
pub(super) async fn keep(
    conn: &mut AsyncPgConnection,
    turn: &Turn,
    refused: &[&RefusedEntry],
) -> Result<(), diesel::result::Error> {
    if refused.is_empty() {
        return Ok(());
    }
    let ids: Vec<_> = refused.iter().map(|_| clock::new_id()).collect();
    let reasons: Vec<&str> = refused.iter().map(|refused| refused.reason).collect();
    let bytes: Vec<&str> = refused.iter().map(|refused| cut(&refused.sent)).collect();
    let operation = turn.who.operation.uuid();
    let letters = KeepLetters {
        operation: &operation,
        device: &turn.who.device.uuid(),
        received_at: &turn.received_at,
        ids: &ids,
        reasons: &reasons,
        bytes: &bytes,
    };
    letters.execute(conn).await?;
    TrimLetters { operation: &operation }.execute(conn).await?;
    Ok(())
}

fn cut(text: &str) -> &str {
    &text[..text.floor_char_boundary(KEPT_MAX)]
}
