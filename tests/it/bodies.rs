//! Bodies that no honest program sends: each is refused as a problem document that says where.

use std::io::Write;

use anyhow::Result;
use reqwest::Method;
use serde_json::{Value, json};
use tests::{Answer, Client, Service};
use uuid::Uuid;

/// A path with a body that would read, and one field of it.
struct Target {
    client: Client,
    path: &'static str,
    good: Value,
    field: &'static str,
}

impl Target {
    async fn all(service: &Service) -> Result<Vec<Self>> {
        Ok(vec![
            Self {
                client: service.stranger(),
                path: "/v1/auth/sign-in",
                good: json!({ "login": "nobody", "password": "not a good one here", "device_name": "Here" }),
                field: "login",
            },
            Self {
                client: service.owner(),
                path: "/v1/devices/codes",
                good: json!({ "member_id": Uuid::now_v7(), "device_name": "Phone" }),
                field: "member_id",
            },
        ])
    }

    async fn send(&self, media_type: &'static str, body: impl Into<reqwest::Body>) -> Result<Answer> {
        let body = body.into();
        let shape = |request: reqwest::RequestBuilder| request.header("content-type", media_type).body(body);
        self.client.raw(Method::POST, self.path, shape).await
    }

    async fn send_json(&self, body: &Value) -> Result<Answer> {
        self.send("application/json", body.to_string()).await
    }
}

#[tokio::test]
async fn what_is_not_json_is_malformed() -> Result<()> {
    let service = Service::start().await?;
    for target in Target::all(&service).await? {
        let deep = format!("{}{}", "[".repeat(40), "]".repeat(40));
        let bodies: [&[u8]; 6] = [b"", b"{", b"{\"login\":", b"\xff\xfe", b"{} {}", deep.as_bytes()];
        for body in bodies {
            let answer = target.send("application/json", body.to_vec()).await?;
            let told = (target.path, String::from_utf8_lossy(body).into_owned(), &answer.text);
            assert_eq!(answer.status, 400, "{told:?}");
            assert_eq!(
                answer.header("content-type"),
                Some("application/problem+json"),
                "{told:?}"
            );
        }
    }
    Ok(())
}

#[tokio::test]
async fn a_field_that_does_not_exist_is_pointed_at() -> Result<()> {
    let service = Service::start().await?;
    for target in Target::all(&service).await? {
        let mut body = target.good.clone();
        body["colour/of~wax"] = json!("yellow");
        let answer = target.send_json(&body).await?;
        assert_eq!(answer.status, 400, "{} {}", target.path, answer.text);
        assert_eq!(answer.json["pointer"], "/colour~1of~0wax", "{}", answer.text);
    }
    Ok(())
}

#[tokio::test]
async fn a_field_of_the_wrong_type_or_none_is_pointed_at() -> Result<()> {
    let service = Service::start().await?;
    for target in Target::all(&service).await? {
        let pointer = format!("/{}", target.field);
        for wrong in [json!(7), json!(null), json!([]), json!({ "a": 1 }), json!("")] {
            let mut body = target.good.clone();
            body[target.field] = wrong;
            let answer = target.send_json(&body).await?;
            if target.path == "/v1/auth/sign-in" && body[target.field] == "" {
                // An empty login is nobody's; the service may also say so as a wrong credential.
                assert!([400, 401].contains(&answer.status), "{}", answer.text);
                continue;
            }
            assert_eq!(answer.status, 400, "{} {body} {}", target.path, answer.text);
            assert_eq!(
                answer.json["pointer"], pointer,
                "{} {body} {}",
                target.path, answer.text
            );
        }
        let mut body = target.good.clone();
        body.as_object_mut().map(|fields| fields.remove(target.field));
        let answer = target.send_json(&body).await?;
        assert!(answer.is_problem(400, "bad-field"), "{}", answer.text);
        assert_eq!(answer.json["pointer"], pointer, "{}", answer.text);
        for list in [json!([]), json!("text"), json!(null)] {
            let answer = target.send_json(&list).await?;
            assert!(
                answer.is_problem(400, "bad-field"),
                "{} {list} {}",
                target.path,
                answer.text
            );
        }
    }
    Ok(())
}

#[tokio::test]
async fn a_body_of_another_media_type_or_packing_is_not_read() -> Result<()> {
    let service = Service::start().await?;
    for target in Target::all(&service).await? {
        for media_type in [
            "text/plain",
            "application/x-www-form-urlencoded",
            "multipart/form-data",
            "json",
        ] {
            let answer = target.send(media_type, target.good.to_string()).await?;
            assert!(
                answer.is_problem(415, "unsupported-media-type"),
                "{media_type}: {}",
                answer.text
            );
        }
        let shape = |request: reqwest::RequestBuilder| request.header("content-encoding", "br").json(&target.good);
        let answer = target.client.raw(Method::POST, target.path, shape).await?;
        assert!(answer.is_problem(415, "unsupported-media-type"), "{}", answer.text);
    }
    Ok(())
}

#[tokio::test]
async fn five_megabytes_are_too_large_packed_or_not() -> Result<()> {
    let service = Service::start().await?;
    for target in Target::all(&service).await? {
        let mut body = target.good.clone();
        body["device_name"] = json!("a".repeat(5 << 20));
        let mut packer = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::fast());
        packer.write_all(body.to_string().as_bytes())?;
        let packed = packer.finish()?;
        let shape = |request: reqwest::RequestBuilder| {
            request
                .header("content-type", "application/json")
                .header("content-encoding", "gzip")
                .body(packed)
        };
        let answer = target.client.raw(Method::POST, target.path, shape).await?;
        assert!(answer.is_problem(413, "too-large"), "{} {}", target.path, answer.text);
        // A sender who is still sending may lose the connection instead of reading the answer.
        if let Ok(answer) = target.send_json(&body).await {
            assert!(answer.is_problem(413, "too-large"), "{} {}", target.path, answer.text);
        }
        assert_eq!(service.stranger().get("/health/live").await?.status, 200);
    }
    Ok(())
}
