//! The tests that need the real service, in one program.

#![allow(
    clippy::expect_used,
    reason = "a test that panics has failed, which is what it is for"
)]
#![allow(clippy::print_stdout, reason = "those that count something say how much it was")]

mod alone;
mod app_rules;
mod bodies;
mod contract;
mod contradictions;
mod demo;
mod doors;
mod files;
mod histories;
mod holds;
mod kill9;
mod kinds;
mod migrations;
mod no_filter;
mod phone_alike;
mod pool_of_one;
mod profile;
mod revoke;
mod rooms;
mod scenarios;
mod seasons;
mod sync;
mod tables;
mod yard_to_jar;
