//! The app decides nothing of the trade: no limit, factor or threshold stands in its scripts. The rules come in
//! `rules.wasm`, and scripts only carry questions and draw answers.
//!
//! Scripts are read as text, comments and string literals taken out. What is looked for: a measured quantity compared
//! with a number, a factor with a point in it, and a large number that is neither named for what the screen does nor a
//! change of unit.
//!
//! What the app shows in a word it also explains in a sentence: each figure of a season, each sign beside a thing. What
//! the rules say has its point in every language. Every address that it draws can be loaded anew.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::files::ending;

/// How names of measured quantities end.
const UNITS: &[&str] = &[
    "_g",
    "_ml",
    "_um",
    "_hundredths",
    "_tenths_c",
    "_tenths_g",
    "_percent",
    "_days",
    "_bp",
    "_e4",
    "_quarters",
    "_frames",
];

/// Numbers with a point that no rule is made of: the pound by its definition, a number to see how one is written, how
/// hard a photo is packed.
const FACTORS: &[(&str, &str)] = &[("words.js", "453.59237"), ("words.js", "1.5"), ("photos.js", "0.8")];

/// From here on a number wants a name.
const LARGE: f64 = 100.0;

#[derive(Clone, Debug, PartialEq)]
enum Token {
    Word(String),
    Number(String),
    Sign(String),
}

fn web(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../api/web").join(file)
}

fn scripts() -> Vec<(String, String)> {
    let named = |path: PathBuf| {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        (name, std::fs::read_to_string(&path).unwrap_or_default())
    };
    ending(&web(""), "js").into_iter().map(named).collect()
}

/// The tokens of each line, without comments, string literals and regular expressions (those between slashes).
fn lines(script: &str) -> Vec<(usize, Vec<Token>)> {
    let bare = |line: &str| {
        let mut tokens = Vec::new();
        let mut rest = line.trim();
        while let Some(first) = rest.chars().next() {
            let length = match first {
                '/' if rest.starts_with("//") => break,
                '\'' | '"' | '`' => {
                    let end = rest
                        .char_indices()
                        .skip(1)
                        .find(|(at, one)| *one == first && !rest[..*at].ends_with('\\'));
                    end.map_or(rest.len(), |(at, _)| at + 1)
                }
                '/' if matches!(tokens.last(), None | Some(Token::Sign(_))) => {
                    rest[1..].find('/').map_or(rest.len(), |at| at + 2)
                }
                one if one.is_ascii_digit() => rest
                    .find(|c: char| !c.is_ascii_alphanumeric() && c != '.')
                    .unwrap_or(rest.len()),
                one if one.is_alphabetic() || one == '_' || one == '$' => rest
                    .find(|c: char| !c.is_alphanumeric() && c != '_' && c != '$')
                    .unwrap_or(rest.len()),
                '<' | '>' | '=' | '!' => rest.find(|c| !"<>=!".contains(c)).unwrap_or(rest.len()),
                one => one.len_utf8(),
            };
            let (token, after) = rest.split_at(length);
            match first {
                '\'' | '"' | '`' => {}
                one if one.is_ascii_digit() => tokens.push(Token::Number(token.to_owned())),
                one if one.is_alphabetic() || one == '_' || one == '$' => tokens.push(Token::Word(token.to_owned())),
                one if one.is_whitespace() => {}
                _ => tokens.push(Token::Sign(token.to_owned())),
            }
            rest = after;
        }
        tokens
    };
    script
        .lines()
        .enumerate()
        .map(|(at, line)| (at + 1, bare(line)))
        .collect()
}

fn compares(sign: &str) -> bool {
    matches!(sign, "<" | ">" | "<=" | ">=" | "===" | "!==" | "==" | "!=")
}

fn measured(word: &str) -> bool {
    UNITS.iter().any(|unit| word.ends_with(unit))
}

/// What is wrong with a script, line by line.
fn faults(name: &str, script: &str) -> Vec<String> {
    let mut found = Vec::new();
    for (line, tokens) in lines(script) {
        let mut fault = |what: String| found.push(format!("{name}:{line}: {what}"));
        for three in tokens.windows(3) {
            let (word, number) = match three {
                [Token::Word(word), Token::Sign(sign), Token::Number(number)]
                | [Token::Number(number), Token::Sign(sign), Token::Word(word)]
                    if compares(sign) =>
                {
                    (word, number)
                }
                _ => continue,
            };
            if measured(word) && number != "0" {
                fault(format!("{word} is compared with {number}"));
            }
        }
        // A constant says by its name what it is for; what it may be for is read by people.
        let named = matches!(&tokens[..], [Token::Word(const_), Token::Word(name), ..]
            if const_ == "const" && name.chars().all(|c| c.is_ascii_uppercase() || c.is_ascii_digit() || c == '_'));
        let status = tokens
            .iter()
            .any(|token| matches!(token, Token::Word(word) if word == "status"));
        for token in &tokens {
            let Token::Number(number) = token else { continue };
            let known = FACTORS.contains(&(name, number));
            if number.contains('.') && !known {
                fault(format!("{number} is a factor"));
            }
            let value = number.parse::<f64>().unwrap_or(0.0);
            let unit = value.log10().fract() == 0.0;
            if value >= LARGE && !unit && !named && !status && !known {
                fault(format!("{number} has no name"));
            }
            if named
                && tokens
                    .iter()
                    .any(|token| matches!(token, Token::Word(word) if trade(word)))
            {
                fault(format!("{number} is named as something of the trade"));
            }
        }
    }
    found
}

