//! An outbox that somebody brings to the office: the same entries through the same code. They keep the device that
//! recorded them; who handed them in stands beside them as their author.

use diesel_async::{AsyncConnection, AsyncPgConnection};
use domain::ids::DeviceId;
use serde_json::json;

use super::cursor::Cursor;
use super::push::{Outcome, RefusedEntry, push_for};
use super::{NewEntry, PushRefused, Turn};
use crate::auth::{Bearer, Right, audit, devices};

/// What became of an outbox.
#[derive(Debug)]
pub struct HandedIn {
    /// Where a reader is who holds everything now.
    pub head: Cursor,
    /// One an entry, in order, with its id.
    pub outcomes: Vec<(Option<uuid::Uuid>, Outcome)>,
}

/// Why an outbox is not taken.
#[derive(Debug, thiserror::Error)]
pub enum HandInRefused {
    /// The device was never one of this business.
    #[error("there is no such device")]
    NoSuchDevice,
    /// As for a push.
    #[error(transparent)]
    Push(#[from] PushRefused),
}

impl From<diesel::result::Error> for HandInRefused {
    fn from(error: diesel::result::Error) -> Self {
        Self::Push(error.into())
    }
}

/// Takes in some entries of an outbox, in one transaction.
///
/// # Errors
/// When the bearer has no right to it, there is no such device, or the database refuses.
pub async fn hand_in(
    conn: &mut AsyncPgConnection,
    bearer: &Bearer,
    device: DeviceId,
    entries: &[Result<NewEntry, RefusedEntry>],
) -> Result<HandedIn, HandInRefused> {
    conn.transaction(async |conn| {
        let mut turn = Turn::begin(conn, bearer, Right::Office)
            .await
            .map_err(PushRefused::from)?;
        let bearer = turn.who;
        devices::find(conn, device).await?.ok_or(HandInRefused::NoSuchDevice)?;
        let detail = json!({ "device": device, "entries": entries.len() });
        audit::note(conn, &bearer, "hand-in", &detail).await?;
        turn.who.device = device;
        // How far the clock was off when it was saved, nobody can tell by now.
        let pushed = push_for(conn, &mut turn, entries, None).await?;
        Ok(HandedIn {
            head: pushed.head,
            outcomes: pushed.outcomes,
        })
    })
    .await
}
