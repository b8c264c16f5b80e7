"""How it looks and how fast it is: sizes, contrast, narrow screens, axe, budgets. Figures are printed."""

import json
import os
import re
import time
import urllib.request
import uuid

from axe_playwright_python.sync_playwright import Axe

from service import Yard

# CSS px, as decided for gloves: everything in Yard and House, main controls and tiles, keys.
LEAST, MAIN, KEY = (56, 56), (96, 72), (112, 72)
GAP = 8
OFFICE_LEAST = 44
CONTRAST = 7
TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
RULES = {"target-size": {"enabled": True}, "color-contrast-enhanced": {"enabled": True}}
# axe cannot tell what lies under text that is scrolled half out of sight, nor of a single sign. The scenario
# contrast-computed measures every text.
INCOMPLETE = {"color-contrast", "color-contrast-enhanced"}
# Bytes over the wire, compressed.
FIRST_LOAD, RULES_WASM, JS, CSS, PAGE_AND_ICONS = 250_000, 170_000, 55_000, 12_000, 13_000
# Computations and planners, fetched once the first screen stands; not part of the first load.
RECKON_WASM = 100_000
# One question to the rules in a full house.
CALL_MS = 50
SLOWER = 4
PAINT_MS, DURABLE_MS = 100, 50
# The service packs files as small as it can while others are answered; none takes it so long.
PACKED_S = 10


def furnish(stage):
    """A business in which every screen has something to show."""
    service = stage.service
    yard = Yard(service, 6, 24)
    on = yard.place(service, 2)
    hive = yard.hives["L02"]
    ids = {name: str(uuid.uuid4()) for name in ("bucket", "bucket2", "bucket3", "run", "fill", "fill2", "lot", "batch", "meter", "room", "medicine", "buyer", "delivery", "order", "colony")}
    first, second = (yard.supers[number] for number in on["L01"])
    told = service.push(
        ("hold_set", {"target": {"kind": "hive", "id": hive}, "reason": "treatment"}),
        ("super_pulled", {"super_id": first, "hive_id": yard.hives["L01"]}),
        ("super_received", {"super_id": first, "gross_g": 21400}),
        ("super_pulled", {"super_id": second, "hive_id": yard.hives["L01"]}),
        ("super_loaded", {"super_id": second}),
        ("super_pulled", {"super_id": yard.supers[on["L03"][0]], "hive_id": yard.hives["L04"]}),
        ("container_registered", {"container_id": ids["bucket"], "number": "B01", "container": "bucket", "tare_g": 1200, "holds_ml": 20000}),
        ("container_registered", {"container_id": ids["bucket2"], "number": "B02", "container": "bucket", "tare_g": 1200, "holds_ml": 20000}),
        ("meter_registered", {"meter_id": ids["meter"], "name": "meter 1", "compensated": False}),
        ("run_opened", {"run_id": ids["run"], "name": "R1"}),
        ("super_uncapped", {"run_id": ids["run"], "super_id": first}),
        ("wet_weighed", {"run_id": ids["run"], "super_id": first, "gross_g": 8100}),
        ("container_filled", {"fill_id": ids["fill"], "source": {"run_id": ids["run"]}, "gross_g": 13900, "tare_g": 1200, "container_id": ids["bucket"], "code": "R1 B01", "label_stuck": True}),
        ("moisture_read", {"targets": [{"kind": "fill", "id": ids["fill"]}], "shown": {"moisture_hundredths": 1780}, "compensated": True}),
        ("container_registered", {"container_id": ids["bucket3"], "number": "B03", "container": "bucket", "tare_g": 1200, "holds_ml": 20000}),
        ("container_filled", {"fill_id": ids["fill2"], "source": {"run_id": ids["run"]}, "gross_g": 8100, "tare_g": 1200, "container_id": ids["bucket3"], "code": "R1 B03"}),
        ("honey_drawn", {"lot_id": ids["lot"], "code": "25-007-K", "fill_id": ids["fill2"], "weight_g": 6900}),
        ("bottled", {"batch_id": ids["batch"], "lot_id": ids["lot"], "code": "25-A007-Y", "nominal_g": 500, "jars_good": 4}),
        ("weights_checked", {"batch_id": ids["batch"], "net_tenths_g": [5012, 4998, 5003, 5020]}),
        ("room_registered", {"room_id": ids["room"], "name": "warm room"}),
        ("room_read", {"room_id": ids["room"], "air_tenths_c": 310, "humidity_percent": 45}),
        ("medicine_registered", {"medicine_id": ids["medicine"], "name": "thymol strips", "wait_days": 7, "supers_allowed": False}),
        ("medicine_bought", {"medicine_id": ids["medicine"], "batch": "K44", "quantity": {"pieces": 100}, "supplier": "the vet"}),
    )
    ids["held"] = told[0]
    # A second yard, where bees may be sick and moves are stopped.
    sick = Yard(service, 1, 0, name="Heath End", letter="H")
    (ill,) = sick.hives.values()
    ids["ill"], ids["sick"] = ill, sick.id
    _, ids["suspected"], ids["ordered"], _ = service.push(
        ("colony_registered", {"colony_id": ids["colony"], "hive_id": ill}),
        ("disease_suspected", {"place": {"hive_id": ill}, "disease": "american_foulbrood", "text": "sunken caps"}),
        ("standstill_ordered", {"yard_id": sick.id, "order": "SN 12/2025", "authority": "bee inspector"}),
        ("note_written", {"about": [{"kind": "hive", "id": ill}], "text": "lid replaced"}),
    )
    # What only the office tells: who buys, and what went there.
    service.call("POST", "/v1/customers", {"customer_id": ids["buyer"], "name": "Shop 1", "address": "Main street 1", "phone": "555 0100"})
    sold = [{"goods": {"jars": {"batch_id": ids["batch"], "count": 2}}, "price_hundredths": 1400}]
    service.call("POST", "/v1/deliveries", {"delivery_id": ids["delivery"], "lines": sold, "customer_id": ids["buyer"]})
    service.push(
        ("goods_ordered", {"delivery_id": ids["order"], "wanted": [{"nominal_g": 500, "count": 4}, {"nominal_g": 250, "count": 12, "product": "heather honey"}], "customer_id": ids["buyer"], "wanted_on": "2026-12-05", "note_number": "O 4"}),
        ("order_picked", {"delivery_id": ids["order"], "lines": [{"goods": {"jars": {"batch_id": ids["batch"], "count": 1}}, "price_hundredths": 700}]}),
    )
    (ids["hold"],) = service.push(("hold_set", {"target": {"kind": "lot", "id": ids["lot"]}, "reason": "complaint", "text": "off taste"}))
    return yard, ids


