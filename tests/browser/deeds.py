"""What can be told of a thing on its own page, and orders: told through the screens as people do, and compared with the
ledger. No kind of entry that people write is without a screen."""

import os
import re
import uuid

from house_work import counted, keys, said
from office import at_desk, fill
from service import Yard

WEB = os.path.join(os.path.dirname(__file__), "..", "..", "api", "web")

# Kinds that are not told of a thing on a screen of their own, and why.
OTHERWISE = {
    "amended": "an earlier entry told anew, from the list of what was told",
    "profile_value_changed": "a value of the rules in force, by its call on Profile and limits",
    "voided": "an earlier entry withdrawn: undo, the list of what was told, the flags",
}


def ground(service):
    """Yards, hives with bees, supers on them, a run with all its weights, a pail, two lots, jars of two ages, a buyer."""
    yard = Yard(service, 3, 8)
    other = Yard(service, 1, 0, name="Heath End", letter="H")
    on = yard.place(service, 2)
    ids = {name: str(uuid.uuid4()) for name in ("colony", "run", "pail", "pail2", "fill", "fill2", "lot", "lot2", "old", "young", "held", "buyer", "room", "meter", "scale", "medicine")}
    spun = yard.supers[on["L03"][0]]
    service.push(
        ("colony_registered", {"colony_id": ids["colony"], "hive_id": yard.hives["L01"]}),
        ("super_pulled", {"super_id": spun, "hive_id": yard.hives["L03"]}),
        ("super_received", {"super_id": spun, "gross_g": 21400}),
        ("run_opened", {"run_id": ids["run"], "name": "R1"}),
        ("super_uncapped", {"run_id": ids["run"], "super_id": spun}),
        ("wet_weighed", {"run_id": ids["run"], "super_id": spun, "gross_g": 8100}),
        *[("container_registered", {"container_id": ids[name], "number": name, "container": "bucket", "tare_g": 1200, "holds_ml": 20000}) for name in ("pail", "pail2")],
        ("container_filled", {"fill_id": ids["fill"], "source": {"run_id": ids["run"]}, "gross_g": 9200, "tare_g": 1200, "container_id": ids["pail"], "code": "R1 pail", "label_stuck": True}),
        ("container_filled", {"fill_id": ids["fill2"], "source": {"bought_from": "neighbour"}, "gross_g": 21200, "tare_g": 1200, "container_id": ids["pail2"], "code": "bought", "label_stuck": True}),
        ("honey_drawn", {"lot_id": ids["lot"], "code": "25-007-K", "fill_id": ids["fill2"], "weight_g": 10000}),
        ("honey_drawn", {"lot_id": ids["lot2"], "code": "25-008-G", "fill_id": ids["fill2"], "weight_g": 9000}),
        *[("bottled", {"batch_id": ids[name], "lot_id": ids["lot2"], "code": code, "nominal_g": 500, "jars_good": jars}) for name, code, jars in (("held", "25-A006-2", 2), ("old", "25-A007-Y", 4), ("young", "25-A008-V", 6))],
        ("hold_set", {"target": {"kind": "batch", "id": ids["held"]}, "reason": "other", "text": "lids"}),
        ("room_registered", {"room_id": ids["room"], "name": "warm room"}),
        ("meter_registered", {"meter_id": ids["meter"], "name": "meter 1", "compensated": True}),
        ("scale_registered", {"scale_id": ids["scale"], "name": "platform", "step_g": 50}),
        ("medicine_registered", {"medicine_id": ids["medicine"], "name": "thymol strips", "wait_days": 7, "supers_allowed": False}),
        ("customer_registered", {"customer_id": ids["buyer"], "name": "Shop 1", "phone": "555 0100"}),
    )
    return yard, other, on, ids, spun


