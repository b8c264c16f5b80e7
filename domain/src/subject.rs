//! What an entry can be about: one of the things whose state is folded.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use uuid::Uuid;

use crate::form::Form;
use crate::ids::{
    BatchId, BooksId, ColonyId, ContainerId, CustomerId, DeliveryId, FillId, HiveId, LotId, MedicineId, MeterId,
    OperationId, RoomId, RunId, ScaleId, SuperId, YardId,
};

/// Declares the kinds of thing, their stored names, and which identity belongs to which. A name is taken as a plain token:
/// wrapped as a literal, the contract would not see it.
macro_rules! subject_kinds {
    ($($(#[$doc:meta])* $kind:ident $name:tt $id:ident $as_id:ident),* $(,)?) => {
        /// A kind of thing with a life of its own.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, ToSchema)]
        pub enum SubjectKind {
            $($(#[$doc])* #[serde(rename = $name)] $kind,)*
        }

        impl SubjectKind {
            /// Every kind there is.
            pub const ALL: &'static [Self] = &[$(Self::$kind),*];

            /// The name as stored and sent.
            #[must_use]
            pub const fn name(self) -> &'static str {
                match self { $(Self::$kind => $name,)* }
            }

            /// The kind of that name.
            #[must_use]
            pub fn named(name: &str) -> Option<Self> {
                match name { $($name => Some(Self::$kind),)* _ => None }
            }
        }

        $(
            impl From<$id> for Subject {
                fn from(id: $id) -> Self { Self { kind: SubjectKind::$kind, id: id.uuid() } }
            }
            impl Touch for $id {
                fn touch(&self, out: &mut Vec<Subject>) { out.push((*self).into()); }
            }
            impl Subject {
                /// The thing's id, if it is one of that kind.
                #[must_use]
                pub fn $as_id(self) -> Option<$id> {
                    (self.kind == SubjectKind::$kind).then(|| <$id>::from_uuid(self.id))
                }
            }
        )*
    };
}

/// One thing, named by kind and id.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize, Form, ToSchema)]
pub struct Subject {
    /// What it is.
    pub kind: SubjectKind,
    /// Which one.
    pub id: Uuid,
}

/// Anything in an entry that names things whose state the entry changes.
pub(crate) trait Touch {
    /// Adds the things named.
    fn touch(&self, out: &mut Vec<Subject>);
}

subject_kinds! {
    /// Jars of one filling.
    Batch "batch" BatchId as_batch,
    /// What the business worked, paid and earned.
    Books "books" BooksId as_books,
    /// Bees.
    Colony "colony" ColonyId as_colony,
    /// A pail, bucket, tank or drum.
    Container "container" ContainerId as_container,
    /// A buyer.
    Customer "customer" CustomerId as_customer,
    /// Goods that left.
    Delivery "delivery" DeliveryId as_delivery,
    /// What is in a container.
    Fill "fill" FillId as_fill,
    /// A place for bees.
    Hive "hive" HiveId as_hive,
    /// Honey treated as one.
    Lot "lot" LotId as_lot,
    /// A medicine in the cupboard.
    Medicine "medicine" MedicineId as_medicine,
    /// A refractometer.
    Meter "meter" MeterId as_meter,
    /// A warm room.
    Room "room" RoomId as_room,
    /// One extraction.
    Run "run" RunId as_run,
    /// A weighing scale.
    Scale "scale" ScaleId as_scale,
    /// What the owner has settled for the whole operation.
    Settings "settings" OperationId as_settings,
    /// A box for surplus honey.
    Super "super" SuperId as_super,
    /// A place with hives.
    Yard "yard" YardId as_yard,
}

impl Touch for Subject {
    fn touch(&self, out: &mut Vec<Subject>) {
        out.push(*self);
    }
}

impl<T: Touch> Touch for Option<T> {
    fn touch(&self, out: &mut Vec<Subject>) {
        if let Some(named) = self {
            named.touch(out);
        }
    }
}

impl<T: Touch> Touch for Vec<T> {
    fn touch(&self, out: &mut Vec<Subject>) {
        for named in self {
            named.touch(out);
        }
    }
}

impl std::fmt::Display for Subject {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.kind.name(), self.id)
    }
}
