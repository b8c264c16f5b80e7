//! The app for phone and office, out of the binary: the page, its modules, the service worker.
//!
//! Everything the page loads stands under an address that names the content of all of it, so it may be kept for ever
//! and modules of two versions never meet. The page itself and the service worker are asked for anew each time. A debug
//! build reads the files from the disk. What is absent: a rule of the trade, and any answer that depends on a session.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::sync::{Arc, OnceLock};
#[cfg(debug_assertions)]
use std::sync::{Mutex, PoisonError};
#[cfg(debug_assertions)]
use std::time::{Duration, Instant};

use actix_web::http::header::{
    ACCEPT_ENCODING, ACCEPT_LANGUAGE, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_TYPE, HeaderName, VARY,
};
use actix_web::web::ServiceConfig;
use actix_web::{HttpRequest, HttpResponse, web};
use brotli::enc::BrotliEncoderParams;
use rust_embed::RustEmbed;
use sha2::{Digest, Sha256};

use super::App;
use super::problem::Problem;

#[derive(RustEmbed)]
#[folder = "web/"]
struct Files;

/// The page and the service worker are written anew with the version of the rest.
const PAGE: &str = "index.html";
const WORKER: &str = "sw.js";
/// What stands for the version in them, and for the list of files.
const VERSION_MARK: &str = "{{version}}";
const FILES_MARK: &str = "{{files}}";
/// Whether all data is made up, in the page.
const INVENTED_MARK: &str = "{{invented}}";
/// Files that only an office needs: a phone does not fetch them beforehand.
const OFFICE_MARK: &str = "{{office}}";
const OFFICE: [&str; 3] = ["office/", "strings/office-", "strings/signs-"];
/// What the first picture is drawn by. The page names these and all they import, so that a browser asks for them at
/// once and not one import after another, each a round trip.
const FIRST: [&str; 3] = ["app.js", "screens/arrive.js", "screens/signin.js"];
const PRELOAD_MARK: &str = "{{preload}}";
/// The words of the first picture, in the language of the browser.
const WORDS_MARK: &str = "{{words}}";
const LANGUAGES: [&str; 2] = ["en", "de"];
/// How much of the hash names a version.
const VERSION_BYTES: usize = 8;

const KEEP_FOR_EVER: &str = "public, max-age=31536000, immutable";
const ASK_EACH_TIME: &str = "no-cache";

/// Every screen's address begins so; anything else is no page.
const SCREENS: &str = "/{screen:(yard|house|office|find|today|outbox|earlier|phone|signs|sign-in|join|n)(/.*)?}";

/// How hard files are packed while somebody waits: half the bytes of what is done to an answer in passing.
const QUICK: i32 = 5;

/// How hard they are packed meanwhile, once for all who come later: as hard as can be, which takes seconds.
const HARD: i32 = 11;

/// A file as it is, packed as soon as somebody asks for it so, and packed as well as can be.
struct File {
    plain: Cow<'static, [u8]>,
    quick: OnceLock<Option<Vec<u8>>>,
    hard: OnceLock<Option<Vec<u8>>>,
}

impl File {
    fn new(plain: Cow<'static, [u8]>) -> Self {
        Self {
            plain,
            quick: OnceLock::new(),
            hard: OnceLock::new(),
        }
    }

    /// Packed with brotli; nothing where that gains nothing.
    fn packed(&self) -> Option<&[u8]> {
        let quick = || self.quick.get_or_init(|| self.pack(QUICK));
        self.hard.get().unwrap_or_else(quick).as_deref()
    }

    fn pack(&self, quality: i32) -> Option<Vec<u8>> {
        let params = BrotliEncoderParams {
            quality,
            size_hint: self.plain.len(),
            ..BrotliEncoderParams::default()
        };
        let mut packed = Vec::new();
        brotli::BrotliCompress(&mut self.plain.as_ref(), &mut packed, &params).ok()?;
        Some(packed).filter(|packed| packed.len() < self.plain.len())
    }
}

