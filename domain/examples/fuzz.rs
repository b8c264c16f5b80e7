//! Tells the rules nonsense until the time or the count is up, and prints what it did and the seed.
//!
//! `cargo run -p domain --example fuzz -- --minutes 10`, or `--count 100000`; `--seed` repeats a run.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs
)]
// A run that panics has found something, which is what it is for.

use std::time::{Duration, Instant};

#[path = "../tests/common/fuzz.rs"]
mod fuzz;

fn main() {
    let mut minutes = None;
    let mut count = None;
    let mut seed = 1;
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let number: u64 = words.next().and_then(|number| number.parse().ok()).expect("a number");
        match word.as_str() {
            "--minutes" => minutes = Some(number),
            "--count" => count = Some(number),
            "--seed" => seed = number,
            other => panic!("{other} is not known: --minutes, --count or --seed"),
        }
    }
    let most = count.unwrap_or(if minutes.is_some() { u64::MAX } else { 10_000 });
    let began = Instant::now();
    let until = minutes.map(|minutes| began + Duration::from_secs(60 * minutes));
    println!("seed {seed}");
    let done = fuzz::run(seed, |done| {
        done.told < most && until.is_none_or(|until| Instant::now() < until)
    });
    println!("{done:?} in {} s", began.elapsed().as_secs());
}
