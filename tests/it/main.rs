//! The tests that need the real service, in one program.

mod bodies;
mod contract;
mod contradictions;
mod doors;
mod kill9;
mod migrations;
mod no_filter;
mod pool_of_one;
mod revoke;
mod rooms;
mod tables;
mod yard_to_jar;
