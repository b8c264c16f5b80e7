//! How a super's state follows from what was told about it.
//!
//! A skipped step is inserted as assumed and is no error (ST-5); what cannot be true beside something else becomes a
//! flag, and the more cautious reading holds until somebody settles it (CF-4, CF-7).

use crate::common::{Common, FlagCode, Side};
use crate::entry::Entry;
use crate::fold::{Aggregate, Memo, Told};
use crate::grown::grows;
use crate::honey_super::{
    Comb, Filling, Pulling, SAME_HAPPENING, Stand, Super, SuperEnd, SuperMoved, SuperPulled, SuperReceived, Whereabouts,
};
use crate::ids::{HiveId, RunId};
use crate::subject::SubjectKind;
use crate::taint::TaintStep;
use crate::yard::{rename, retell};

impl Aggregate for Super {
    const KIND: SubjectKind = SubjectKind::Super;
    const MARKS_LEAVE: bool = true;

    grows!(taints, extracted);

    fn apply(&mut self, told: &Told<'_>, memo: &mut Memo) {
        match told.entry {
            Entry::SuperRegistered(_) | Entry::SuperDescribed(_) => self.describe(told.entry),
            Entry::SuperPlaced(placed) => self.place(told, memo, placed.hive_id, placed.comb),
            Entry::SuperMoved(moved) => self.shift(told, memo, moved),
            Entry::SuperPulled(pulled) => self.pull(told, memo, pulled),
            Entry::SuperLeftInYard(left) => {
                self.leave_hive(told);
                self.yard_id = Some(left.yard_id);
                self.whereabouts = Whereabouts::InYard;
            }
            Entry::SuperLoaded(_) => {
                self.leave_hive(told);
                self.whereabouts = Whereabouts::OnTruck;
            }
            Entry::SuperReceived(received) => self.receive(told, received),
            Entry::SuperWeighed(weighed) => self.weigh_again(told, weighed),
            Entry::SuperScrapped(end) => {
                self.brood_box |= end.how == SuperEnd::BroodBox;
                self.leave_hive(told);
                self.whereabouts = Whereabouts::Ended;
            }
            Entry::SuperStored(stored) => {
                retell(&mut self.place, stored.place.as_ref());
                self.store(told, stored.wet);
            }
            Entry::MoistureRead(read) => self.read(told, read),
            Entry::DryingStarted(_) => {
                // Dried twice without a weighing between, it is one drying with a pause.
                if self.filling.before_drying_hundredths.is_none() {
                    self.filling.before_drying_hundredths = self.filling.water().measured();
                }
                self.filling.drying_since = Some(told.at());
                self.whereabouts = Whereabouts::Drying;
            }
            Entry::DryingStopped(_) => self.stop_drying(told),
            Entry::SuperUncapped(uncapped) => {
                self.uncap(told, memo, uncapped.run_id);
                self.set_frames_aside(uncapped.run_id, uncapped.frames_set_aside);
            }
            Entry::WetWeighed(weighed) => self.weigh_wet(told, memo, weighed),
            Entry::TaintNoted(_) | Entry::BoxCleaned(_) => TaintStep::take_in(&mut self.taints, told),
            Entry::FramesSetAside(aside) => self.set_frames_aside(aside.run_id, Some(aside.frames)),
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.number.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        self.whereabouts.name()
    }
}

impl Super {
    fn describe(&mut self, entry: &Entry) {
        match entry {
            Entry::SuperRegistered(new) => {
                rename(&mut self.number, &mut self.former_numbers, Some(&new.number));
                (self.class, self.frames) = (Some(new.class), Some(new.frames));
                retell(&mut self.tare_g, new.tare_g.as_ref());
            }
            Entry::SuperDescribed(new) => {
                rename(&mut self.number, &mut self.former_numbers, new.number.as_ref());
                retell(&mut self.class, new.class.as_ref());
                retell(&mut self.frames, new.frames.as_ref());
                retell(&mut self.tare_g, new.tare_g.as_ref());
            }
            _ => {}
        }
    }

    fn place(&mut self, told: &Told<'_>, memo: &mut Memo, hive_id: HiveId, comb: Option<Comb>) {
        memo.remember(told);
        if self.brood_box || comb == Some(Comb::Brood) {
            self.flag(FlagCode::BroodBoxAsSuper, [Side::of(told).naming(hive_id)]);
        }
        if self.whereabouts == Whereabouts::Ended {
            self.flag(FlagCode::AfterTheEnd, [Side::of(told).naming(hive_id)]);
        }
        if self.whereabouts == Whereabouts::OnHive && !self.place_again(told, memo, hive_id) {
            return;
        }
        if self.filling.run_id.is_some() {
            self.begin_filling(comb);
        } else if self.filling.pulled.is_some() || self.filling.received_at.is_some() {
            self.return_unripe();
        }
        self.stand_on(told, hive_id);
    }

