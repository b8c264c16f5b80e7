//! The demo: a made-up business with one harvest, loaded through the same calls that phones make.
//!
//! What happens is planned in pieces: `places`, `harvest`, `extraction`, `house` and `market` tell it, `diary` keeps
//! it, `plan` puts it together. Here it is sent: four phones join by one-use codes and push, two of them late and from
//! the end of their queue, as after a day without signal.

mod diary;
mod extraction;
mod harvest;
mod house;
mod market;
mod phone;
mod places;
mod plan;
#[cfg(test)]
mod tests;

use std::collections::BTreeMap;

use domain::ids::MemberId;
use domain::lot_code::LotCode;
use serde_json::json;

use self::diary::Person;
pub use self::diary::PlanRefused;
use self::phone::{Caller, Phone};
use self::plan::{Plan, season_begins};
use crate::auth::console::{self, NewOwner, OwnerRefused};
use crate::auth::password::{HashRefused, Hasher};
use crate::clock::{self, NoRandomness};
use crate::config::{Config, Secret};
use crate::database;

/// The first thing the demo says.
pub const INVENTED: &str =
    "Everything in this demo is invented: the business, its people, places and buyers, and every figure.\n";

const BUSINESS: &str = "Brackwynd Honey House";
const LOGIN: &str = "maren";

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
struct Loaded {
    entries: usize,
    jar_code: LotCode,
}

/// Founds the made-up business in an empty database and loads its harvest through the service at `address`.
/// Answers what to tell the person at the console; nothing where the database was not empty.
///
/// # Errors
/// When anything of it fails. What was loaded by then stays; the demo's data folder may be removed.
pub async fn load(config: &Config, database: &Secret, address: &str) -> Result<Option<String>, DemoRefused> {
    let password = console::pass_phrase()?;
    let hasher = Hasher::new(config.password_cost)?;
    let mut conn = database::as_owner(database).await?;
    let owner = NewOwner {
        business: BUSINESS.to_owned(),
        name: "Maren".to_owned(),
        login: LOGIN.to_owned(),
        password: password.clone(),
    };
    if console::add_first_owner(&mut conn, &hasher, &owner).await?.is_none() {
        return Ok(None);
    }
    drop(conn);
    let (url, secret) = (address.to_owned(), password.clone());
    let loaded = tokio::task::spawn_blocking(move || tell(&url, &secret)).await??;
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

/// Lets the four phones join and tell everything.
fn tell(url: &str, password: &Secret) -> Result<Loaded, DemoRefused> {
    let office = Caller::new(url).sign_in(LOGIN, password)?;
    let (operation, maren) = office.me()?;
    let plan = Plan::make(operation)?;
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

/// Who sends when in the season, and whether from the end of the queue.
const ARRIVAL: [(Person, bool); 4] = [
    (Person::Maren, false),
    (Person::Rook, false),
    (Person::Tobiah, true),
    (Person::Ilse, true),
];

/// In spring everybody has signal and sees what the others wrote. In the season Tobiah and Ilse have none: what they
/// took off and spun arrives after the jars that were sold.
fn arrive(plan: &Plan, phones: &mut BTreeMap<Person, Phone>) -> Result<(), DemoRefused> {
    let mut head = 0;
    for phone_of in phones.iter_mut() {
        let (person, phone) = phone_of;
        let outbox = phone.record(&plan.of(*person, Some(season_begins()), None))?;
        head = phone.send(&outbox, false)?.max(head);
    }
    for (person, newest_first) in ARRIVAL {
        let Some(phone) = phones.get_mut(&person) else { continue };
        phone.saw = head;
        let outbox = phone.record(&plan.of(person, None, Some(season_begins())))?;
        phone.send(&outbox, newest_first)?;
    }
    Ok(())
}
