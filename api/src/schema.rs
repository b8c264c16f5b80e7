//! The tables as diesel sees them. Auth tables are absent on purpose: they are reached through functions only.

diesel::table! {
    /// Who did what to people, devices and keys.
    audit (operation_id, id) {
        /// Whose books these are.
        operation_id -> Uuid,
        /// One row, one deed.
        id -> Uuid,
        /// When.
        at -> Timestamptz,
        /// Who did it.
        member_id -> Nullable<Uuid>,
        /// With which device.
        device_id -> Nullable<Uuid>,
        /// What was done, a fixed word.
        deed -> Text,
        /// Ids and fixed words only.
        detail -> Jsonb,
    }
}
