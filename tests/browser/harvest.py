"""A whole harvest through the app, and the same harvest told through the calls: both must give the same figures."""

import uuid
from datetime import date

from house_work import said
from office import at_desk, fill
from service import Service, Yard

WET, CAPPINGS, WAX, LEFT = 81, 52, 11, 8
# What each super weighs, in tenths of a kilogram, and what the meter says of all of them.
FULL = [214, 198, 207, 221, 189, 203, 216, 194]
WATER = 1720
FILLS = (("B01", 362), ("B02", 345), ("B03", 250))
JARS = 40


def ground(service):
    """Two yards, buckets and a meter: the same in both businesses."""
    yards = [Yard(service, 2, 4, name="Linden Row", letter="L"), Yard(service, 2, 4, name="Heath End", letter="H", first=5)]
    ids = {name: str(uuid.uuid4()) for name in ("meter", "B01", "B02", "B03", "buyer")}
    service.push(
        ("meter_registered", {"meter_id": ids["meter"], "name": "meter 1", "compensated": True}),
        ("meter_checked", {"meter_id": ids["meter"], "passed": True}),
        *[("container_registered", {"container_id": ids[name], "number": name, "container": "bucket", "tare_g": 1200, "holds_ml": 30000}) for name, _ in FILLS],
    )
    service.call("POST", "/v1/customers", {"customer_id": ids["buyer"], "name": "Shop 1", "phone": "555 0100"})
    return yards, ids


def in_the_yard(phone, yard):
    """Without a network: two supers on each hive, all of them off again and onto the truck."""
    numbers = iter(yard.supers.items())
    on = {code: [next(numbers), next(numbers)] for code in yard.hives}
    phone.go(f"/yard/{yard.id}/place")
    for code, supers in on.items():
        phone.touch(f"[data-key='hive-{yard.hives[code]}']")
        for number, key in supers:
            phone.touch(f"[data-key='super-{key}']")
            phone.says(f"{number} placed on {code}")
    phone.go(f"/yard/{yard.id}/pull")
    for code, supers in on.items():
        phone.touch(f"[data-key='hive-{yard.hives[code]}']")
        for number, key in supers:
            phone.touch(f"[data-key='super-{key}']")
            phone.says(f"{number} pulled from {code}")
    phone.go(f"/yard/{yard.id}/load")
    phone.see("[data-key=load-all]")
    phone.touch("[data-key=load-all]")
    phone.says("4 supers loaded")


