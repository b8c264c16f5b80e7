//! The committed contract is the one the service offers, and it says of every call what a reader needs.
//!
//! `UPDATE_CONTRACT=1 cargo test -p tests contract` writes it anew.

use std::path::Path;

use serde_json::{Map, Value};

/// Calls for which nobody needs to be signed in.
pub(crate) const OPEN: &[&str] = &[
    "GET /health/live",
    "GET /health/ready",
    "GET /metrics",
    "POST /v1/auth/sign-in",
    "POST /v1/auth/enrolments",
    "POST /v1/auth/refresh",
];

/// A call of the contract.
pub(crate) struct Call {
    /// `POST /v1/auth/sign-in`.
    pub(crate) name: String,
    pub(crate) method: String,
    pub(crate) path: String,
    pub(crate) told: Map<String, Value>,
}

/// Every call of the contract, by path and method.
pub(crate) fn calls() -> Vec<Call> {
    let contract = serde_json::to_value(api::http::contract()).unwrap_or_default();
    let mut calls = Vec::new();
    for (path, methods) in contract["paths"].as_object().cloned().unwrap_or_default() {
        let Value::Object(methods) = methods else {
            continue;
        };
        for (method, told) in methods {
            let (method, Value::Object(told)) = (method.to_uppercase(), told) else {
                continue;
            };
            calls.push(Call {
                name: format!("{method} {path}"),
                method,
                path: path.clone(),
                told,
            });
        }
    }
    assert!(!calls.is_empty(), "the contract has no call, so nothing is checked");
    calls
}

#[test]
fn the_committed_contract_is_the_one_that_is_served() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../openapi/openapi.json");
    let served = serde_json::to_string_pretty(&api::http::contract()).unwrap() + "\n";
    if std::env::var_os("UPDATE_CONTRACT").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, &served).unwrap();
    }
    let committed = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = committed.lines().zip(served.lines()).position(|(a, b)| a != b);
    assert!(
        committed == served,
        "openapi/openapi.json is not what the service offers, from line {}; \
         UPDATE_CONTRACT=1 cargo test -p tests contract writes it anew",
        differs.map_or(0, |line| line + 1)
    );
}

#[test]
fn every_call_has_a_name_a_summary_and_a_lock_or_is_listed_as_open() {
    let mut names = std::collections::BTreeSet::new();
    for Call { name, told, .. } in calls() {
        let text = |field: &str| told.get(field).and_then(Value::as_str).unwrap_or_default();
        assert!(!text("operationId").is_empty(), "{name} has no operationId");
        assert!(
            names.insert(text("operationId").to_owned()),
            "{name}: another call is called {} too",
            text("operationId")
        );
        assert!(!text("summary").is_empty(), "{name} has no summary");
        let locked = told
            .get("security")
            .and_then(Value::as_array)
            .is_some_and(|all| !all.is_empty());
        let open = OPEN.contains(&name.as_str());
        assert!(locked != open, "{name} is locked: {locked}, listed as open: {open}");
    }
    for open in OPEN {
        assert!(
            calls().iter().any(|call| call.name == *open),
            "{open} is listed as open and does not exist"
        );
    }
}

#[test]
fn every_refusal_is_a_problem_document() {
    for Call { name, told, .. } in calls() {
        let responses = told
            .get("responses")
            .and_then(Value::as_object)
            .cloned()
            .unwrap_or_default();
        assert!(!responses.is_empty(), "{name} has no response");
        for (status, response) in responses.iter().filter(|(status, _)| status.starts_with(['4', '5'])) {
            let types: Vec<&String> = response["content"]
                .as_object()
                .into_iter()
                .flat_map(Map::keys)
                .collect();
            assert_eq!(types, ["application/problem+json"], "{name} {status}");
        }
    }
}
