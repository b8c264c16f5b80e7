"""Numbers as people type them: commas, points, pounds, and a digit too many."""

import uuid

from service import Yard


def in_house(stage, supers=4):
    """Supers that came home without a weight."""
    yard = Yard(stage.service, 1, supers)
    yard.place(stage.service, supers)
    hive = next(iter(yard.hives.values()))
    for kind, extra in (("super_pulled", {"hive_id": hive}), ("super_loaded", {})):
        stage.service.push(*[(kind, {"super_id": key, **extra}) for key in yard.supers.values()])
    return yard


def ten_factor_slip(stage):
    """A weight ten times too much is asked about and not written; a fill ten times too small is asked about too."""
    yard = in_house(stage)
    bucket, run = str(uuid.uuid4()), str(uuid.uuid4())
    stage.service.push(
        ("container_registered", {"container_id": bucket, "number": "B01", "container": "bucket", "tare_g": 1200, "holds_ml": 20000}),
        ("run_opened", {"run_id": run, "name": "R1"}),
    )
    phone = stage.phone().join()
    key = yard.supers["001"]
    phone.go(f"/house/receive/{key}")
    phone.see("#gross")
    phone.digits(2140)
    assert phone.page.input_value("#gross") == "214.0"
    phone.touch("[data-key=gross-next]")
    phone.see("dialog[open]")
    assert "cannot weigh 214.0 kg" in phone.page.inner_text("dialog")
    phone.touch("[data-key=ask-no]")
    # What was typed stays, so that one touch mends it.
    assert phone.page.input_value("#gross") == "214.0"
    phone.touch("[data-key=key-rub]")
    assert phone.page.input_value("#gross") == "21.4"
    phone.touch("[data-key=gross-next]")
    phone.says("001 received, 21.4")
    # The other way: the scale really shows it, and the person says so.
    phone.go(f"/house/receive/{yard.supers['002']}")
    phone.see("#gross")
    phone.digits(2140)
    phone.touch("[data-key=gross-next]")
    phone.see("dialog[open]")
    phone.touch("[data-key=ask-yes]")
    phone.says("002 received, 214.0")
    phone.go(f"/house/fill/{bucket}")
    phone.see("#fill-gross")
    phone.digits(40)
    phone.touch("[data-key=label-stuck]")
    phone.touch("[data-key=fill-gross-next]")
    phone.see("dialog[open]")
    said = phone.page.inner_text("dialog")
    assert "2.8 kg" in said, said
    phone.touch("[data-key=ask-no]")
    phone.see("dialog", state="detached")
    phone.until_sent()
    told = {one["data"]["super_id"]: one for one in stage.service.told("super_received")}
    assert told[key]["data"]["gross_g"] == 21400 and "warnings" not in told[key], told[key]
    doubtful = told[yard.supers["002"]]
    assert doubtful["data"]["gross_g"] == 214000
    assert [(one["code"], one["answered"]) for one in doubtful["warnings"]] == [("impossible_weight", True)], doubtful
    assert not stage.service.told("container_filled"), "a fill was written that was taken back"


def comma_and_point(stage):
    """The pad shows the mark of the language; office fields take either, and ask about both at once."""
    yard = in_house(stage)
    phone = stage.phone(locale="de-DE").join()
    phone.go(f"/house/receive/{yard.supers['001']}")
    phone.see("#gross")
    phone.digits(214)
    assert phone.page.input_value("#gross") == "21,4"
    # A keyboard or a wedge scanner types into the same field; marks are ignored there.
    phone.page.focus("#gross")
    for _ in range(3):
        phone.page.keyboard.press("Backspace")
    phone.page.keyboard.type("21,5")
    assert phone.page.input_value("#gross") == "21,5"
    phone.page.keyboard.press("Enter")
    phone.says("21,5")
    phone.go("/office/set-up/containers")
    for number, typed in (("01", "1,2"), ("02", "1.2"), ("03", " 1,25 kg"), ("04", "7")):
        phone.see("#containers-range-prefix")
        for field, value in (("prefix", "P"), ("from", number), ("to", number), ("holds_ml", "20"), ("tare_g", "1.234,5")):
            phone.page.fill(f"#containers-range-{field}", value)
        phone.touch("[data-key=containers-range-save]")
        phone.see("#containers-range .summary:not([hidden])")
        assert "1.234,5" in phone.page.inner_text("#containers-range-tare_g-wrong")
        assert phone.page.input_value("#containers-range-tare_g") == "1.234,5", "what was typed is gone"
        phone.page.fill("#containers-range-tare_g", typed)
        phone.touch("[data-key=containers-range-save]")
        phone.says("1 ")
        phone.page.wait_for_function("() => document.querySelector('#containers-range-tare_g').value === ''")
    phone.until_sent()
    told = {one["data"]["number"]: one["data"]["tare_g"] for one in stage.service.told("container_registered")}
    assert told == {"P01": 1200, "P02": 1200, "P03": 1250, "P04": 7000}, told
    assert [one["data"]["gross_g"] for one in stage.service.told("super_received")] == [21500]


def pounds_come_back(stage):
    """Every tenth of a pound typed is the tenth that is shown afterwards; grams are by the definition of the pound; what
    the rules ask about is in pounds too."""
    doubted = []
    tenths = [1, 93, 200, 217, 333, 451, 518, 600]
    yard = in_house(stage, len(tenths))
    phone = stage.phone().join()
    phone.go("/phone")
    phone.touch("[data-key=mass-lb]")
    phone.see("[data-key=mass-lb][aria-pressed=true]")
    for number, typed in zip(yard.supers, tenths):
        phone.go(f"/house/receive/{yard.supers[number]}")
        phone.see("#gross")
        phone.digits(typed)
        phone.touch("[data-key=gross-next]")
        phone.page.wait_for_selector("dialog[open], #receive-number")
        if phone.page.query_selector("dialog[open]"):
            asked = phone.page.inner_text("dialog")
            assert f"{typed // 10}.{typed % 10} lb" in asked and "kg" not in asked, asked
            doubted.append(typed)
            phone.touch("[data-key=ask-yes]")
        phone.says(f"{number} received, {typed // 10}.{typed % 10}\u00a0lb")
        phone.see("#receive-number")
    phone.until_sent()
    # 1 lb = 453.59237 g exactly (international yard and pound agreement, 1959).
    want = {yard.supers[number]: round(typed * 45.359237) for number, typed in zip(yard.supers, tenths)}
    told = {one["data"]["super_id"]: one["data"]["gross_g"] for one in stage.service.told("super_received")}
    assert told == want, (told, want)
    assert doubted, "none of them was unusual"


SCENARIOS = {
    "ten-factor-slip": ten_factor_slip,
    "comma-and-point": comma_and_point,
    "pounds-come-back": pounds_come_back,
}
