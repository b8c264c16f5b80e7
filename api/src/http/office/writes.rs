//! What happened, told to the office's calls: each a sub-resource of the thing it happened to.

use actix_web::http::header::LOCATION;
use actix_web::{HttpResponse, post, web};
use chrono::{DateTime, Utc};
use diesel_async::{AsyncConnection, AsyncPgConnection};
use domain::decide::{Needs, Refused, decide_or_doubt, happened, needs};
use domain::entry::{Entry, Wish, WrittenBy, spec};
use domain::ids::EntryId;
use domain::subject::{Subject, SubjectKind};
use domain::units::OffsetMinutes;
use serde::Deserialize;
use utoipa::IntoParams;
use uuid::Uuid;

use super::super::calls::Calls;
use super::{some, whole_house};
use crate::auth::Right;
use crate::clock;
use crate::http::problem::{BodyProblems, CommonProblems, Problem, ProblemBody};
use crate::http::{App, Body, Session};
use crate::ledger::read::of_id;
use crate::ledger::{NewEntry, Turn};
use crate::projections::read;
use crate::wire::office::{Written, single};

/// When it happened and under which id it is written; all of it may be left out.
#[derive(Debug, Default, Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
pub(crate) struct Stamp {
    /// The entry's id, made by the caller: repeating the call with it is harmless.
    entry_id: Option<Uuid>,
    /// When it happened; now, if absent.
    happened_at: Option<DateTime<Utc>>,
    /// Minutes east of UTC where it happened.
    #[param(value_type = Option<i64>)]
    utc_offset_min: Option<OffsetMinutes>,
    /// Record a value all the same that is refused as out of range; it is flagged as doubtful.
    anyway: Option<bool>,
}

/// Who may tell a kind here: the office what is the office's, everybody in yard and house the rest.
fn right_for(entry: &Entry) -> Right {
    match spec(entry.kind()).map(|spec| spec.written_by) {
        Some(WrittenBy::Field) => Right::Push,
        _ => Right::Office,
    }
}

impl From<Refused> for Problem {
    fn from(refused: Refused) -> Self {
        let detail = format!("{} ({})", refused.detail, refused.rule);
        Self::Contradiction {
            code: refused.code,
            detail,
        }
    }
}

/// Decides and writes one entry. Answers 201 with the entry's number, the warnings, and the thing as it is now.
pub(super) async fn write(
    app: &App,
    session: Session,
    stamp: Stamp,
    (about, entry): (Option<Subject>, Entry),
) -> Result<HttpResponse, Problem> {
    let mut conn = app.writer(&session, 0).await?;
    let work = app.db.detached(async move {
        conn.transaction(async |conn| {
            let mut turn = Turn::begin(conn, &session, right_for(&entry)).await?;
            // A device that has left keeps the right to push what it holds, which is kept apart; here nothing is.
            turn.who().may(Right::Read)?;
            let id = stamp.entry_id.unwrap_or_else(clock::new_id);
            append(conn, &mut turn, (id, &stamp), (about, &entry)).await
        })
        .await
    });
    let (written, repeated, about) = work.await?;
    if repeated {
        return Ok(HttpResponse::Ok().json(written));
    }
    let mut answer = HttpResponse::Created();
    if let Some(path) = about.and_then(path_of) {
        answer.insert_header((LOCATION, path));
    }
    Ok(answer.json(written))
}

