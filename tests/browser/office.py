"""The office: set-up, flags settled, stock, sales, the way of the honey and whom to ring, words in two languages."""

import json
import os
import re
import uuid
from datetime import datetime

from reach import sign_in
from service import Yard

STRINGS = os.path.join(os.path.dirname(__file__), "..", "..", "api", "web", "strings")


def at_desk(stage, **more):
    desk = stage.phone(width=1200, height=900, **more)
    sign_in(desk, stage.service)
    desk.until_sent()
    return desk


def fill(desk, form, **typed):
    """Types into a form and saves it."""
    for key, value in typed.items():
        field = desk.page.locator(f"#{form}-{key.rstrip('_')}")
        if field.evaluate("(el) => el.tagName") == "SELECT":
            field.select_option(label=value)
        else:
            field.fill(value)
    desk.touch(f"[data-key={form}-save]")


def set_up_everything(stage):
    """Everything a business has is set up at the desk, and the ledger tells it as it was typed."""
    desk = at_desk(stage)
    desk.go("/office/set-up/yards")
    desk.see("#yards-form-name")
    fill(desk, "yards-form", name="Ostlehope", code="O", ground="heath", latitude_e5="51,976", longitude_e5="-1.045")
    desk.says("Ostlehope set up")
    steps = [
        ("hives", "hives-range", {"prefix": "O", "from_": "01", "to": "03", "yard_id": "Ostlehope"}, "3 set up"),
        ("supers", "supers-range", {"from_": "001", "to": "012", "frames": "10", "tare_g": "7.1"}, "12 set up"),
        ("containers", "containers-range", {"prefix": "B", "from_": "01", "to": "02", "container": "bucket", "tare_g": "1.2", "holds_ml": "20"}, "2 set up"),
        ("meters", "meters-form", {"name": "meter 1", "compensated": "Yes"}, "meter 1 set up"),
        ("scales", "scales-form", {"name": "platform", "step_g": "50"}, "platform set up"),
        ("rooms", "rooms-form", {"name": "back room"}, "back room set up"),
        ("medicines", "medicines-form", {"name": "thymol strips", "substance": "thymol", "wait_days": "0", "supers_allowed": "No"}, "thymol strips set up"),
        ("buyers", "buyers-form", {"name": "Shop 1", "address": "Main street 1", "phone": "555 0100"}, "Shop 1 set up"),
    ]
    for what, form, typed, says in steps:
        desk.go(f"/office/set-up/{what}")
        desk.see(f"#{form}")
        fill(desk, form, **typed)
        desk.says(says)
    # What is known changes: only what changed is told.
    desk.go("/office/set-up/buyers")
    desk.touch("td >> nth=0", count=False)
    desk.touch("table a:has-text('Shop 1')")
    desk.see("#buyers-describe")
    fill(desk, "buyers-describe", phone="555 0199")
    desk.says("Shop 1 described anew")
    desk.go("/office/set-up/medicines")
    desk.touch("table a:has-text('thymol strips')")
    desk.see("#medicine_bought-form")
    fill(desk, "medicine_bought-form", batch="K1", quantity="500 ml", supplier="vet")
    desk.says("Bought")
    desk.until_sent()
    told = {one["entry"]["kind"]: one["entry"]["data"] for one in stage.service.ledger()}
    kinds = [one["entry"]["kind"] for one in stage.service.ledger()]
    yard = told["yard_registered"]
    assert (yard["latitude_e5"], yard["longitude_e5"], yard["ground"]) == (5197600, -104500, "heath"), yard
    assert kinds.count("hive_registered") == 3 and kinds.count("super_registered") == 12
    assert told["super_registered"]["tare_g"] == 7100 and told["container_registered"]["holds_ml"] == 20000
    assert told["scale_registered"]["step_g"] == 50 and told["medicine_registered"]["supers_allowed"] is False
    described = told["customer_described"]
    assert described["phone"] == "555 0199" and set(described) == {"customer_id", "phone"}, described
    assert told["medicine_bought"]["quantity"] == {"tenths_ml": 5000}
    # Whose rules hold, and who works here, is told to the service itself.
    desk.go("/office/set-up/limits")
    desk.see("#limit-form")
    fill(desk, "limit-form", moisture_hundredths="17,50")
    desk.says("Written.")
    assert stage.service.call("GET", "/v1/settings")["house_limit_hundredths"] == 1750
    desk.go("/office/phones")
    desk.see("#person-form")
    fill(desk, "person-form", name="Ida", role="field", password=stage.service.password)
    desk.says("Ida is added")
    assert [one["name"] for one in stage.service.call("GET", "/v1/members")["items"]] == ["Owner", "Ida"]


