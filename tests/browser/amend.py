"""Amending: every kind of field, before and after sending, by whoever told it and by the office; and taking that back."""

import json
import re

from looks import tell
from office import at_desk
from service import Yard

ROW = """([kind, id]) => new Promise((resolve) => {
    const open = indexedDB.open('yardjar');
    open.onsuccess = () => {
        const got = open.result.transaction('row').objectStore('row').get(`${kind}/${id}`);
        got.onsuccess = () => { open.result.close(); resolve(got.result?.text ?? ''); };
    };
})"""


def brood(state):
    """Frames with brood as somebody last saw them, out of the state of a hive."""
    found = re.search(r'"brood_frames": ?{[^}]*"what": ?(\d+)', state)
    return found and int(found.group(1))


def amend(phone, entry, why=None, **typed):
    """Opens the form of an entry from Today and fills in some of it."""
    phone.go("/today")
    phone.touch(f"[data-key='amend-{entry}']")
    if phone.page.locator("#amend").first.evaluate("(el) => el.tagName") == "INPUT":
        phone.touch("main a.line")
    phone.see("form#amend")
    typed_in(phone, why=why, **typed)


def typed_in(phone, **typed):
    for name, value in typed.items():
        if value is None:
            continue
        field = phone.page.locator(f"#amend-{name}")
        if field.evaluate("(el) => el.tagName") == "SELECT":
            field.select_option(value)
        else:
            field.fill(value)
    phone.touch("[data-key=amend-save]")


def newest(stage):
    return stage.service.told("amended")[-1]["data"]


def rows_alike(phone, stage, kind, plural, thing):
    """What a phone has of a thing is what the service has."""
    phone.until_sent()
    there = stage.service.call("GET", f"/v1/{plural}/{thing}")
    here = json.loads(phone.page.evaluate(ROW, [kind, thing]))
    for key, value in here.items():
        assert there.get(key) == value, (key, value, there.get(key))
    return json.dumps(there)


