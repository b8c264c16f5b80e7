"""Two people at once, and a phone that has to decide alone."""

import json
import re
import uuid

from service import Yard


def at(stage, yard, hive):
    phone = stage.phone().join()
    phone.ready()
    phone.go(f"/yard/{yard.id}/place/{yard.hives[hive]}")
    phone.see(".super")
    return phone


def place(phone, yard, number, hive):
    phone.touch(f"[data-key='super-{yard.supers[number]}']")
    phone.says(f"{number} placed on {hive}")


def online(phone):
    phone.context.set_offline(False)
    phone.until_sent()


def flagged_after_sync(stage):
    """Placed here without a network, pulled from another hive elsewhere: after both were sent the tile bears a flag, and
    the office shows both stories."""
    yard = Yard(stage.service, 3, 3)
    phone = at(stage, yard, "L01")
    phone.context.set_offline(True)
    place(phone, yard, "001", "L01")
    assert not phone.page.query_selector(".tag-flag, .tag-disputed"), "a contradiction that nobody can know yet"
    stage.service.push(("super_placed", {"super_id": yard.supers["001"], "hive_id": yard.hives["L02"]}))
    stage.service.push(("super_pulled", {"super_id": yard.supers["001"], "hive_id": yard.hives["L03"]}))
    online(phone)
    phone.go("/find/001")
    phone.see("main .tag-flag")
    phone.go("/office/flags")
    phone.see(".story")
    stories = phone.page.eval_on_selector_all(".flag", "list => list.map((flag) => flag.querySelectorAll('.story').length)")
    assert stories and max(stories) >= 2, stories


def disputed_two_phones(stage):
    """Two phones put one super on two hives, neither having seen the other: both show it as disputed, with the same
    words, whoever sends first."""
    yard = Yard(stage.service, 2, 2)
    one, two = at(stage, yard, "L01"), at(stage, yard, "L02")
    for phone in (one, two):
        phone.context.set_offline(True)
    place(one, yard, "001", "L01")
    place(two, yard, "001", "L02")
    online(one)
    online(two)
    one.go("/outbox")
    one.touch("[data-key=send-now]")
    stories = []
    for phone in (one, two):
        phone.go("/find/001")
        phone.see("main .tag-disputed")
        stories.append(phone.page.inner_text("main .plain"))
    assert stories[0] == stories[1], stories
    one.go("/office/flags")
    one.see(".story")
    flag = next(text for text in one.page.eval_on_selector_all(".flag", "list => list.map((one) => one.innerText)") if "001" in text)
    assert "L01" in flag and "L02" in flag, flag


def phone_decides_alone(stage):
    """Without a network the phone's rules say what the service's would: the same doubts, the same words, and they go with
    the entry."""
    yard = Yard(stage.service, 2, 8)
    on = yard.place(stage.service, 2)
    hive = yard.hives["L01"]
    heavy = yard.supers["004"]
    stage.service.push(
        ("hold_set", {"target": {"kind": "hive", "id": hive}, "reason": "treatment"}),
        ("super_pulled", {"super_id": heavy, "hive_id": yard.hives["L02"]}),
    )
    phone = stage.phone().join()
    phone.ready()
    phone.until_sent()
    phone.context.set_offline(True)
    phone.go(f"/yard/{yard.id}/place/{hive}")
    # The hold stands on the tile before anybody touches.
    phone.see(f"[data-key='hive-{hive}'] .tag-hold")
    place(phone, yard, "005", "L01")
    # One that stands elsewhere by the book: typed, since it stands on no tile.
    phone.page.fill("#other-number", on["L02"][0])
    phone.page.keyboard.press("Enter")
    phone.page.wait_for_selector(f"dialog[open], .undo-say:has-text('{on['L02'][0]} placed')")
    if phone.page.query_selector("dialog[open]"):
        phone.touch("[data-key=ask-yes]")
    phone.says(f"{on['L02'][0]} placed on L01")
    # A weight that cannot be.
    phone.go(f"/house/receive/{heavy}")
    phone.see("#gross")
    phone.digits(9999)
    phone.touch("[data-key=gross-next]")
    phone.see("dialog[open]")
    refused = phone.page.inner_text("dialog li")
    phone.touch("[data-key=ask-yes]")
    phone.says("004 received")
    alone = {}
    for kept in phone.kept():
        entry = json.loads(kept["text"])
        alone[entry["data"]["super_id"]] = entry
    # The office asks the service the same about the same things.
    said = refusal(stage.service, f"/v1/supers/{heavy}/receipts", {"gross_g": 999900})
    # The service names the rule behind its sentence.
    assert re.sub(r" \([A-Z]+-\d+\)$", "", said["detail"]) == refused, (said, refused)
    assert [(one["code"], one["answered"]) for one in alone[heavy]["warnings"]] == [(said["code"], True)], (alone[heavy], said)
    online(phone)
    told = {one["data"]["super_id"]: one for one in stage.service.told("super_placed", "super_received") if one["id"] in {e["id"] for e in alone.values()}}
    assert {key: one.get("warnings") for key, one in told.items()} == {key: one.get("warnings") for key, one in alone.items()}
    stage.figure("doubts told alone: " + ", ".join(sorted({w["code"] for one in alone.values() for w in one.get("warnings") or []})))


