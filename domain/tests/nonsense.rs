//! A short slice of what the example `fuzz` does for as long as one likes.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, missing_docs)]
// A test that panics has failed, which is what the panics are for.

#[path = "common/fuzz.rs"]
mod fuzz;

#[test]
fn some_thousand_entries_of_nonsense_are_refused_or_folded_and_nothing_panics() {
    for seed in [1, 7, 2_025] {
        let done = fuzz::run(seed, |done| done.told < 1_500);
        // Nonsense that is all refused at the door would prove nothing.
        assert!(done.read * 3 > done.told, "{done:?}");
        assert!(
            done.granted * 20 > done.decided && done.granted < done.decided,
            "{done:?}"
        );
        assert!(done.folded > done.houses && done.doubts > 0, "{done:?}");
    }
}