class Teller:
    """Tells through the screens, and looks up what arrived."""

    def __init__(self, desk, service):
        self.desk, self.service, self.told = desk, service, {}

    def of(self, kind):
        return [one["entry"]["data"] for one in self.service.ledger() if one["entry"]["kind"] == kind]

    def arrived(self, kind, before, expected):
        """One entry more of the kind, with what was typed in it and nothing besides the names of things."""
        self.desk.page.wait_for_function("(n) => document.querySelector('dialog[open]') || document.querySelector('.strip-outbox')?.dataset.state === 'sent'", arg=0)
        answered(self.desk)
        self.desk.until(lambda: len(self.of(kind)) > before or answered(self.desk), f"an entry {kind}")
        told = self.of(kind)
        assert len(told) == before + 1, (kind, told)
        assert expected.items() <= told[-1].items(), (kind, told[-1], expected)
        self.told[kind] = told[-1]
        return told[-1]

    def deed(self, page, kind, typed, expected):
        """From the page of a thing to the form, and written."""
        before = len(self.of(kind))
        self.desk.go(page)
        to = f"main a[href*='/{kind}']"
        self.desk.see(to, state="attached")
        if not self.desk.page.locator(to).first.is_visible():
            self.desk.page.click(f"main details:has(a[href*='/{kind}']) > summary")
        self.desk.touch(to)
        self.desk.see(f"#{kind}-form")
        fill(self.desk, f"{kind}-form", **typed)
        return self.arrived(kind, before, expected)

    def form(self, form, kind, typed, expected):
        """A form that stands on the screen already."""
        before = len(self.of(kind))
        self.desk.see(f"#{form}", state="attached")
        fill(self.desk, form, **typed)
        return self.arrived(kind, before, expected)


def answered(phone):
    """A doubt is asked about: it is meant so."""
    if phone.page.query_selector("dialog[open]"):
        phone.touch("[data-key=ask-yes]", count=False)
    return False


