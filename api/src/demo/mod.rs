//! The demo: a made-up business with two seasons, loaded through the same calls that phones make.
//!
//! What happens is planned in pieces. `figures` has the tables, `yields` what colonies give, `supers` and `harvest` bring
//! it in, `extraction`, `house` and `market` take it further, `care` looks after the bees, `books` keeps hours and
//! costs, `incidents` tells what goes wrong, `diary` keeps everything and `plan` puts it together. One seed is one business. Here it is sent: four phones
//! join by one-use codes and push when `arrival` says that they have signal, after weeks without from the end of their
//! queue.

mod arrival;
mod books;
mod care;
mod containers;
mod diary;
mod extraction;
pub mod figures;
mod harvest;
mod house;
mod incidents;
mod market;
mod phone;
mod places;
mod plan;
mod supers;
#[cfg(test)]
mod tests;
mod weather;
pub mod yields;

use std::collections::BTreeMap;

use domain::ids::MemberId;
use domain::lot_code::LotCode;
use serde_json::json;

use self::diary::Person;
pub use self::diary::PlanRefused;
use self::phone::{Caller, Phone};
use self::plan::Plan;
pub use self::plan::{SEED, Size};
use crate::auth::console::{self, NewOwner, OwnerRefused};
use crate::auth::password::{HashRefused, Hasher};
use crate::clock::{self, NoRandomness};
use crate::config::{Config, Secret};
use crate::database;

/// The first thing the demo says.
pub const INVENTED: &str =
    "Everything in this demo is invented: the business, its people, places and buyers, and every figure.\n";

const BUSINESS: &str = "Brackwynd Honey House";
/// What the owner of the demo types to sign in.
pub const LOGIN: &str = "maren";

/// Why the demo could not be loaded.
#[derive(Debug, thiserror::Error)]
pub enum DemoRefused {
    /// No owner could be made.
    #[error(transparent)]
    Owner(#[from] OwnerRefused),
    /// Passwords cannot be hashed.
    #[error(transparent)]
    Hasher(#[from] HashRefused),
    /// The database cannot be reached.
    #[error("the database cannot be reached")]
    Database(#[from] diesel::ConnectionError),
    /// Nothing secret can be made.
    #[error(transparent)]
    Randomness(#[from] NoRandomness),
    /// The plan itself is wrong.
    #[error("the demo is planned wrongly")]
    Plan(#[from] PlanRefused),
    /// No answer came.
    #[error("the service did not answer the demo")]
    Call(#[from] Box<ureq::Error>),
    /// Another answer came than the one asked for.
    #[error("{call} answered {status}: {said}")]
    Answered {
        /// Which call.
        call: &'static str,
        /// The status.
        status: u16,
        /// The body.
        said: String,
    },
    /// An answer lacks something.
    #[error("the service's answer has no {field} that can be read")]
    Unreadable {
        /// What is missing.
        field: &'static str,
    },
    /// An entry was not stored.
    #[error("an entry of the demo was not stored: {result}")]
    NotStored {
        /// What the service said of it.
        result: String,
    },
    /// An entry could not be written.
    #[error("an entry of the demo cannot be written")]
    Json(#[from] serde_json::Error),
    /// The thread that loads ended by itself.
    #[error("the demo was interrupted")]
    Interrupted(#[from] tokio::task::JoinError),
}

/// What was loaded.
#[derive(Clone, Copy, Debug)]
pub struct Loaded {
    /// How many entries.
    pub entries: usize,
    /// A code on jars, to try.
    pub jar_code: LotCode,
}

/// Founds the made-up business in an empty database and loads its seasons through the service at `address`.
/// Answers what to tell the person at the console; nothing where the database was not empty.
///
/// # Errors
/// When anything of it fails. What was loaded by then stays; the demo's data folder may be removed.
pub async fn load(
    config: &Config,
    database: &Secret,
    address: &str,
    size: Size,
) -> Result<Option<String>, DemoRefused> {
    let password = console::pass_phrase()?;
    let hasher = Hasher::new(config.password_cost)?;
    let mut conn = database::as_owner(database).await?;
    let owner = NewOwner {
        business: BUSINESS.to_owned(),
        name: "Maren".to_owned(),
        login: LOGIN.to_owned(),
        password: password.clone(),
        invented: true,
    };
    if console::add_first_owner(&mut conn, &hasher, &owner).await?.is_none() {
        return Ok(None);
    }
    drop(conn);
    let (url, secret) = (address.to_owned(), password.clone());
    let loaded = tokio::task::spawn_blocking(move || tell(&url, &secret, size)).await??;
    Ok(Some(said(config, address, &password, &loaded)))
}

fn said(config: &Config, address: &str, password: &Secret, loaded: &Loaded) -> String {
    format!(
        "{entries} entries from four phones are in the ledger of {BUSINESS}.\n\
         \x20 address      {address}\n\
         \x20 login        {LOGIN}\n\
         \x20 pass phrase  {phrase} (shown this once)\n\
         \x20 data         {data}\n\
         To try, from another console:\n\
         \x20 YARDJAR_DATA={data} yardjar yields --season 2025\n\
         \x20 YARDJAR_DATA={data} yardjar trace {code}\n",
        entries = loaded.entries,
        phrase = password.expose(),
        data = config.data.display(),
        code = loaded.jar_code,
    )
}

/// Lets the four phones join the business of [`LOGIN`] and tell everything. It blocks.
///
/// # Errors
/// When the service refuses or does not answer.
pub fn tell(url: &str, password: &Secret, size: Size) -> Result<Loaded, DemoRefused> {
    let office = Caller::new(url).sign_in(LOGIN, password)?;
    let (operation, maren) = office.me()?;
    let plan = Plan::make(operation, size)?;
    let mut phones = join(&office, maren)?;
    arrive(&plan, &mut phones)?;
    Ok(Loaded {
        entries: plan.told.len(),
        jar_code: plan.jar_code,
    })
}

fn join(office: &Caller, maren: MemberId) -> Result<BTreeMap<Person, Phone>, DemoRefused> {
    let mut phones = BTreeMap::from([(Person::Maren, office.enrol(maren, "M")?)]);
    for (person, name, role, phone) in [
        (Person::Tobiah, "Tobiah", "field", "T"),
        (Person::Ilse, "Ilse", "field", "I"),
        (Person::Rook, "Rook", "office", "R"),
    ] {
        let id = MemberId::from_uuid(clock::new_id());
        office.post("/v1/members", &json!({ "id": id, "name": name, "role": role }))?;
        phones.insert(person, office.enrol(id, phone)?);
    }
    Ok(phones)
}

/// Every phone sends when it has signal; what it writes until the next time was written with the sight of that day.
fn arrive(plan: &Plan, phones: &mut BTreeMap<Person, Phone>) -> Result<(), DemoRefused> {
    let mut head = 0;
    for (sync, told) in plan.by_sync() {
        let Some(phone) = phones.get_mut(&sync.person) else {
            continue;
        };
        if told.is_empty() {
            phone.saw = head;
            continue;
        }
        let outbox = phone.record(&told)?;
        head = phone.send(&outbox, sync.newest_first)?.max(head);
        phone.saw = head;
    }
    Ok(())
}
