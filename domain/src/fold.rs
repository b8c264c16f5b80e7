//! From entries to state: the same for every arrival order and every repetition (CF-1). Nobody edits a state; it follows
//! from what was told to have happened (ST-1).
//!
//! A fold never fails; what does not add up becomes a flag. Where all new entries sort after the last one folded,
//! the fold goes on from the kept state, which must give the same as folding everything anew.

use chrono::{DateTime, NaiveDate, Utc};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};

use crate::common::{Common, Lifted, apply_common};
use crate::entry::{Entry, Mark, OrderKey, Recorded};
use crate::form::Form;
use crate::grown::{Away, Part};
use crate::ids::EntryId;
use crate::ordered::{Map, Set};
use crate::subject::{Subject, SubjectKind};

/// A thing whose state follows from entries.
pub trait Aggregate: Common + Clone + Default + PartialEq + Serialize + DeserializeOwned + Form {
    /// What kind of thing it is.
    const KIND: SubjectKind;

    /// Whether marks leave the memory too; not where the fold forgets them one by one.
    const MARKS_LEAVE: bool = false;

    /// From now on older parts of its lists are away.
    fn begin_away(&mut self) {}

    /// Whether the fold wanted to see what is away.
    fn missed(&self) -> bool {
        false
    }

    /// Takes out what has to leave, into a part.
    fn put_away(&mut self, _: &mut Part) {}

    /// Takes in one thing that happened; they come in the order of the fold.
    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo);

    /// What people call it, if anybody named it.
    fn label(&self) -> Option<String>;

    /// Its state in one word.
    fn status(&self) -> &'static str;
}

/// One entry as the fold sees it: with its corrected content.
#[derive(Clone, Copy, Debug)]
pub struct Told<'a> {
    /// The entry as recorded.
    pub recorded: &'a Recorded,
    /// What counts: its own content, or that of the amendment that stands.
    pub entry: &'a Entry,
    /// Somebody withdrew it without knowing of its correction (CF-14).
    pub doubtful: bool,
    /// What is being folded.
    pub about: Subject,
}

impl Told<'_> {
    /// The entry's identity.
    #[must_use]
    pub const fn id(&self) -> EntryId {
        self.recorded.id
    }

    /// When it happened.
    #[must_use]
    pub const fn at(&self) -> DateTime<Utc> {
        self.recorded.effective_at
    }

    /// The date on the wall where it happened.
    #[must_use]
    pub fn on(&self) -> NaiveDate {
        self.recorded.local_date()
    }
}

/// What the fold has to remember beside the state that is shown.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Memo {
    last: Option<OrderKey>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pending: Vec<EntryId>,
    #[serde(default, skip_serializing_if = "Map::is_empty")]
    marks: Map<EntryId, Mark>,
    #[serde(default, skip_serializing_if = "Map::is_empty")]
    lifts: Map<EntryId, (Lifted, Mark)>,
    #[serde(skip)]
    away: Away,
}

/// So many of the newest marks stay in a memory, or up to twice as many.
const MARKS_KEPT: usize = 4;

impl Memo {
    /// Takes out the marks that came first.
    fn put_away(&mut self, part: &mut Part) {
        let extra = self.marks.len().saturating_sub(MARKS_KEPT) / MARKS_KEPT * MARKS_KEPT;
        if extra == 0 {
            return;
        }
        let mut by_arrival: Vec<(i64, EntryId)> = self.marks.iter().map(|(id, mark)| (mark.seq, *id)).collect();
        by_arrival.sort_unstable();
        let gone = by_arrival.iter().take(extra);
        let gone: Map<EntryId, Mark> = gone.filter_map(|(_, id)| Some((*id, self.marks.remove(id)?))).collect();
        part.add("marks", &gone);
        self.away.begin();
    }

    fn look_up(&self, entry: EntryId) -> Option<&Mark> {
        let mark = self.marks.get(&entry);
        if mark.is_none() {
            self.away.want();
        }
        mark
    }

    /// Keeps what is needed to tell later whether somebody knew of this entry.
    pub(crate) fn remember(&mut self, told: &Told<'_>) {
        self.marks.insert(told.id(), told.recorded.mark());
    }

    /// Drops what no later entry can be compared with.
    pub(crate) fn forget(&mut self, entry: EntryId) {
        if self.marks.remove(&entry).is_none() {
            self.away.want();
        }
    }

    /// Whether neither maker knew of the other's entry; an entry not remembered was known.
    pub(crate) fn concurrent(&self, earlier: EntryId, told: &Told<'_>) -> bool {
        self.look_up(earlier)
            .is_some_and(|mark| told.recorded.mark().concurrent_with(mark))
    }