def things(yard, on, ids, spun):
    """(page, kind, what is typed, what the ledger says) for every deed, in an order in which each can have happened."""
    hive, bare = yard.hives["L01"], yard.hives["L02"]
    box, free = yard.supers[on["L01"][0]], yard.supers["007"]
    lot, fills, run, batch = (f"/office/{where}" for where in (f"lots/{ids['lot']}", f"tell/fill/{ids['fill']}", f"tell/run/{ids['run']}", f"stock/{ids['young']}"))
    supers, hives, yards = f"/office/set-up/supers/{box}", f"/office/set-up/hives/{hive}", f"/office/set-up/yards/{yard.id}"
    of_lot, of_fill = {"kind": "lot", "id": ids["lot"]}, {"kind": "fill", "id": ids["fill"]}
    return [
        (lot, "lot_sampled", {"weight_g": "0,5"}, {"lot_id": ids["lot"], "weight_g": 500}),
        (lot, "honey_stirred", {}, {"target": of_lot}),
        (lot, "honey_counted", {"content_g": "9.3 kg", "reason": "drops"}, {"target": of_lot, "content_g": 9300, "reason": "drops"}),
        (lot, "lot_described", {"claim": "heather honey", "name": "ling", "claim_reason": "on the moor in August"}, {"lot_id": ids["lot"], "claim": "heather", "name": "ling", "claim_reason": "on the moor in August"}),
        (lot, "honey_wasted", {"weight_g": "0.2", "reason": "a jar broke"}, {"lot_id": ids["lot"], "weight_g": 200, "reason": "a jar broke"}),
        (lot, "hold_set", {"reason": "complaint", "text": "off taste"}, {"target": of_lot, "reason": "complaint", "text": "off taste"}),
        (lot, "hold_lifted", {"reason": "tasted again"}, {"target": of_lot, "reason": "tasted again"}),
        (lot, "note_written", {"text": "stands by the door"}, {"about": [of_lot], "text": "stands by the door"}),
        (lot, "honey_ended", {"how": "withdrawn from sale", "reason": "reported twice"}, {"target": of_lot, "how": "withdrawn", "reason": "reported twice"}),
        (fills, "honey_counted", {"content_g": "7.9", "reason": "weighed again"}, {"target": of_fill, "content_g": 7900}),
        (batch, "weights_checked", {"net_tenths_g": "501,2 499.8 500"}, {"batch_id": ids["young"], "net_tenths_g": [5012, 4998, 5000]}),
        (batch, "labelled", {"printed": "8", "used": "6", "spoilt": "1", "label_version": "3", "best_before": "2028-06-30"}, {"batch_id": ids["young"], "printed": 8, "used": 6, "spoilt": 1, "label_version": "3", "best_before": "2028-06-30"}),
        (batch, "batch_stored", {"place": "shelf B"}, {"batch_id": ids["young"], "place": "shelf B"}),
        (batch, "stock_counted", {"jars": "5", "reason": "one is gone"}, {"batch_id": ids["young"], "jars": 5, "reason": "one is gone"}),
        (batch, "jars_taken_out", {"jars": "1", "went": "kept as samples", "reason": "of this filling"}, {"batch_id": ids["young"], "jars": 1, "went": "samples", "reason": "of this filling"}),
        (batch, "complaint_told", {"text": "it ferments", "jars": "1"}, {"batch_id": ids["young"], "text": "it ferments", "jars": 1}),
        (batch, "jars_reworked", {"jars": "2", "weight_g": "0.9", "claim": "baker’s honey", "reason": "set coarse"}, {"batch_id": ids["young"], "jars": 2, "weight_g": 900, "claim": "bakers", "reason": "set coarse"}),
        (run, "sample_taken", {"weight_g": "0.4"}, {"run_id": ids["run"], "weight_g": 400}),
        (run, "frames_set_aside", {"super_id": "005", "frames": "2", "reason": "brood in them"}, {"run_id": ids["run"], "super_id": spun, "frames": 2, "reason": "brood in them"}),
        (run, "run_described", {"extractor": "the large one", "spin": "radial"}, {"run_id": ids["run"], "extractor": "the large one", "spin": "radial"}),
        (supers, "super_moved", {"to_hive_id": "L02"}, {"super_id": box, "from_hive_id": hive, "to_hive_id": bare}),
        (supers, "taint_noted", {"taint": "repellent", "text": "spilt on it"}, {"super_ids": [box], "taint": "repellent", "text": "spilt on it"}),
        (supers, "box_cleaned", {"how": "washed, aired"}, {"super_ids": [box], "how": "washed, aired"}),
        (f"/office/set-up/supers/{free}", "super_scrapped", {"how": "burnt by order"}, {"super_id": free, "how": "burnt_by_order"}),
        (hives, "colony_described", {"queen_line": "Amber"}, {"colony_id": ids["colony"], "queen_line": "Amber"}),
        (hives, "disease_suspected", {"disease": "American foulbrood", "text": "sunken caps"}, {"place": {"hive_id": hive}, "disease": "american_foulbrood", "text": "sunken caps"}),
        (hives, "disease_diagnosed", {"disease": "American foulbrood", "found_by": "state laboratory", "reference": "P 331"}, {"place": {"hive_id": hive}, "disease": "american_foulbrood", "found_by": "state laboratory", "reference": "P 331"}),
        (hives, "disease_cleared", {"reason": "both samples clean", "reference": "P 332"}, {"place": {"hive_id": hive}, "reason": "both samples clean", "reference": "P 332"}),
        (hives, "colony_moved", {"hive_id": "L02"}, {"colony_id": ids["colony"], "hive_id": bare}),
        (yards, "standstill_ordered", {"order": "SN 12", "authority": "bee inspector", "text": "until the samples are back"}, {"yard_id": yard.id, "order": "SN 12", "authority": "bee inspector", "text": "until the samples are back"}),
        (yards, "standstill_licensed", {"licence": "L 7", "until": "2027-06-20"}, {"yard_id": yard.id, "licence": "L 7", "until": "2027-06-20"}),
        (yards, "standstill_lifted", {"reason": "samples clean", "notice": "SN 12 W"}, {"yard_id": yard.id, "reason": "samples clean", "notice": "SN 12 W"}),
    ]


