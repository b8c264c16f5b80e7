"""Work with the hands full: placing, pulling, receiving. Touches are counted and compared with what is allowed."""

import uuid
from datetime import datetime, timedelta, timezone

from service import Yard


def place_200_in_airplane_mode(stage):
    """200 supers on 50 hives without a network; in the middle the browser is killed; then all of it is in the ledger once."""
    hives, each = 50, 4
    yard = Yard(stage.service, hives, hives * each)
    phone = stage.phone().join()
    phone.touch(f"[data-key='{yard.id}']", count=False)
    phone.see(".board")
    phone.page.wait_for_function("() => navigator.serviceWorker.controller")
    phone.context.set_offline(True)
    numbers = iter(yard.supers)
    placed = 0
    for index, code in enumerate(yard.hives):
        if index == hives // 2:
            phone.kill()
            phone.open(offline=True)
            phone.page.goto(f"{stage.service.url}/yard/{yard.id}/place")
            phone.see(".hive")
            phone.until_waiting(placed)
            assert len(phone.kept()) == placed, "entries were lost by kill -9"
        phone.touch(f"[data-key='hive-{yard.hives[code]}']")
        for _ in range(each):
            number = next(numbers)
            phone.touch(f"[data-key='super-{yard.supers[number]}']")
            phone.says(f"{number} placed on {code}")
            placed += 1
    allowed = hives * (2 + (each - 1))
    assert phone.touches == allowed, f"{phone.touches} touches, {allowed} are allowed"
    stage.figure(f"{phone.touches} touches for {placed} supers on {hives} hives, {allowed} allowed; killed once, nothing lost")
    assert not stage.service.told("super_placed"), "something was sent without a network"
    phone.context.set_offline(False)
    phone.until_sent()
    told = stage.service.told("super_placed")
    assert len(told) == placed and len({one["id"] for one in told}) == placed
    assert [one["device_counter"] for one in told] == list(range(1, placed + 1)), "a hole in the device's count"
    supers = list(yard.supers.values())
    for index, code in enumerate(yard.hives):
        on = [one["data"]["super_id"] for one in told if one["data"]["hive_id"] == yard.hives[code]]
        assert on == supers[index * each : (index + 1) * each], code


def pull_40_one_hand(stage):
    """40 supers pulled; on ten of them one chip is touched, the rest stay "not looked"."""
    yard = Yard(stage.service, 10, 40)
    on = yard.place(stage.service, 4)
    phone = stage.phone().join()
    phone.touch(f"[data-key='{yard.id}']", count=False)
    phone.touch(".job:has-text('Pull')", count=False)
    phone.context.set_offline(True)
    looked = {}
    for code, numbers in on.items():
        phone.touch(f"[data-key='hive-{yard.hives[code]}']")
        for number in numbers:
            phone.touch(f"[data-key='super-{yard.supers[number]}']")
            phone.says(f"{number} pulled from {code}")
        phone.touch("[data-key='chip-capped_percent-90']")
        phone.see("[data-key='chip-capped_percent-90'][aria-pressed=true]")
        looked[yard.supers[numbers[-1]]] = 90
    # One touch a hive, one a super, one a chip.
    assert phone.touches == 10 + 40 + 10, phone.touches
    stage.figure(f"{phone.touches} touches for 40 supers off 10 hives with 10 chips")
    phone.context.set_offline(False)
    phone.until_sent()
    pulled = stage.service.told("super_pulled")
    assert len(pulled) == 40
    assert all(set(one["data"]) == {"super_id", "hive_id"} for one in pulled), "something not looked at was written as looked at"
    amended = {one["data"]["data"]["super_id"]: one["data"]["data"]["capped_percent"] for one in stage.service.told("amended")}
    assert amended == looked, amended
    for key in yard.supers.values():
        state = stage.service.call("GET", f"/v1/supers/{key}")
        assert state["status"] == "pulled"
        assert state["filling"]["pulled"].get("capped_percent") == looked.get(key)
        assert "brood_seen" not in state["filling"]["pulled"]


