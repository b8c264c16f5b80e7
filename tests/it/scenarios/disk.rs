//! The disk of the database is full: really full where the test may mount one of its own, else by the database's word.

use std::fs::File;
use std::io::{ErrorKind, Write};
use std::path::PathBuf;
use std::process::{Command, Stdio};

use anyhow::{Context, Result, ensure};
use serde_json::{Value, json};
use tests::{Answer, Database, FieldPhone, Service, Tried, invariants};
use uuid::Uuid;

use super::{phone, record_supers};
use crate::alone::Alone;

/// Room for a private PostgreSQL, and little more.
const SIZE: &str = "160m";

/// A disk of its own that is small enough to be filled. It is gone with this, whatever happened.
struct SmallDisk(PathBuf);

impl SmallDisk {
    /// None where this test may not mount anything.
    fn mount() -> Result<Option<Self>> {
        let at = std::env::temp_dir().join(format!("yardjar-disk-{}", Uuid::new_v4().simple()));
        std::fs::create_dir(&at)?;
        let mut mount = Command::new("mount");
        mount.args(["-t", "tmpfs", "-o", &format!("size={SIZE},mode=0755"), "yardjar-test"]);
        let mounted = mount.arg(&at).stderr(Stdio::null()).status();
        if mounted.is_ok_and(|status| status.success()) {
            return Ok(Some(Self(at)));
        }
        std::fs::remove_dir(&at)?;
        Ok(None)
    }

    fn ballast(&self) -> PathBuf {
        self.0.join("ballast")
    }

    /// Writes until there is room for nothing.
    fn fill(&self) -> Result<()> {
        let mut ballast = File::options().append(true).create(true).open(self.ballast())?;
        for piece in [1 << 20, 4096] {
            let bytes = vec![0x5a; piece];
            loop {
                match ballast.write(&bytes) {
                    Ok(_) => {}
                    Err(error) if error.kind() == ErrorKind::StorageFull => break,
                    Err(error) => return Err(error.into()),
                }
            }
        }
        Ok(())
    }

    fn empty(&self) -> Result<()> {
        Ok(std::fs::remove_file(self.ballast())?)
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let unmount = |how: &[&str]| {
            let told = Command::new("umount").args(how).arg(&self.0).status();
            told.is_ok_and(|status| status.success())
        };
        // Whoever still stands in it keeps it until he goes; nobody else sees it.
        let _ = unmount(&[]) || unmount(&["--lazy"]);
        let _ = std::fs::remove_dir(&self.0);
    }
}

/// Not taken, and asked to come again.
fn asked_to_come_again(answer: &Answer) -> Result<()> {
    ensure!(answer.status == 503, "{} {}", answer.status, answer.text);
    ensure!(answer.header("retry-after").is_some(), "when to come again");
    Ok(())
}

async fn entries(database: &Database) -> Result<Vec<String>> {
    database.texts("select count(*)::text as text from entry").await
}

/// Entries that need pages which are not there yet.
fn record_much(phone: &mut FieldPhone) -> Result<()> {
    for id in record_supers(phone, 250)? {
        let about: Value = json!([{ "kind": "super", "id": id }]);
        phone.record(
            "note_written",
            json!({ "about": about, "text": "propolis ".repeat(100) }),
        )?;
    }
    Ok(())
}

#[tokio::test]
async fn disk_full() -> Result<()> {
    let Some(disk) = SmallDisk::mount()? else {
        println!("nothing may be mounted here: the disk is full by the database's word only");
        return full_by_its_word().await;
    };
    // The service goes before its disk, however this ends.
    let mut alone = Alone::in_folder(&disk.0)?;
    alone.start().await?;
    let (_, mut phones) = alone.people(2).await?;
    let database = alone.database()?;
    let (writer, reader) = phones.split_at_mut(1);
    let (writer, reader) = (&mut writer[0], &mut reader[0]);
    record_supers(writer, 40)?;
    writer.sync_patiently(5).await?;
    record_much(writer)?;
    disk.fill()?;
    asked_to_come_again(&writer.client.push(&writer.book.outbox).await?)?;
    assert!(matches!(writer.send().await?, Tried::Again(..)));
    assert_eq!(writer.book.outbox.len(), 500, "the phone keeps what was not taken");
    assert_eq!(entries(&database).await?, ["40"], "no partial batch");
    reader.sync_patiently(3).await?;
    assert_eq!(reader.book.rows.len(), 40, "what is there can still be read");
    // No room for its log either: PostgreSQL ends itself, and cannot start again while nothing fits.
    for _ in 0..20 {
        disk.fill()?;
        if database
            .run("select pg_switch_wal(); create table more (n int); drop table more")
            .await
            .is_err()
        {
            break;
        }
    }
    ensure!(entries(&database).await.is_err(), "the log found room");
    for _ in 0..3 {
        asked_to_come_again(&writer.client.push(&writer.book.outbox).await?)?;
    }
    // Somebody makes room, and does nothing else.
    disk.empty()?;
    alone.ready().await.context("it recovers without help")?;
    assert_eq!(entries(&database).await?, ["40"]);
    writer.sync_patiently(10).await?;
    assert_eq!(entries(&database).await?, ["540"], "stored once");
    invariants(&database, &mut [writer, reader]).await
}

/// What PostgreSQL says when the disk has no room, said in the middle of the writing.
async fn full_by_its_word() -> Result<()> {
    let service = Service::start().await?;
    let mut phone = phone(&service).await?;
    record_supers(&mut phone, 30)?;
    let full = "create function no_room() returns trigger language plpgsql as $$ begin
                    if new.seq > 17 then raise exception 'could not extend file: No space left on device'
                        using errcode = 'disk_full'; end if; return new; end $$;
                create trigger no_room before insert on entry for each row execute function no_room()";
    service.database.run(full).await?;
    asked_to_come_again(&phone.client.push(&phone.book.outbox).await?)?;
    assert_eq!(entries(&service.database).await?, ["0"], "no partial batch");
    phone.client.get("/v1/sync/pull").await?.expect_status(200)?;
    service.database.run("drop trigger no_room on entry").await?;
    phone.sync_patiently(5).await.context("it recovers without help")?;
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn a_disk_that_is_full_by_the_databases_word_is_answered_alike() -> Result<()> {
    full_by_its_word().await
}