def amend_every_field(stage):
    """Yes or no, a number, a word, a thing, text, a date and a weight, unsent and sent, compared with the service and a
    second phone. What was not touched stays to the last gram, and an amendment taken back lets the first word count."""
    yard = Yard(stage.service, 2, 2)
    on = yard.place(stage.service, 1)
    for code, (number,) in on.items():
        key = yard.supers[number]
        stage.service.push(("super_pulled", {"super_id": key, "hive_id": yard.hives[code]}), ("super_loaded", {"super_id": key}))
    phone, second = stage.phone().join(), stage.phone().join()
    phone.ready()
    first, other = yard.hives["L01"], yard.hives["L02"]
    # What the form needs is kept a moment after the worker took over.
    kept = "async () => { for (const name of await caches.keys()) { const all = (await (await caches.open(name)).keys()).map((one) => one.url); if (['office/amend.js', 'office/forms.js', 'strings/office-en.json', '/kinds.json'].every((file) => all.some((url) => url.endsWith(file)))) return true; } return false; }"
    phone.until(lambda: phone.page.evaluate(kept), "the form of amendments kept for later")

    # Unsent, and without a network from the first word on.
    phone.context.set_offline(True)
    seen = {"hive_id": first, "eggs_seen": True, "brood_frames": 6, "stores": "enough", "text": "calm"}
    look = tell(phone, "hive_inspected", seen, "L01 looked into")
    amend(phone, look, why="wrong hive", eggs_seen="no", brood_frames="7", stores="heavy", hive_id=other, text="restless")
    phone.says("L01 looked into: amended")
    assert brood(phone.page.evaluate(ROW, ["hive", other])) == 7 and brood(phone.page.evaluate(ROW, ["hive", first])) is None
    # Once more: the form shows what was amended, not what was told first.
    amend(phone, look, brood_frames="8")
    phone.says("amended")
    phone.context.set_offline(False)
    phone.until_sent()
    mended = newest(stage)
    assert mended["entry_id"] == look and mended["kind"] == "hive_inspected", mended
    assert mended["data"] == {"hive_id": other, "eggs_seen": False, "brood_frames": 8, "stores": "heavy", "text": "restless"}, mended
    assert brood(rows_alike(phone, stage, "hive", "hives", other)) == 8
    assert brood(rows_alike(phone, stage, "hive", "hives", first)) is None
    second.page.evaluate("dispatchEvent(new Event('online'))")
    second.until(lambda: brood(second.page.evaluate(ROW, ["hive", other])) == 8, "the amendment on the second phone")

    # Sent: a date, numbers, and something left empty that was told.
    count = tell(phone, "colonies_counted", {"yard_id": yard.id, "on": "2026-05-20", "fit": 2, "unfit": 1}, "Linden Row counted")
    phone.until_sent()
    amend(phone, count, on="2026-05-22", fit="1", unfit="")
    phone.says("Linden Row counted: amended")
    phone.until_sent()
    assert newest(stage)["data"] == {"yard_id": yard.id, "on": "2026-05-22", "fit": 1}, newest(stage)
    assert "2026-05-22" in rows_alike(phone, stage, "yard", "yards", yard.id)
    # A number that is none stays in its field and is said.
    amend(phone, count, fit="two")
    phone.see(".summary:not([hidden])")
    assert phone.page.input_value("#amend-fit") == "two"

    # Another thing: the weight stays to the gram, although the form shows tenths of a kilogram.
    one, two = yard.supers["001"], yard.supers["002"]
    came = tell(phone, "super_received", {"super_id": one, "gross_g": 21437}, "001 received")
    phone.until_sent()
    amend(phone, came, super_id=two)
    phone.says("001 received: amended")
    phone.until_sent()
    assert newest(stage)["data"] == {"super_id": two, "gross_g": 21437}, newest(stage)
    assert "21437" in rows_alike(phone, stage, "super", "supers", two)
    # And another weight, in the form.
    amend(phone, came, gross_g="20.5")
    phone.until(lambda: newest(stage)["data"] == {"super_id": two, "gross_g": 20500}, "the other weight")
    phone.until_sent()
    # Nothing changed: nothing is written.
    before = len(stage.service.told("amended"))
    amend(phone, came)
    phone.says("Nothing was changed")

    # The amendment is taken back: what was amended before it counts again.
    phone.go("/today")
    phone.touch(f"[data-key^='void-'] >> nth=0")
    phone.says("Taken back")
    phone.until_sent()
    assert len(stage.service.told("amended")) == before
    assert "21437" in rows_alike(phone, stage, "super", "supers", two)
    amend(phone, came)
    assert phone.page.input_value("#amend-gross_g") == "21.4", "an amendment that was taken back is shown"


def lists_and_nested(stage):
    """What is told within something else and what is told of several: hives of a feeding, weight of each part."""
    yard = Yard(stage.service, 3, 1)
    phone = stage.phone().join()
    phone.ready()
    hives = list(yard.hives.values())
    fed = tell(phone, "feed_put_on", {"hive_ids": hives[:2], "feed": "sugar_syrup", "per_hive": {"weight_g": 5000}}, "fed")
    phone.until_sent()
    # One hive goes, another comes; the amount is within.
    amend(phone, fed, **{"hive_ids-0": "", "hive_ids-2": hives[2], "per_hive-weight_g": "2.5", "feed": "fondant"})
    phone.says("fed: amended")
    phone.until_sent()
    assert newest(stage)["data"] == {"hive_ids": [hives[1], hives[2]], "feed": "fondant", "per_hive": {"weight_g": 2500}}, newest(stage)


