//! Containers: what they are, what was run into them, and when they were washed.

use chrono::{DateTime, Utc};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::common::state;
use crate::entry::{Entry, entry};
use crate::fold::{Aggregate, Memo, Told};
use crate::form::Form;
use crate::ids::{ContainerId, FillId};
use crate::subject::SubjectKind;
use crate::text::Name;
use crate::units::{Grams, Millilitres};
use crate::yard::{rename, retell};

/// What kind of container it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum ContainerKind {
    /// Up to about 15 kg.
    Pail,
    /// Up to about 30 kg.
    Bucket,
    /// Stands in the house, has a tap.
    Tank,
    /// Moved by truck.
    Drum,
}

entry! {
    /// A container came into use.
    ContainerRegistered = "container_registered" v 1 touches(container_id)
    {
        /// The container.
        container_id: ContainerId,
        /// What is painted on it.
        number: Name,
        /// What kind it is.
        container: ContainerKind,
        /// What it weighs empty.
        tare_g: Grams,
        /// What it holds.
        holds_ml: Millilitres,
    }
    optional {}
}

entry! {
    /// Words about a container changed.
    ContainerDescribed = "container_described" v 1 touches(container_id) wish DescribeContainer for container_id: ContainerId
    {}
    optional {
        /// What is painted on it.
        number: Name,
        /// What it weighs empty.
        tare_g: Grams,
        /// What it holds.
        holds_ml: Millilitres,
    }
}

entry! {
    /// A container was emptied and washed.
    ContainerWashed = "container_washed" v 1 touches(container_id) wish WashContainer for container_id: ContainerId
    {}
    optional {}
}

/// One fill in a container. Whether another was run in on top of it is asked with the fills at hand (ST-11).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
pub struct FillStay {
    /// The fill.
    pub fill_id: FillId,
    /// Since when.
    pub at: DateTime<Utc>,
    /// When it was washed out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub washed_at: Option<DateTime<Utc>>,
}

state! {
    /// A pail, bucket, tank or drum.
    Container {
        /// What is painted on it.
        #[serde(skip_serializing_if = "Option::is_none")]
        number: Option<Name>,
        /// Earlier numbers.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        former_numbers: Vec<Name>,
        /// What kind it is.
        #[serde(skip_serializing_if = "Option::is_none")]
        container: Option<ContainerKind>,
        /// What it weighs empty.
        #[serde(skip_serializing_if = "Option::is_none")]
        tare_g: Option<Grams>,
        /// What it holds.
        #[serde(skip_serializing_if = "Option::is_none")]
        holds_ml: Option<Millilitres>,
        /// What is in it since it was last washed.
        #[serde(skip_serializing_if = "Option::is_none")]
        fill_id: Option<FillId>,
        /// What was run into it, in order, and when that was washed out.
        #[serde(skip_serializing_if = "Vec::is_empty")]
        stays: Vec<FillStay>,
    }
}

impl Aggregate for Container {
    const KIND: SubjectKind = SubjectKind::Container;

    fn apply(&mut self, told: &Told<'_>, _: &mut Memo) {
        match told.entry {
            Entry::ContainerRegistered(new) => {
                rename(&mut self.number, &mut self.former_numbers, Some(&new.number));
                self.container = Some(new.container);
                (self.tare_g, self.holds_ml) = (Some(new.tare_g), Some(new.holds_ml));
            }
            Entry::ContainerDescribed(new) => {
                rename(&mut self.number, &mut self.former_numbers, new.number.as_ref());
                retell(&mut self.tare_g, new.tare_g.as_ref());
                retell(&mut self.holds_ml, new.holds_ml.as_ref());
            }
            Entry::ContainerWashed(_) => {
                self.fill_id = None;
                for stay in self.stays.iter_mut().filter(|stay| stay.washed_at.is_none()) {
                    stay.washed_at = Some(told.at());
                }
            }
            Entry::ContainerFilled(filled) => {
                self.fill_id = Some(filled.fill_id);
                // Told twice it is one fill.
                if self.stays.iter().all(|stay| stay.fill_id != filled.fill_id) {
                    self.stays.push(FillStay {
                        fill_id: filled.fill_id,
                        at: told.at(),
                        washed_at: None,
                    });
                }
            }
            _ => {}
        }
    }

    fn label(&self) -> Option<String> {
        self.number.as_ref().map(ToString::to_string)
    }

    fn status(&self) -> &'static str {
        if self.fill_id.is_some() { "filled" } else { "empty" }
    }
}
