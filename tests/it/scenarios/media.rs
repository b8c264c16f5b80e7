//! Photos that come days after their entry: in the data folder, in a bucket, and through two services at once.

use std::path::Path;
use std::time::{Duration, SystemTime};

use anyhow::{Context, Result, ensure};
use api::config::Secret;
use reqwest::Method;
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use tests::{Answer, Client, Service, invariants};

use super::bucket::Bucket;
use super::{new_super, phone, row};

/// The bytes of something that begins as a photo does.
fn photo(size: usize) -> Vec<u8> {
    let mut photo = vec![0xff, 0xd8, 0xff, 0xe0];
    photo.extend(
        (0..)
            .flat_map(|n: u32| (n.wrapping_mul(2_654_435_761) >> 7).to_be_bytes())
            .take(size - 4),
    );
    photo
}

fn name_of(photo: &[u8]) -> String {
    Sha256::digest(photo).iter().map(|byte| format!("{byte:02x}")).collect()
}

async fn piece(client: &Client, name: &str, bytes: &[u8], offset: usize, of: usize) -> Result<Answer> {
    let bytes = bytes.to_vec();
    let path = format!("/v1/photos/{name}?offset={offset}&of={of}");
    let shape =
        |request: reqwest::RequestBuilder| request.header("content-type", "application/octet-stream").body(bytes);
    client.raw(Method::PATCH, &path, shape).await
}

async fn begin(client: &Client, name: &str) -> Result<Value> {
    let body = json!({ "sha256": name });
    client.post("/v1/photos", &body).await?.expect_status(200)
}

/// Sends a photo as a phone does: asks, goes on, and asks again where it was told to.
async fn send(client: &Client, photo: &[u8], size: usize) -> Result<()> {
    let name = name_of(photo);
    for _ in 0..1000 {
        let there = begin(client, &name).await?;
        if there["complete"] == true {
            return Ok(());
        }
        let offset = usize::try_from(there["offset"].as_u64().context("no offset")?)?;
        let end = photo.len().min(offset + size);
        let answer = piece(client, &name, &photo[offset..end], offset, photo.len()).await?;
        ensure!(matches!(answer.status, 200 | 412), "{} {}", answer.status, answer.text);
    }
    anyhow::bail!("it never became whole")
}

async fn read(client: &Client, name: &str) -> Result<Vec<u8>> {
    let (media_type, bytes) = client.bytes(&format!("/v1/photos/{name}")).await?;
    ensure!(media_type == "image/jpeg", "{media_type}");
    Ok(bytes)
}

async fn in_a_bucket() -> Result<(Bucket, Service)> {
    let bucket = Bucket::start().await?;
    let settings = bucket.settings()?;
    let service = Service::start_with(|config| config.photos = Some(settings)).await?;
    Ok((bucket, service))
}

/// Makes all files under a folder three days older.
fn age(folder: &Path) -> Result<()> {
    let three_days_ago = SystemTime::now() - Duration::from_secs(3 * 24 * 3_600);
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            age(&path)?;
        } else {
            let file = std::fs::File::options().append(true).open(&path)?;
            file.set_modified(three_days_ago)?;
        }
    }
    Ok(())
}

/// Where photos are kept, in files under this folder in the end, makes no difference to a phone.
async fn media_later_at(service: &mut Service, kept: &Path) -> Result<()> {
    let mut phone = phone(service).await?;
    let foreign = service.other_operation().await?.owner();
    let photo = photo(600_004);
    let name = name_of(&photo);
    let (id, data) = new_super(41);
    phone.record("super_registered", data)?;
    phone.book.outbox[0]["photos"] = json!([name]);
    phone.sync_patiently(3).await?;
    let counts = |phone: &tests::FieldPhone| row(phone, "super", id)["label"] == "041";
    assert!(counts(&phone), "the entry counts without its photo");
    let client = phone.client.clone();
    assert_eq!(begin(&client, &name).await?, json!({ "offset": 0, "complete": false }));
    let half = 300_000;
    piece(&client, &name, &photo[..half], 0, photo.len())
        .await?
        .expect_status(200)?;
    // Three days later, after a restart of the service: it asks how much is there, and goes on from it.
    age(kept)?;
    service.stop().await?;
    let twin = service.twin().await?;
    phone.client = phone.client.elsewhere(&twin.url);
    let client = phone.client.clone();
    assert_eq!(begin(&client, &name).await?["offset"], half);
    let twice = piece(&client, &name, &photo, 0, photo.len()).await?;
    assert!(twice.is_problem(412, "precondition-failed"));
    let early = client.get(&format!("/v1/photos/{name}")).await?;
    assert_eq!(early.status, 404, "not before it is whole");
    let mut wrong = photo[half..].to_vec();
    wrong[77] ^= 1;
    let refused = piece(&client, &name, &wrong, half, photo.len()).await?;
    assert_eq!(
        (refused.status, &refused.json["code"]),
        (422, &json!("wrong_checksum")),
        "{}",
        refused.text
    );
    phone.sync_patiently(3).await?;
    assert!(counts(&phone), "the entry is unharmed");
    assert_eq!(begin(&client, &name).await?["offset"], 0, "from the beginning");
    piece(&client, &name, &photo[..half], 0, photo.len())
        .await?
        .expect_status(200)?;
    let done = piece(&client, &name, &photo[half..], half, photo.len())
        .await?
        .expect_status(200)?;
    assert_eq!(done, json!({ "offset": photo.len(), "complete": true }));
    assert_eq!(read(&client, &name).await?, photo);
    let letter = b"Dear bees, this is not a photo.".as_slice();
    let refused = piece(&client, &name_of(letter), letter, 0, letter.len()).await?;
    assert_eq!((refused.status, &refused.json["code"]), (422, &json!("not_a_photo")));
    let foreign = foreign.elsewhere(&twin.url);
    assert_eq!(foreign.get(&format!("/v1/photos/{name}")).await?.status, 404);
    invariants(&service.database, &mut [&mut phone]).await
}