def office_amends(stage):
    """At a desk: what a phone told is found by its thing, amended, taken back, and counted again."""
    yard = Yard(stage.service, 1, 1)
    phone = stage.phone().join()
    phone.ready()
    hive = yard.hives["L01"]
    look = tell(phone, "hive_inspected", {"hive_id": hive, "brood_frames": 6, "text": "calm"}, "L01 looked into")
    phone.until_sent()
    desk = at_desk(stage)
    desk.ready()
    desk.go("/find/L01")
    desk.touch("a:has-text('Entries')")
    desk.see(f"[data-entry='{look}']")
    assert "Frames with brood: 6" in desk.page.inner_text(f"[data-entry='{look}']")
    desk.touch(f"[data-key='amend-{look}']")
    desk.see("form#amend")
    typed_in(desk, brood_frames="4", why="counted again")
    desk.says("amended")
    desk.until_sent()
    assert newest(stage)["data"] == {"hive_id": hive, "brood_frames": 4, "text": "calm"} and newest(stage)["reason"] == "counted again"
    state = lambda: json.dumps(stage.service.call("GET", f"/v1/hives/{hive}"))
    assert brood(state()) == 4
    phone.page.evaluate("dispatchEvent(new Event('online'))")
    phone.until(lambda: brood(phone.page.evaluate(ROW, ["hive", hive])) == 4, "the amendment on the phone")
    address = f"/office/entries/hive/{hive}"
    for key, counts in ((f"void-{look}", False), (None, True)):
        desk.go(address)
        desk.see(f"[data-entry='{look}']")
        desk.touch(f"[data-key='{key}']" if key else f"[data-entry='{look}'] [data-key^='void-']")
        desk.touch("[data-key=ask-yes]")
        # The words of the first withdrawal still stand while the second is written: the service knows.
        desk.until(lambda: (brood(state()) is not None) == counts, f"{'counted' if counts else 'not counted'} any longer")
        desk.until_sent()
    assert brood(state()) == 4, "the amendment no longer counts"


def values_of_the_profile(stage):
    """A value of the profile with its text: a milder one is asked about first, counts once sent, and is set back."""
    desk = at_desk(stage)
    desk.ready()
    read = lambda: {one["key"]: one for one in stage.service.call("GET", "/v1/settings/profile")["values"]}
    text = read()["keep_trace_records"]["value"]["months"]
    desk.go("/office/set-up/limits")
    desk.touch("a[href$='keep_trace_records']")
    desk.see("#value-form")
    shown = desk.page.inner_text("main")
    assert "No legal advice" in shown and f"{text} months" in shown and read()["keep_trace_records"]["source"]["text"] in shown, shown
    # Without a reason nothing is written.
    desk.page.fill("#value-form-value", str(text - 6))
    desk.touch("[data-key=value-form-save]")
    desk.see(".summary:not([hidden])")
    assert desk.page.input_value("#value-form-value") == str(text - 6), "what was typed is gone"
    desk.page.fill("#value-form-reason", "the authority said so")
    desk.touch("[data-key=value-form-save]")
    desk.see("dialog[open]")
    assert "not what" in desk.page.inner_text("dialog")
    desk.touch("[data-key=ask-yes]")
    desk.says(f"{text - 6} months")
    desk.until_sent()
    changed = read()["keep_trace_records"]
    assert changed["value"] == {"months": text - 6} and changed["changed"]["reason"] == "the authority said so", changed
    desk.go("/office/set-up/limits/keep_trace_records")
    desk.see("#back-form")
    desk.page.fill("#back-form-reason", "the text holds after all")
    desk.touch("[data-key=back-form-save]")
    desk.says("as the text says")
    desk.until_sent()
    back = read()["keep_trace_records"]
    assert back["value"] == {"months": text} and "changed" not in back, back
    # Water, in per cent, and a word: each is typed as it is.
    desk.go("/office/set-up/limits/request_answer")
    desk.see("#value-form")
    desk.page.fill("#value-form-value", "12")
    desk.page.fill("#value-form-reason", "own rule")
    desk.touch("[data-key=value-form-save]")
    desk.until(lambda: desk.page.query_selector("dialog[open]") or "12 hours" in desk.page.inner_text(".foot"), "the value kept")
    if desk.page.query_selector("dialog[open]"):
        desk.touch("[data-key=ask-yes]")
    desk.says("12 hours")
    desk.until_sent()
    assert read()["request_answer"]["value"] == {"hours": 12}


SCENARIOS = {
    "amend-every-field": amend_every_field,
    "amend-lists": lists_and_nested,
    "office-amends": office_amends,
    "profile-values": values_of_the_profile,
}