    /// Where it stands in what devices know, if it is remembered.
    pub(crate) fn mark(&self, entry: EntryId) -> Option<Mark> {
        self.look_up(entry).copied()
    }

    /// Its number in the ledger, if it is remembered.
    pub(crate) fn arrived(&self, entry: EntryId) -> Option<i64> {
        self.look_up(entry).map(|mark| mark.seq)
    }

    /// Whether the maker of what is told knew of an entry; of one that is not remembered nobody can say otherwise.
    pub(crate) fn knew(&self, told: &Told<'_>, entry: EntryId) -> bool {
        let mark = self.look_up(entry);
        mark.is_none_or(|mark| told.recorded.mark().knew_of(mark))
    }

    pub(crate) fn keep_lift(&mut self, hold: EntryId, lifted: Lifted, by: Mark) {
        self.lifts.entry(hold).or_insert((lifted, by));
    }

    pub(crate) fn take_lift(&mut self, hold: EntryId) -> Option<(Lifted, Mark)> {
        self.lifts.remove(&hold)
    }
}

/// A state with what its fold needs to go on.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Folded<A> {
    /// The state as shown.
    pub state: A,
    /// The fold's own memory.
    pub memo: Memo,
}

/// Folds all entries about one thing, in any order and with any repeats.
#[must_use]
pub fn fold<A: Aggregate>(about: Subject, entries: &[Recorded]) -> Folded<A> {
    let mut folded = Folded::<A>::default();
    folded.take_with(|take_in, memo| fold_all(about, entries, take_in, memo));
    folded
}

/// Takes one entry into a state.
type TakeIn<'a> = &'a mut dyn FnMut(&Told<'_>, &mut Memo);

/// Folds whatever kind of thing it is; one code for all of them, since a phone has to fetch it.
fn fold_all(about: Subject, entries: &[Recorded], take_in: TakeIn<'_>, memo: &mut Memo) {
    let sorted = in_order(entries.iter().collect());
    let corrections = Corrections::among(&sorted);
    for recorded in &sorted {
        if let Some((entry, doubtful)) = corrections.what_counts(recorded) {
            let told = Told {
                recorded,
                entry,
                doubtful,
                about,
            };
            // A correction moves a happening to another box, or back: the ledger hands it to every box it was
            // ever about, and only the one it is about now may take it in.
            if corrections.by_id.is_empty() || entry.touches().contains(&about) {
                take_in(&told, memo);
            }
        }
    }
    memo.last = sorted.last().map(|recorded| recorded.order());
    memo.pending = corrections.without_original;
}

/// Entries in the order of the fold; told twice is told once.
fn in_order(mut sorted: Vec<&Recorded>) -> Vec<&Recorded> {
    sorted.sort_by_key(|recorded| recorded.order());
    sorted.dedup_by_key(|recorded| recorded.id);
    sorted
}

impl<A: Aggregate> Folded<A> {
    /// Calls what takes an entry into the state, beside the memory it is given.
    fn take_with<T>(&mut self, goes: impl FnOnce(TakeIn<'_>, &mut Memo) -> T) -> T {
        let Self { state, memo } = self;
        let mut take_in = |told: &Told<'_>, memo: &mut Memo| {
            if !apply_common(state, told, memo) {
                state.apply(told, memo);
            }
        };
        goes(&mut take_in, memo)
    }

    /// Goes on from what was folded before. Returns false where only folding everything anew can give the right
    /// answer: something happened earlier than the last entry, or is corrected, and nothing has changed; or the fold
    /// wanted to see what is away, and this is to be thrown away.
    #[must_use]
    pub fn go_on(&mut self, about: Subject, new: Vec<&Recorded>) -> bool {
        let gone_on = self.take_with(|take_in, memo| go_on(about, new, take_in, memo));
        // What is kept beside it must not come from a part of a list either.
        let _ = (self.state.label(), self.state.status());
        gone_on && !self.state.missed() && !self.memo.away.missed()
    }

    /// Older parts of it lie elsewhere.
    pub(crate) fn begin_away(&mut self) {
        self.state.begin_away();
        if A::MARKS_LEAVE {
            self.memo.away.begin();
        }
    }

    /// Takes out what need not be kept with it to go on; nothing if all of it has to stay.
    pub(crate) fn put_away(&mut self) -> Option<(String, String)> {
        let (mut state, mut memo) = (Part::default(), Part::default());
        self.state.put_away(&mut state);
        if A::MARKS_LEAVE {
            self.memo.put_away(&mut memo);
        }
        (!state.is_empty() || !memo.is_empty()).then(|| (state.text(), memo.text()))
    }
}

fn go_on(about: Subject, new: Vec<&Recorded>, take_in: TakeIn<'_>, memo: &mut Memo) -> bool {
    let sorted = in_order(new);
    let late = |recorded: &&&Recorded| memo.last.is_some_and(|last| recorded.order() <= last);
    let corrected = |recorded: &&&Recorded| recorded.entry.corrects().is_some() || memo.pending.contains(&recorded.id);
    if sorted.iter().any(|recorded| late(&recorded) || corrected(&recorded)) {
        return false;
    }
    for recorded in &sorted {
        let told = Told {
            recorded,
            entry: &recorded.entry,
            doubtful: false,
            about,
        };
        take_in(&told, memo);
    }
    if let Some(last) = sorted.last() {
        memo.last = Some(last.order());
    }
    true
}

/// How many voids of voids are followed.
const LONGEST_CHAIN: usize = 32;

/// The amendments and withdrawals among some entries, and which of them stand.
struct Corrections<'a> {
    by_id: Map<EntryId, &'a Recorded>,
    /// Amendments by the original they lead back to, in the order of the fold.
    amendments: Map<EntryId, Vec<&'a Recorded>>,
    /// Withdrawals by what they name.
    voids: Map<EntryId, Vec<&'a Recorded>>,
    without_original: Vec<EntryId>,
}

