//! Work on many things at once, by as many threads as there are cores. For what is pure and takes microseconds apiece:
//! reading and hashing the entries of a push, folding what they change.

use std::num::NonZero;
use std::panic::resume_unwind;
use std::thread;

/// Fewer than this a thread are not worth starting one.
const FEW: usize = 64;
/// More threads than this would only wait for one another.
const THREADS_MAX: usize = 4;

/// The answers for these, in their order.
pub(crate) fn side_by_side<T: Send, A: Send>(mut of: Vec<T>, work: impl Fn(T) -> A + Sync) -> Vec<A> {
    let cores = thread::available_parallelism().map_or(1, NonZero::get);
    let threads = (of.len() / FEW).clamp(1, cores.min(THREADS_MAX));
    let share = of.len().div_ceil(threads);
    let work = &work;
    thread::scope(|scope| {
        let mut begun = Vec::new();
        while of.len() > share {
            let last = of.split_off(of.len() - share);
            begun.push(scope.spawn(move || last.into_iter().map(work).collect::<Vec<A>>()));
        }
        let mut answers: Vec<A> = of.into_iter().map(work).collect();
        for thread in begun.into_iter().rev() {
            answers.extend(thread.join().unwrap_or_else(|panic| resume_unwind(panic)));
        }
        answers
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_come_in_the_order_of_what_was_asked() {
        for many in [0, 1, FEW, 3 * FEW, 1_000] {
            let doubled = side_by_side((0..many).collect(), |n| n * 2);
            assert_eq!(doubled, (0..many).map(|n| n * 2).collect::<Vec<_>>());
        }
    }
}