def opened(phone):
    """What is rare stands behind a word."""
    phone.see("main details:not([open]) > summary")
    phone.touch("main details:not([open]) > summary")
    phone.see("main details[open]")


def from_today(hive):
    """To the form of something that this phone told just before."""

    def act(phone):
        told = tell(phone, "hive_inspected", {"hive_id": hive, "eggs_seen": True, "text": "calm"}, "L02 looked into")
        phone.touch(f"[data-key='amend-{told}']")
        phone.see("form#amend")

    return act


# Records as a touch does, without the way to the screen of each kind.
RECORD = """async ([kind, data, say]) => {
    const shell = await import(document.querySelector('script[type=module]').src.replace('app.js', 'shell.js'));
    const late = new Promise((_, reject) => setTimeout(() => reject(new Error('not written within 10 s: does it ask something?')), 10000));
    return (await Promise.race([shell.record([{ kind, data }], say), late])).entries[0].id;
}"""


def tell(phone, kind, data, say):
    return phone.page.evaluate(RECORD, [kind, data, say])


def screens(yard, ids):
    """Every screen, in the states it can be in: (name, address, room, what to do there)."""
    hive = yard.hives["L02"]
    waiting = next(iter(yard.supers.values()))
    return [
        ("arrive", "/yard", "yard", None),
        ("board", f"/yard/{yard.id}/place", "yard", None),
        ("place", f"/yard/{yard.id}/place/{hive}", "yard", None),
        ("pull", f"/yard/{yard.id}/pull/{hive}", "yard", None),
        ("pulled", f"/yard/{yard.id}/pull/{yard.hives['L05']}", "yard", lambda phone: (phone.touch(".super"), phone.see("[data-key=chip-stays]"))),
        ("load", f"/yard/{yard.id}/load", "yard", None),
        ("all jobs", f"/yard/{yard.id}/more", "yard", None),
        ("boards", f"/yard/{yard.id}/boards/{hive}", "yard", None),
        ("spare", f"/yard/{yard.id}/spare", "yard", None),
        ("look", f"/yard/{yard.id}/look/{hive}", "yard", None),
        ("look, a suspicion", f"/yard/{yard.id}/look/{hive}", "yard", lambda phone: (phone.touch("[data-key=chip-suspicion-unknown]"), phone.see("[data-key=chip-suspicion-unknown][aria-pressed=true]"))),
        ("feed", f"/yard/{yard.id}/feed", "yard", None),
        ("feed, how much", f"/yard/{yard.id}/feed", "yard", lambda phone: (phone.touch("[data-key=amount-mass]"), phone.see("#feed-amount"))),
        ("treat", f"/yard/{yard.id}/treat", "yard", lambda phone: (phone.touch(f"[data-key='chip-medicine-{ids['medicine']}']"), phone.see("[data-key=chip-batch-K44]"))),
        ("move", f"/yard/{yard.id}/move", "yard", None),
        ("colony", f"/yard/{yard.id}/colony/{hive}", "yard", None),
        ("count", f"/yard/{yard.id}/count", "yard", None),
        ("what to bring", "/yard/bring", "yard", None),
        ("hold", f"/yard/{yard.id}/hold/{hive}", "yard", None),
        ("house", "/house", "house", None),
        ("what waits", "/house/next", "house", None),
        ("receive", "/house/receive", "house", None),
        ("receive one", f"/house/receive/{yard.supers['002']}", "house", None),
        ("moisture", "/house/moisture", "house", None),
        ("moisture one", f"/house/moisture/fill/{ids['fill']}", "house", None),
        ("runs", "/house/run", "house", None),
        ("run", f"/house/run/{ids['run']}", "house", None),
        ("wet", f"/house/run/{ids['run']}/wet/{waiting}", "house", None),
        ("cappings", f"/house/run/{ids['run']}/cappings", "house", None),
        ("drain", f"/house/run/{ids['run']}/drain", "house", None),
        ("strain", f"/house/run/{ids['run']}/strain", "house", None),
        ("sample", f"/house/run/{ids['run']}/sample", "house", None),
        ("set aside", f"/house/run/{ids['run']}/aside", "house", None),
        ("set aside, how many", f"/house/run/{ids['run']}/aside/{waiting}", "house", None),
        ("fill", "/house/fill", "house", None),
        ("fill one", f"/house/fill/{ids['bucket2']}", "house", None),
        ("question", f"/house/fill/{ids['bucket2']}", "house", lambda phone: (phone.digits(20), phone.touch("[data-key=fill-gross-next]"), phone.see("dialog[open]"))),
        ("warm rooms", "/house/warm-room", "house", None),
        ("warm room", f"/house/warm-room/{ids['room']}", "house", None),
        ("air", f"/house/warm-room/{ids['room']}/air", "house", None),
        ("checks", "/house/checks", "house", None),
        ("how wrong", f"/house/checks/{ids['meter']}", "house", None),
        ("settle", "/house/settle", "house", None),
        ("settle one", f"/house/settle/{ids['fill']}", "house", None),
        ("blend", "/house/blend", "house", None),
        ("blend, chosen", f"/house/blend?from=fill/{ids['fill']}", "house", None),
        ("blend, how much", f"/house/blend/fill/{ids['fill']}", "house", None),
        ("blend, wanted", "/house/blend/plan/wish", "house", None),
        ("bottle", "/house/bottle", "house", None),
        ("bottle one", f"/house/bottle/{ids['lot']}", "house", None),
        ("jars", f"/house/batch/{ids['batch']}", "house", None),
        ("weigh jars", f"/house/batch/{ids['batch']}/weigh", "house", None),
        ("cleaning", "/house/clean", "house", None),
        ("office", "/office", "office", None),
        ("first steps", "/office/begin", "office", None),
        ("set-up", "/office/set-up", "office", None),
        ("set-up of yards", "/office/set-up/yards", "office", None),
        ("set-up of supers", "/office/set-up/supers", "office", None),
        ("a buyer", f"/office/set-up/buyers/{ids['buyer']}", "office", None),
        ("a medicine", f"/office/set-up/medicines/{ids['medicine']}", "office", None),
        ("limits", "/office/set-up/limits", "office", lambda phone: phone.see("table")),
        ("a value of the profile", "/office/set-up/limits/keep_trace_records", "office", lambda phone: phone.see("#value-form")),
        ("entries of a hive", f"/office/entries/hive/{hive}", "office", lambda phone: phone.see("[data-entry]")),
        ("amend an entry", f"/office/entries/hive/{hive}/{ids['held']}", "office", lambda phone: phone.see("form#amend")),
        ("amend from Today", "/today", "office", from_today(hive)),
        ("set-up, something missing", "/office/set-up/yards", "office", lambda phone: (phone.touch("[data-key=yards-form-save]"), phone.see(".summary:not([hidden])"))),
        ("lots", "/office/lots", "office", None),
        ("lot", f"/office/lots/{ids['lot']}", "office", None),
        ("stock", "/office/stock", "office", None),
        ("jars", f"/office/stock/{ids['batch']}", "office", None),
        ("sales", "/office/sales", "office", lambda phone: phone.see("#line-form")),
        ("delivery", f"/office/sales/{ids['delivery']}", "office", None),
        ("orders", "/office/orders", "office", lambda phone: phone.see("#wanted-form")),
        ("an order", f"/office/orders/{ids['order']}", "office", lambda phone: phone.see("#deliver-form")),
        ("order, more", f"/office/orders/{ids['order']}", "office", opened),
        ("in bulk", f"/office/sales?fill={ids['fill']}", "office", lambda phone: phone.see("#bulk-form")),
        ("what can be told of a lot", f"/office/lots/{ids['lot']}", "office", opened),
        ("of jars", f"/office/stock/{ids['batch']}", "office", opened),
        ("of a container’s honey", f"/office/tell/fill/{ids['fill']}", "office", opened),
        ("of a run", f"/office/tell/run/{ids['run']}", "office", opened),
        ("of a super", f"/office/set-up/supers/{yard.supers['003']}", "office", opened),
        ("of a hive, sick", f"/office/set-up/hives/{ids['ill']}", "office", opened),
        ("of a yard, moves stopped", f"/office/set-up/yards/{ids['sick']}", "office", opened),
        ("suspected", f"/office/tell/hive/{ids['ill']}/disease_suspected", "office", lambda phone: (phone.touch("[data-key=disease_suspected-form-save]"), phone.see(".summary:not([hidden])"))),
        ("cleared", f"/office/tell/hive/{ids['ill']}/disease_cleared/{ids['suspected']}", "office", None),
        ("licence", f"/office/tell/yard/{ids['sick']}/standstill_licensed/{ids['ordered']}", "office", None),
        ("a hold ends", f"/office/tell/lot/{ids['lot']}/hold_lifted/{ids['hold']}", "office", None),
        ("stirred", f"/office/tell/fill/{ids['fill']}/honey_stirred", "office", None),
        ("emptied into a lot", f"/office/tell/batch/{ids['batch']}/jars_reworked", "office", None),
        ("trace", f"/office/trace/batch/{ids['batch']}", "office", lambda phone: phone.see("svg.trace")),
        ("recall", f"/office/recall/batch/{ids['batch']}", "office", lambda phone: phone.see("table")),
        ("labels", "/office/labels", "office", lambda phone: phone.see("#labels-form")),
        ("inputs", "/office/inputs", "office", None),
        ("counts", "/office/inputs/2026/counts", "office", None),
        ("flags", "/office/flags", "office", lambda phone: phone.see(".story")),
        ("season", "/office/season", "office", lambda phone: phone.see(".question")),
        ("phones", "/office/phones", "office", lambda phone: phone.see("#code-form")),
        ("find", "/find/001", "yard", lambda phone: phone.see("main h2.big")),
        ("today", "/today", "yard", None),
        ("earlier", "/earlier", "yard", None),
        ("written afterwards", "/earlier", "yard", lambda phone: (phone.touch("[data-key=earlier-set]"), phone.see(".past"), phone.see("main[data-at='/yard']"))),
        ("now again", "/yard", "yard", lambda phone: (phone.touch("[data-key=earlier-end]"), phone.see(".past", "hidden"))),
        ("outbox", "/outbox", "yard", None),
        ("this phone", "/phone", "yard", None),
        ("signs", "/signs", "office", None),
    ]


