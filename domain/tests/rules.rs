//! Every rule of the trade has one home in the code and a test: this list, held against the sources.
//!
//! A home is a doc comment outside tests that names the rule; a test names it in a comment above or inside. `cargo test -p domain --test rules -- --nocapture` prints the list.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, clippy::print_stdout)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The rules, each with its gist.
const RULES: &[(&str, &str)] = &[
    ("ID-1", "bees and the place they live in are two things"),
    ("ID-2", "a box number may be painted twice"),
    ("ID-3", "frames only count where some are set aside"),
    ("ID-4", "a run lasts until the extractor is drained"),
    ("ID-5", "what is in the pail is followed, not the pail"),
    ("ID-6", "drawn, blended, dried or bought honey is a new lot"),
    ("ID-7", "a batch: one lot, one size, one label, one day"),
    ("ID-8", "who, on what, in which order, and three times"),
    ("ID-9", "not looked is neither no nor nought"),
    ("ID-10", "a correction is one more entry"),
    ("ID-11", "a suspicion is kept as one"),
    ("ST-1", "state follows from happenings"),
    ("ST-2", "the life of a colony"),
    ("ST-3", "the way of a super"),
    ("ST-4", "steps back that are right, too"),
    ("ST-5", "a skipped step is assumed, not refused"),
    ("ST-6", "a run and when it may be opened again"),
    ("ST-7", "a container from clean to clean"),
    ("ST-8", "a lot from made to gone"),
    ("ST-9", "a batch from filled to sold out"),
    ("ST-10", "goods for the trade name their batches"),
    ("ST-11", "what cannot both be true is always told"),
    ("CF-1", "no entry is lost, no order of arrival matters"),
    ("CF-2", "one happening with two witnesses"),
    ("CF-3", "movements add, measurements compete, states are argued"),
    ("CF-4", "the cautious side holds until somebody has seen both"),
    ("CF-5", "by the time it happened; a wrong clock is told"),
    ("CF-6", "only words are overwritten, and the old ones kept"),
    ("CF-7", "one box on two hives: one of them, holds of both"),
    ("CF-8", "one number too far apart: two boxes"),
    ("CF-9", "two draws count; overdrawn bars the next"),
    ("CF-10", "of two weighings the later on a checked scale"),
    ("CF-11", "of two moistures after one mixing the wetter"),
    ("CF-12", "a release without sight of a hold ends nothing"),
    ("CF-13", "two lots with one code are both renamed"),
    ("CF-14", "a withdrawal without sight of the correction is doubtful"),
    ("CF-15", "delivered stands against cancelled"),
    ("CF-16", "alive and dead: the denominator is a range"),
    ("CF-17", "how a hold ends"),
    ("CF-18", "a contradiction stops no work in the field"),
    ("WT-1", "weighed full, weighed spun: the honey taken"),
    ("WT-2", "what stands in for a missing wet weight"),
    ("WT-3", "the letter of the method, and of a total"),
    ("WT-4", "weights that a box can have"),
    ("WT-5", "heavy lifting"),
    ("WT-6", "the density where none is known"),
    ("MB-1", "where the honey of a run went"),
    ("MB-2", "how much may stay unexplained"),
    ("MB-3", "shares of cappings and wax that are usual"),
    ("MB-4", "weight never comes from nowhere"),
    ("MB-5", "where the honey of a lot went"),
    ("MB-6", "where the labels went"),
    ("MB-7", "a count corrects, with its reason"),
    ("AL-1", "what is shared out of a run"),
    ("AL-2", "by what it is shared"),
    ("AL-3", "to the tenth of a kilogram, and it adds up"),
    ("AL-4", "several hives in turn: by days in the flow"),
    ("AL-5", "what is not known is printed as such"),
    ("AL-6", "what a wet box brings along"),
    ("AL-7", "a carried hive: by days in each flow"),
    ("MO-1", "limits by market and claim"),
    ("MO-2", "the limit of the house"),
    ("MO-3", "the ladder of fermentation"),
    ("MO-4", "readings that can be"),
    ("MO-5", "from refraction to water"),
    ("MO-6", "the temperature of the honey, corrected once"),
    ("MO-7", "too warm or cold to read"),
    ("MO-8", "a meter unchecked or failed"),
    ("MO-9", "where to take the sample"),
    ("MO-10", "which reading decides"),
    ("MO-11", "how long a reading is good"),
    ("BL-1", "the water of a blend"),
    ("BL-2", "the most wetter honey a blend carries"),
    ("BL-3", "honey that is never blended"),
    ("BL-4", "all parts stay parents, with their holds"),
    ("BL-5", "claims that a blend loses"),
    ("DR-1", "the weight after drying"),
    ("DR-2", "the air of the warm room"),
    ("DR-3", "water dried off is booked"),
    ("TX-1", "the wait is what the label says"),
    ("TX-2", "what the medicine register holds"),
    ("TX-3", "what a treatment holds, and for how long"),
    ("TX-4", "a late treatment opens a review"),
    ("TX-5", "a super on a treated hive is warned of"),
    ("TX-6", "why no fixed number of days"),
    ("TX-7", "supers off before treating: advice"),
    ("FE-1", "what feed holds"),
    ("FE-2", "what the feed register holds"),
    ("FE-3", "a brood box moved up"),
    ("DI-1", "comb with brood is not spun"),
    ("DI-2", "a suspicion holds all that stood in the yard"),
    ("DI-3", "a standstill"),
    ("DI-4", "freezing comb against moth"),
    ("TA-1", "repellent, smoke and fuel"),
    ("LO-1", "what a lot is"),
    ("LO-2", "how its code is made"),
    ("LO-3", "how the code is marked"),
    ("LO-4", "from the jar back to the hive, and the same forth"),
    ("LB-1", "what a label bears"),
    ("LB-2", "a flower on the label has its reason"),
    ("LB-3", "no label for what is held"),
    ("NC-1", "the average system"),
    ("NC-2", "the tolerable error by size"),
    ("NC-3", "how many jars to weigh"),
    ("NC-4", "broken glass"),
    ("FI-1", "oldest first"),
    ("FI-2", "how long supers may wait"),
    ("FI-3", "best before"),
    ("SA-1", "samples kept"),
    ("RC-1", "what a recall reaches"),
    ("RC-2", "every jar explained"),
    ("RC-3", "disputed origin: all candidates"),
    ("RC-4", "a mock recall each year"),
    ("RC-5", "the answer to an authority"),
    ("RT-1", "how long records are kept"),
    ("RT-2", "a list that honey is not on"),
    ("RT-3", "one back, one forward"),
    ("RT-4", "small licence holders"),
    ("AN-1", "kilograms by colony, two ways"),
    ("AN-2", "no figure without its denominator"),
    ("AN-3", "who is counted"),
    ("AN-4", "a colony against its yard"),
    ("AN-5", "few colonies, few words"),
    ("AN-6", "the best guess is drawn to the middle"),
    ("AN-7", "no place without a difference"),
    ("AN-8", "yards and years apart"),
    ("AN-9", "a crowded yard"),
    ("EC-1", "what a kilogram cost"),
    ("EC-2", "the price and the yield that pay"),
    ("EC-3", "hours by kind"),
    ("EC-4", "others' costs, as context"),
    ("IN", "what a field takes, doubts and refuses"),
    ("GS-1", "numbers for a scanner"),
    ("GS-2", "the address on the jar"),
    ("GS-3", "steps in the words of the standard"),
    ("SF-1", "cautions, at the moment"),
];

