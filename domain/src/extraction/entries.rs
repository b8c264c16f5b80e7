//! What can be told about an extraction run.

use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use crate::entry::entry;
use crate::form::Form;
use crate::ids::{RunId, ScaleId, SuperId};
use crate::text::{Name, Text};
use crate::units::{FrameCount, Grams, Micrometres};

/// How the extractor holds its frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, Form, ToSchema)]
#[serde(rename_all = "snake_case")]
pub enum Spin {
    /// Flat against the cage, flipped.
    Tangential,
    /// Like spokes.
    Radial,
}

entry! {
    /// An extraction began.
    RunOpened = "run_opened" v 1 touches(run_id)
    {
        /// The run.
        run_id: RunId,
    }
    optional {
        /// What people call it.
        name: Name,
        /// The extractor.
        extractor: Name,
        /// How it holds its frames.
        spin: Spin,
    }
}

entry! {
    /// Words about a run changed.
    RunDescribed = "run_described" v 1 touches(run_id) wish DescribeRun for run_id: RunId
    {}
    optional {
        /// What people call it.
        name: Name,
        /// The extractor.
        extractor: Name,
        /// How it holds its frames.
        spin: Spin,
    }
}

entry! {
    /// A super was uncapped into a run.
    SuperUncapped = "super_uncapped" v 1 touches(run_id, super_id) wish Uncap for run_id: RunId
    {
        /// The super.
        super_id: SuperId,
    }
    optional {
        /// Frames kept out, for brood or another reason (DI-1).
        frames_set_aside: FrameCount,
        /// The group it was spun in, where groups ran into containers of their own (AL-2).
        group: Name,
    }
}

entry! {
    /// A super was weighed after spinning.
    WetWeighed = "wet_weighed" v 1 touches(run_id, super_id) wish WeighWet for run_id: RunId
    {
        /// The super.
        super_id: SuperId,
        /// Box and sticky combs.
        gross_g: Grams,
    }
    optional {
        /// The scale.
        scale_id: ScaleId,
    }
}

entry! {
    /// Frames were kept out of the extractor. Else frames are not followed, only counted (ID-3).
    FramesSetAside = "frames_set_aside" v 1 touches(run_id, super_id) wish SetFramesAside for run_id: RunId
    {
        /// The super.
        super_id: SuperId,
        /// How many.
        frames: FrameCount,
    }
    optional {
        /// Why.
        reason: Text,
    }
}

entry! {
    /// The extractor was drained and clean: the run is over.
    RunDrained = "run_drained" v 1 touches(run_id) wish DrainRun for run_id: RunId
    {}
    optional {
        /// Honey left in extractor, pump and strainers, if it was weighed.
        left_in_machine_g: Grams,
    }
}

entry! {
    /// Everything of a run is weighed and its balance holds (ST-6).
    RunClosed = "run_closed" v 1 touches(run_id) wish CloseRun for run_id: RunId
    {}
    optional {
        /// What the balance leaves unexplained, in words.
        text: Text,
    }
}

entry! {
    /// The balance of a run was opened again: something of it was told late or wrongly (ST-6).
    RunReopened = "run_reopened" v 1 touches(run_id) wish ReopenRun for run_id: RunId
    {
        /// Why.
        reason: Text,
    }
    optional {}
}

entry! {
    /// The cappings were drained and weighed.
    CappingsWeighed = "cappings_weighed" v 1 touches(run_id) wish WeighCappings for run_id: RunId
    {
        /// Honey that ran out of them.
        honey_g: Grams,
    }
    optional {
        /// Wax.
        wax_g: Grams,
    }
}

entry! {
    /// Honey was taken from a run as a sample.
    SampleTaken = "sample_taken" v 1 touches(run_id) wish TakeSample for run_id: RunId
    {
        /// How much.
        weight_g: Grams,
    }
    optional {}
}

entry! {
    /// The honey of a run went through a screen, which was looked at before and after.
    HoneyStrained = "honey_strained" v 1 touches(run_id) wish Strain for run_id: RunId
    {
        /// Width of the mesh, micrometres.
        mesh_um: Micrometres,
    }
    optional {
        /// Whether the screen was whole before; absent means nobody looked.
        whole_before: bool,
        /// Whether it was whole after; a torn one holds the run.
        whole_after: bool,
    }
}