def blend_offline(stage):
    """In a house without signal the planner blends what stands there; the service then holds the same lot, made of the
    same buckets, as the phone showed alone."""
    service = stage.service
    yard = Yard(service, 1, 2)
    on = yard.place(service, 2)["L01"]
    run, fills = str(uuid.uuid4()), [str(uuid.uuid4()), str(uuid.uuid4())]
    told = [("run_opened", {"run_id": run, "name": "R1"})]
    for number in on:
        told += [
            ("super_pulled", {"super_id": yard.supers[number], "hive_id": yard.hives["L01"]}),
            ("super_received", {"super_id": yard.supers[number], "gross_g": 21400}),
            ("super_uncapped", {"run_id": run, "super_id": yard.supers[number]}),
            ("wet_weighed", {"run_id": run, "super_id": yard.supers[number], "gross_g": 8100}),
        ]
    for at, (fill, moisture) in enumerate(zip(fills, (1820, 1660))):
        bucket = str(uuid.uuid4())
        told += [
            ("container_registered", {"container_id": bucket, "number": f"B0{at}", "container": "bucket", "tare_g": 1200, "holds_ml": 20000}),
            ("container_filled", {"fill_id": fill, "source": {"run_id": run}, "gross_g": 13200, "tare_g": 1200, "container_id": bucket, "code": f"R1 B0{at}"}),
            ("moisture_read", {"targets": [{"kind": "fill", "id": fill}], "shown": {"moisture_hundredths": moisture}, "compensated": True}),
        ]
    service.push(*told)
    phone = stage.phone().join()
    phone.ready()
    phone.until_sent()
    # What comes later than the first screen is kept as well.
    phone.page.wait_for_function("() => navigator.serviceWorker.controller")
    kept = "async () => (await Promise.all((await caches.keys()).map(async (name) => (await caches.open(name)).keys()))).flat().some((one) => one.url.endsWith('/reckon.wasm'))"
    phone.until(lambda: phone.page.evaluate(kept), "the planners kept")
    phone.context.set_offline(True)
    phone.go("/house/blend")
    phone.touch("[data-key=plan]")
    phone.see("#wanted")
    phone.touch("[data-key=as-much]")
    phone.see("text=This blend holds.")
    # Two equal weights: the mean, by the balance of water (CODEX STAN 12-1981 limits it to 20 %).
    assert "Forecast 17.40" in phone.page.inner_text("main"), phone.page.inner_text("main")
    phone.touch("[data-key=make]")
    phone.says("Lot ")
    made = next(entry for entry in (json.loads(kept["text"]) for kept in phone.kept()) if entry["kind"] == "blended")["data"]
    phone.go(f"/find/{made['code']}")
    phone.see("text=Came from")
    assert "L01" in phone.page.inner_text("main"), "the hives behind it, without asking anybody"
    assert not service.told("blended"), "the phone had no network"
    online(phone)
    assert [one["data"] for one in service.told("blended")] == [made]
    assert {part["from"]["id"]: part["weight_g"] for part in made["parts"]} == {fill: 12000 for fill in fills}
    lot = service.call("GET", f"/v1/lots/{made['lot_id']}")
    assert lot["content_g"] == 24000, lot


def refusal(service, path, body):
    try:
        service.call("POST", path, body)
    except AssertionError as refused:
        return json.loads(str(refused).split(": 422 ", 1)[1])
    raise AssertionError("the service took what the phone refuses")


SCENARIOS = {
    "flagged-after-sync": flagged_after_sync,
    "disputed-two-phones": disputed_two_phones,
    "blend-offline": blend_offline,
    "phone-decides-alone": phone_decides_alone,
}