#[tokio::test]
async fn media_later() -> Result<()> {
    let mut service = Service::start().await?;
    let kept = service.data().join("photos");
    media_later_at(&mut service, &kept).await
}

#[tokio::test]
async fn media_later_in_a_bucket() -> Result<()> {
    let (bucket, mut service) = in_a_bucket().await?;
    media_later_at(&mut service, &bucket.folder).await?;
    let name = name_of(&photo(600_004));
    let whole = format!("jars/{}/{name}", service.operation.id);
    assert_eq!(
        bucket.objects()?,
        [(whole, 600_004)],
        "no piece, no trial, nothing refused is left"
    );
    assert!(!service.data().join("photos").exists(), "and nothing in the folder");
    Ok(())
}

#[tokio::test]
async fn pieces_of_one_photo_come_through_two_services() -> Result<()> {
    let (bucket, service) = in_a_bucket().await?;
    let elsewhere = service.data().join("other");
    std::fs::create_dir_all(&elsewhere)?;
    // Nothing in common but database, bucket and keys.
    let twin = service.twin_with(|config| config.data = elsewhere.clone()).await?;
    let here = phone(&service).await?.client;
    let there = here.elsewhere(&twin.url);
    let photo = photo(1_000_000);
    let name = name_of(&photo);
    for (turn, bytes) in photo.chunks(130_000).enumerate() {
        let client = if turn % 2 == 0 { &here } else { &there };
        assert_eq!(begin(client, &name).await?["offset"], turn * 130_000);
        piece(client, &name, bytes, turn * 130_000, photo.len())
            .await?
            .expect_status(200)?;
    }
    for client in [&here, &there] {
        assert_eq!(
            begin(client, &name).await?,
            json!({ "offset": photo.len(), "complete": true })
        );
        assert_eq!(read(client, &name).await?, photo);
    }
    assert_eq!(bucket.objects()?.len(), 1);
    assert!(!elsewhere.join("photos").exists());
    Ok(())
}

#[tokio::test]
async fn two_who_send_the_same_photo_at_once_do_not_harm_it() -> Result<()> {
    let (_bucket, service) = in_a_bucket().await?;
    let elsewhere = service.data().join("other");
    std::fs::create_dir_all(&elsewhere)?;
    let twin = service.twin_with(|config| config.data = elsewhere).await?;
    let here = phone(&service).await?.client;
    let there = here.elsewhere(&twin.url);
    let photo = photo(900_000);
    let (one, other) = tokio::join!(send(&here, &photo, 90_000), send(&there, &photo, 70_000));
    one.and(other)?;
    assert_eq!(read(&here, &name_of(&photo)).await?, photo);
    Ok(())
}

#[tokio::test]
async fn what_another_process_left_behind_is_taken_up_or_away() -> Result<()> {
    let (bucket, service) = in_a_bucket().await?;
    let client = phone(&service).await?.client;
    let photo = photo(300_000);
    let name = name_of(&photo);
    let pieces = format!("{}/{name}.part", service.operation.id);
    // Behind a gap: the pieces before it were removed.
    bucket.put(&format!("{pieces}/00250000"), &photo[250_000..])?;
    assert_eq!(begin(&client, &name).await?["offset"], 0);
    piece(&client, &name, &photo[..200_000], 0, photo.len())
        .await?
        .expect_status(200)?;
    assert_eq!(bucket.objects()?, [(format!("jars/{pieces}/00000000"), 200_000)]);
    // It put the last piece and ended before they were put together.
    bucket.put(&format!("{pieces}/00200000"), &photo[200_000..])?;
    assert_eq!(
        begin(&client, &name).await?,
        json!({ "offset": photo.len(), "complete": false })
    );
    let done = piece(&client, &name, &[], photo.len(), photo.len()).await?;
    assert_eq!(done.expect_status(200)?["complete"], true);
    assert_eq!(read(&client, &name).await?, photo);
    // It put them together and ended before the pieces were gone.
    bucket.put(&format!("{pieces}/00000000"), &photo[..200_000])?;
    assert_eq!(begin(&client, &name).await?["complete"], true);
    assert_eq!(bucket.objects()?.len(), 1);
    Ok(())
}