def run_in_the_house(stage, phone, teller, ids, spun):
    """At the extractor, with gloves: a sample, frames set aside, drained, closed; opened again at a desk."""
    phone.go(f"/house/run/{ids['run']}")
    phone.see("[data-key=sample]")
    phone.touches = 0
    phone.touch("[data-key=sample]")
    phone.see("#sample")
    typed = keys(phone, 5)
    phone.touch("[data-key=sample-next]")
    said(phone, "sample, 0.5")
    counted(stage, phone, "run, a sample", typed, 2)
    phone.see("[data-key=aside]")
    phone.touch("[data-key=aside]")
    phone.touch(f"main[data-at$=aside] [data-key='super-{spun}']")
    phone.see("#frames")
    typed = keys(phone, 1)
    phone.touch("[data-key=frames-next]")
    said(phone, "1 frame set aside")
    counted(stage, phone, "run, frames set aside", typed, 3)
    phone.see("[data-key=drain]")
    phone.touch("[data-key=drain]")
    phone.see("#left")
    phone.touch("[data-key=skip-left]")
    said(phone, "drained")
    phone.see("[data-key=close]")
    phone.touches = 0
    phone.touch("[data-key=close]")
    said(phone, "closed")
    counted(stage, phone, "run, closed", 0, 1)
    phone.until_sent()
    assert teller.of("sample_taken")[-1] == {"run_id": ids["run"], "weight_g": 500}
    assert teller.of("frames_set_aside")[-1] == {"run_id": ids["run"], "super_id": spun, "frames": 1}
    assert teller.of("run_closed") == [{"run_id": ids["run"]}]
    # What another device told is read before it is told again.
    teller.desk.go("/outbox")
    teller.desk.touch("[data-key=send-now]")
    teller.desk.until_sent()
    page = f"/office/tell/run/{ids['run']}"
    teller.deed(page, "run_reopened", {"reason": "a super was weighed late"}, {"run_id": ids["run"], "reason": "a super was weighed late"})
    teller.deed(page, "run_closed", {"text": "all weighed"}, {"run_id": ids["run"], "text": "all weighed"})


def settings(desk, teller, ids):
    """What the service itself writes: whose rules hold, limits, a release."""
    for form, kind, typed, expected in (
        ("profile-form", "profile_chosen", {"profile": "England"}, {"profile": "uk_england"}),
        ("limit-form", "house_limit_set", {"moisture_hundredths": "17,5"}, {"moisture_hundredths": 1750}),
        ("hold-days-form", "hold_days_set", {"after_feed_days": "14"}, {"after_feed_days": 14}),
    ):
        # Come anew: after a save the screen is drawn again, a moment later.
        desk.go("/office/set-up/limits")
        teller.form(form, kind, typed, expected)
    teller.service.push(("moisture_read", {"targets": [{"kind": "lot", "id": ids["lot2"]}], "shown": {"moisture_hundredths": 1720}, "compensated": True}))
    desk.go(f"/office/lots/{ids['lot2']}")
    desk.see("#release-form")
    desk.page.fill("#release-reason", "measured and tasted")
    desk.page.select_option("#release-tastes", "yes")
    before = len(teller.of("lot_released"))
    desk.touch("[data-key=release-form-save]")
    teller.arrived("lot_released", before, {"lot_id": ids["lot2"], "samples_kept": 2, "tastes_right": True, "reason": "measured and tasted"})