def tour(stage, width=360, height=740, **options):
    """Goes through all screens; yields (name, room, phone) at each."""
    yard, ids = furnish(stage)
    phone = stage.phone(width=width, height=height, **options)
    phone.page.goto(stage.service.url + "/join")
    phone.see("#code")
    yield "come in", "yard", phone
    phone.join()
    phone.ready()
    for name, address, room, act in screens(yard, ids):
        phone.go(address)
        phone.see("main h1", state="attached")
        if act:
            act(phone)
        assert "⟦" not in phone.page.inner_text("body"), f"{name}: a string is missing"
        yield name, room, phone
        if phone.page.query_selector("dialog[open]"):
            phone.page.keyboard.press("Escape")


MEASURE = """() => {
    const shown = (el) => el.getClientRects().length > 0 && el.checkVisibility({ visibilityProperty: true });
    const scope = document.querySelector('dialog[open]') ?? document.body;
    return [...scope.querySelectorAll('a[href], button, input, select')].filter((el) => shown(el) && !el.matches('.skip')).map((el) => {
        const box = el.getBoundingClientRect();
        return { what: el.dataset.key ?? el.id ?? '', text: el.textContent.slice(0, 24), class: el.className, link: el.tagName === 'A',
            x: box.x, y: box.y, w: box.width, h: box.height, pane: el.closest('[data-pane], .foot, .strip, .jobs, dialog')?.className ?? 'main', inTable: Boolean(el.closest('table')) };
    });
}"""


