//! The yardjar service: sign-in, ledger, read tables and REST over PostgreSQL.
//!
//! The rooms and who may look into which are described in DEVELOPERS.md. [`spawn`] starts the whole service inside
//! this process.

#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        reason = "a test that panics has failed, which is what it is for"
    )
)]

pub mod auth;
pub mod clock;
pub mod config;
pub mod database;
pub mod demo;
pub mod desk;
pub mod erasures;
mod failpoint;
pub mod http;
pub mod labels;
pub mod ledger;
pub mod ledger_commands;
pub mod local;
pub mod photos;
pub mod private_postgres;
pub mod projections;
pub mod qr;
pub mod schema;
pub mod serve;
mod side_by_side;
pub mod tls;
pub mod wire;

pub use config::Config;
pub use serve::{Running, SpawnRefused, spawn};