def flag_settled(stage):
    """Both stories stand side by side; one is withdrawn with a reason, and the flag is gone from the service."""
    service = stage.service
    yard = Yard(service, 2, 4)
    on = yard.place(service, 2)
    service.push(("super_pulled", {"super_id": yard.supers[on["L01"][0]], "hive_id": yard.hives["L02"]}))
    before = service.call("GET", "/v1/flags")["items"]
    assert before, "nothing is flagged"
    desk = at_desk(stage)
    desk.go("/office/flags")
    desk.see(".story")
    assert len(desk.page.query_selector_all(".story")) == sum(len(flag["sides"]) for flag in before)
    for way in before[0]["settled_by"]:
        if way["kind"] != "voided":
            desk.page.get_by_text(way["says"]).first.wait_for()
    desk.touch(".story:has-text('L02') button")
    desk.see("dialog[open]")
    desk.touch("dialog [data-key=ask-yes]")
    desk.says("It shows as settled")
    desk.until_sent()
    after = service.call("GET", "/v1/flags")["items"]
    assert len(after) < len(before), after
    voided = service.told("voided")
    assert len(voided) == 1 and voided[0]["data"]["reason"], voided


def sale_and_recall(stage):
    """Jars are sold at the desk; the recall list of the lot names the buyer with phone and pieces, as the service does."""
    service = stage.service
    desk = at_desk(stage)
    batch = next(one for one in service.call("GET", "/v1/batches?limit=100")["items"] if one.get("jars_in_stock", 0) > 5)
    desk.go("/office/set-up/buyers")
    desk.see("#buyers-form")
    fill(desk, "buyers-form", name="Mill farm shop", address="Mill lane 2", phone="555 0142")
    desk.says("Mill farm shop set up")
    desk.go("/office/sales")
    desk.see("#line-form")
    option = desk.page.locator("#line-form-batch_id option", has_text=batch["label"]).first.inner_text()
    fill(desk, "line-form", batch_id=option, jars="5", price_hundredths="40")
    desk.see("#sale-form")
    fill(desk, "sale-form", customer_id="Mill farm shop", note_number="N 900")
    if desk.page.query_selector("dialog[open]"):
        desk.touch("dialog [data-key=ask-yes]")
    desk.says("5 jars sold")
    desk.until_sent()
    sold = service.told("delivered")[-1]["data"]
    assert sold["lines"] == [{"goods": {"jars": {"batch_id": batch["id"], "count": 5}}, "price_hundredths": 4000}], sold
    desk.go(f"/office/recall/batch/{batch['id']}")
    desk.see("text=To ring")
    row = desk.page.locator("tr", has_text="Mill farm shop").first.inner_text()
    assert "555 0142" in row and re.search(r"\b5\b", row) and "N 900" in row and batch["label"] in row, row
    assert desk.page.get_attribute("tr:has-text('Mill farm shop') a[href^='tel:']", "href") == "tel:5550142"
    affected = service.call("GET", f"/v1/batches/{batch['id']}/trace")["affected"]
    shown = desk.page.locator("p.big").inner_text()
    assert f"{affected['jars']} jars" in shown and f"to ring: {len(affected['customers'])}" in shown, shown
    table = desk.page.locator("table", has_text="Every jar accounted for").inner_text()
    for one in affected["batches"]:
        line = next(line for line in table.splitlines() if line.startswith(one["code"]))
        figures = [int(figure) for figure in re.findall(r"-?\d+", line[len(one["code"]):])]
        assert figures == [one[key] for key in ("jars_filled", "in_stock", "sold_to_customers", "sold_to_public", "given_broken_samples", "unexplained")], line


sale_and_recall.how = {"demo": True}


