"""Taking back: before it was sent and after. Nothing is deleted either way."""

from service import Yard


def ready(stage):
    yard = Yard(stage.service, 2, 4)
    phone = stage.phone().join()
    phone.touch(f"[data-key='{yard.id}']", count=False)
    phone.touch(".job:has-text('Place')", count=False)
    return yard, phone


def place_one(phone, yard, number, code):
    phone.touch(f"[data-key='hive-{yard.hives[code]}']")
    phone.touch(f"[data-key='super-{yard.supers[number]}']")
    phone.says(f"{number} placed on {code}")


def check(stage, yard, number):
    placed = stage.service.told("super_placed")
    voided = stage.service.told("voided")
    assert len(placed) == 1 and len(voided) == 1, (placed, voided)
    assert voided[0]["data"]["entry_id"] == placed[0]["id"] and voided[0]["data"]["reason"]
    state = stage.service.call("GET", f"/v1/supers/{yard.supers[number]}")
    assert state["status"] == "in_store", state


def undo_unsent(stage):
    """Without a network: the tile is free again at once, and both entries are sent later."""
    yard, phone = ready(stage)
    phone.context.set_offline(True)
    place_one(phone, yard, "001", "L01")
    phone.see(f"[data-key='super-{yard.supers['001']}'].done")
    phone.touch(".undo-act")
    phone.says("Taken back: 001 placed on L01")
    phone.see(f"[data-key='super-{yard.supers['001']}']:not(.done)")
    assert "0 supers" in phone.page.inner_text(f"[data-key='hive-{yard.hives['L01']}']")
    assert [one["kind"] for one in phone.kept()] == ["super_placed", "voided"]
    phone.context.set_offline(False)
    phone.until_sent()
    check(stage, yard, "001")


def undo_sent(stage):
    """After it was sent: the void is an entry of its own, and the tile is free once that was sent too."""
    yard, phone = ready(stage)
    place_one(phone, yard, "002", "L02")
    phone.until_sent()
    assert len(stage.service.told("super_placed")) == 1
    phone.touch(".undo-act")
    phone.says("Taken back: 002 placed on L02")
    phone.until_sent()
    phone.see(f"[data-key='super-{yard.supers['002']}']:not(.done)")
    check(stage, yard, "002")
    phone.go("/today")
    assert "taken back" in phone.page.inner_text("main")


def amend_today(stage):
    """A weight mistyped an hour ago: Today shows what was told, and another weight takes its place; both are kept."""
    yard = Yard(stage.service, 1, 1)
    yard.place(stage.service, 1)
    key, hive = yard.supers["001"], yard.hives["L01"]
    stage.service.push(("super_pulled", {"super_id": key, "hive_id": hive}), ("super_loaded", {"super_id": key}))
    phone = stage.phone().join()
    phone.ready()
    phone.go(f"/house/receive/{key}")
    phone.see("#gross")
    phone.digits(241)
    phone.touch("[data-key=gross-next]")
    phone.says("001 received, 24.1")
    phone.until_sent()
    phone.go("/today")
    phone.touch("[data-key^='amend-']")
    phone.see("#amend")
    assert "24.1" in phone.page.inner_text("main"), "what was told is not shown"
    phone.digits(214)
    phone.touch("[data-key=amend-next]")
    phone.says("now 21.4")
    phone.until_sent()
    told, mended = stage.service.told("super_received"), stage.service.told("amended")
    assert told[0]["data"]["gross_g"] == 24100 and mended[0]["data"]["data"]["gross_g"] == 21400
    assert mended[0]["data"]["entry_id"] == told[0]["id"]
    assert stage.service.call("GET", f"/v1/supers/{key}")["filling"]["full"]["gross_g"] == 21400


SCENARIOS = {"undo-unsent": undo_unsent, "undo-sent": undo_sent, "amend-today": amend_today}
