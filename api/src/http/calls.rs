//! Registering calls: alone for the workers that answer them, or with what the contract tells of each.
//!
//! To write the contract down takes tens of megabytes, which the allocator keeps, once for each worker. So a service
//! never does; it hands out the committed one, and a test compares that.

use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;

use actix_web::dev::HttpServiceFactory;
use actix_web::web::ServiceConfig as Alone;
use serde::Deserialize;
use serde::de::IgnoredAny;
use utoipa_actix_web::OpenApiFactory;
use utoipa_actix_web::service_config::ServiceConfig as WithContract;

/// The contract as it is handed out.
pub(super) const CONTRACT: &str = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../openapi/openapi.json"));

/// Takes in calls.
pub trait Calls {
    /// One more call.
    fn service<F: HttpServiceFactory + OpenApiFactory + 'static>(&mut self, call: F) -> &mut Self;
}

impl Calls for Alone {
    fn service<F: HttpServiceFactory + OpenApiFactory + 'static>(&mut self, call: F) -> &mut Self {
        Self::service(self, call)
    }
}

impl Calls for WithContract<'_> {
    fn service<F: HttpServiceFactory + OpenApiFactory + 'static>(&mut self, call: F) -> &mut Self {
        Self::service(self, call)
    }
}

/// Which methods a path offers, for a caller that tried another.
pub(super) fn offered(path: &str) -> Option<&'static str> {
    #[derive(Deserialize)]
    struct Told {
        paths: BTreeMap<String, BTreeMap<String, IgnoredAny>>,
    }
    static OFFERED: OnceLock<HashMap<String, String>> = OnceLock::new();
    let offered = OFFERED.get_or_init(|| {
        let told = serde_json::from_str::<Told>(CONTRACT).map_or_else(|_| BTreeMap::new(), |told| told.paths);
        let methods = |told: BTreeMap<String, IgnoredAny>| {
            let of = ["get", "post", "put", "patch", "delete"].into_iter();
            let of: Vec<String> = of
                .filter(|method| told.contains_key(*method))
                .map(str::to_uppercase)
                .collect();
            of.join(", ")
        };
        told.into_iter().map(|(path, told)| (path, methods(told))).collect()
    });
    offered.get(path).map(String::as_str)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_tells_its_methods() {
        assert_eq!(offered("/v1/sync/push"), Some("POST"));
        assert_eq!(offered("/v1/supers/{id}"), Some("GET, PATCH"));
        assert_eq!(offered("/v1/nowhere"), None);
    }
}
