//! What is said when one of several statements fails that were sent together.

use diesel::result::Error;

/// What PostgreSQL says to every statement after the one that failed.
const ABORTED: &str = "current transaction is aborted";

/// Both answers, or why there are none: not that the transaction is aborted, but what aborted it.
pub(super) fn both<A, B>(one: Result<A, Error>, other: Result<B, Error>) -> Result<(A, B), Error> {
    match (one, other) {
        (Ok(one), Ok(other)) => Ok((one, other)),
        (Err(one), Err(other)) => Err(if only_aborted(&one) { other } else { one }),
        (Err(error), Ok(_)) | (Ok(_), Err(error)) => Err(error),
    }
}

fn only_aborted(error: &Error) -> bool {
    matches!(error, Error::DatabaseError(_, about) if about.message().contains(ABORTED))
}

#[cfg(test)]
mod tests {
    use diesel::result::DatabaseErrorKind;

    use super::*;

    fn failed(message: &str) -> Error {
        Error::DatabaseError(DatabaseErrorKind::Unknown, Box::new(message.to_owned()))
    }

    #[test]
    fn the_cause_is_told_whichever_answer_is_read_first() {
        let (aborted, full) = (
            "current transaction is aborted, commands ignored",
            "No space left on device",
        );
        for (one, other) in [(aborted, full), (full, aborted)] {
            let error = both::<(), ()>(Err(failed(one)), Err(failed(other))).expect_err("both failed");
            assert_eq!(error.to_string(), full);
        }
        assert_eq!(
            both(Ok(1), Err::<(), _>(failed(full)))
                .expect_err("one failed")
                .to_string(),
            full
        );
        assert_eq!(both(Ok(1), Ok(2)).expect("both answered"), (1, 2));
    }
}