/// A script without the lines that are only comments, and without indentation: those are for people who read the source.
/// Sound because no string of a script goes over a line; a test below looks.
fn bare(script: &str) -> String {
    let lines = script.lines().map(str::trim);
    let told = lines.filter(|line| !line.is_empty() && !line.starts_with("//"));
    told.fold(String::with_capacity(script.len()), |mut bare, line| {
        bare.push_str(line);
        bare.push('\n');
        bare
    })
}

fn served(name: &str, plain: Cow<'static, [u8]>) -> Cow<'static, [u8]> {
    match std::str::from_utf8(&plain) {
        Ok(script) if is_script(name) => Cow::Owned(bare(script).into_bytes()),
        _ => plain,
    }
}

fn is_script(name: &str) -> bool {
    name.rsplit_once('.').is_some_and(|(_, end)| end == "js")
}

/// The scripts that a script cannot run without, by their names from the top. What it imports while it runs is not among
/// them.
fn imports<'a>(name: &'a str, script: &'a str) -> impl Iterator<Item = String> + 'a {
    let told = script
        .lines()
        .filter(|line| line.starts_with("import ") || line.starts_with("} from "));
    told.filter_map(move |line| {
        let (_, quoted) = line.split_once(" from '")?;
        let (path, _) = quoted.split_once('\'')?;
        let mut folder: Vec<&str> = name.split('/').collect();
        folder.pop();
        for step in path.split('/') {
            match step {
                "." => {}
                ".." => drop(folder.pop()),
                step => folder.push(step),
            }
        }
        Some(folder.join("/"))
    })
}

/// Everything of the first picture, nearest first.
fn first_picture(files: &BTreeMap<String, Cow<'static, [u8]>>) -> Vec<String> {
    let mut found: Vec<String> = FIRST.iter().map(|&name| name.to_owned()).collect();
    let mut known: BTreeSet<String> = found.iter().cloned().collect();
    let mut at = 0;
    while let Some(name) = found.get(at).cloned() {
        let script = files.get(&name).map(|bytes| String::from_utf8_lossy(bytes));
        for needed in imports(&name, script.as_deref().unwrap_or_default()) {
            if known.insert(needed.clone()) {
                found.push(needed);
            }
        }
        at += 1;
    }
    found.retain(|name| files.contains_key(name));
    found
}

/// One version of the app.
struct Version {
    name: String,
    files: BTreeMap<String, File>,
    page: String,
    worker: String,
}

impl Version {
    fn read() -> Self {
        let found = Files::iter().filter_map(|name| Some((name.to_string(), Files::get(&name)?.data)));
        Self::of(found.collect())
    }

    fn of(mut files: BTreeMap<String, Cow<'static, [u8]>>) -> Self {
        let mut hash = Sha256::new();
        for (name, bytes) in &files {
            hash.update((name.len() as u64).to_be_bytes());
            hash.update(name);
            hash.update((bytes.len() as u64).to_be_bytes());
            hash.update(bytes);
        }
        let mut name = String::with_capacity(2 * VERSION_BYTES);
        for byte in hash.finalize().iter().take(VERSION_BYTES) {
            let _ = write!(name, "{byte:02x}");
        }
        let mut text = |file: &str| {
            let bytes = files.remove(file).unwrap_or_default();
            String::from_utf8_lossy(&bytes).replace(VERSION_MARK, &name)
        };
        let (page, worker) = (text(PAGE), text(WORKER));
        let ahead = |file: String| format!("<link rel=\"modulepreload\" href=\"/app/{name}/{file}\">");
        let ahead: Vec<String> = first_picture(&files).into_iter().map(ahead).collect();
        let page = page.replace(PRELOAD_MARK, &ahead.join("\n"));
        let of_office = |name: &&String| OFFICE.iter().any(|start| name.starts_with(start));
        let (office, all): (Vec<&String>, Vec<&String>) = files.keys().partition(of_office);
        let list = |names: &[&String]| serde_json::to_string(names).unwrap_or_else(|_| "[]".to_owned());
        let worker = bare(&worker)
            .replace(FILES_MARK, &list(&all))
            .replace(OFFICE_MARK, &list(&office));
        let file = |(name, plain): (String, Cow<'static, [u8]>)| {
            let plain = served(&name, plain);
            (name, File::new(plain))
        };
        Self {
            page,
            worker,
            name,
            files: files.into_iter().map(file).collect(),
        }
    }
}

/// A version, packed in the background: nobody waits for that, and no other call either.
fn fresh() -> Arc<Version> {
    let version = Arc::new(Version::read());
    let ahead = version.clone();
    std::thread::spawn(move || {
        for file in ahead.files.values() {
            file.hard.get_or_init(|| file.pack(HARD));
        }
    });
    version
}

/// The version that is served now.
#[cfg(not(debug_assertions))]
fn version() -> Arc<Version> {
    static VERSION: OnceLock<Arc<Version>> = OnceLock::new();
    VERSION.get_or_init(fresh).clone()
}

/// Whoever changes a module sees it after a reload. A page asks for dozens of files at once: they are looked at once a
/// second, and packed only if one changed.
#[cfg(debug_assertions)]
fn version() -> Arc<Version> {
    static READ: Mutex<Option<(Instant, Arc<Version>)>> = Mutex::new(None);
    let mut read = READ.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some((at, kept)) = &mut *read {
        if at.elapsed() < Duration::from_secs(1) {
            return kept.clone();
        }
        if Version::read().name == kept.name {
            *at = Instant::now();
            return kept.clone();
        }
    }
    let version = fresh();
    *read = Some((Instant::now(), version.clone()));
    version
}

/// The words of one language by their keys; plural forms are left out.
pub(super) type Strings = BTreeMap<String, String>;

/// The words of a language as the app has them.
pub(super) fn strings(language: &str) -> &'static Strings {
    static READ: OnceLock<[Strings; 2]> = OnceLock::new();
    let read = |language: &str| -> Strings {
        let file = Files::get(&format!("strings/{language}.json"))
            .map(|file| file.data)
            .unwrap_or_default();
        let all: BTreeMap<String, serde_json::Value> = serde_json::from_slice(&file).unwrap_or_default();
        all.into_iter()
            .filter_map(|(key, word)| Some((key, word.as_str()?.to_owned())))
            .collect()
    };
    let all = READ.get_or_init(|| [read("en"), read("de")]);
    if language == "de" { &all[1] } else { &all[0] }
}