def targets_measured(stage):
    """Every target of every screen: large enough, and far enough from the next."""
    faults, least, nearest, keys = [], (999, 999), 999, set()
    for name, room, phone in tour(stage):
        boxes = phone.page.evaluate(MEASURE)
        for box in boxes:
            size = (round(box["w"], 1), round(box["h"], 1))
            words = box["class"].split()
            if room == "office" and "foot" not in box["pane"]:
                want = (24, 24) if box["inTable"] else (OFFICE_LEAST, OFFICE_LEAST)
            elif "key" in words:
                want = KEY
                keys.add(size)
            elif "strip" in box["pane"]:
                want = (48, 48)
            elif {"main", "tile", "row-link"} & set(words):
                want = MAIN
            else:
                want = LEAST
            if size[0] + 0.1 < want[0] or size[1] + 0.1 < want[1]:
                faults.append(f"{name}: {box['what'] or box['text']!r} is {size}, {want} is wanted")
            if room != "office" and "strip" not in box["pane"]:
                least = min(least, size, key=lambda one: one[0] * one[1])
        # Neighbours: the gap counts where two targets face each other.
        if room != "office":
            # The rooms in the bar and the two halves of the strip lie side by side on purpose, with a line between.
            buttons = [box for box in boxes if box["pane"] not in ("foot", "strip")]
            for at, one in enumerate(buttons):
                for two in buttons[at + 1 :]:
                    if one["pane"] != two["pane"]:
                        continue
                    across = max(one["x"], two["x"]) - min(one["x"] + one["w"], two["x"] + two["w"])
                    down = max(one["y"], two["y"]) - min(one["y"] + one["h"], two["y"] + two["h"])
                    gap = max(across, down)
                    nearest = min(nearest, gap)
                    if gap < GAP - 0.1:
                        faults.append(f"{name}: {gap:.1f} px between {one['what'] or one['text']!r} and {two['what'] or two['text']!r}")
    stage.figure(f"least target outside the office {least[0]} x {least[1]}, keys {sorted(keys)}, nearest two targets {nearest:.1f} px apart")
    assert not faults, "\n".join(faults)