def descriptions(desk, teller, yard, ids):
    """Everything that was set up is called otherwise."""
    said = [
        ("yards", yard.id, "yard", "name", "Linden Row 2"),
        ("hives", yard.hives["L03"], "hive", "code", "L33"),
        ("supers", yard.supers["008"], "super", "number", "808"),
        ("containers", ids["pail"], "container", "number", "P1"),
        ("meters", ids["meter"], "meter", "name", "meter one"),
        ("scales", ids["scale"], "scale", "name", "floor scale"),
        ("rooms", ids["room"], "room", "name", "back room"),
        ("medicines", ids["medicine"], "medicine", "name", "thymol"),
        ("buyers", ids["buyer"], "customer", "name", "Shop One"),
    ]
    for what, thing, kind, field, value in said:
        desk.go(f"/office/set-up/{what}/{thing}")
        told = teller.form(f"{what}-describe", f"{kind}_described", {field: value}, {field: value})
        assert set(told) == {f"{kind}_id", field}, told
    for what, kind, typed, expected in (
        ("buyers", "customer", {"name": "Shop 2"}, {"name": "Shop 2"}),
        ("medicines", "medicine", {"name": "acid", "wait_days": "0", "supers_allowed": "No"}, {"name": "acid", "wait_days": 0, "supers_allowed": False}),
        ("meters", "meter", {"name": "meter 2", "compensated": "No"}, {"name": "meter 2", "compensated": False}),
        ("scales", "scale", {"name": "pocket", "step_g": "5"}, {"name": "pocket", "step_g": 5}),
    ):
        desk.go(f"/office/set-up/{what}")
        teller.form(f"{what}-form", f"{kind}_registered", typed, expected)
    desk.go("/office/set-up/containers")
    teller.form("containers-form", "container_registered", {"number": "D1", "container": "drum", "tare_g": "20", "holds_ml": "200"}, {"number": "D1", "container": "drum", "tare_g": 20000, "holds_ml": 200000})


def scripts():
    """The scripts of the app but for the list of weights that can be mended, which tells nothing."""
    for folder, _, names in os.walk(WEB):
        for name in names:
            if name.endswith(".js") and name != "today.js":
                with open(os.path.join(folder, name), encoding="utf-8") as file:
                    yield file.read()


def has_screen(kind, texts):
    """Told by a script: named there, or by a call of the service that writes it."""
    calls = {"region_chosen": "regions", "profile_value_changed": "profile-values"}
    named = rf"'{kind}'" if kind not in calls else rf"'{kind}'|/v1/settings/{calls[kind]}"
    return any(re.search(named, text) for text in texts)


def every_kind_can_be_told(stage):
    """Each kind that is told at a desk arrives in the ledger as it was typed; every other kind that people write is told
    by a script of yard and house, whose scenarios compare it."""
    service = stage.service
    yard, other, on, ids, spun = ground(service)
    desk = at_desk(stage)
    desk.ready()
    teller = Teller(desk, service)
    for page, kind, typed, expected in things(yard, on, ids, spun):
        teller.deed(page, kind, typed, expected)
    reworked = teller.told["jars_reworked"]
    assert service.call("GET", f"/v1/lots/{reworked['lot_id']}")["label"] == reworked["code"]
    phone = stage.phone().join()
    phone.ready()
    phone.until_sent()
    run_in_the_house(stage, phone, teller, ids, spun)
    settings(desk, teller, ids)
    descriptions(desk, teller, yard, ids)
    kinds = {kind["kind"] for kind in service.call("GET", "/v1/sync/limits")["kinds"]}
    texts = list(scripts())
    left = sorted(kind for kind in kinds - set(teller.told) - set(OTHERWISE) if not has_screen(kind, texts))
    assert not left, f"no screen tells {', '.join(left)}"
    assert set(OTHERWISE) <= kinds, OTHERWISE
    stage.figure(f"{len(teller.told)} kinds told at the desk and compared, {len(kinds) - len(teller.told) - len(OTHERWISE)} more are told in yard and house, {len(OTHERWISE)} have none of their own")