/// Which version of the files is served now.
pub(super) fn version_name() -> String {
    version().name.clone()
}

/// The files alone, without the page of the app.
pub(super) fn serve_files(cfg: &mut ServiceConfig) {
    cfg.route("/app/{version}/{file:.+}", web::get().to(file));
}

/// Adds the app's addresses. They are pages and files, no operations of the contract.
pub(super) fn serve(cfg: &mut ServiceConfig) {
    cfg.route("/", web::get().to(page))
        .route("/sw.js", web::get().to(worker))
        .configure(serve_files)
        .route(SCREENS, web::get().to(page));
}

async fn page(request: HttpRequest, app: web::Data<App>) -> HttpResponse {
    let invented = if app.config.invented { "yes" } else { "no" };
    let page = version().page.replace(INVENTED_MARK, invented);
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/html; charset=utf-8"))
        .insert_header((CACHE_CONTROL, ASK_EACH_TIME))
        .insert_header((VARY, "accept-language"))
        .body(page.replace(WORDS_MARK, likely_language(&request)))
}

/// The language that the app will ask its words for, unless the person chose another.
fn likely_language(request: &HttpRequest) -> &'static str {
    let header = request.headers().get(ACCEPT_LANGUAGE);
    let wanted = header.and_then(|value| value.to_str().ok()).unwrap_or_default();
    let known = LANGUAGES.into_iter().find(|language| wanted.starts_with(language));
    known.unwrap_or(LANGUAGES[0])
}