/// Words that no constant of a screen has in its name.
fn trade(word: &str) -> bool {
    const WORDS: &[&str] = &[
        "LIMIT",
        "MOISTURE",
        "WATER",
        "TARE",
        "DENSITY",
        "HOLD",
        "WAIT_DAYS",
        "GROSS",
        "RIPE",
        "CAPPED_LEAST",
    ];
    word.chars().any(char::is_uppercase) && WORDS.iter().any(|part| word.contains(part))
}

#[test]
fn no_limit_and_no_factor_of_the_trade_stands_in_a_script() {
    let all = scripts();
    assert!(all.len() > 40, "only {} scripts were found", all.len());
    let faults: Vec<String> = all.iter().flat_map(|(name, script)| faults(name, script)).collect();
    assert!(faults.is_empty(), "{faults:#?}");
}

#[test]
fn a_limit_in_a_script_is_found() {
    for planted in [
        "if (state.moisture_hundredths > 2000) warn();",
        "const wet = 1800 < one.moisture_hundredths;",
        "const net = litres * 1.42;",
        "if (weight > 23000) lift();",
        "const MOISTURE_LIMIT = 18;",
        "return pulled.capped_percent >= 75;",
    ] {
        assert!(!faults("some.js", planted).is_empty(), "{planted} was not seen");
    }
    for fine in [
        "// 20 % and 1.42 in a comment",
        "const MOST = 300;",
        "const text = '18.6 %';",
        "if (answer.status === 404) return null;",
        "if (lot.content_g > 0) show();",
        "const grams = tenths * 100;",
        "const at = /^([0-9]{1,3})\\.5$/;",
    ] {
        assert_eq!(faults("some.js", fine), Vec::<String>::new(), "{fine}");
    }
}

/// The keys of a file of words that begin so, without the beginning.
fn words(file: &str, begin: &str) -> BTreeSet<String> {
    let text = std::fs::read_to_string(web("strings").join(file)).expect("a file of words");
    let words: serde_json::Map<String, serde_json::Value> = serde_json::from_str(&text).expect("an object of words");
    let named = words.keys().filter_map(|key| key.strip_prefix(begin));
    named.map(ToOwned::to_owned).collect()
}

/// The names of the shapes that signs are drawn with.
fn shapes() -> BTreeSet<String> {
    let script = std::fs::read_to_string(web("tags.js")).expect("the script of the signs");
    let (_, rest) = script.split_once("const SHAPES = {").expect("the shapes");
    let (all, _) = rest.split_once("};").expect("the end of the shapes");
    let name = |line: &str| Some(line.trim().split_once(": [")?.0.to_owned());
    all.lines().filter_map(name).collect()
}

#[test]
fn each_figure_and_each_sign_is_explained_in_every_language() {
    let page = std::fs::read_to_string(web("office/signs.js")).expect("the page of the signs");
    let shapes = shapes();
    assert!(shapes.len() > 5, "only {shapes:?} were found");
    for shape in &shapes {
        assert!(page.contains(&format!("'{shape}'")), "{shape} is not on the page");
    }
    for language in ["en", "de"] {
        let (named, explained) = (format!("office-{language}.json"), format!("signs-{language}.json"));
        let figures = words(&named, "figure.");
        assert!(figures.len() > 50, "{named}: only {} figures", figures.len());
        assert_eq!(figures, words(&explained, "means."), "{explained}");
        assert_eq!(shapes, words(&explained, "sign."), "{explained}");
    }
}

/// The codes under which the rules warn, refuse and give reasons: each stands before the rule of the trade behind it.
fn codes_of_the_rules() -> BTreeSet<String> {
    let is_code = |text: &str| text.len() > 3 && text.bytes().all(|byte| byte.is_ascii_lowercase() || byte == b'_');
    let is_rule = |text: &str| {
        text.split_once('-').is_some_and(|(chapter, number)| {
            chapter.len() == 2 && chapter.bytes().all(|byte| byte.is_ascii_uppercase()) && number.parse::<u8>().is_ok()
        })
    };
    let mut codes = BTreeSet::new();
    for path in ending(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../domain/src"), "rs") {
        let text = std::fs::read_to_string(&path).expect("a source file");
        let (rules, _) = text.split_once("#[cfg(test)]\nmod tests").unwrap_or((&text, ""));
        let parts: Vec<&str> = rules.split('"').collect();
        for window in parts.windows(3) {
            if let [code, between, rule] = window
                && between.trim() == ","
                && is_code(code)
                && is_rule(rule)
            {
                codes.insert((*code).to_owned());
            }
        }
    }
    codes
}