CONTRASTS = """() => {
    const parse = (text) => (text.match(/[\\d.]+/g) ?? []).map(Number);
    const light = ([r, g, b]) => {
        const [x, y, z] = [r, g, b].map((v) => (v / 255 <= 0.04045 ? v / 255 / 12.92 : ((v / 255 + 0.055) / 1.055) ** 2.4));
        return 0.2126 * x + 0.7152 * y + 0.0722 * z;
    };
    const under = (el) => {
        for (let at = el; at; at = at.parentElement) {
            const colour = parse(getComputedStyle(at).backgroundColor);
            if (colour.length === 3 || colour[3] > 0) return colour;
        }
        return [255, 255, 255];
    };
    const scope = document.querySelector('dialog[open]') ?? document.body;
    const walker = document.createTreeWalker(scope, NodeFilter.SHOW_TEXT);
    const found = [];
    while (walker.nextNode()) {
        const el = walker.currentNode.parentElement;
        if (!walker.currentNode.data.trim() || el.closest('script, noscript, style') || el.getClientRects().length === 0) continue;
        const style = getComputedStyle(el);
        const [a, b] = [light(parse(style.color)), light(under(el))];
        found.push({ ratio: (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05), size: parseFloat(style.fontSize), text: walker.currentNode.data.trim().slice(0, 30) });
    }
    return found;
}"""


