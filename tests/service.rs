//! A running service with a database of its own, and the people who use it.

use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};

use anyhow::{Context, Result};
use api::auth::Role;
use api::auth::console::{self, NewOwner};
use api::auth::password::Hasher;
use api::config::{PasswordCost, Secret};
use api::{Config, Running};
use serde_json::json;
use uuid::Uuid;

use crate::client::{Client, Tokens};
use crate::phone::Phone;
use crate::server::{Database, leave_to_the_servers_thread, on_the_servers_thread};

/// A password that breaks no rule.
const PASSWORD: &str = "linden over the river 9";
static COUNT: AtomicU32 = AtomicU32::new(0);

/// A service on a free port with one business in it. Ends when dropped.
pub struct Service {
    /// Its database.
    pub database: Database,
    /// Its settings.
    pub config: Config,
    /// The business that is there from the start.
    pub operation: Operation,
    running: Option<Running>,
    folder: Folder,
}

/// A business and its first owner.
#[derive(Debug, Clone)]
pub struct Operation {
    /// Which business.
    pub id: Uuid,
    owner: Client,
}

/// The service's data: its token key lies there.
struct Folder(PathBuf);

impl Drop for Folder {
    fn drop(&mut self) {
        // What cannot be removed from the temporary folder is nobody's concern.
        let _ = std::fs::remove_dir_all(&self.0);
    }
}

impl Service {
    /// Starts a service with one business.
    ///
    /// # Errors
    /// When there is no database, or the service does not start.
    pub async fn start() -> Result<Self> {
        Self::start_with(|_| {}).await
    }

    /// The same with other settings.
    ///
    /// # Errors
    /// When there is no database, or the service does not start.
    pub async fn start_with(change: impl FnOnce(&mut Config)) -> Result<Self> {
        let database = Database::migrated().await?;
        let number = COUNT.fetch_add(1, Ordering::Relaxed);
        let folder = format!("yardjar-service-{}-{number}", std::process::id());
        let folder = Folder(std::env::temp_dir().join(folder));
        std::fs::create_dir_all(&folder.0)?;
        let mut config = Config::for_tests(database.url(), &folder.0);
        config.pool = 5;
        change(&mut config);
        let told = config.clone();
        let running = on_the_servers_thread(async move { Ok(api::spawn(told).await?) }).await?;
        let stranger = Client::stranger(running.url())?;
        let operation = found(&config, &stranger, "Linden Honey").await?;
        Ok(Self {
            database,
            config,
            operation,
            running: Some(running),
            folder,
        })
    }

    /// Where it listens, as the beginning of an address.
    #[must_use]
    pub fn url(&self) -> &str {
        self.operation.owner.url()
    }

    /// The folder with its data.
    #[must_use]
    pub fn data(&self) -> &std::path::Path {
        &self.folder.0
    }

    /// Somebody who is not signed in.
    #[must_use]
    pub fn stranger(&self) -> Client {
        self.operation.owner.with(None)
    }

    /// The first owner, on a browser, whose password was given just now.
    #[must_use]
    pub fn owner(&self) -> Client {
        self.operation.owner()
    }

    /// A new member of the first business; see [`Operation::member`].
    ///
    /// # Errors
    /// When the service refuses.
    pub async fn member(&self, role: Role) -> Result<Client> {
        self.operation.member(role).await
    }

    /// A new member of the first business with a phone; see [`Operation::phone`].
    ///
    /// # Errors
    /// When the service refuses.
    pub async fn phone(&self, role: Role) -> Result<Phone> {
        self.operation.phone(role).await
    }

    /// Another business in the same service, founded as the console does it.
    ///
    /// # Errors
    /// When the service refuses.
    pub async fn other_operation(&self) -> Result<Operation> {
        found(&self.config, &self.stranger(), "Heather Honey").await
    }
}

impl Service {
    /// Another running service on the same database, with the same keys and data.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn twin(&self) -> Result<Twin> {
        self.twin_with(|_| {}).await
    }

    /// The same with other settings.
    ///
    /// # Errors
    /// When it does not start.
    pub async fn twin_with(&self, change: impl FnOnce(&mut Config)) -> Result<Twin> {
        let mut told = self.config.clone();
        change(&mut told);
        let running = on_the_servers_thread(async move { Ok(api::spawn(told).await?) }).await?;
        Ok(Twin {
            url: running.url(),
            running: Some(running),
        })
    }

    /// Ends the service as somebody does who tells it to; waits until it has.
    ///
    /// # Errors
    /// When it has ended before.
    pub async fn stop(&mut self) -> Result<()> {
        let running = self.running.take().context("it has ended")?;
        on_the_servers_thread(async move {
            running.stop().await;
            Ok(())
        })
        .await
    }
}