/// The values of a schema of the contract: those it lists, or those by which it tells its forms apart.
fn values_of(schema: &str, tag: &str) -> BTreeSet<String> {
    let contract: serde_json::Value =
        serde_json::from_str(include_str!("../../openapi/openapi.json")).expect("the contract");
    let schema = &contract["components"]["schemas"][schema];
    let forms = schema["oneOf"].as_array().into_iter().flatten();
    let lists = forms
        .map(|form| &form["properties"][tag]["enum"])
        .chain([&schema["enum"]]);
    let values = lists.filter_map(|list| list.as_array()).flatten();
    values
        .filter_map(|value| value.as_str().map(ToOwned::to_owned))
        .collect()
}

/// The rules and the service speak English. Who reads another language finds the point of it in that one.
#[test]
fn the_point_of_everything_the_rules_say_is_in_every_language() {
    let file = "says-de.json";
    let text = std::fs::read_to_string(web("strings").join(file)).expect("a file of words");
    let points: BTreeMap<String, String> = serde_json::from_str(&text).expect("an object of sentences");
    let of_one_rule = |key: &str| {
        key.split_once('.')
            .is_some_and(|(_, rule)| rule.starts_with(char::is_uppercase))
    };
    let named = |begin: &str| -> BTreeSet<String> {
        let keys = points.keys().filter_map(|key| key.strip_prefix(begin));
        keys.filter(|key| !begin.is_empty() || !key.contains('.'))
            .map(ToOwned::to_owned)
            .collect()
    };
    let codes = codes_of_the_rules();
    assert!(codes.len() > 150, "only {} codes were found", codes.len());
    assert_eq!(codes, named(""), "{file}");
    // Said by the service about numbers and devices.
    let of_service = ["same_number", "gap", "device_cloned", "clock_suspect"].map(ToOwned::to_owned);
    let flags: BTreeSet<String> = values_of("FlagCode", "").into_iter().chain(of_service).collect();
    assert!(flags.len() > 20, "only {flags:?} were found");
    assert_eq!(flags, named("flag."), "{file}");
    let doubts = values_of("Doubt", "doubt");
    assert!(doubts.len() > 10, "only {doubts:?} were found");
    assert_eq!(doubts, named("doubt."), "{file}");
    for key in points.keys().filter(|key| of_one_rule(key)) {
        let (code, _) = key.split_once('.').expect("a code and its rule");
        assert!(codes.contains(code), "{file}: {key}");
    }
    for (key, point) in &points {
        assert!((4..180).contains(&point.len()), "{file}: {key}");
    }
}

/// The rooms that an address of the app begins with, out of a text between two marks.
fn rooms_of(text: &str, from: &str, to: &str) -> BTreeSet<String> {
    let (_, rest) = text.split_once(from).expect("the beginning of a list of addresses");
    let (list, _) = rest.split_once(to).expect("the end of a list of addresses");
    list.split('|').map(ToOwned::to_owned).collect()
}

#[test]
fn every_screen_has_an_address_that_the_service_and_the_worker_know() {
    let script = std::fs::read_to_string(web("app.js")).expect("the script of the addresses");
    let (_, routes) = script.split_once("const ROUTES = [").expect("the addresses");
    let (routes, _) = routes.split_once("];").expect("the end of the addresses");
    let is_of_word = |letter: char| letter.is_ascii_lowercase() || letter == '-' || letter == '|';
    let begins = routes.lines().filter_map(|line| {
        let begin = line.trim().strip_prefix("[/^\\/")?;
        let begin = begin.strip_prefix("(?:").unwrap_or(begin);
        Some(begin.split(|letter| !is_of_word(letter)).next()?.to_owned())
    });
    let drawn: BTreeSet<String> = begins
        .flat_map(|names| names.split('|').map(ToOwned::to_owned).collect::<Vec<_>>())
        .collect();
    assert!(drawn.len() > 8, "only {drawn:?} were found");
    let service = include_str!("../../api/src/http/web.rs");
    assert_eq!(drawn, rooms_of(service, "\"/{screen:(", ")(/.*)?}\""));
    let worker = std::fs::read_to_string(web("sw.js")).expect("the worker");
    assert_eq!(drawn, rooms_of(&worker, "const SCREENS = /^\\/((", ")(\\/.*)?)?$/"));
}
