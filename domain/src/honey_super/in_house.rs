//! How a super's state follows from what was told about it in the honey house.

use crate::allocation::{Plausible, gross_plausible};
use crate::common::{Common, FlagCode, Side};
use crate::extraction::WetWeighed;
use crate::fold::{Memo, Told};
use crate::honey_super::{Dried, Filling, LostFromSuper, Super, SuperWeighed, Weighing, Whereabouts};
use crate::ids::{RunId, ScaleId};
use crate::moisture::{MoistureRead, Reading};
use crate::units::{FrameCount, Grams};
use crate::weighing::differ;

impl Super {
    /// The later weighing counts; two that differ by more than a scale explains are flagged, unless the honey was
    /// dried between them (CF-10).
    pub(super) fn weigh(&mut self, told: &Told<'_>, gross_g: Grams, scale_id: Option<ScaleId>) {
        let new = Weighing {
            entry_id: told.id(),
            at: told.at(),
            gross_g,
            scale_id,
        };
        if let Some(class) = self.class
            && gross_plausible(class, gross_g, self.tare_g) == Plausible::Impossible
        {
            self.flag(FlagCode::Implausible, [Side::of(told).telling(gross_g.get())]);
        }
        let old = self.filling.full.replace(new);
        let dried = self.filling.dried_at.filter(|dried| told.at() >= *dried);
        if dried.is_some() {
            self.filling
                .full_before
                .retain(|before| dried.is_none_or(|dried| before.at > dried));
            // Weighed dry: what the air took is no longer in the weight that goes into the run.
            self.filling.before_drying_hundredths = None;
        }
        if let Some(old) = old.filter(|old| dried.is_none_or(|dried| old.at > dried)) {
            self.compare(told, &old, gross_g);
            self.filling.full_before.push(old);
        }
    }

    /// Lighter for a reason that somebody told: what is missing is lost, and the weighing before no other opinion.
    pub(super) fn weigh_again(&mut self, told: &Told<'_>, weighed: &SuperWeighed) {
        let before = self.filling.full.take_if(|before| {
            let lighter = before.gross_g > weighed.gross_g && before.at <= told.at();
            lighter && weighed.lost.is_some()
        });
        if let (Some(before), Some(reason)) = (before, &weighed.lost) {
            self.filling.full_before.clear();
            self.filling.lost.push(LostFromSuper {
                entry_id: told.id(),
                at: told.at(),
                weight_g: before.gross_g.get() - weighed.gross_g.get(),
                reason: reason.clone(),
            });
        }
        self.weigh(told, weighed.gross_g, weighed.scale_id);
    }

    fn compare(&mut self, told: &Told<'_>, old: &Weighing, used: Grams) {
        if differ(used, old.gross_g) {
            let earlier = Side {
                entry_id: old.entry_id,
                at: old.at,
                names: None,
                amount: Some(old.gross_g.get()),
            };
            self.flag(FlagCode::WeightsDiffer, [earlier, Side::of(told).telling(used.get())]);
        }
    }

    pub(super) fn read(&mut self, told: &Told<'_>, read: &MoistureRead) {
        let reading = Reading::of(told, read);
        if reading.cannot_be() {
            self.flag(FlagCode::ReadingCannotBe, [Side::of(told)]);
        }
        self.filling.readings.push(reading);
    }

    pub(super) fn stop_drying(&mut self, told: &Told<'_>) {
        if self.filling.before_drying_hundredths.is_none() {
            self.filling.before_drying_hundredths = self.filling.water().measured();
        }
        self.filling.drying.push(Dried {
            from: self.filling.drying_since.take(),
            until: told.at(),
            before_hundredths: self.filling.before_drying_hundredths,
        });
        self.filling.readings.clear();
        self.filling.dried_at = Some(told.at());
        if self.whereabouts == Whereabouts::Drying {
            self.whereabouts = Whereabouts::InHouse;
        }
    }

    pub(super) fn weigh_wet(&mut self, told: &Told<'_>, memo: &mut Memo, weighed: &WetWeighed) {
        let (run_id, gross_g) = (weighed.run_id, weighed.gross_g);
        let went = |filling: &Filling| filling.run_id == Some(run_id) || filling.or_run_ids.contains(&run_id);
        if !went(&self.filling) && !self.extracted.iter().any(went) {
            // Weighed after spinning, so it was spun: in another run than told before, it may have been in either.
            self.uncap(told, memo, run_id);
        }
        let Some(filling) = self.of_run(run_id) else { return };
        let new = Weighing {
            entry_id: told.id(),
            at: told.at(),
            gross_g,
            scale_id: weighed.scale_id,
        };
        let old = filling.wet.replace(new);
        filling.wet_before.extend(old.clone());
        let full = filling.full.clone();
        if let Some(old) = old {
            self.compare(told, &old, gross_g);
        }
        if let Some(full) = full
            && full.gross_g < gross_g
        {
            let before = Side {
                entry_id: full.entry_id,
                at: full.at,
                names: None,
                amount: Some(full.gross_g.get()),
            };
            self.flag(
                FlagCode::WetHeavierThanFull,
                [before, Side::of(told).telling(gross_g.get())],
            );
        }
    }

    /// Told at uncapping and again by itself it is the same handful of frames, so the larger count stands.
    pub(super) fn set_frames_aside(&mut self, run_id: RunId, frames: Option<FrameCount>) {
        if let Some(filling) = self.of_run(run_id) {
            filling.frames_set_aside = filling.frames_set_aside.max(frames);
        }
    }

    fn of_run(&mut self, run_id: RunId) -> Option<&mut Filling> {
        if self.filling.run_id == Some(run_id) {
            return Some(&mut self.filling);
        }
        let mut before = self.extracted.iter_mut().rev();
        before.find(|filling| filling.run_id == Some(run_id))
    }
}