def order_to_delivery(stage):
    """An order is taken, confirmed, picked the oldest first without what is held, delivered, paid; another is called off;
    honey is sold in bulk. Each as typed, and the stock follows."""
    service = stage.service
    _, _, _, ids, _ = ground(service)
    desk = at_desk(stage)
    desk.ready()
    teller = Teller(desk, service)
    desk.go(f"/office/set-up/buyers/{ids['buyer']}")
    desk.touch("a[href^='/office/orders?buyer=']")
    desk.see("#wanted-form")
    fill(desk, "wanted-form", nominal_g="500", count="7")
    desk.see("#order-form")
    ordered = teller.form("order-form", "goods_ordered", {"wanted_on": "2026-12-05", "note_number": "O 4"}, {"customer_id": ids["buyer"], "wanted": [{"nominal_g": 500, "count": 7}], "wanted_on": "2026-12-05", "note_number": "O 4"})
    desk.go("/office/orders")
    desk.see("table >> text=Shop 1")
    page = f"/office/orders/{ordered['delivery_id']}"
    desk.go(page)
    desk.see("[data-key=confirm]")
    desk.touch("[data-key=confirm]")
    teller.arrived("order_marked", 0, {"delivery_id": ordered["delivery_id"], "mark": "confirmed"})
    desk.see("#pick-form")
    field = lambda name: desk.page.locator(f"[id='pick-form-{ids[name]}']")
    assert [field(name).input_value() for name in ("held", "old", "young")] == ["", "4", "3"], "the oldest that are not held first"
    assert "Hold: other reason" in desk.page.locator(f"label[for='pick-form-{ids['held']}']").inner_text()
    # What is held goes only against what the rules say, and they say it.
    field("held").fill("1")
    desk.touch("[data-key=pick-form-save]")
    desk.see("dialog[open]")
    assert "is on hold" in desk.page.inner_text("dialog"), desk.page.inner_text("dialog")
    desk.touch("[data-key=ask-no]")
    assert teller.of("order_picked") == []
    field("held").fill("")
    desk.page.fill(f"[id='pick-form-price_{ids['old']}']", "24")
    desk.page.wait_for_timeout(1100)
    desk.touch("[data-key=pick-form-save]")
    lines = [{"goods": {"jars": {"batch_id": ids["old"], "count": 4}}, "price_hundredths": 2400}, {"goods": {"jars": {"batch_id": ids["young"], "count": 3}}}]
    teller.arrived("order_picked", 0, {"delivery_id": ordered["delivery_id"], "lines": lines})
    desk.see("#deliver-form")
    assert not desk.page.query_selector("#pick-form"), "nothing is left to pick"
    teller.form("deliver-form", "delivered", {"note_number": "N 17"}, {"delivery_id": ordered["delivery_id"], "customer_id": ids["buyer"], "lines": lines, "note_number": "N 17"})
    desk.see("[data-key=paid]")
    desk.touch("[data-key=paid]")
    teller.arrived("order_marked", 1, {"mark": "paid"})
    assert service.call("GET", f"/v1/deliveries/{ordered['delivery_id']}")["status"] == "paid"
    stock = {name: service.call("GET", f"/v1/batches/{ids[name]}")["jars_in_stock"] for name in ("held", "old", "young")}
    assert stock == {"held": 2, "old": 0, "young": 3}, stock
    # Another, for more than there is, is called off.
    desk.go(f"/office/orders?buyer={ids['buyer']}")
    desk.see("#wanted-form")
    fill(desk, "wanted-form", nominal_g="500", count="20", product="heather")
    desk.see("#order-form")
    second = teller.form("order-form", "goods_ordered", {}, {"wanted": [{"nominal_g": 500, "count": 20, "product": "heather"}]})
    desk.see("text=20 jars more are wanted than can go")
    desk.touch("main details summary")
    teller.form("cancel-form", "order_marked", {"reason": "shop closed"}, {"delivery_id": second["delivery_id"], "mark": "cancelled", "reason": "shop closed"})
    desk.see("text=Cancelled")
    # Honey as it stands, out of a pail.
    desk.go(f"/office/tell/fill/{ids['fill']}")
    desk.touch("a[href^='/office/sales?fill=']")
    desk.see("#bulk-form")
    fill(desk, "bulk-form", weight_g="3,5", price_hundredths="28")
    desk.see("#sale-form")
    bulk = {"goods": {"bulk": {"fill_id": ids["fill"], "weight_g": 3500}}, "price_hundredths": 2800}
    teller.form("sale-form", "delivered", {"customer_id": "Shop 1", "note_number": "N 18"}, {"lines": [bulk], "customer_id": ids["buyer"], "note_number": "N 18"})
    desk.until_sent()
    assert service.call("GET", f"/v1/fills/{ids['fill']}")["content_g"] == 8000 - 3500
    stage.figure("seven jars out of two batches, the held one passed over; 3.5 kg in bulk")