def contrast_computed(stage):
    """Every text of every screen against what lies under it (WCAG 2.2, 1.4.6: 7 to 1), and no letter under 16 px."""
    worst, smallest, faults = (99, ""), (99, ""), []
    for name, _, phone in tour(stage):
        for one in phone.page.evaluate(CONTRASTS):
            worst = min(worst, (round(one["ratio"], 2), one["text"]))
            smallest = min(smallest, (one["size"], one["text"]))
            if one["ratio"] < CONTRAST or one["size"] < 16:
                faults.append(f"{name}: {one}")
    stage.figure(f"least contrast {worst[0]}:1 ({worst[1]!r}), smallest letters {smallest[0]} px")
    assert not faults, "\n".join(faults)


# What reaches over the edge of the screen, or is cut off by what it stands in.
WIDE = """() => [...document.querySelectorAll('body *')].filter((el) => el.getClientRects().length > 0 && !el.closest('.scroll, .skip, .board-title, option'))
    .filter((el) => el.getBoundingClientRect().right > innerWidth + 0.5 || el.scrollWidth > el.clientWidth + 1 && getComputedStyle(el).overflowX === 'hidden')
    .map((el) => `${el.tagName} ${el.className} ${el.textContent.slice(0, 20)}`)"""


def reflow_320(stage):
    """At 320 px nothing has to be scrolled sideways but tables, and nothing is cut off (WCAG 2.2, 1.4.10)."""
    faults = []
    for name, _, phone in tour(stage, width=320, height=640):
        wide = phone.page.evaluate(WIDE)
        if wide:
            faults.append(f"{name}: {wide[:4]}")
    assert not faults, "\n".join(faults)


# Words that end in the middle of a line and go on in the next; where a hyphen may stand they may be parted.
PARTED = r"""() => {
    const parted = new Set();
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let text = walk.nextNode(); text; text = walk.nextNode()) {
        const within = text.parentElement;
        if (within.closest('.skip, .board-title, option, svg') || within.getClientRects().length === 0) continue;
        for (const word of text.data.matchAll(/\p{L}{3,}/gu)) {
            // Of a letter behind a hyphen the last box is its own.
            const line = (at) => {
                const range = document.createRange();
                range.setStart(text, at);
                range.setEnd(text, at + 1);
                return Math.round([...range.getClientRects()].at(-1)?.top ?? 0);
            };
            if (line(word.index) !== line(word.index + word[0].length - 1)) parted.add(`${word[0]} in ${within.textContent.trim().slice(0, 40)}`);
        }
    }
    return [...parted];
}"""


def words_stay_whole(stage):
    """No word is parted by the edge of what it stands in, and none reaches over it, in either language, on a phone and on
    a narrow one."""
    faults, count = {}, 0
    for width, locale in ((320, "en-GB"), (360, "de-DE"), (320, "de-DE")):
        for name, _, phone in tour(stage, width=width, locale=locale):
            count += 1
            for word in phone.page.evaluate(PARTED) + phone.page.evaluate(WIDE):
                faults.setdefault(word, f"{name}, {width}, {locale}: {word}")
    stage.figure(f"{count} screens and states looked at")
    assert not faults, "\n".join(faults.values())


def axe_faults(phone, name):
    """What axe finds wrong, and what it cannot decide unless that is on the named list."""
    options = {"runOnly": {"type": "tag", "values": TAGS}, "rules": RULES, "resultTypes": ["violations", "incomplete"]}
    found = Axe().run(phone.page, options=options).response
    undecided = [one for one in found["incomplete"] if one["id"] not in INCOMPLETE]
    told = [(one, one["help"]) for one in found["violations"]] + [(one, "undecided") for one in undecided]
    return [f"{name}: {one['id']}: {what} {[node['target'] for node in one['nodes']][:3]}" for one, what in told]