async fn append(
    conn: &mut AsyncPgConnection,
    turn: &mut Turn,
    (id, stamp): (Uuid, &Stamp),
    (about, entry): (Option<Subject>, &Entry),
) -> Result<(Written, bool, Option<Subject>), Problem> {
    let who = *turn.who();
    let operation = who.operation.uuid();
    // What was written already is not decided again: it would contradict itself.
    let repeated = match stamp.entry_id {
        Some(_) => of_id(conn, operation, id).await?,
        None => None,
    };
    let now = clock::now();
    let happened_at = stamp.happened_at.unwrap_or(now);
    let long_ago = happened(happened_at, now).map_err(|refused| Problem::BadField {
        pointer: "/happened_at".to_owned(),
        detail: refused.detail,
    })?;
    let mut warnings = if repeated.is_some() {
        Vec::new()
    } else {
        let house = match needs(entry) {
            Needs::Touched => some(conn, &who, entry.touches().into_iter().chain(about).collect()).await?,
            Needs::WholeHouse => whole_house(conn, &who).await?,
        };
        if about.is_some_and(|about| house.get(about).is_none()) {
            return Err(Problem::NotFound);
        }
        decide_or_doubt(entry, &house, now, stamp.anyway.unwrap_or(false))?
    };
    warnings.extend(long_ago.filter(|_| repeated.is_none()));
    let offset = stamp.utc_offset_min.map_or(0, OffsetMinutes::get);
    let offset = i16::try_from(offset).map_err(Problem::internal)?;
    let new = NewEntry::made_here(entry, EntryId::from_uuid(id), happened_at, offset, turn.last_seq())?;
    let appended = turn.append(conn, &[new]).await?;
    let about = entry.about().or(about);
    let row = match about {
        Some(about) => read::load_rows(conn, &who, &[about]).await?.into_iter().next(),
        None => None,
    };
    let row = row.map(|row| single(row.subject, row.label.as_deref(), &row.status, &row.state));
    let written = Written {
        entry_id: id,
        seq: appended.seqs.first().copied().unwrap_or_default(),
        warnings,
        row: row.transpose().map_err(Problem::internal)?,
    };
    Ok((written, repeated.is_some(), about))
}

/// Where a thing is read.
fn path_of(subject: Subject) -> Option<String> {
    let plural = match subject.kind {
        SubjectKind::Batch => "batches",
        SubjectKind::Books => "books",
        SubjectKind::Colony => "colonies",
        SubjectKind::Container => "containers",
        SubjectKind::Customer => "customers",
        SubjectKind::Delivery => "deliveries",
        SubjectKind::Fill => "fills",
        SubjectKind::Hive => "hives",
        SubjectKind::Lot => "lots",
        SubjectKind::Medicine => "medicines",
        SubjectKind::Meter => "meters",
        SubjectKind::Room => "rooms",
        SubjectKind::Run => "runs",
        SubjectKind::Scale => "scales",
        SubjectKind::Settings => return Some("/v1/settings".to_owned()),
        SubjectKind::Super => "supers",
        SubjectKind::Yard => "yards",
    };
    Some(format!("/v1/{plural}/{}", subject.id))
}

/// Declares the calls whose subject stands in the path, and those whose body names it.
macro_rules! writes {
    (about { $($about:ident $about_path:tt $about_id:tt $wish:ty, $about_says:tt;)* }
     whole { $($whole:ident $whole_path:tt $whole_id:tt $data:ty, $whole_says:tt;)* }) => {
        $(
            #[utoipa::path(tag = "happenings", operation_id = $about_id, summary = $about_says,
                security(("bearer" = [])), params(("id" = Uuid, Path, description = "what it happened to"), Stamp),
                request_body = $wish, responses((status = 201, body = Written),
                    (status = 200, body = Written, description = "This entry was written before"),
                    (status = 422, body = ProblemBody, content_type = "application/problem+json",
                     description = "`contradiction`: what speaks against it, with a `code`"),
                    CommonProblems, BodyProblems))]
            #[post($about_path)]
            pub(crate) async fn $about(
                app: web::Data<App>,
                session: Session,
                id: web::Path<Uuid>,
                stamp: web::Query<Stamp>,
                body: Body<$wish>,
            ) -> Result<HttpResponse, Problem> {
                let subject = <<$wish as Wish>::About>::from_uuid(*id);
                let told = (Some(subject.into()), body.0.about(subject).into());
                write(&app, session, stamp.into_inner(), told).await
            }
        )*
        $(
            #[utoipa::path(tag = "happenings", operation_id = $whole_id, summary = $whole_says,
                security(("bearer" = [])), params(Stamp), request_body = $data,
                responses((status = 201, body = Written),
                    (status = 200, body = Written, description = "This entry was written before"),
                    (status = 422, body = ProblemBody, content_type = "application/problem+json",
                     description = "`contradiction`: what speaks against it, with a `code`"),
                    CommonProblems, BodyProblems))]
            #[post($whole_path)]
            pub(crate) async fn $whole(
                app: web::Data<App>,
                session: Session,
                stamp: web::Query<Stamp>,
                body: Body<$data>,
            ) -> Result<HttpResponse, Problem> {
                write(&app, session, stamp.into_inner(), (None, body.0.into())).await
            }
        )*

        pub(super) fn routes(cfg: &mut impl Calls) {
            $(cfg.service($about);)*
            $(cfg.service($whole);)*
        }
    };
}

