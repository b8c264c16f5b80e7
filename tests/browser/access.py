"""Without a touch, with larger letters, with the colours of the system: a day's run by keyboard alone, text twice as
large and wider set, forced colours."""

import uuid

from looks import CONTRASTS, tour
from service import Yard

# WCAG 2.2, 1.4.12: line height 1.5, paragraphs 2, letters 0.12 and words 0.16 of the letters' size.
SPACING = "* { line-height: 1.5 !important; letter-spacing: 0.12em !important; word-spacing: 0.16em !important; } p { margin-bottom: 2em !important; }"
# WCAG 2.2, 1.4.4: twice as large, by the browser's own letter size.
LARGE = ":root { font-size: 200% !important; }"
# WCAG 2.2, 1.4.3, where the system picks the colours.
CONTRAST_LEAST = 4.5
MOST_TABS = 120


def focused(phone):
    return phone.page.evaluate("() => document.activeElement?.dataset?.key ?? document.activeElement?.id ?? ''")


def tab_to(phone, selector):
    """Goes there by Tab alone; what has the focus must show it."""
    for _ in range(MOST_TABS):
        here = phone.page.evaluate("(selector) => Boolean(document.activeElement?.matches(selector))", selector)
        if here:
            ring = phone.page.evaluate("() => { const style = getComputedStyle(document.activeElement); return [style.outlineStyle, parseFloat(style.outlineWidth)]; }")
            assert ring[0] != "none" and ring[1] >= 2, f"{selector} has the focus and does not show it: {ring}"
            return
        phone.page.keyboard.press("Tab")
    raise AssertionError(f"{selector} is not reached by {MOST_TABS} tabs; the focus is on {focused(phone)!r}")


def press(phone, selector, key="Enter"):
    phone.see(selector)
    # The same target counts once a second.
    phone.page.wait_for_function("(at) => performance.now() >= at", arg=phone.again.get(selector, 0))
    tab_to(phone, selector)
    phone.page.keyboard.press(key)
    phone.again[selector] = phone.page.evaluate("performance.now()") + 1000


def type_weight(phone, field, digits):
    phone.page.wait_for_function("(id) => document.activeElement?.id === id", arg=field)
    phone.page.keyboard.type(digits)
    phone.page.keyboard.press("Enter")


def keyboard_only_run_day(stage):
    """Receive, measure, uncap, weigh wet, cappings, drain, fill: no touch, no mouse, and the focus always to be seen."""
    yard = Yard(stage.service, 1, 2)
    yard.place(stage.service, 2)
    hive, bucket, meter = yard.hives["L01"], str(uuid.uuid4()), str(uuid.uuid4())
    stage.service.push(
        *[(kind, {"super_id": key, **extra}) for kind, extra in (("super_pulled", {"hive_id": hive}), ("super_loaded", {})) for key in yard.supers.values()],
        ("container_registered", {"container_id": bucket, "number": "B01", "container": "bucket", "tare_g": 1200, "holds_ml": 30000}),
        ("meter_registered", {"meter_id": meter, "name": "meter 1", "compensated": True}),
        ("meter_checked", {"meter_id": meter, "passed": True}),
    )
    phone = stage.phone().join()
    phone.ready()
    phone.page.mouse.move(0, 0)
    press(phone, ".bar a[href='/house']")
    for number, full in (("001", "214"), ("002", "198")):
        press(phone, "a[href='/house/receive']" if number == "001" else f"[data-key='super-{yard.supers[number]}']")
        if number == "001":
            press(phone, f"[data-key='super-{yard.supers[number]}']")
        type_weight(phone, "gross", full)
        phone.says(f"{number} received, {full[:2]}.{full[2]}")
        phone.see("#receive-number")
    press(phone, ".bar a[href='/house']")
    press(phone, "a[href='/house/moisture']")
    press(phone, f"a[href='/house/moisture/super/{yard.supers['001']}']")
    type_weight(phone, "reading", "172")
    phone.says("001 measured")
    press(phone, ".bar a[href='/house']")
    press(phone, "a[href='/house/run']")
    press(phone, "[data-key=open-run]")
    for number in yard.supers:
        press(phone, f"[data-key='super-{yard.supers[number]}']")
        # The other one was not measured: that is asked about, and answered by keyboard too.
        phone.page.wait_for_selector(f"dialog[open], .undo-say:has-text('{number} uncapped')")
        if phone.page.query_selector("dialog[open]"):
            press(phone, "[data-key=ask-yes]")
        phone.says(f"{number} uncapped")
    for number, wet in (("001", "81"), ("002", "79")):
        press(phone, f".tiles + h2 + .tiles [data-key='super-{yard.supers[number]}']")
        type_weight(phone, "wet", wet)
        phone.says(f"{number} wet, {wet[0]}.{wet[1]}")
    press(phone, "[data-key=cappings]")
    type_weight(phone, "cappings-honey", "21")
    type_weight(phone, "wax", "4")
    phone.says("Cappings honey, 2.1")
    press(phone, "a.act[href^='/house/fill']")
    press(phone, f"[data-key='container-{bucket}']")
    type_weight(phone, "fill-gross", "236")
    phone.says("B01 filled, 22.4")
    press(phone, ".bar a[href='/house']")
    press(phone, "a[href='/house/run']")
    press(phone, ".rows a[href^='/house/run/']")
    press(phone, "[data-key=drain]")
    type_weight(phone, "left", "5")
    phone.says("drained")
    phone.until_sent()
    kinds = {one["entry"]["kind"] for one in stage.service.ledger()}
    wanted = {"super_received", "moisture_read", "run_opened", "super_uncapped", "wet_weighed", "cappings_weighed", "container_filled", "run_drained"}
    assert wanted <= kinds, wanted - kinds
    assert phone.touches == 0