async fn worker() -> HttpResponse {
    HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, "text/javascript; charset=utf-8"))
        .insert_header((CACHE_CONTROL, ASK_EACH_TIME))
        // It stands at the root already; said all the same, for proxies that move it.
        .insert_header((HeaderName::from_static("service-worker-allowed"), "/"))
        .body(version().worker.clone())
}

/// Whether the browser unpacks brotli; a weight of nought is not how browsers say no.
fn takes_packed(request: &HttpRequest) -> bool {
    let header = request
        .headers()
        .get(ACCEPT_ENCODING)
        .and_then(|value| value.to_str().ok());
    header.is_some_and(|header| header.split([',', ';']).any(|word| word.trim() == "br"))
}

async fn file(request: HttpRequest, asked: web::Path<(String, String)>) -> Result<HttpResponse, Problem> {
    let (named, file) = asked.into_inner();
    let version = version();
    // A module of another version must never be answered: the page would run half of each.
    if named != version.name {
        return Err(Problem::NotFound);
    }
    let found = version.files.get(&file).ok_or(Problem::NotFound)?;
    let mut answer = HttpResponse::Ok();
    answer
        .insert_header((CONTENT_TYPE, media_type(&file)))
        .insert_header((CACHE_CONTROL, KEEP_FOR_EVER))
        .insert_header((VARY, "accept-encoding"));
    Ok(match found.packed().filter(|_| takes_packed(&request)) {
        Some(packed) => answer.insert_header((CONTENT_ENCODING, "br")).body(packed.to_vec()),
        None => answer.body(found.plain.to_vec()),
    })
}

