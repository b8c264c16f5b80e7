//! The pieces of a photo in a bucket: which of them follow each other from the beginning, and which lie astray.
//!
//! A piece is an object named by where it begins, and is put only where none is and where the pieces before it end. So
//! whichever process looks sees the same chain and can go on with it. One lies astray only after those before it were
//! removed; it is in the way and goes.

/// The most pieces of a photo: as many as a bucket lists in one answer.
pub(super) const PIECES_MAX: usize = 1000;

/// A piece that is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Link {
    pub offset: u64,
    pub size: u64,
}

/// All pieces that are there.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Chain {
    /// Those that follow each other, in order.
    pub links: Vec<Link>,
    /// Where the last of them ends.
    pub end: u64,
    /// All others.
    pub astray: Vec<Link>,
}

impl Chain {
    pub(super) fn of(mut found: Vec<Link>) -> Self {
        found.sort_by_key(|link| link.offset);
        let mut chain = Self::default();
        for link in found {
            match chain.end.checked_add(link.size) {
                Some(end) if link.offset == chain.end && link.size > 0 => {
                    chain.links.push(link);
                    chain.end = end;
                }
                _ => chain.astray.push(link),
            }
        }
        chain
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link((offset, size): (u64, u64)) -> Link {
        Link { offset, size }
    }

    fn chain(found: &[(u64, u64)]) -> (u64, Vec<u64>) {
        let chain = Chain::of(found.iter().copied().map(link).collect());
        (chain.end, chain.astray.iter().map(|link| link.offset).collect())
    }

    #[test]
    fn pieces_follow_each_other_in_whatever_order_they_are_listed() {
        assert_eq!(chain(&[]), (0, vec![]));
        assert_eq!(chain(&[(30, 5), (0, 10), (10, 20)]), (35, vec![]));
    }

    #[test]
    fn behind_a_gap_and_within_another_piece_is_astray() {
        assert_eq!(chain(&[(10, 20)]), (0, vec![10]), "the first was removed");
        assert_eq!(chain(&[(0, 10), (20, 5)]), (10, vec![20]));
        assert_eq!(chain(&[(0, 10), (4, 6), (10, 1)]), (11, vec![4]));
        assert_eq!(chain(&[(0, 0)]), (0, vec![0]), "an empty one would never end");
        assert_eq!(chain(&[(0, u64::MAX), (u64::MAX, 1)]), (u64::MAX, vec![u64::MAX]));
    }
}
