"""Versions that meet: a newer app that waits, is declined, fails to make its stores; a service that is older."""

import json

from between import Between
from service import Yard

NEWER, NEWEST = "aaaaaaaaaaaaaaaa", "bbbbbbbbbbbbbbbb"
VERSION = "() => document.querySelector('script[type=module]').src.split('/')[4]"


def ready(stage, supers=6):
    """A phone whose worker keeps the app, behind something that can change what comes."""
    between = Between(stage.service)
    stage.borrowed.append(between)
    yard = Yard(stage.service, 1, supers)
    phone = stage.phone(service=between).join()
    phone.page.wait_for_function("() => navigator.serviceWorker.controller")
    phone.ready()
    to_place(phone, yard)
    return between, yard, phone


def to_place(phone, yard):
    phone.go(f"/yard/{yard.id}/place/{yard.hives['L01']}")
    phone.see(".super")


def place(phone, yard, number):
    phone.touch(f"[data-key='super-{yard.supers[number]}']")
    phone.says(f"{number} placed on L01")


def look_for_newer(phone):
    phone.page.evaluate("async () => { await (await navigator.serviceWorker.getRegistration()).update(); }")
    waits = "async () => Boolean((await navigator.serviceWorker.getRegistration()).waiting)"
    phone.until(lambda: phone.page.evaluate(waits), "a version that waits")


def cut_off(between):
    """Calls get no answer; files of the app still come."""
    between.instead = lambda method, path, body: (503, "application/problem+json", b'{"type":"busy"}') if path.startswith("/v1/") else None


def update_with_full_outbox(stage):
    """A new version is accepted while entries wait: the page reloads once, every byte of them stays and is sent."""
    between, yard, phone = ready(stage)
    true = phone.page.evaluate(VERSION)
    cut_off(between)
    for number in ("001", "002", "003"):
        place(phone, yard, number)
    before = [one["text"] for one in phone.kept()]
    between.pretends = NEWER
    look_for_newer(phone)
    assert phone.page.evaluate(VERSION) == true, "a version came that nobody accepted"
    assert not phone.page.query_selector("[data-key=update]"), "it is offered in the middle of work"
    phone.go("/")
    loads = []
    phone.page.on("load", lambda: loads.append(1))
    phone.touch("[data-key=update]")
    phone.page.wait_for_function(f"(version) => ({VERSION})() === version", arg=NEWER)
    phone.see("main[data-screen=arrive]")
    phone.until_waiting(3)
    assert loads == [1], f"reloaded {len(loads)} times"
    assert [one["text"] for one in phone.kept()] == before, "an entry was built anew"
    between.instead = None
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.until_sent()
    told = stage.service.told("super_placed")
    assert [one["id"] for one in told] == [json.loads(text)["id"] for text in before]


def update_declined(stage):
    """Nobody accepts the new version: the old one goes on through a reload, without a network too, records and sends."""
    between, yard, phone = ready(stage)
    true = phone.page.evaluate(VERSION)
    between.pretends = NEWER
    look_for_newer(phone)
    phone.page.reload()
    phone.see(".super")
    assert phone.page.evaluate(VERSION) == true
    phone.ready()
    place(phone, yard, "001")
    phone.until_sent()
    phone.context.set_offline(True)
    phone.page.reload()
    phone.see(".super")
    phone.ready()
    place(phone, yard, "002")
    # A still newer one takes the place of the one that waits.
    phone.context.set_offline(False)
    phone.until_sent()
    between.pretends = NEWEST
    look_for_newer(phone)
    assert phone.page.evaluate(VERSION) == true
    assert len(stage.service.told("super_placed")) == 2
    phone.go("/")
    phone.see("[data-key=update]")


def upgrade_throws(stage):
    """The new version cannot make its stores: the old ones stay as they were, and the new version works on with them."""
    between, yard, phone = ready(stage)
    cut_off(between)
    place(phone, yard, "001")
    place(phone, yard, "002")
    before = phone.kept()

    def broken(text):
        changed = text.replace("const VERSION = 2;", "const VERSION = 3;").replace("if (from < 2) {", "if (from < 3) throw new Error('no room');\nif (from < 2) {")
        assert changed.count("no room") == 1 and "VERSION = 3" in changed, "the store's upgrade looks different now"
        return changed

    between.pretends, between.changed = NEWER, {"store.js": broken}
    look_for_newer(phone)
    phone.go("/")
    phone.touch("[data-key=update]")
    phone.page.wait_for_function(f"(version) => ({VERSION})() === version", arg=NEWER)
    phone.says("could not be made new")
    assert phone.kept() == before, "the failed upgrade changed what was kept"
    phone.ready()
    to_place(phone, yard)
    place(phone, yard, "003")
    assert len(phone.kept()) == 3
    between.instead = None
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.until_sent()
    assert len(stage.service.told("super_placed")) == 3


def quarantined_by_old_server(stage):
    """An entry of a kind that the service does not know yet: it is stored there, shown as kept and not counted, and
    stops nothing. After the service was brought up to date it counts."""
    between, yard, phone = ready(stage)
    cut_off(between)
    place(phone, yard, "001")
    place(phone, yard, "002")
    place(phone, yard, "003")
    # What a newer app might have written: the second is of a kind of tomorrow.
    phone.page.evaluate(
        """() => new Promise((resolve) => {
            const open = indexedDB.open('yardjar');
            open.onsuccess = () => {
                const kept = open.result.transaction('outbox', 'readwrite').objectStore('outbox');
                kept.get(2).onsuccess = (event) => {
                    const entry = event.target.result;
                    kept.put({ ...entry, text: entry.text.replace('"super_placed"', '"super_placed_by_crane"') });
                    kept.transaction.oncomplete = () => { open.result.close(); resolve(); };
                };
            };
        })"""
    )
    phone.page.reload()
    phone.ready()
    between.instead = None
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.until_sent()
    assert [one["state"] for one in phone.kept()] == ["sent", "kept", "sent"]
    assert len(stage.service.ledger()) == len({one["entry"]["id"] for one in stage.service.ledger()})
    assert len(stage.service.told("super_placed")) == 2 and len(stage.service.told("super_placed_by_crane")) == 1
    phone.go("/outbox")
    shown = phone.page.inner_text("main")
    assert "Kept, not counted yet" in shown and "002 placed on L01" in shown, shown
    # Nothing hides it later, and the phone goes on.
    to_place(phone, yard)
    place(phone, yard, "004")
    phone.until_sent()
    phone.go("/outbox")
    assert "Kept, not counted yet" in phone.page.inner_text("main")


SCENARIOS = {
    "quarantined-by-old-server": quarantined_by_old_server,
    "update-with-full-outbox": update_with_full_outbox,
    "update-declined": update_declined,
    "upgrade-throws": upgrade_throws,
}