def receive_24_supers(stage):
    """24 supers loaded by one touch, then received: the super, three keys, Next."""
    yard = Yard(stage.service, 6, 24)
    on = yard.place(stage.service, 4)
    stage.service.push(
        *[
            ("super_pulled", {"super_id": yard.supers[number], "hive_id": yard.hives[code]})
            for code, numbers in on.items()
            for number in numbers
        ]
    )
    phone = stage.phone().join()
    phone.touch(f"[data-key='{yard.id}']", count=False)
    phone.touch(".job:has-text('Load')", count=False)
    phone.see("[data-key=load-all]")
    phone.touch("[data-key=load-all]")
    phone.says("24 supers loaded")
    assert phone.touches == 1
    phone.touches = 0
    phone.go("/house/receive")
    weights = {}
    for at, (number, key) in enumerate(yard.supers.items()):
        tenths = 180 + at * 2
        phone.touch(f"[data-key='super-{key}']")
        phone.see("#gross")
        phone.digits(tenths)
        phone.touch("[data-key=gross-next]")
        phone.says(f"{number} received, {tenths / 10:.1f}")
        phone.see(f"text={at + 1} of 24 received")
        weights[key] = tenths * 100
    assert phone.touches == 24 * (1 + 3 + 1), phone.touches
    stage.figure(f"{phone.touches} touches for 24 supers weighed, {24 * 5} allowed; one touch to load them")
    phone.until_sent()
    told = {one["data"]["super_id"]: one["data"]["gross_g"] for one in stage.service.told("super_received")}
    assert told == weights
    assert len(stage.service.told("super_loaded")) == 24


def told_afterwards(stage):
    """At the kitchen table in the evening: what happened yesterday is told for yesterday, every screen says so, a reload
    changes nothing, and a correction is of now. A time still to come is not taken."""
    yard = Yard(stage.service, 2, 4)
    phone = stage.phone().join()
    yesterday = datetime.now(timezone.utc).date() - timedelta(days=1)
    run, fill, lot, bucket = (str(uuid.uuid4()) for _ in range(4))
    stage.service.push(
        ("run_opened", {"run_id": run, "name": "R1"}),
        ("container_registered", {"container_id": bucket, "number": "B01", "container": "bucket", "tare_g": 1200, "holds_ml": 20000}),
        ("container_filled", {"fill_id": fill, "source": {"run_id": run}, "gross_g": 13200, "tare_g": 1200, "container_id": bucket, "code": "R1 B01"}),
        ("honey_drawn", {"lot_id": lot, "code": "25-007-K", "fill_id": fill, "weight_g": 12000}),
        ("moisture_read", {"targets": [{"kind": "lot", "id": lot}], "shown": {"moisture_hundredths": 1740}, "compensated": True}),
        at=f"{yesterday}T09:00:00Z",
    )

    def place(number):
        phone.go(f"/yard/{yard.id}/place/{yard.hives['L01']}")
        phone.touch(f"[data-key='super-{yard.supers[number]}']")
        phone.says(f"{number} placed on L01")

    phone.touch("a[href='/earlier']")
    phone.page.fill("#earlier-at", f"{yesterday + timedelta(days=2)}T14:05")
    phone.touch("[data-key=earlier-set]")
    phone.see(".messages :text('Choose a time that has passed')")
    phone.page.fill("#earlier-at", f"{yesterday}T14:05")
    phone.touch("[data-key=earlier-set]")
    phone.see(".past:has-text('14:05')")
    stage.figure(f"{phone.touches} touches, one refused among them, until it is written for yesterday")
    place("001")
    phone.page.reload()
    phone.see(".past:has-text('14:05')")
    place("002")
    phone.touch(".undo-act")
    phone.says("Taken back: 002 placed on L01")
    phone.go("/today")
    phone.see(".entry:has-text('001 placed on L01') .entry-time:has-text('14:05')")
    # What only the service writes is of that time too.
    phone.go(f"/office/lots/{lot}")
    phone.page.fill("#release-reason", "measured and tasted")
    phone.touch("[data-key=release-form-save]")
    phone.says("is released")
    phone.touch("[data-key=earlier-end]")
    phone.see(".past", "hidden")
    place("003")
    phone.until_sent()
    one, two, three = stage.service.told("super_placed")
    (released,) = stage.service.told("lot_released")
    for entry in (one, two, released):
        assert entry["happened_src"] == "entered" and entry["happened_at"].startswith(f"{yesterday}T14:0"), entry
    (undone,) = stage.service.told("voided")
    for entry in (undone, three):
        assert entry["happened_src"] == "clock" and not entry["happened_at"].startswith(str(yesterday)), entry


SCENARIOS = {
    "told-afterwards": told_afterwards,
    "place-200-in-airplane-mode": place_200_in_airplane_mode,
    "pull-40-one-hand": pull_40_one_hand,
    "receive-24-supers": receive_24_supers,
}