CUT = """() => [...document.querySelectorAll('body *')].filter((el) => {
    const style = getComputedStyle(el);
    if (el.getClientRects().length === 0 || el.closest('.scroll, .skip, .board-title, input, option, svg, dialog')) return false;
    if (el.closest('[data-pane]') && el.matches('[data-pane]')) return false;
    const hides = /hidden|clip/;
    return (hides.test(style.overflowX) && el.scrollWidth > el.clientWidth + 1) || (hides.test(style.overflowY) && el.scrollHeight > el.clientHeight + 1)
        || el.getBoundingClientRect().right > innerWidth + 0.5;
}).map((el) => `${el.tagName}.${el.className} ${el.textContent.slice(0, 24)}`)"""

OVERLAP = """() => {
    const boxes = [...document.querySelectorAll('main a[href], main button, main input, main select')].filter((el) => el.getClientRects().length > 0 && el.checkVisibility()).map((el) => [el, el.getBoundingClientRect()]);
    const found = [];
    boxes.forEach(([one, a], at) => boxes.slice(at + 1).forEach(([two, b]) => {
        if (one.contains(two) || two.contains(one)) return;
        if (Math.min(a.right, b.right) - Math.max(a.x, b.x) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.y, b.y) > 1 && one.closest('[data-pane]') === two.closest('[data-pane]'))
            found.push(`${one.textContent.slice(0, 20)} / ${two.textContent.slice(0, 20)}`);
    }));
    return found;
}"""


def text_200_and_spacing(stage):
    """Letters twice as large, and set wider: nothing is cut off, nothing lies on something else (WCAG 2.2, 1.4.4, 1.4.12)."""
    faults, count = [], 0
    for name, _, phone in tour(stage, width=360, height=740):
        for what, style in (("twice as large", LARGE), ("set wider", SPACING)):
            added = phone.page.evaluate_handle(
                "(css) => { const sheet = new CSSStyleSheet(); sheet.replaceSync(css); document.adoptedStyleSheets = [sheet]; return sheet; }", style
            )
            cut, over = phone.page.evaluate(CUT), phone.page.evaluate(OVERLAP)
            if cut:
                faults.append(f"{name}, {what}: cut off: {cut[:4]}")
            if over:
                faults.append(f"{name}, {what}: on top of each other: {over[:4]}")
            added.dispose()
            count += 1
        phone.page.evaluate("document.adoptedStyleSheets = []")
    stage.figure(f"{count} screens and states looked at")
    assert not faults, "\n".join(faults)


# Things that say which one is chosen must differ from those that are not, without our colours.
CHOSEN = """() => {
    const look = (el) => { const style = getComputedStyle(el); return `${style.backgroundColor} ${style.color} ${style.borderColor}`; };
    return [['[aria-pressed=true]', '[aria-pressed=false]'], ['.bar a[aria-current]', '.bar a:not([aria-current])'], ['.job[aria-current]', '.job:not([aria-current])']].flatMap(([on, off]) => {
        const [one, two] = [document.querySelector(on), document.querySelector(off)];
        return one && two && one.className === two.className && look(one) === look(two) ? [on] : [];
    });
}"""
BORDERS = """() => [...document.querySelectorAll('main button, main input, main .row-link, .tag')].filter((el) => {
    const style = getComputedStyle(el);
    return el.getClientRects().length > 0 && (style.borderStyle === 'none' || parseFloat(style.borderWidth) === 0) && style.backgroundColor === getComputedStyle(document.body).backgroundColor;
}).map((el) => `${el.className} ${el.textContent.slice(0, 20)}`)"""


def forced_colors(stage):
    """The system picks the colours: every text reads, every target has an edge, and what is chosen can be told."""
    faults, worst = [], 99
    for name, _, phone in tour(stage, forced_colors="active"):
        assert phone.page.evaluate("matchMedia('(forced-colors: active)').matches")
        for one in phone.page.evaluate(CONTRASTS):
            worst = min(worst, one["ratio"])
            if one["ratio"] < CONTRAST_LEAST:
                faults.append(f"{name}: {one}")
        for what, found in (("chosen looks like not chosen", phone.page.evaluate(CHOSEN)), ("no edge", phone.page.evaluate(BORDERS))):
            if found:
                faults.append(f"{name}: {what}: {found[:4]}")
    stage.figure(f"least contrast with the system's colours {worst:.1f}:1")
    assert not faults, "\n".join(faults)


SCENARIOS = {
    "keyboard-only-run-day": keyboard_only_run_day,
    "text-200-and-spacing": text_200_and_spacing,
    "forced-colors": forced_colors,
}