writes! {
    about {
        count_colonies "/v1/yards/{id}/colony-counts" "count_colonies" domain::yard::CountColonies, "Count the colonies fit to produce";
        start_flow "/v1/yards/{id}/flow-starts" "start_flow" domain::yard::StartFlow, "Set the first day of the flow";
        end_flow "/v1/yards/{id}/flow-ends" "end_flow" domain::yard::EndFlow, "Set the last day of the flow";
        order_standstill "/v1/yards/{id}/standstills" "order_standstill" domain::disease::OrderStandstill, "Write an official stop on moves";
        license_moves "/v1/yards/{id}/standstill-licences" "license_moves" domain::disease::LicenseMoves, "Write a licence to move in spite of an order";
        lift_standstill "/v1/yards/{id}/standstill-ends" "lift_standstill" domain::disease::LiftStandstill, "Write that an official stop was lifted";
        inspect "/v1/hives/{id}/inspections" "inspect_hive" domain::inspection::Inspect, "Look into a hive";
        buy_medicine "/v1/medicines/{id}/purchases" "buy_medicine" domain::medicine::BuyMedicine, "Write medicine that was bought";
        dispose_of_medicine "/v1/medicines/{id}/disposals" "dispose_of_medicine" domain::medicine::DisposeOfMedicine, "Write medicine that was disposed of";
        move_hive "/v1/hives/{id}/moves" "move_hive" domain::hive::MoveHive, "Carry a hive to another yard";
        move_colony "/v1/colonies/{id}/moves" "move_colony" domain::colony::MoveColony, "Put bees into another hive";
        requeen "/v1/colonies/{id}/queens" "requeen_colony" domain::colony::Requeen, "Write a new queen";
        leave_honey "/v1/hives/{id}/honey-left" "leave_honey" domain::left::LeaveHoney, "Write honey that was left on a hive";
        leave_out "/v1/hives/{id}/left-out-yields" "leave_yield_out" domain::left::LeaveOut, "Leave a hive out of a season's figures";
        end_colony "/v1/colonies/{id}/ends" "end_colony" domain::colony::EndColony, "Say how a colony ended";
        place "/v1/supers/{id}/placements" "place_super" domain::honey_super::Place, "Put a super on a hive";
        shift "/v1/supers/{id}/shifts" "shift_super" domain::honey_super::Shift, "Shift a super to another hive";
        pull "/v1/supers/{id}/pulls" "pull_super" domain::honey_super::Pull, "Take a super off";
        leave "/v1/supers/{id}/stays" "leave_super" domain::honey_super::LeaveInYard, "Leave a super stacked in a yard";
        load "/v1/supers/{id}/loads" "load_super" domain::honey_super::Load, "Put a super on the truck";
        receive "/v1/supers/{id}/receipts" "receive_super" domain::honey_super::Receive, "Receive a super in the house";
        weigh "/v1/supers/{id}/weighings" "weigh_super" domain::honey_super::WeighSuper, "Weigh a full super again";
        store_super "/v1/supers/{id}/stores" "store_super" domain::honey_super::StoreSuper, "Put a super away";
        scrap "/v1/supers/{id}/ends" "end_super" domain::honey_super::Scrap, "Say how a box ended";
        check_meter "/v1/meters/{id}/checks" "check_meter" domain::meter::CheckMeter, "Check a refractometer";
        check_scale "/v1/scales/{id}/checks" "check_scale" domain::meter::CheckScale, "Check a scale";
        read_room "/v1/rooms/{id}/readings" "read_room" domain::warm_room::ReadRoom, "Read the air of a warm room";
        uncap "/v1/runs/{id}/uncappings" "uncap_super" domain::extraction::Uncap, "Uncap a super into a run";
        weigh_wet "/v1/runs/{id}/wet-weights" "weigh_wet" domain::extraction::WeighWet, "Weigh a super after spinning";
        set_aside "/v1/runs/{id}/frames-set-aside" "set_frames_aside" domain::extraction::SetFramesAside, "Keep frames out of the extractor";
        drain "/v1/runs/{id}/drainings" "drain_run" domain::extraction::DrainRun, "Drain the extractor: the run is over";
        close_run "/v1/runs/{id}/closings" "close_run" domain::extraction::CloseRun, "Close the balance of a run";
        reopen_run "/v1/runs/{id}/reopenings" "reopen_run" domain::extraction::ReopenRun, "Open the balance of a run again";
        cappings "/v1/runs/{id}/cappings" "weigh_cappings" domain::extraction::WeighCappings, "Weigh drained cappings";
        sample_run "/v1/runs/{id}/samples" "sample_run" domain::extraction::TakeSample, "Take a sample of a run";
        strain "/v1/runs/{id}/strainings" "strain_run" domain::extraction::Strain, "Strain, and look at the screen";
        wash "/v1/containers/{id}/washings" "wash_container" domain::fill::WashContainer, "Empty and wash a container";
        settle "/v1/fills/{id}/settlings" "settle_fill" domain::fill::Settle, "Let honey settle and skim it";
        release "/v1/lots/{id}/releases" "release_lot" domain::lot::Release, "Release a lot";
        bottle "/v1/lots/{id}/bottlings" "bottle_lot" domain::batch::Bottle, "Fill jars from a lot";
        sample_lot "/v1/lots/{id}/samples" "sample_lot" domain::lot::SampleLot, "Take a sample of a lot";
        waste "/v1/lots/{id}/losses" "waste_lot" domain::lot::Waste, "Write honey off";
        check_weights "/v1/batches/{id}/check-weights" "check_weights" domain::batch::CheckWeights, "Weigh full jars";
        label "/v1/batches/{id}/labels" "label_batch" domain::batch::Label, "Label jars";
        break_glass "/v1/batches/{id}/glass" "break_glass" domain::batch::BreakGlass, "Write broken glass: the batch is held";
        store_batch "/v1/batches/{id}/stores" "store_batch" domain::batch::StoreBatch, "Put jars away";
        take_jars "/v1/batches/{id}/outs" "take_jars_out" domain::batch::TakeJarsOut, "Take jars out without a sale";
        tell_complaint "/v1/batches/{id}/complaints" "tell_complaint" domain::batch::TellComplaint, "Write a complaint about jars";
        count_stock "/v1/batches/{id}/stock-counts" "count_stock" domain::batch::CountStock, "Count jars in store";
        pick_order "/v1/deliveries/{id}/picks" "pick_order" domain::delivery::PickOrder, "Put the goods of an order together";
        mark_order "/v1/deliveries/{id}/marks" "mark_order" domain::delivery::MarkOrder, "Confirm or cancel an order, or write that it is paid";
        take_back "/v1/deliveries/{id}/returns" "return_jars" domain::delivery::Return, "Take jars back";
    }
    whole {
        book_work "/v1/work" "book_work" domain::books::WorkBooked, "Write time that was worked";
        book_cost "/v1/costs" "book_cost" domain::books::CostBooked, "Book a cost";
        book_income "/v1/incomes" "book_income" domain::books::IncomeBooked, "Book income other than from honey";
        set_price "/v1/prices" "set_price" domain::books::PriceSet, "Set a price of a season";
        add_yard "/v1/yards" "register_yard" domain::yard::YardRegistered, "Register a yard";
        add_hive "/v1/hives" "register_hive" domain::hive::HiveRegistered, "Register a hive";
        add_colony "/v1/colonies" "register_colony" domain::colony::ColonyRegistered, "Register a colony";
        add_super "/v1/supers" "register_super" domain::honey_super::SuperRegistered, "Register a super";
        add_medicine "/v1/medicines" "register_medicine" domain::medicine::MedicineRegistered, "Put a medicine on the cupboard's list";
        put_in "/v1/treatment-starts" "put_treatment_in" domain::treatment::TreatmentPutIn, "Put medicine into hives";
        give "/v1/treatments-at-once" "give_treatment" domain::treatment::TreatmentGiven, "Give medicine to hives at once";
        take_out "/v1/treatment-ends" "take_treatment_out" domain::treatment::TreatmentTakenOut, "Take medicine out of hives";
        see "/v1/treatment-sightings" "see_treatment" domain::treatment::TreatmentSeen, "Write medicine seen still in hives";
        put_feed_on "/v1/feed-starts" "put_feed_on" domain::feed::FeedPutOn, "Put feed on hives";
        take_feed_off "/v1/feed-ends" "take_feed_off" domain::feed::FeedTakenOff, "Take feed off hives";
        suspect "/v1/disease-suspicions" "suspect_disease" domain::disease::DiseaseSuspected, "Write the suspicion of a disease";
        diagnose "/v1/disease-diagnoses" "diagnose_disease" domain::disease::DiseaseDiagnosed, "Write the diagnosis of a disease";
        clear_disease "/v1/disease-clearances" "clear_disease" domain::disease::DiseaseCleared, "End a suspicion or a diagnosis";
        note_taint "/v1/taints" "note_taint" domain::taint::TaintNoted, "Write a foreign smell in supers";
        clean_boxes "/v1/box-cleanings" "clean_boxes" domain::taint::BoxCleaned, "Write that empty boxes were cleaned";
        add_meter "/v1/meters" "register_meter" domain::meter::MeterRegistered, "Register a refractometer";
        add_scale "/v1/scales" "register_scale" domain::meter::ScaleRegistered, "Register a scale";
        add_room "/v1/rooms" "register_room" domain::warm_room::RoomRegistered, "Register a warm room";
        add_container "/v1/containers" "register_container" domain::fill::ContainerRegistered, "Register a container";
        add_customer "/v1/customers" "register_customer" domain::delivery::CustomerRegistered, "Register a buyer";
        open_run "/v1/runs" "open_run" domain::extraction::RunOpened, "Open an extraction run";
        fill "/v1/fills" "fill_container" domain::fill::ContainerFilled, "Fill a container";
        draw "/v1/draws" "draw_honey" domain::lot::HoneyDrawn, "Draw honey into a lot of its own";
        blend "/v1/blends" "blend_honey" domain::lot::Blended, "Blend honey into a lot";
        read_moisture "/v1/readings" "read_moisture" domain::moisture::MoistureRead, "Measure moisture";
        count_honey "/v1/honey-counts" "count_honey" domain::content::HoneyCounted, "Weigh what is left in a container or lot";
        stir "/v1/stirrings" "stir_honey" domain::moisture::HoneyStirred, "Stir honey through";
        start_drying "/v1/drying-starts" "start_drying" domain::warm_room::DryingStarted, "Start drying supers";
        stop_drying "/v1/drying-stops" "stop_drying" domain::warm_room::DryingStopped, "Stop drying supers";
        clear_supers "/v1/clearings" "clear_supers" domain::clearing::ClearingFitted, "Write what clears supers of bees";
        end_honey "/v1/honey-ends" "end_honey" domain::lot::HoneyEnded, "Withdraw, recall, destroy or downgrade honey";
        rework "/v1/reworks" "rework_jars" domain::batch::JarsReworked, "Empty jars into a new lot";
        order "/v1/orders" "order_goods" domain::delivery::GoodsOrdered, "Write an order";
        deliver "/v1/deliveries" "deliver" domain::delivery::Delivered, "Deliver goods";
        hold "/v1/holds" "set_hold" domain::common::HoldSet, "Bar something from use";
        lift "/v1/hold-ends" "end_hold" domain::common::HoldLifted, "End a hold";
        note "/v1/notes" "write_note" domain::common::NoteWritten, "Write a note";
    }
}
