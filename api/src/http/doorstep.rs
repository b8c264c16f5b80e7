//! What plain HTTP from another machine gets: a page that says why the app cannot work so and what to do, and the
//! certificate of our own authority to be trusted. The same page stands at `/trust` for whoever is in already.

use std::fmt::Write;

use actix_web::http::header::{ACCEPT_LANGUAGE, CACHE_CONTROL, CONTENT_TYPE, HOST};
use actix_web::web::ServiceConfig;
use actix_web::{HttpRequest, HttpResponse, web};
use serde_json::json;

use super::web::{Strings, strings};
use super::{App, Problem};

/// What a phone understands as a certificate to be trusted (RFC 5280 names the form, browsers this type).
const CERTIFICATE: &str = "application/x-x509-ca-cert";

/// Adds what stands on both sides of the door.
pub(super) fn serve(cfg: &mut ServiceConfig) {
    cfg.route("/authority.crt", web::get().to(authority))
        .route("/trust", web::get().to(page));
}

/// Everything that plain HTTP gets.
pub(super) fn serve_only(cfg: &mut ServiceConfig) {
    super::web::serve_files(cfg);
    serve(cfg);
    cfg.route("/v1/{any:.*}", web::to(no_call))
        .default_service(web::get().to(page));
}

async fn no_call() -> HttpResponse {
    let says = "plain http is answered on this machine only; call by https";
    let body = json!({ "type": "https-needed", "title": "Upgrade Required", "status": 426, "detail": says });
    HttpResponse::UpgradeRequired()
        .insert_header((CONTENT_TYPE, "application/problem+json"))
        .json(body)
}

async fn authority(app: web::Data<App>) -> Result<HttpResponse, Problem> {
    let authority = app.access.authority().ok_or(Problem::NotFound)?;
    Ok(HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, CERTIFICATE))
        .insert_header((CACHE_CONTROL, "no-cache"))
        .insert_header(("content-disposition", "attachment; filename=\"yardjar.crt\""))
        .body(authority.der().to_vec()))
}

async fn page(app: web::Data<App>, request: HttpRequest) -> HttpResponse {
    let header = |name| request.headers().get(name).and_then(|value| value.to_str().ok());
    let language = if header(ACCEPT_LANGUAGE).unwrap_or("").starts_with("de") {
        "de"
    } else {
        "en"
    };
    let hosts = app.access.hosts();
    // The name by which somebody came, if the certificate is good for it.
    let asked = header(HOST).filter(|asked| hosts.iter().any(|host| host == asked));
    let address = asked
        .or(hosts.first().map(String::as_str))
        .or_else(|| header(HOST))
        .unwrap_or("localhost");
    let fingerprint = app.access.authority().map(crate::tls::Authority::fingerprint);
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/html; charset=utf-8"))
        .insert_header((CACHE_CONTROL, "no-cache"))
        .body(written(strings(language), language, address, fingerprint.as_deref()))
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// The page: why, then how a phone is told to trust this network's own authority, then the way in.
fn written(strings: &Strings, language: &str, address: &str, fingerprint: Option<&str>) -> String {
    let say = |key: &str| escaped(strings.get(key).map_or(key, String::as_str));
    let (version, address) = (super::web::version_name(), escaped(address));
    let mut main = format!("<h1>yardjar</h1><p>{}</p>", say("door.why"));
    if let Some(fingerprint) = fingerprint {
        let _ = write!(
            main,
            "<p class=\"caution\">{}</p><h2>{}</h2>",
            say("door.caution"),
            say("door.first")
        );
        let _ = write!(
            main,
            "<p><a class=\"act main\" href=\"/authority.crt\" download>{}</a></p>",
            say("door.fetch")
        );
        for phone in ["iphone", "android", "computer"] {
            let _ = write!(main, "<h3>{}</h3><ol>", say(&format!("door.{phone}")));
            for step in 1.. {
                let Some(text) = strings.get(&format!("door.{phone}.{step}")) else {
                    break;
                };
                let _ = write!(main, "<li>{}</li>", escaped(text));
            }
            main.push_str("</ol>");
        }
        let _ = write!(
            main,
            "<p>{}</p><p class=\"fingerprint\">{}</p><h2>{}</h2>",
            say("door.compare"),
            escaped(fingerprint),
            say("door.then")
        );
    }
    let _ = write!(
        main,
        "<p><a class=\"act main\" href=\"https://{address}/\">{}</a></p><p>https://{address}/</p>",
        say("door.open")
    );
    format!(
        "<!doctype html>\n<html lang=\"{language}\">\n<head>\n<meta charset=\"utf-8\">\n\
         <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n<title>yardjar</title>\n\
         <link rel=\"stylesheet\" href=\"/app/{version}/app.css\">\n</head>\n<body class=\"door\">\n\
         <main class=\"page\">{main}</main>\n</body>\n</html>\n"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_says_what_to_do_in_each_language_and_lets_nothing_through_as_markup() {
        for language in ["en", "de"] {
            let page = written(
                strings(language),
                language,
                "192.168.1.20:8470\"><script>",
                Some("AB:CD"),
            );
            assert!(page.contains("AB:CD") && page.contains("/authority.crt"));
            assert!(!page.contains("door.") && !page.contains("<script"), "{page}");
        }
        let given = written(strings("en"), "en", "honey.example:8470", None);
        assert!(!given.contains("/authority.crt") && given.contains("https://honey.example:8470/"));
    }
}