#[tokio::test]
async fn a_photo_in_too_many_pieces_begins_anew() -> Result<()> {
    let (bucket, service) = in_a_bucket().await?;
    let client = phone(&service).await?.client;
    let photo = photo(1_001);
    let name = name_of(&photo);
    for (offset, byte) in photo[..1_000].iter().enumerate() {
        let piece = format!("{}/{name}.part/{offset:08}", service.operation.id);
        bucket.put(&piece, &[*byte])?;
    }
    assert_eq!(begin(&client, &name).await?["offset"], 1_000);
    let refused = piece(&client, &name, &photo[1_000..], 1_000, photo.len()).await?;
    assert_eq!(
        (refused.status, &refused.json["code"]),
        (422, &json!("too_many_pieces"))
    );
    assert_eq!(bucket.objects()?, []);
    send(&client, &photo, 600).await
}

/// The photo waits and everything else goes on.
async fn waits(service: &Service, client: &Client, photo: &[u8], there: usize) -> Result<()> {
    let name = name_of(photo);
    for answer in [
        client.post("/v1/photos", &json!({ "sha256": name })).await?,
        piece(client, &name, &photo[there..], there, photo.len()).await?,
        client.get(&format!("/v1/photos/{name}")).await?,
    ] {
        assert!(answer.is_problem(503, "busy"), "{} {}", answer.status, answer.text);
        assert_eq!(answer.header("retry-after"), Some("30"));
        assert!(!answer.text.contains("bucket"), "{}", answer.text);
    }
    assert_eq!(service.stranger().get("/health/ready").await?.status, 200);
    let mut phone = tests::FieldPhone::new(client.clone());
    let (id, data) = new_super(42);
    phone.record("super_registered", data)?;
    phone.sync_patiently(3).await?;
    assert_eq!(row(&phone, "super", id)["label"], "042");
    Ok(())
}

#[tokio::test]
async fn a_bucket_that_is_away_or_silent_loses_nothing() -> Result<()> {
    let mut bucket = Bucket::start().await?;
    let mut settings = bucket.settings()?;
    settings.patience = Duration::from_secs(3);
    let service = Service::start_with(|config| config.photos = Some(settings)).await?;
    let photo = photo(500_000);
    let half = 250_000;
    for cut in ["away", "silent"] {
        let client = phone(&service).await?.client;
        let mut photo = photo.clone();
        photo.extend(cut.bytes());
        let name = name_of(&photo);
        piece(&client, &name, &photo[..half], 0, photo.len())
            .await?
            .expect_status(200)?;
        bucket.away().await;
        if cut == "silent" {
            bucket.silent().await?;
        }
        waits(&service, &client, &photo, half).await?;
        bucket.back().await?;
        assert_eq!(begin(&client, &name).await?["offset"], half);
        send(&client, &photo, half).await?;
        assert_eq!(read(&client, &name).await?, photo);
    }
    Ok(())
}

#[tokio::test]
async fn a_service_starts_while_its_bucket_is_away() -> Result<()> {
    let mut bucket = Bucket::start().await?;
    bucket.away().await;
    let settings = bucket.settings()?;
    let service = Service::start_with(|config| config.photos = Some(settings)).await?;
    let client = phone(&service).await?.client;
    let photo = photo(2_000);
    waits(&service, &client, &photo, 0).await?;
    bucket.back().await?;
    send(&client, &photo, 1_000).await
}

/// What a start says when it refuses.
async fn refused(change: impl FnOnce(&mut api::photos::BucketSettings), bucket: &Bucket) -> Result<String> {
    let mut settings = bucket.settings()?;
    change(&mut settings);
    match Service::start_with(|config| config.photos = Some(settings)).await {
        Ok(_) => anyhow::bail!("it started"),
        Err(error) => Ok(format!("{error:#}")),
    }
}

#[tokio::test]
async fn a_bucket_that_refuses_stops_the_start_in_a_sentence() -> Result<()> {
    let bucket = Bucket::start().await?;
    let at = format!(
        "YARDJAR_PHOTOS: the bucket honey/jars at http://{} cannot be",
        bucket.address
    );
    let unsigned = reqwest::Client::builder().no_proxy().build()?;
    let unsigned = unsigned.get(format!("http://{}/honey?list-type=2", bucket.address));
    assert_eq!(unsigned.send().await?.status(), 403, "signatures are checked");
    let wrong = refused(|to| to.secret = Secret::new("vinegar"), &bucket).await?;
    let says = "it answered 403 SignatureDoesNotMatch; look at YARDJAR_PHOTOS_SECRET";
    assert_eq!(wrong, format!("{at} written: {says}"));
    let unknown = refused(|to| to.key_id = Secret::new("wasp"), &bucket).await?;
    assert!(
        unknown.starts_with(&at) && unknown.ends_with("look at YARDJAR_PHOTOS_KEY_ID"),
        "{unknown}"
    );
    let careless = Bucket::careless().await?;
    let over = refused(|_| {}, &careless).await?;
    assert!(
        over.contains("put an object over another") && over.contains("If-None-Match"),
        "{over}"
    );
    assert_eq!(careless.objects()?, [], "the trial is taken away");
    Ok(())
}