def trace_picture(stage):
    """Every thing of the service's trace is in the picture or named as one of more, and in the lists; no line leads astray."""
    service = stage.service
    desk = at_desk(stage)
    batch = service.call("GET", "/v1/batches?limit=100")["items"][0]
    traced = service.call("GET", f"/v1/batches/{batch['id']}/trace")
    desk.go(f"/office/trace/batch/{batch['id']}")
    desk.see("svg.trace")
    steps = traced["back"] + traced["forward"]
    listed = desk.page.locator("table").all_inner_texts()
    assert all(any(step["label"] in text for text in listed) for step in steps)
    counts = {kind: len([step for step in steps if step["kind"] == kind]) for kind in ("hive", "super", "run")}
    heads = desk.page.locator("svg.trace .head").all_text_contents()
    for kind, word in (("hive", "Hives"), ("super", "Supers"), ("run", "Runs")):
        assert f"{word} {counts[kind]}" in heads, (heads, counts)
    edges = len(desk.page.query_selector_all("svg.trace .edge"))
    nodes = len(desk.page.query_selector_all("svg.trace .node"))
    assert edges >= nodes - 3, f"{edges} lines between {nodes} boxes"
    stage.figure(f"{len(steps)} steps, {nodes} boxes, {edges} lines")


trace_picture.how = {"demo": True}


KNOWS = "async (id) => Boolean(await (await import(document.querySelector('script[type=module]').src.replace('app.js', 'store.js'))).row('hive', id))"


def what_is_begun_stays(stage):
    """What others write shows by itself on an untouched screen; one on which something was typed or chosen waits with it."""
    service = stage.service
    Yard(service, 1, 0)
    other = Yard(service, 1, 0, name="Heath End", letter="H")
    desk = at_desk(stage)
    hives = iter(range(2, 9))

    def arrives():
        """A hive that somebody else sets up, once this desk knows of it."""
        number, key = f"L{next(hives):02}", str(uuid.uuid4())
        service.push(("hive_registered", {"hive_id": key, "yard_id": other.id, "code": number}))
        desk.until(lambda: desk.page.evaluate(KNOWS, key), "news")
        return f"main td:text-is('{number}'), main th:has-text('{number}')"

    desk.go("/office/set-up/hives")
    desk.see("#hives-range-yard_id")
    desk.see(arrives())
    for begun, reads in (
        (lambda: desk.page.select_option("#hives-range-yard_id", label="Linden Row"), ("#hives-range-yard_id", None)),
        (lambda: desk.page.fill("#hives-range-prefix", "Q"), ("#hives-range-prefix", "Q")),
    ):
        desk.go("/office/set-up/hives")
        desk.see("#hives-range-yard_id")
        begun()
        desk.page.evaluate("document.activeElement.blur()")
        before = desk.page.input_value(reads[0])
        assert reads[1] in (None, before)
        row = arrives()
        # As long as a screen is drawn in, and longer.
        desk.page.wait_for_timeout(1000)
        assert desk.page.input_value(reads[0]) == before, f"{reads[0]} was taken away"
        assert not desk.page.query_selector(row), "drawn anew under what was begun"


def desk_in_german(stage):
    """No screen of yard and house says what only the office's words have; the desk changes its language at once and back."""
    faults = []
    # A key in a script of yard and house stands in the words that every phone has.
    web = os.path.join(STRINGS, "..")
    with open(os.path.join(STRINGS, "en.json"), encoding="utf-8") as file:
        base = json.load(file)
    with open(os.path.join(STRINGS, "office-en.json"), encoding="utf-8") as file:
        known = {**json.load(file), **base}
    for folder in ("", "screens"):
        for name in os.listdir(os.path.join(web, folder)):
            if name.endswith(".js"):
                with open(os.path.join(web, folder, name), encoding="utf-8") as file:
                    keys = set(re.findall(r"'([a-z_]+(?:\.[a-z_]+)+)'", file.read()))
                faults += [f"{name}: {key} comes with the office only" for key in keys & set(known) - set(base)]
    assert not faults, "\n".join(faults)
    desk = at_desk(stage)
    desk.go("/phone")
    desk.touch("[data-key=language-de]")
    desk.see("h1:has-text('Dieses')")
    for path in ("/office", "/office/set-up", "/office/stock", "/office/sales", "/office/orders", "/office/labels", "/office/inputs", "/yard", "/house", "/outbox"):
        desk.go(path)
        desk.page.wait_for_timeout(400)
        text = desk.page.inner_text("body")
        assert "⟦" not in text, path
    assert desk.page.evaluate("document.documentElement.lang") == "de"
    desk.go("/office/set-up/scales")
    desk.see("#scales-form")
    fill(desk, "scales-form", name="Waage", step_g="50")
    desk.says("Waage angelegt")
    desk.go("/phone")
    desk.page.wait_for_timeout(1100)
    desk.touch("[data-key=language-en]")
    desk.see("h1:has-text('This phone')")