    /// Placed while it stood on a hive: a second witness, a dispute, or a move that nobody wrote. Says whether it
    /// now stands somewhere else.
    fn place_again(&mut self, told: &Told<'_>, memo: &Memo, hive_id: HiveId) -> bool {
        let Some(stand) = self.filling.stands.last_mut() else {
            return true;
        };
        if stand.candidates().any(|candidate| candidate == hive_id) {
            return false;
        }
        if told.at() - stand.from <= SAME_HAPPENING && memo.concurrent(stand.entry_id, told) {
            let first = Side {
                entry_id: stand.entry_id,
                at: stand.from,
                names: None,
                amount: None,
            };
            let first = first.naming(stand.hive_id);
            stand.or_hive_ids.push(hive_id);
            self.flag(FlagCode::OnTwoHives, [first, Side::of(told).naming(hive_id)]);
            return false;
        }
        self.leave_hive(told);
        true
    }

    fn stand_on(&mut self, told: &Told<'_>, hive_id: HiveId) {
        self.filling.stands.push(Stand {
            entry_id: told.id(),
            hive_id,
            or_hive_ids: Vec::new(),
            from: told.at(),
            from_day: told.on(),
            until: None,
            until_day: None,
            assumed: false,
        });
        self.filling.readings.clear();
        self.yard_id = None;
        self.whereabouts = Whereabouts::OnHive;
    }

    /// Ends the stand that is open, if one is.
    fn leave_hive(&mut self, told: &Told<'_>) {
        if let Some(stand) = self.filling.stands.last_mut()
            && stand.until.is_none()
        {
            (stand.until, stand.until_day) = (Some(told.at()), Some(told.on()));
        }
    }

    /// The filling before was spun; what is gathered now is another one. A box that went on sticky brings what was
    /// in it along (AL-6).
    fn begin_filling(&mut self, comb: Option<Comb>) {
        let sticky = matches!(self.whereabouts, Whereabouts::Extracted | Whereabouts::StoredWet);
        let on_wet = comb.map_or(sticky, |comb| comb == Comb::Wet);
        let mut done = std::mem::replace(
            &mut self.filling,
            Filling {
                on_wet,
                ..Filling::default()
            },
        );
        // Of a spun box only the reading that decided is still asked for.
        let water = done.water();
        done.readings.retain(|reading| match &water {
            crate::moisture::Water::Measured { entry_id, .. } => reading.entry_id == *entry_id,
            _ => false,
        });
        self.extracted.push(done);
    }

    /// An unripe super went back to the bees (ST-4): its honey stays, what was measured of it no longer holds.
    fn return_unripe(&mut self) {
        self.filling.pulled = None;
        self.filling.received_at = None;
        self.filling.full = None;
        self.filling.full_before.clear();
        self.filling.lost.clear();
        self.filling.dried_at = None;
        self.filling.drying.clear();
        self.filling.before_drying_hundredths = None;
    }

    fn shift(&mut self, told: &Told<'_>, memo: &mut Memo, moved: &SuperMoved) {
        memo.remember(told);
        match self.filling.stands.last_mut().filter(|stand| stand.until.is_none()) {
            Some(stand) if stand.hive_id == moved.to_hive_id => return,
            Some(stand) => {
                if stand.candidates().all(|hive| hive != moved.from_hive_id) {
                    let believed = Side {
                        entry_id: stand.entry_id,
                        at: stand.from,
                        names: None,
                        amount: None,
                    };
                    let believed = believed.naming(stand.hive_id);
                    stand.or_hive_ids.push(moved.from_hive_id);
                    self.flag(
                        FlagCode::OnTwoHives,
                        [believed, Side::of(told).naming(moved.from_hive_id)],
                    );
                }
                self.leave_hive(told);
            }
            None => {
                // As with a placing: after spinning a new filling begins, and what came in unripe went back.
                if self.filling.run_id.is_some() {
                    self.begin_filling(None);
                } else if self.filling.pulled.is_some() || self.filling.received_at.is_some() {
                    self.return_unripe();
                }
                self.assume_stand(told, moved.from_hive_id);
            }
        }
        self.stand_on(told, moved.to_hive_id);
    }

    /// Nobody wrote that it was put on; that it was there follows from what is told now (ST-5).
    fn assume_stand(&mut self, told: &Told<'_>, hive_id: HiveId) {
        self.filling.stands.push(Stand {
            entry_id: told.id(),
            hive_id,
            or_hive_ids: Vec::new(),
            from: told.at(),
            from_day: told.on(),
            until: Some(told.at()),
            until_day: Some(told.on()),
            assumed: true,
        });
    }

    fn pull(&mut self, told: &Told<'_>, memo: &mut Memo, pulled: &SuperPulled) {
        if self.filling.pulled.is_some() && self.filling.run_id.is_none() {
            self.pull_again((told, memo), pulled);
            return;
        }
        if self.filling.run_id.is_some() {
            self.begin_filling(None);
        }
        if self.filling.stands.is_empty() {
            self.flag(
                FlagCode::NeverPlaced,
                [Side {
                    names: pulled.hive_id.map(Into::into),
                    ..Side::of(told)
                }],
            );
            if let Some(hive_id) = pulled.hive_id {
                self.assume_stand(told, hive_id);
            }
        }
        self.name_hive((told, memo), pulled.hive_id);
        self.leave_hive(told);
        self.filling.pulled = Some(Pulling {
            entry_id: told.id(),
            at: told.at(),
            hive_id: pulled.hive_id,
            fullness_quarters: pulled.fullness_quarters,
            full_frames: pulled.full_frames,
            capped_percent: pulled.capped_percent,
            brood_seen: pulled.brood_seen,
        });
        if self.filling.received_at.is_none() {
            self.whereabouts = Whereabouts::Pulled;
        }
    }

