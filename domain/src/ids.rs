//! Identities, one type a thing, in alphabetical order.
//!
//! An id is made by whoever saw the thing happen and stored before it is sent; nothing here makes one.

/// Declares identity types that only ever hold a UUID of their own kind.
macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),* $(,)?) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize, crate::form::Form, utoipa::ToSchema)]
        #[serde(transparent)]
        #[schema(value_type = uuid::Uuid)]
        pub struct $name(uuid::Uuid);

        impl $name {
            /// Takes over an id that somebody else made.
            #[must_use]
            pub const fn from_uuid(id: uuid::Uuid) -> Self { Self(id) }

            /// The id as it is stored.
            #[must_use]
            pub const fn uuid(self) -> uuid::Uuid { self.0 }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result { self.0.fmt(f) }
        }

        impl std::fmt::Debug for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                write!(f, concat!(stringify!($name), "({})"), self.0)
            }
        }
    )*};
}

ids! {
    /// Jars filled from one lot, of one size, under one label, on one day (ID-7).
    BatchId,
    /// Work, costs, income and prices: as a rule one set an operation, under its own id.
    BooksId,
    /// The living bees, as against the place they live in (ID-1).
    ColonyId,
    /// A pail, bucket, tank or drum; what it holds is a [`FillId`].
    ContainerId,
    /// Somebody who buys.
    CustomerId,
    /// Goods that left the house for one receiver.
    DeliveryId,
    /// A phone, a browser or another program that writes entries.
    DeviceId,
    /// One thing that happened.
    EntryId,
    /// What is in a container between two washings (ID-5).
    FillId,
    /// The stand and boxes at one spot (ID-1).
    HiveId,
    /// Honey treated as one thing for trace, quality and recall (LO-1).
    LotId,
    /// A medicine in the cupboard.
    MedicineId,
    /// A person who works for an operation.
    MemberId,
    /// A refractometer.
    MeterId,
    /// One beekeeping business.
    OperationId,
    /// A warm room.
    RoomId,
    /// One extraction between two drained states of one extractor (ID-4).
    RunId,
    /// A weighing scale.
    ScaleId,
    /// One sign-in of one device.
    SessionId,
    /// A box for surplus honey (ID-2).
    SuperId,
    /// A place with hives.
    YardId,
}