impl<'a> Corrections<'a> {
    fn among(sorted: &[&'a Recorded]) -> Self {
        let mut this = Self {
            by_id: Map::new(),
            amendments: Map::new(),
            voids: Map::new(),
            without_original: Vec::new(),
        };
        if sorted.iter().all(|recorded| recorded.entry.corrects().is_none()) {
            return this;
        }
        this.by_id = sorted.iter().map(|recorded| (recorded.id, *recorded)).collect();
        for recorded in sorted {
            match &recorded.entry {
                Entry::Amended(amended) => {
                    let original = this.original(amended.entry_id);
                    this.amendments.entry(original).or_default().push(recorded);
                }
                Entry::Voided(voided) => this.voids.entry(voided.entry_id).or_default().push(recorded),
                _ => {}
            }
        }
        let mut missing: Vec<EntryId> = sorted
            .iter()
            .filter_map(|recorded| recorded.entry.corrects())
            .filter(|target| !this.by_id.contains_key(target))
            .collect();
        missing.sort_unstable();
        missing.dedup();
        this.without_original = missing;
        this
    }

    /// Follows a chain of amendments back to where it began.
    fn original(&self, mut id: EntryId) -> EntryId {
        let mut passed = Set::new();
        while let Some(Entry::Amended(amended)) = self.by_id.get(&id).map(|recorded| &recorded.entry) {
            if !passed.insert(id) {
                break;
            }
            id = amended.entry_id;
        }
        id
    }

    /// What counts of an entry: nothing if it is a correction itself or was withdrawn.
    fn what_counts(&self, recorded: &'a Recorded) -> Option<(&'a Entry, bool)> {
        if recorded.entry.corrects().is_some() {
            return None;
        }
        if self.by_id.is_empty() {
            return Some((&recorded.entry, false));
        }
        let amendments: Vec<&'a Recorded> = self
            .amendments
            .get(&recorded.id)
            .into_iter()
            .flatten()
            .copied()
            .filter(|amendment| self.stands(amendment, &mut Set::new()))
            .collect();
        let voids: Vec<&'a Recorded> = self.standing_voids(recorded.id, &mut Set::new());
        // CF-14: a withdrawal wins only over corrections that its maker had seen.
        let wins = |void: &&Recorded| {
            amendments
                .iter()
                .all(|amendment| void.mark().knew_of(&amendment.mark()))
        };
        if voids.iter().any(wins) {
            return None;
        }
        let unseen = |void: &&Recorded| {
            amendments
                .iter()
                .all(|amendment| !amendment.mark().knew_of(&void.mark()))
        };
        let doubtful = voids.iter().any(unseen);
        match amendments.last().map(|amendment| &amendment.entry) {
            Some(Entry::Amended(amended)) => Some((&amended.instead, doubtful)),
            _ => Some((&recorded.entry, doubtful)),
        }
    }

    fn standing_voids(&self, target: EntryId, passed: &mut Set<EntryId>) -> Vec<&'a Recorded> {
        let Some(voids) = self.voids.get(&target) else {
            return Vec::new();
        };
        voids.iter().copied().filter(|void| self.stands(void, passed)).collect()
    }

    /// Whether a correction was not itself withdrawn. Two voids that name each other both fall.
    fn stands(&self, correction: &Recorded, passed: &mut Set<EntryId>) -> bool {
        // A chain of voids as long as this was not made by people; following it further would only cost stack.
        if passed.len() >= LONGEST_CHAIN || !passed.insert(correction.id) {
            return false;
        }
        let stands = self.standing_voids(correction.id, passed).is_empty();
        passed.remove(&correction.id);
        stands
    }
}