fn media_type(file: &str) -> &'static str {
    match file.rsplit_once('.').map_or("", |(_, end)| end) {
        "js" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "json" => "application/json",
        "webmanifest" => "application/manifest+json",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "wasm" => "application/wasm",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use serde_json::Value;

    use super::*;

    /// What stands in braces in a sentence or in any of its plural forms.
    fn blanks(sentence: &Value) -> BTreeSet<String> {
        let text = sentence.to_string();
        let parts = text.split('{').skip(1).filter_map(|part| part.split_once('}'));
        parts
            .map(|(name, _)| name.to_owned())
            .filter(|name| name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_'))
            .collect()
    }

    #[test]
    fn every_language_says_everything_with_the_same_blanks() {
        for part in ["", "office-", "signs-"] {
            let [en, de] = ["en", "de"].map(|language| -> BTreeMap<String, Value> {
                let file = Files::get(&format!("strings/{part}{language}.json")).expect("a file of words");
                serde_json::from_slice(&file.data).expect("an object of words")
            });
            assert!(en.len() > 80, "strings/{part}en.json");
            let blanks_of = |words: &BTreeMap<String, Value>| -> BTreeMap<String, BTreeSet<String>> {
                words.iter().map(|(key, word)| (key.clone(), blanks(word))).collect()
            };
            assert_eq!(blanks_of(&en), blanks_of(&de), "strings/{part}*.json");
            let plurals = |words: &BTreeMap<String, Value>| -> Vec<String> {
                let has = words.iter().filter(|(_, word)| word.is_object());
                has.map(|(key, _)| key.clone()).collect()
            };
            assert_eq!(plurals(&en), plurals(&de), "strings/{part}*.json");
        }
    }

    fn files(pairs: &[(&str, &'static str)]) -> BTreeMap<String, Cow<'static, [u8]>> {
        let file = |(name, text): &(&str, &'static str)| ((*name).to_owned(), Cow::Borrowed(text.as_bytes()));
        pairs.iter().map(file).collect()
    }

    #[test]
    fn the_version_follows_from_every_byte_and_every_name() {
        let of = |pairs: &[(&str, &'static str)]| Version::of(files(pairs)).name;
        let one = of(&[("a.js", "x"), ("b.js", "y")]);
        assert_eq!(one.len(), 2 * VERSION_BYTES);
        assert_ne!(one, of(&[("a.js", "x"), ("b.js", "z")]));
        assert_ne!(one, of(&[("a.js", "x"), ("c.js", "y")]));
        assert_ne!(one, of(&[("a.js", "xy"), ("b.js", "")]));
    }

    #[test]
    fn page_and_worker_name_the_version_and_the_worker_the_files() {
        let version = Version::of(files(&[
            (PAGE, "<script src=/app/{{version}}/app.js>"),
            (WORKER, "const V='{{version}}',F={{files}},O={{office}}"),
            ("app.js", ""),
            ("office/lots.js", ""),
            ("strings/en.json", "{}"),
            ("strings/office-en.json", "{}"),
            ("strings/signs-en.json", "{}"),
        ]));
        assert_eq!(version.page, format!("<script src=/app/{}/app.js>", version.name));
        let office = r#"["office/lots.js","strings/office-en.json","strings/signs-en.json"]"#;
        let kept = format!(r#"F=["app.js","strings/en.json"],O={office}"#);
        let told = format!("const V='{}',{kept}\n", version.name);
        assert_eq!(version.worker, told);
    }

    #[test]
    fn the_page_names_ahead_what_the_first_picture_imports_and_nothing_that_is_imported_later() {
        let version = Version::of(files(&[
            (PAGE, "{{preload}}"),
            (
                "app.js",
                "import { h } from './dom.js';\nimport {\n  a,\n} from './words.js';\nimport(`./screens/board.js`);",
            ),
            (
                "screens/arrive.js",
                "import * as h from '../dom.js';\nimport { p } from './parts.js';",
            ),
            ("screens/parts.js", "import { t } from '../words.js';"),
            ("screens/board.js", ""),
            ("screens/signin.js", ""),
            ("dom.js", ""),
            ("words.js", ""),
        ]));
        let named = version
            .page
            .lines()
            .filter_map(|line| line.split('"').nth(3)?.split_once("/app/"));
        let named: Vec<&str> = named.filter_map(|(_, path)| Some(path.split_once('/')?.1)).collect();
        let all = [
            "app.js",
            "screens/arrive.js",
            "screens/signin.js",
            "dom.js",
            "words.js",
            "screens/parts.js",
        ];
        assert_eq!(named, all);
    }

    #[test]
    fn the_first_picture_of_the_app_needs_neither_office_nor_other_screens() {
        let found = Files::iter().filter_map(|name| Some((name.to_string(), Files::get(&name)?.data)));
        let first = first_picture(&found.collect());
        for name in FIRST
            .into_iter()
            .chain(["dom.js", "rules.js", "shell.js", "store.js", "sync.js", "words.js"])
        {
            assert!(first.iter().any(|one| one == name), "{name} is not asked for ahead");
        }
        let screens = first.iter().filter(|name| name.starts_with("screens/")).count();
        assert_eq!(screens, 2, "{first:?}");
        assert!(!first.iter().any(|name| name.starts_with("office/")), "{first:?}");
    }

    #[test]
    fn scripts_go_out_without_comments_and_no_string_of_theirs_goes_over_a_line() {
        let script = "// Why.\n\nconst at = 1; // kept\n  // also\n  go('//x');\n";
        assert_eq!(bare(script), "const at = 1; // kept\ngo('//x');\n");
        for name in Files::iter().filter(|name| is_script(name)) {
            let data = Files::get(&name).map(|file| file.data).unwrap_or_default();
            for (at, line) in String::from_utf8_lossy(&data).lines().enumerate() {
                assert_eq!(
                    line.matches('`').count() % 2,
                    0,
                    "{name}:{}: a string goes over the line",
                    at + 1
                );
                assert!(
                    !line.trim_start().starts_with("/*"),
                    "{name}:{}: a comment that may go over the line",
                    at + 1
                );
            }
        }
    }

    #[test]
    fn every_file_of_the_app_has_a_type() {
        let version = Version::read();
        assert!(version.files.len() > 10, "the app is not there");
        for name in version.files.keys() {
            assert_ne!(media_type(name), "application/octet-stream", "{name}");
        }
    }
}