def in_the_house(phone, yards, ids):
    """Received, measured, uncapped, weighed wet, cappings, pails, drained. Answers the run."""
    supers = [(number, key) for yard in yards for number, key in yard.supers.items()]
    phone.go("/house/receive")
    for (number, key), tenths in zip(supers, FULL):
        phone.touch(f"[data-key='super-{key}']")
        phone.see("#gross")
        phone.digits(tenths)
        phone.touch("[data-key=gross-next]")
        phone.says(f"{number} received, {tenths / 10:.1f}")
        phone.see("#receive-number")
    for number, key in supers:
        phone.go(f"/house/moisture/super/{key}")
        phone.see("#reading")
        phone.digits(WATER // 10)
        phone.touch("[data-key=reading-next]")
        said(phone, f"{number} measured")
    phone.go("/house/run")
    phone.touch("[data-key=open-run]")
    phone.says("opened")
    run = phone.page.url
    for number, key in supers:
        phone.touch(f"[data-key='super-{key}']")
        said(phone, f"{number} uncapped")
    for number, key in supers:
        phone.touch(f".tiles + h2 + .tiles [data-key='super-{key}']")
        phone.see("#wet")
        phone.digits(WET)
        phone.touch("[data-key=wet-next]")
        phone.says(f"{number} wet, {WET / 10:.1f}")
        phone.see("[data-key=cappings]")
    phone.touch("[data-key=cappings]")
    for field, tenths in (("cappings-honey", CAPPINGS), ("wax", WAX)):
        phone.see(f"#{field}")
        phone.digits(tenths)
        phone.touch(f"[data-key={field}-next]")
    phone.says(f"Cappings honey, {CAPPINGS / 10:.1f}")
    for name, tenths in FILLS:
        phone.go("/house/fill")
        phone.touch(f"[data-key='container-{ids[name]}']")
        phone.see("#fill-gross")
        phone.digits(tenths)
        phone.touch("[data-key=fill-gross-next]")
        said(phone, f"{name} filled")
    phone.go(run.split(phone.service.url)[1])
    phone.see("[data-key=drain]")
    phone.touch("[data-key=drain]")
    phone.see("#left")
    phone.digits(LEFT)
    phone.touch("[data-key=left-next]")
    said(phone, "drained")
    phone.until_sent()
    fills = [one["data"] for one in phone.service.told("container_filled")]
    for one in fills:
        phone.go(f"/house/moisture/fill/{one['fill_id']}")
        phone.see("#reading")
        phone.digits(WATER // 10)
        phone.touch("[data-key=reading-next]")
        said(phone, "measured")
    phone.go("/house/blend")
    phone.touch("[data-key=plan]")
    phone.see("#wanted")
    phone.touch("[data-key=as-much]")
    phone.see("text=This blend holds.")
    phone.touch("[data-key=make]")
    phone.says("Lot ")
    phone.see("#reading")
    phone.digits(WATER // 10)
    phone.touch("[data-key=reading-next]")
    said(phone, "measured")
    phone.until_sent()


def at_the_desk(stage, desk, phone, house):
    """Released by a named person, bottled in the house, sold at the desk."""
    lot = house.told("blended")[0]["data"]
    desk.go(f"/office/lots/{lot['lot_id']}")
    desk.see("#release-reason")
    desk.page.fill("#release-reason", "measured and tasted")
    desk.page.select_option("#release-tastes", "yes")
    desk.touch("[data-key=release-form-save]")
    desk.says("is released")
    desk.until_sent()
    # The house hears of it by itself, without a touch.
    phone.go(f"/office/lots/{lot['lot_id']}")
    phone.page.wait_for_function("() => document.querySelector('main').innerText.includes('released')")
    phone.go(f"/house/bottle/{lot['lot_id']}/fill")
    phone.see("#jar-size")
    phone.digits(500)
    phone.touch("[data-key=jar-size-next]")
    phone.see("#jars")
    phone.digits(JARS)
    phone.touch("[data-key=jars-next]")
    said(phone, f"{JARS} jars of 500")
    phone.until_sent()
    batch = house.told("bottled")[0]["data"]
    desk.go("/office/sales")
    desk.see("#line-form")
    desk.page.wait_for_function("(code) => [...document.querySelectorAll('#line-form-batch_id option')].some((one) => one.textContent.includes(code))", arg=batch["code"])
    option = desk.page.locator("#line-form-batch_id option", has_text=batch["code"]).first.inner_text()
    fill(desk, "line-form", batch_id=option, jars="12", price_hundredths="84")
    desk.see("#sale-form")
    fill(desk, "sale-form", customer_id="Shop 1", note_number="N 1")
    if desk.page.query_selector("dialog[open]"):
        desk.touch("dialog [data-key=ask-yes]")
    desk.says("12 jars sold")
    desk.until_sent()
    return batch["batch_id"]


def told_by_calls(service, yards, ids, codes):
    """The same harvest as another program tells it. Answers the batch of jars."""
    run, lot, batch = (str(uuid.uuid4()) for _ in range(3))
    supers = [(yard, key) for yard in yards for key in yard.supers.values()]
    stands = {}
    for yard in yards:
        hives = list(yard.hives.values())
        stands |= {key: hives[at // 2] for at, key in enumerate(yard.supers.values())}
    fills = {name: str(uuid.uuid4()) for name, _ in FILLS}
    nets = {name: tenths * 100 - 1200 for name, tenths in FILLS}
    reading = {"shown": {"moisture_hundredths": WATER}, "compensated": True}
    for yard in yards:
        service.push(("flow_started", {"yard_id": yard.id, "on": str(date.today())}), ("colonies_counted", {"yard_id": yard.id, "on": str(date.today()), "fit": 2}))
    service.push(
        *[("super_placed", {"super_id": key, "hive_id": stands[key]}) for _, key in supers],
        *[("super_pulled", {"super_id": key, "hive_id": stands[key]}) for _, key in supers],
        *[("super_loaded", {"super_id": key}) for _, key in supers],
        *[("super_received", {"super_id": key, "gross_g": tenths * 100}) for (_, key), tenths in zip(supers, FULL)],
        *[("moisture_read", {"targets": [{"kind": "super", "id": key}], **reading}) for _, key in supers],
        ("run_opened", {"run_id": run, "name": codes["run"]}),
        *[("super_uncapped", {"run_id": run, "super_id": key}) for _, key in supers],
        *[("wet_weighed", {"run_id": run, "super_id": key, "gross_g": WET * 100}) for _, key in supers],
        ("cappings_weighed", {"run_id": run, "honey_g": CAPPINGS * 100, "wax_g": WAX * 100}),
        *[("container_filled", {"fill_id": fills[name], "source": {"run_id": run}, "gross_g": tenths * 100, "tare_g": 1200, "container_id": ids[name], "code": codes[name]}) for name, tenths in FILLS],
        ("run_drained", {"run_id": run, "left_g": LEFT * 100}),
        *[("moisture_read", {"targets": [{"kind": "fill", "id": fills[name]}], **reading}) for name, _ in FILLS],
        ("blended", {"lot_id": lot, "code": codes["lot"], "parts": [{"from": {"kind": "fill", "id": fills[name]}, "weight_g": nets[name]} for name, _ in FILLS]}),
        ("moisture_read", {"targets": [{"kind": "lot", "id": lot}], **reading}),
        ("lot_released", {"lot_id": lot, "reason": "measured and tasted", "by": service.member}),
        ("bottled", {"batch_id": batch, "lot_id": lot, "code": codes["batch"], "nominal_g": 500, "jars_good": JARS}),
    )
    service.call("POST", "/v1/deliveries", {"delivery_id": str(uuid.uuid4()), "customer_id": ids["buyer"], "note_number": "N 1", "lines": [{"goods": {"jars": {"batch_id": batch, "count": 12}}, "price_hundredths": 8400}]})
    return batch


def season_of(service):
    """Every figure of the season's yards and colonies, without ids."""
    answer = service.call("GET", f"/v1/seasons/{date.today().year}/yards")
    return {
        (table["name"], row["name"]): {name: (one["value"], one["low"], one["high"], one["n"], one["method"], one["why_no_range"]) for name, one in row["figures"].items()}
        for table in answer["tables"]
        for row in table["rows"]
    }


def trace_of(service, batch):
    """What the jars came from and where they went, by what is painted on it."""
    traced = service.call("GET", f"/v1/batches/{batch}/trace")
    steps = lambda way: sorted((one["kind"], one["label"], one.get("possible", False)) for one in traced[way])
    affected = traced["affected"]
    return {"back": steps("back"), "forward": steps("forward"), "jars": affected["jars"], "buyers": len(affected["customers"])}


def whole_harvest(stage):
    """Three phones and a desk, two of the phones without a network until the supers are on the truck: the yields and the
    trace are those of the same harvest told through the calls."""
    house = stage.service
    yards, ids = ground(house)
    phones = [stage.phone().join() for _ in yards]
    third = stage.phone().join()
    for phone in (*phones, third):
        phone.ready()
        phone.until_sent()
    desk = at_desk(stage)
    year = date.today().year
    for yard in yards:
        for what, typed in (("flow_from", {}), ("counts", {"fit": "2"})):
            desk.go(f"/office/inputs/{year}/{what}")
            desk.see(f"#{what}-form")
            desk.page.wait_for_timeout(1100)
            fill(desk, f"{what}-form", yard_id=yard.name, **typed)
            desk.until_sent()
    for phone, yard in zip(phones, yards):
        phone.context.set_offline(True)
        in_the_yard(phone, yard)
    assert not house.told("super_placed", "super_pulled", "super_loaded"), "something was sent without a network"
    kept = [len([one for one in phone.kept() if one["state"] == "to_send"]) for phone in phones]
    for phone in phones:
        phone.context.set_offline(False)
        phone.until_sent()
    third.go("/outbox")
    third.touch("[data-key=send-now]")
    third.until_sent()
    in_the_house(third, yards, ids)
    batch = at_the_desk(stage, desk, third, house)

    codes = {"run": house.told("run_opened")[0]["data"]["name"], "lot": house.told("blended")[0]["data"]["code"], "batch": house.told("bottled")[0]["data"]["code"]}
    for one in house.told("container_filled"):
        name = next(name for name, _ in FILLS if ids[name] == one["data"]["container_id"])
        codes[name] = one["data"].get("code")
    twin = Service(house.server, "twin")
    twin_yards, twin_ids = ground(twin)
    twin_batch = told_by_calls(twin, twin_yards, twin_ids, codes)
    here, there = season_of(house), season_of(twin)
    assert here == there, [(key, here.get(key), there.get(key)) for key in {*here, *there} if here.get(key) != there.get(key)]
    total = here["season", str(year)]["yield_g"][0]
    # What ran into pails and what the cappings gave.
    assert total == sum(tenths * 100 - 1200 for _, tenths in FILLS) + CAPPINGS * 100, total
    assert trace_of(house, batch) == trace_of(twin, twin_batch), (trace_of(house, batch), trace_of(twin, twin_batch))
    touches = sum(phone.touches for phone in (*phones, third, desk))
    stage.figure(f"{sum(kept)} entries kept by two phones without a network; {touches} touches from the empty hive to the sold jar; {total / 1000:.1f} kg and one trace either way")


SCENARIOS = {"whole-harvest": whole_harvest}
