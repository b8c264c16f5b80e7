//! The first statement of every transaction: from a checked token to who it is, as of now.
//!
//! Nothing is cached. A writer asks again after it has the operation's turn, so that a revocation which
//! committed first wins.

use std::sync::{Arc, OnceLock};

use diesel::OptionalExtension;
use diesel_async::{AsyncPgConnection, RunQueryDsl};
use domain::ids::{DeviceId, MemberId, OperationId, SessionId};
use uuid::Uuid;

use super::role::{Right, Role};

/// What a checked access token says: which session, and of which epoch. Not yet who, nor whether that still holds.
#[derive(Debug, Clone)]
pub struct Bearer {
    /// The session.
    pub session: SessionId,
    /// The member's epoch when the token was made.
    pub epoch: i32,
    /// Set once the operation is known, so that the request's log line can name it.
    pub seen: Arc<OnceLock<OperationId>>,
}

/// How a device stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DeviceState {
    /// Everything its role allows.
    Active,
    /// Its bearer has left: it may push what it still holds, and that is quarantined.
    Left,
}

/// Who this transaction works for, read in this transaction.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Who {
    /// The business.
    pub operation: OperationId,
    /// The person.
    pub member: MemberId,
    /// The device.
    pub device: DeviceId,
    /// The session.
    pub session: SessionId,
    /// The person's role as of now.
    pub role: Role,
    /// How the device stands as of now.
    pub device_state: DeviceState,
    /// Whether the password was given within the last five minutes.
    pub confirmed: bool,
}

/// Why somebody is not let in, or not let do something.
#[derive(Debug, thiserror::Error)]
pub enum EnterRefused {
    /// Signed out, expired, or ended by a change of the member.
    #[error("the session is over")]
    SessionOver,
    /// The device was revoked as lost, or left too long ago, or left and asks for more than a push.
    #[error("the device was revoked")]
    DeviceRevoked,
    /// The role does not include this.
    #[error("the role {} does not include this", .0.word())]
    Role(Role),
    /// The password was not given lately.
    #[error("the password is needed again")]
    NotConfirmed,
    /// The database refused the question.
    #[error("the session could not be read")]
    Database(#[from] diesel::result::Error),
}

pub(crate) type EnterRow = (Uuid, Uuid, Uuid, String, String, bool);

#[allow(missing_docs, reason = "the macro makes helpers that cannot carry comments")]
mod sql {
    use diesel::sql_types::{Integer, Uuid as SqlUuid};

    diesel::define_sql_function! {
        /// See the migration `people_and_devices`.
        fn enter(sid: SqlUuid, epoch: Integer) -> Record<(SqlUuid, SqlUuid, SqlUuid, Text, Text, Bool)>;
    }
}

/// Opens the operation of this session for this transaction and says who it is.
///
/// # Errors
/// When the session is over or the device was revoked as lost.
pub async fn enter(conn: &mut AsyncPgConnection, bearer: &Bearer) -> Result<Who, EnterRefused> {
    let question = diesel::select(sql::enter(bearer.session.uuid(), bearer.epoch));
    let row: Option<EnterRow> = question.get_result(conn).await.optional()?;
    bearer.entered(row.ok_or(EnterRefused::SessionOver)?)
}

impl Bearer {
    /// Who it is, by what the database says of the session.
    pub(crate) fn entered(&self, row: EnterRow) -> Result<Who, EnterRefused> {
        let (operation, member, device, role, state, confirmed) = row;
        let device_state = match state.as_str() {
            "active" => DeviceState::Active,
            "left" => DeviceState::Left,
            _ => return Err(EnterRefused::DeviceRevoked),
        };
        let operation = OperationId::from_uuid(operation);
        self.seen.get_or_init(|| operation);
        Ok(Who {
            operation,
            member: MemberId::from_uuid(member),
            device: DeviceId::from_uuid(device),
            session: self.session,
            role: Role::from_word(&role).ok_or(EnterRefused::SessionOver)?,
            device_state,
            confirmed,
        })
    }
}

impl Who {
    /// Checks a right. A device that has left keeps [`Right::Push`] and nothing else.
    ///
    /// # Errors
    /// When the device has left, or the role does not include it.
    pub fn may(&self, right: Right) -> Result<(), EnterRefused> {
        if self.device_state == DeviceState::Left && right != Right::Push {
            return Err(EnterRefused::DeviceRevoked);
        }
        if self.role.may(right) {
            Ok(())
        } else {
            Err(EnterRefused::Role(self.role))
        }
    }

    /// Checks a right that also wants the password to have been given within the last five minutes.
    ///
    /// # Errors
    /// As [`Who::may`], and when the password was not given lately.
    pub fn may_now(&self, right: Right) -> Result<(), EnterRefused> {
        self.may(right)?;
        if self.confirmed {
            Ok(())
        } else {
            Err(EnterRefused::NotConfirmed)
        }
    }

    /// Checks that somebody of this role may be dealt with: nobody reaches above their own.
    ///
    /// # Errors
    /// When the other role is higher.
    pub fn may_deal_with(&self, other: Role) -> Result<(), EnterRefused> {
        if other <= self.role {
            Ok(())
        } else {
            Err(EnterRefused::Role(self.role))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn who(role: Role, device_state: DeviceState) -> Who {
        let id = Uuid::nil();
        Who {
            operation: OperationId::from_uuid(id),
            member: MemberId::from_uuid(id),
            device: DeviceId::from_uuid(id),
            session: SessionId::from_uuid(id),
            role,
            device_state,
            confirmed: false,
        }
    }

    #[test]
    fn a_device_that_left_may_push_and_nothing_else() {
        let left = who(Role::Owner, DeviceState::Left);
        assert!(left.may(Right::Push).is_ok());
        for right in [Right::Read, Right::ReadCustomers, Right::Office, Right::Owner] {
            assert!(matches!(left.may(right), Err(EnterRefused::DeviceRevoked)));
        }
    }

    #[test]
    fn sensitive_rights_want_the_password_again() {
        let mut owner = who(Role::Owner, DeviceState::Active);
        assert!(matches!(owner.may_now(Right::Owner), Err(EnterRefused::NotConfirmed)));
        owner.confirmed = true;
        assert!(owner.may_now(Right::Owner).is_ok());
    }

    #[test]
    fn an_office_does_not_deal_with_an_owner() {
        let office = who(Role::Office, DeviceState::Active);
        assert!(office.may_deal_with(Role::Owner).is_err());
        assert!(office.may_deal_with(Role::Office).is_ok());
    }
}