def season_inputs(stage):
    """What a season's figures ask for is told at the desk, each in a few touches, and stands in the ledger as typed; what
    cannot be read is said where it stands and nothing is written."""
    service = stage.service
    yard = Yard(service, 2, 4)
    hives = list(yard.hives.values())
    colonies = [str(uuid.uuid4()) for _ in hives]
    service.push(*(("colony_registered", {"colony_id": colony, "hive_id": hive}) for colony, hive in zip(colonies, hives)))
    year = datetime.now().year
    desk = at_desk(stage)
    day = f"{year}-06-01"
    hive = sorted(yard.hives)[0]
    said = {
        "flow_from": (dict(yard_id=yard.name, on=day), "flow_started", {"on": day}),
        "counts": (dict(yard_id=yard.name, on=day, fit="2", unfit="0"), "colonies_counted", {"fit": 2, "unfit": 0}),
        "flow_until": (dict(yard_id=yard.name, on=f"{year}-06-30"), "flow_ended", {"on": f"{year}-06-30"}),
        "queens": (dict(hive_id=hive, on=day, queen_line="Amber"), "colony_requeened", {"queen_line": "Amber"}),
        "left": (dict(hive_id=hive, on=day, honey_g="12,5", weighed="Yes"), "honey_left", {"honey_g": 12500, "weighed": True}),
        "hours": (dict(on=day, work="in the yards", minutes="1.5"), "work_booked", {"work": "field", "minutes": 90}),
        "costs": (dict(on=day, cost="jars and labels", amount_hundredths="120.50"), "cost_booked", {"cost": "jars_and_labels", "amount_hundredths": 12050}),
        "incomes": (dict(on=day, income="wax", amount_hundredths="40"), "income_booked", {"income": "wax", "amount_hundredths": 4000}),
        "prices": (dict(season=str(year), price="honey, a kilogram", amount_hundredths="14"), "price_set", {"amount_hundredths": 1400, "season": year}),
        "accidents": (dict(hive_id=hive, season=str(year), accident="bear", reason="the fence was down"), "yield_left_out", {"accident": "bear"}),
        "plan": (dict(season=str(year), colonies="60", jars="500 g 60 %, 250 g 25 %"), "season_planned", {"colonies": 60, "jars": [{"size_g": 500, "share_percent": 60}, {"size_g": 250, "share_percent": 25}]}),
        "region": (dict(country="US", region="Montana"), "region_chosen", {"country": "US", "region": "Montana"}),
    }
    most = 0
    for what, (typed, kind, data) in said.items():
        desk.go(f"/office/inputs/{year}")
        before = desk.touches
        desk.touch(f"a[href='/office/inputs/{year}/{what}']")
        desk.see(f"#{what}-form")
        fill(desk, f"{what}-form", **typed)
        of_kind = lambda: [one["entry"]["data"] for one in service.ledger() if one["entry"]["kind"] == kind]
        desk.until(of_kind, f"an entry {kind}")
        told = of_kind()
        assert len(told) == 1 and data.items() <= told[0].items(), (what, told)
        # Each field is one touch more, but those that stand right already.
        most = max(most, desk.touches - before + len(typed))
    for jars, wrong in (("500 g", "no size with a share"), ("500 g 80 %, 250 g 30 %", "110 %")):
        desk.go(f"/office/inputs/{year}/plan")
        desk.see("#plan-form")
        desk.page.wait_for_timeout(1100)
        fill(desk, "plan-form", season=str(year), colonies="60", jars=jars)
        desk.page.wait_for_selector(f"text={wrong}")
        if desk.page.query_selector("dialog[open]"):
            desk.page.keyboard.press("Escape")
    assert len([one for one in service.ledger() if one["entry"]["kind"] == "season_planned"]) == 1
    stage.figure(f"{len(said)} kinds of figures told at the desk, each in at most {most} touches and fields")


SCENARIOS = {
    "season-inputs": season_inputs,
    "set-up-everything": set_up_everything,
    "what-is-begun-stays": what_is_begun_stays,
    "flag-settled": flag_settled,
    "sale-and-recall": sale_and_recall,
    "trace-picture": trace_picture,
    "desk-in-german": desk_in_german,
}