def joined_as(stage, role):
    """The phone of somebody else who works here."""
    service, phone = stage.service, stage.phone()
    service.call("POST", "/v1/auth/confirmations", {"password": service.password})
    member = service.call("POST", "/v1/members", {"id": str(uuid.uuid4()), "name": "Ida", "role": role})
    code = service.call("POST", "/v1/devices/codes", {"member_id": member["id"], "device_name": "Phone"})["code"]
    phone.page.goto(service.url + "/join")
    phone.page.fill("#device", "Test phone")
    phone.page.fill("#code", code)
    phone.page.click("[data-key=by-code]")
    phone.see("main[data-screen=arrive]")
    phone.until_sent()
    phone.ready()
    return phone


def office_ends_what_the_yard_tells(stage):
    """Whoever works in the yard tells a suspicion and that moves are stopped, with the caution beside it; a hive then stays
    where it is unless somebody answers for it. Only the office is offered the way to end either, whoever types the address."""
    service = stage.service
    yard, _, _, ids, _ = ground(service)
    hive = yard.hives["L01"]
    phone = joined_as(stage, "field")
    teller = Teller(phone, service)
    pages = {"hive": f"/office/set-up/hives/{hive}", "yard": f"/office/set-up/yards/{yard.id}"}
    phone.go(f"/office/tell/hive/{hive}/disease_suspected")
    phone.see(".caution >> text=bee inspector")
    # Nothing is chosen beforehand, so nothing is told by mistake.
    phone.touch("[data-key=disease_suspected-form-save]")
    phone.see(".summary >> text=choose one")
    teller.deed(pages["hive"], "disease_suspected", {"disease": "European foulbrood"}, {"disease": "european_foulbrood"})
    teller.deed(pages["yard"], "standstill_ordered", {"order": "SN 12"}, {"order": "SN 12"})
    told = {kind: next(one["entry"]["id"] for one in service.ledger() if one["entry"]["kind"] == kind) for kind in teller.told}
    ends = {"hive": ["disease_cleared", told["disease_suspected"]], "yard": ["standstill_lifted", told["standstill_ordered"]]}
    things = {"hive": hive, "yard": yard.id}
    for what, (kind, cause) in ends.items():
        phone.go(pages[what])
        phone.see(".bar-item")
        assert not phone.page.query_selector(".bar-item a[href^='/office/tell']"), f"the yard may end it: {what}"
        phone.see("text=A hold ends only in the office")
        phone.go(f"/office/tell/{what}/{things[what]}/{kind}/{cause}")
        phone.see("main h1")
        assert not phone.page.query_selector("main form"), f"the yard is asked how it ended: {what}"
    desk = at_desk(stage)
    desk.ready()
    desk.go(f"/yard/{yard.id}/move")
    desk.touch("[data-key^=to-]")
    desk.touch("[data-key=move]")
    desk.see("dialog[open]")
    assert "SN 12" in desk.page.inner_text("dialog"), desk.page.inner_text("dialog")
    desk.touch("[data-key=ask-no]")
    for what, (kind, cause) in ends.items():
        desk.go(pages[what])
        desk.see(f".bar-item a[href$='/{kind}/{cause}']")
    lifting = Teller(desk, service)
    lifting.deed(pages["yard"], "standstill_lifted", {"reason": "samples clean"}, {"cause_id": told["standstill_ordered"]})
    lifting.deed(pages["hive"], "disease_cleared", {"reason": "samples clean"}, {"cause_id": told["disease_suspected"]})
    desk.go(pages["hive"])
    desk.see(".telling")
    assert not desk.page.query_selector(".bar-item"), "it bars still"
    assert not {one["reason"] for one in service.call("GET", "/v1/holds")["holds"]} & {"disease", "standstill"}


SCENARIOS = {
    "office-ends-what-the-yard-tells": office_ends_what_the_yard_tells,
    "every-kind-can-be-told": every_kind_can_be_told,
    "order-to-delivery": order_to_delivery,
}