def axe_everywhere(stage):
    """axe on every screen in every state: nothing wrong, and what it cannot decide only from a named list."""
    faults, count = [], 0
    for name, _, phone in tour(stage):
        faults += axe_faults(phone, name)
        count += 1
    stage.figure(f"axe on {count} screens and states")
    assert not faults, "\n".join(faults)


def p95(values):
    return sorted(values)[int(0.95 * (len(values) - 1))]


def fetched(service, path, packed="br"):
    """The bytes of an answer as a browser gets them."""
    request = urllib.request.Request(service.url + path, headers={"accept-encoding": packed})
    with urllib.request.urlopen(request, timeout=30) as answer:
        return answer.read()


def web_file(service, name):
    """Where a file of the app stands."""
    version = re.search(r"VERSION = '([0-9a-f]+)'", fetched(service, "/sw.js", packed="identity").decode()).group(1)
    return f"/app/{version}/{name}"


def carried(service):
    """Everything the page keeps to begin with, in English, each file once; what comes later is named by itself."""
    text = fetched(service, "/sw.js", packed="identity")
    version = re.search(r"VERSION = '([0-9a-f]+)'", text.decode()).group(1)
    files = json.loads(re.search(r"FILES = (\[.*?\]);", text.decode()).group(1))
    total = {"page, icons, strings": len(fetched(service, "/")) + len(fetched(service, "/sw.js"))}
    later = re.search(r"LATER = /(.*)/;", text.decode()).group(1)
    for name in (name for name in files if not re.search(later, name) and name != "strings/de.json"):
        kind = {"js": "JS", "css": "CSS", "wasm": "rules.wasm"}.get(name.rsplit(".", 1)[-1], "page, icons, strings")
        total[kind] = total.get(kind, 0) + len(fetched(service, f"/app/{version}/{name}"))
    return total


def settled(service):
    """The same as all get it who come after the first."""
    before = carried(service)
    while True:
        time.sleep(PACKED_S)
        now = carried(service)
        if now == before:
            return now
        before = now


def first_load(stage):
    """What the first load costs over the wire, and what comes after it."""
    total = settled(stage.service)
    later = len(fetched(stage.service, web_file(stage.service, "reckon.wasm")))
    stage.figure(f"after the first screen: reckon.wasm {later} bytes")
    stage.figure("first load, bytes over the wire: " + json.dumps(total) + f", together {sum(total.values())}")
    faults = []
    if not 0 < later <= RECKON_WASM:
        faults.append(f"reckon.wasm: {later} bytes, {RECKON_WASM} are allowed")
    for kind, most in (("rules.wasm", RULES_WASM), ("JS", JS), ("CSS", CSS), ("page, icons, strings", PAGE_AND_ICONS)):
        if not 0 < total.get(kind, 0) <= most:
            faults.append(f"{kind}: {total.get(kind, 0)} bytes, {most} are allowed")
    if sum(total.values()) > FIRST_LOAD:
        faults.append(f"first load {sum(total.values())} bytes, {FIRST_LOAD} are allowed")
    assert not faults, "\n".join(faults)


# A touch with nothing behind it: as much is written as of an entry, as strictly, and a word is painted. What the machine
# takes for that it takes for every touch; without it nobody knows whether the app is slow or the machine.
BARE = """async (times) => {
    const opened = indexedDB.open('bare', 1);
    const base = await new Promise((done, failed) => {
        opened.onupgradeneeded = () => opened.result.createObjectStore('bare');
        [opened.onsuccess, opened.onerror] = [() => done(opened.result), () => failed(opened.error)];
    });
    const said = document.querySelector('.undo-say');
    const words = said.textContent;
    const took = { paint: [], durable: [] };
    for (let at = 0; at < times; at++) {
        const from = performance.now();
        const write = base.transaction('bare', 'readwrite', { durability: 'strict' });
        write.objectStore('bare').put('x'.repeat(2000), at);
        await new Promise((done) => write.addEventListener('complete', done));
        took.durable.push(performance.now() - from);
        said.textContent = String(at);
        await new Promise((done) => requestAnimationFrame(() => setTimeout(done)));
        took.paint.push(performance.now() - from);
        await new Promise((done) => setTimeout(done, 50));
    }
    said.textContent = words;
    base.close();
    indexedDB.deleteDatabase('bare');
    return took;
}"""


