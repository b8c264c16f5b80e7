//! What every integration test stands on: a real PostgreSQL, a running service, people with devices, a phone.
//!
//! Nothing is judged here, so nothing here is a test. A test that needs no service takes a [`Database`].

mod client;
mod credentials;
mod dice;
mod engine;
mod field_phone;
mod invariants;
mod journal;
mod phone;
mod server;
mod service;

pub use client::{Answer, Client, Tokens};
pub use credentials::{Forgery, forge};
pub use dice::Dice;
pub use field_phone::{Air, Book, FieldPhone, Tried};
pub use invariants::{invariants, invariants_of};
pub use phone::Phone;
pub use server::{Database, Row};
pub use service::{Operation, Service, Twin};