fn sources(under: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(under).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|is| is == "rs") {
            found.push(path);
        }
    }
}

/// Whether a text names a rule, and not one whose number only begins alike.
fn names(text: &str, rule: &str) -> bool {
    text.match_indices(rule).any(|(at, _)| {
        let after = text[at + rule.len()..].chars().next();
        let before = text[..at].chars().next_back();
        let ends = if rule.contains('-') {
            !after.is_some_and(|c| c.is_ascii_digit())
        } else {
            after.is_none_or(|c| !c.is_alphanumeric() && c != '-')
        };
        ends && !before.is_some_and(|c| c.is_alphanumeric() || c == '-')
    })
}

/// Where rules are named: in doc comments of the code, and in comments of tests.
#[derive(Default)]
struct Named {
    homes: BTreeMap<String, Vec<String>>,
    tests: BTreeMap<String, Vec<String>>,
}

impl Named {
    fn read(root: &Path) -> Self {
        let mut named = Self::default();
        for (room, is_tests) in [
            ("domain/src", false),
            ("api/src", false),
            ("domain/tests", true),
            ("tests/it", true),
        ] {
            let mut files = Vec::new();
            sources(&root.join(room), &mut files);
            assert!(!files.is_empty(), "nothing to look at under {room}");
            files.sort();
            for file in files {
                if !file.ends_with("domain/tests/rules.rs") {
                    let shown = file.strip_prefix(root).unwrap().display().to_string();
                    let in_tests = is_tests || file.ends_with("tests.rs");
                    named.look(&shown, &std::fs::read_to_string(&file).unwrap(), in_tests);
                }
            }
        }
        named
    }

    fn look(&mut self, file: &str, text: &str, mut in_tests: bool) {
        for (at, line) in text.lines().enumerate() {
            let line = line.trim();
            in_tests |= line == "#[cfg(test)]" || line == "mod tests {";
            let named = if in_tests && line.starts_with("//") {
                &mut self.tests
            } else if line.starts_with("///") || line.starts_with("//!") {
                &mut self.homes
            } else {
                continue;
            };
            for (rule, _) in RULES.iter().filter(|(rule, _)| names(line, rule)) {
                let place = format!("{file}:{}", at + 1);
                named.entry((*rule).to_owned()).or_default().push(place);
            }
        }
    }
}

#[test]
fn every_rule_has_a_home_and_a_test() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let named = Named::read(root);
    let mut missing = Vec::new();
    for (rule, gist) in RULES {
        let home = named.homes.get(*rule).and_then(|places| places.first());
        let test = named.tests.get(*rule).and_then(|places| places.first());
        let dash = String::from("-");
        println!(
            "{rule:6} {gist:60} {:50} {}",
            home.unwrap_or(&dash),
            test.unwrap_or(&dash)
        );
        if home.is_none() || test.is_none() {
            missing.push(format!(
                "{rule} ({gist}): {}{}",
                if home.is_none() { "no home " } else { "" },
                if test.is_none() { "no test" } else { "" }
            ));
        }
    }
    assert!(
        missing.is_empty(),
        "{} rules lack something:\n{}",
        missing.len(),
        missing.join("\n")
    );
}

#[test]
fn a_rule_is_told_from_one_that_begins_alike() {
    assert!(names("/// By its code (LO-2).", "LO-2"));
    assert!(!names("/// By its code (LO-21).", "LO-2"));
    assert!(!names("/// By its code (SLO-2).", "LO-2"));
    assert!(names("/// Limits of a field (IN).", "IN"));
    assert!(!names("/// INSIDE", "IN"));
}