    /// The pull names a hive: among several possible ones it becomes the likely one; another than all of them is a
    /// dispute, in which the placement is believed and the trace names both (CF-7).
    fn name_hive(&mut self, (told, memo): (&Told<'_>, &mut Memo), named: Option<HiveId>) {
        let (Some(named), Some(stand)) = (named, self.filling.stands.last_mut()) else {
            return;
        };
        if stand.hive_id == named {
            return;
        }
        if let Some(at) = stand.or_hive_ids.iter().position(|hive| *hive == named) {
            stand.or_hive_ids[at] = stand.hive_id;
            stand.hive_id = named;
            return;
        }
        let placed = Side {
            entry_id: stand.entry_id,
            at: stand.from,
            names: None,
            amount: None,
        };
        let placed = placed.naming(stand.hive_id);
        stand.or_hive_ids.push(named);
        memo.remember(told);
        self.flag(FlagCode::PulledFromOtherHive, [placed, Side::of(told).naming(named)]);
    }

    /// One pull with two witnesses, or a second that cannot be (CF-2).
    fn pull_again(&mut self, (told, memo): (&Told<'_>, &mut Memo), again: &SuperPulled) {
        let Some(first) = &mut self.filling.pulled else { return };
        let same_hive = match (first.hive_id, again.hive_id) {
            (Some(first), Some(again)) => first == again,
            _ => true,
        };
        if same_hive && told.at() - first.at <= SAME_HAPPENING {
            // The second witness may have looked where the first did not.
            first.hive_id = first.hive_id.or(again.hive_id);
            first.fullness_quarters = first.fullness_quarters.or(again.fullness_quarters);
            first.full_frames = first.full_frames.or(again.full_frames);
            first.capped_percent = first.capped_percent.or(again.capped_percent);
            first.brood_seen = match (first.brood_seen, again.brood_seen) {
                (Some(true), _) | (_, Some(true)) => Some(true),
                (first, again) => first.or(again),
            };
            // The first may have named no hive; the second may name another than it stood on.
            self.name_hive((told, memo), again.hive_id);
            return;
        }
        let names = first.hive_id.map(Into::into);
        let earlier = Side {
            entry_id: first.entry_id,
            at: first.at,
            names,
            amount: None,
        };
        let later = Side {
            names: again.hive_id.map(Into::into),
            ..Side::of(told)
        };
        self.flag(FlagCode::AlreadyPulled, [earlier, later]);
        self.name_hive((told, memo), again.hive_id);
    }

    fn receive(&mut self, told: &Told<'_>, received: &SuperReceived) {
        if let Some(uncapped) = self.filling.uncapped_at {
            if told.at() - uncapped <= SAME_HAPPENING {
                return;
            }
            self.begin_filling(None);
        }
        if self.filling.stands.is_empty() {
            self.flag(FlagCode::NeverPlaced, [Side::of(told)]);
        }
        self.leave_hive(told);
        self.filling.received_at.get_or_insert(told.at());
        if let Some(gross_g) = received.gross_g {
            self.weigh(told, gross_g, received.scale_id);
        }
        if self.whereabouts != Whereabouts::Drying {
            self.whereabouts = Whereabouts::InHouse;
        }
    }

    fn store(&mut self, told: &Told<'_>, wet: bool) {
        self.leave_hive(told);
        // On a hive and back without being filled (ST-4): nothing was gathered that anybody counts.
        if self.filling.run_id.is_none() && self.filling.received_at.is_none() {
            self.filling = Filling::default();
        }
        self.whereabouts = if wet {
            Whereabouts::StoredWet
        } else {
            Whereabouts::InStore
        };
    }

    pub(super) fn uncap(&mut self, told: &Told<'_>, memo: &mut Memo, run_id: RunId) {
        memo.remember(told);
        if let (Some(first), Some(at)) = (self.filling.run_id, self.filling.uncapped_at) {
            if first != run_id || told.at() - at > SAME_HAPPENING {
                self.flag(
                    FlagCode::ExtractedTwice,
                    [Side::of(told).naming(first), Side::of(told).naming(run_id)],
                );
                if first != run_id && !self.filling.or_run_ids.contains(&run_id) {
                    self.filling.or_run_ids.push(run_id);
                }
            }
            return;
        }
        if self.filling.stands.is_empty() {
            self.flag(FlagCode::NeverPlaced, [Side::of(told).naming(run_id)]);
        }
        self.leave_hive(told);
        (self.filling.run_id, self.filling.uncapped_at) = (Some(run_id), Some(told.at()));
        self.whereabouts = Whereabouts::Extracted;
    }
}