/// A second service; ends when dropped.
pub struct Twin {
    /// Where it listens.
    pub url: String,
    running: Option<Running>,
}

impl Drop for Twin {
    fn drop(&mut self) {
        if let Some(running) = self.running.take() {
            leave_to_the_servers_thread(running.stop());
        }
    }
}

impl Drop for Service {
    fn drop(&mut self) {
        if let Some(running) = self.running.take() {
            leave_to_the_servers_thread(running.stop());
        }
    }
}

/// A new name to sign in with: the tests of one service never meet each other's.
fn new_login(role: Role) -> String {
    format!("{}-{}", role.word(), COUNT.fetch_add(1, Ordering::Relaxed))
}

async fn found(config: &Config, stranger: &Client, business: &str) -> Result<Operation> {
    let url = config.database_url.clone().context("the service has no database")?;
    let login = new_login(Role::Owner);
    let owner = NewOwner {
        business: business.to_owned(),
        name: "Ada".to_owned(),
        login: login.clone(),
        password: Secret::new(PASSWORD),
        invented: false,
    };
    let mut conn = api::database::as_owner(&url).await?;
    let hasher = Hasher::new(PasswordCost::Cheap)?;
    let (id, _) = console::add_owner(&mut conn, &hasher, &owner).await?;
    Ok(Operation {
        id: id.uuid(),
        owner: sign_in(stranger, &login).await?,
    })
}

async fn sign_in(stranger: &Client, login: &str) -> Result<Client> {
    let body = json!({ "login": login, "password": PASSWORD, "device_name": "Office computer" });
    let answer = stranger.post("/v1/auth/sign-in", &body).await?.expect_status(200)?;
    Ok(stranger.with(Some(Tokens::read(&answer, None)?)))
}

impl Operation {
    /// The first owner, on a browser, whose password was given just now.
    #[must_use]
    pub fn owner(&self) -> Client {
        self.owner.clone()
    }

    /// Enters a new member and gives a device of theirs: a browser where somebody has just signed in for office and
    /// owner, a phone that joined by a code for the others.
    ///
    /// # Errors
    /// When the service refuses.
    pub async fn member(&self, role: Role) -> Result<Client> {
        match role {
            Role::Viewer | Role::Field => Ok(self.phone(role).await?.client),
            Role::Office | Role::Owner => {
                let login = new_login(role);
                let id = Uuid::now_v7();
                let body = json!({ "id": id, "name": "Ben", "role": role, "login": login, "password": PASSWORD });
                self.owner.post("/v1/members", &body).await?.expect_status(201)?;
                sign_in(&self.owner.with(None), &login).await
            }
        }
    }

    /// Enters a new member, whatever the role, and enrols a phone for them.
    ///
    /// # Errors
    /// When the service refuses.
    pub async fn phone(&self, role: Role) -> Result<Phone> {
        let id = Uuid::now_v7();
        let body = json!({ "id": id, "name": "Cleo", "role": role });
        self.owner.post("/v1/members", &body).await?.expect_status(201)?;
        self.phone_for(id).await
    }

    /// Enrols another phone for somebody who is there.
    ///
    /// # Errors
    /// When the service refuses.
    pub async fn phone_for(&self, member: Uuid) -> Result<Phone> {
        let body = json!({ "member_id": member, "device_name": "Phone" });
        let code = self.owner.post("/v1/devices/codes", &body).await?.expect_status(201)?;
        let stranger = self.owner.with(None);
        let body = json!({ "code": code["code"] });
        let answer = stranger.post("/v1/auth/enrolments", &body).await?.expect_status(200)?;
        Ok(Phone::new(stranger.with(Some(Tokens::read(&answer, None)?))))
    }

    /// Revokes a device, as `left` or `lost`.
    ///
    /// # Errors
    /// When the service refuses.
    pub async fn revoke(&self, device: Uuid, kind: &str) -> Result<()> {
        let path = format!("/v1/devices/{device}/revocations");
        self.owner
            .post(&path, &json!({ "kind": kind }))
            .await?
            .expect_status(200)?;
        Ok(())
    }
}