def budgets(stage):
    """What the first load costs, and how long a touch takes on a processor four times slower."""
    first_load(stage)
    yard = Yard(stage.service, 30, 150)
    phone = stage.phone()
    phone.join()
    session = phone.context.new_cdp_session(phone.page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    phone.page.evaluate(
        """() => {
            window.took = { paint: [], durable: [], tasks: [] };
            new PerformanceObserver((list) => window.took.tasks.push(...list.getEntries().map((one) => one.duration))).observe({ type: 'longtask' });
            let at;
            document.addEventListener('click', () => { at = performance.now(); }, true);
            new MutationObserver(() => {
                const from = at;
                if (from === undefined) return;
                at = undefined;
                requestAnimationFrame(() => setTimeout(() => window.took.paint.push(performance.now() - from)));
            }).observe(document.querySelector('.undo'), { childList: true, subtree: true });
            const plain = IDBDatabase.prototype.transaction;
            IDBDatabase.prototype.transaction = function (names, mode, options) {
                const made = plain.call(this, names, mode, options);
                if (mode === 'readwrite' && [names].flat().includes('outbox') && [names].flat().includes('row')) {
                    const from = performance.now();
                    made.addEventListener('complete', () => window.took.durable.push(performance.now() - from));
                }
                return made;
            };
        }"""
    )
    phone.touch(f"[data-key='{yard.id}']")
    numbers = iter(yard.supers)
    for code in list(yard.hives)[:20]:
        phone.touch(f"[data-key='hive-{yard.hives[code]}']")
        for _ in range(3):
            number = next(numbers)
            phone.touch(f"[data-key='super-{yard.supers[number]}']")
            phone.says(f"{number} placed on {code}")
    took = phone.page.evaluate("window.took")
    paint, durable = p95(took["paint"]), p95(took["durable"])
    longest = max(took["tasks"], default=0)
    bare = phone.page.evaluate(BARE, len(took["paint"]))
    bare_paint, bare_durable = p95(bare["paint"]), p95(bare["durable"])
    stage.figure(f"a bare touch here: painted p95 {bare_paint:.0f} ms, durable p95 {bare_durable:.0f} ms; a touch of the app {paint / bare_paint:.1f} and {durable / bare_durable:.1f} times that")
    stage.figure(f"{len(took['paint'])} touches at {SLOWER} times slower: said on the screen p95 {paint:.0f} ms, durable p95 {durable:.0f} ms, longest task {longest:.0f} ms")
    faults = []
    if paint > PAINT_MS:
        faults.append(f"touch to paint p95 {paint:.0f} ms, {PAINT_MS} are allowed")
    if durable > DURABLE_MS:
        faults.append(f"durable p95 {durable:.0f} ms, {DURABLE_MS} are allowed")
    assert not faults, "\n".join(faults)


def rules_in_a_full_house(stage):
    """How long each question to the rules takes with 500 supers and a season, on a processor four times slower."""
    with open(os.path.join(os.path.dirname(__file__), "full_house.js"), encoding="utf-8") as file:
        source = re.sub(r"\A(//.*\n)+", "", file.read())
    phone = stage.phone()
    phone.page.goto(stage.service.url + "/")
    phone.context.new_cdp_session(phone.page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    base = web_file(stage.service, "")
    fetch = f"async (name) => (await fetch('{base}' + name)).arrayBuffer()"
    said = phone.page.evaluate(f"async () => ({source.rstrip()})({fetch})")
    assert not said["bad"], said["bad"]
    stage.figure(f"a house of {said['rows']} rows out of {said['entries']} entries, {SLOWER} times slower, ms")
    faults = []
    for name, times in said["took"].items():
        best = min(times)
        stage.figure(f"  {name}: {best}, at first {times[0]}")
        if best > CALL_MS:
            faults.append(f"{name}: {best} ms, {CALL_MS} are allowed")
    assert not faults, "\n".join(faults)


SCENARIOS = {
    "targets-measured": targets_measured,
    "contrast-computed": contrast_computed,
    "reflow-320": reflow_320,
    "words-stay-whole": words_stay_whole,
    "axe-everywhere": axe_everywhere,
    "first-load": first_load,
    "budgets": budgets,
    "rules-in-a-full-house": rules_in_a_full_house,
}
