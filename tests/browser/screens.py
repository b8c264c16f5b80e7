"""Writes every screen as a picture: on a phone and at a desk, plain, in forced colours and with text twice as large; and
those that live on figures out of the demo, with its papers.

Called by deploy/screens, which says where to."""

import os
import re
import sys

from playwright.sync_api import sync_playwright

import looks
import papers
from main import Stage
from reach import sign_in
from service import Server

# Name, width, height, what else the browser is told. A page zoomed to 200 % has half the width.
LOOKS = {
    "phone": (360, 740, {}),
    "desk": (1280, 900, {}),
    "phone-forced": (360, 740, {"forced_colors": "active"}),
    "phone-200": (180, 370, {"device_scale_factor": 2}),
}
# The same with two seasons of the demo behind it.
DEMO = {
    "demo-phone": (360, 740, {"device_scale_factor": 2}),
    "demo-desk": (1280, 900, {}),
}
# No screen is longer than this in a picture.
LONGEST = 16000


def picture(phone, folder, name, width, height):
    """The screen as it is, and the whole of what can be scrolled, so that nothing is hidden below."""
    path = os.path.join(folder, re.sub(r"\W+", "-", name) + ".png")
    phone.page.screenshot(path=path)
    long = phone.page.evaluate("[document.querySelector('main'), document.documentElement].reduce((sum, one) => sum + one.scrollHeight - one.clientHeight, 0)")
    if long > 0:
        phone.page.set_viewport_size({"width": width, "height": min(height + long, LONGEST)})
        phone.page.screenshot(path=path.replace(".png", "-whole.png"))
        phone.page.set_viewport_size({"width": width, "height": height})


def demo_screens(stage):
    """What the demo has to show: (name, address, what to wait for)."""
    batch = stage.service.call("GET", "/v1/batches?limit=100")["items"][0]["id"]
    yard = stage.service.call("GET", "/v1/yards?limit=100")["items"][0]["id"]
    hive = stage.service.call("GET", "/v1/hives?limit=100")["items"][0]["id"]
    questions = ["yields", "yards", "lines", "colonies", "balance", "costs", "forecast", "moisture", "harvest", "context"]
    return [
        ("arrive", "/yard", "main h1"),
        ("board", f"/yard/{yard}/place", "main h1"),
        ("house", "/house", "main h1"),
        ("what waits", "/house/next", "main h1"),
        ("office", "/office", "main h1"),
        *((f"season {one}", f"/office/season/2025/{one}", ".question") for one in questions),
        ("inputs", "/office/inputs/2025", "table"),
        ("plan", "/office/inputs/2025/plan", "#plan-form"),
        ("flags", "/office/flags", "main h1"),
        ("lots", "/office/lots", "main h1"),
        ("stock", "/office/stock", "main h1"),
        ("orders", "/office/orders", "main h1"),
        ("hive", f"/office/set-up/hives/{hive}", ".telling"),
        ("jars", f"/office/stock/{batch}", ".telling"),
        ("trace", f"/office/trace/batch/{batch}", "svg.trace"),
        ("recall", f"/office/recall/batch/{batch}", "table"),
        ("find", "/find/W14", "main h1"),
    ]


def of_demo(playwright, folder, wanted):
    looks_wanted = [name for name in DEMO if name in wanted]
    if not looks_wanted:
        return
    stage = Stage(playwright, None, "screens", {"demo": True})
    try:
        for look in looks_wanted:
            width, height, options = DEMO[look]
            into = os.path.join(folder, look)
            os.makedirs(into, exist_ok=True)
            phone = stage.phone(width=width, height=height, **options)
            phone.page.goto(stage.service.url + "/")
            phone.see("main h1")
            picture(phone, into, "first screen", width, height)
            sign_in(phone, stage.service)
            phone.until_sent()
            phone.ready()
            for name, address, there in demo_screens(stage):
                phone.go(address)
                phone.see(there)
                picture(phone, into, name, width, height)
            for paper, path in papers.PAPERS if width > height else []:
                phone.go(papers.address(stage.service, path))
                phone.page.wait_for_timeout(1500)
                for number, page in enumerate(papers.rendered(phone.page.pdf(format="A4"), dpi=80), 1):
                    page.save(os.path.join(into, f"paper-{paper}-{number:02}.png"))
            print(f"{look}: {into}", flush=True)
    finally:
        stage.end()


def main(folder, wanted):
    wanted = wanted or [*LOOKS, *DEMO]
    with sync_playwright() as playwright:
        server = Server() if any(look in LOOKS for look in wanted) else None
        for look in [name for name in LOOKS if name in wanted]:
            width, height, options = LOOKS[look]
            into = os.path.join(folder, look)
            os.makedirs(into, exist_ok=True)
            stage = Stage(playwright, server, "screens")
            try:
                for name, _, phone in looks.tour(stage, width=width, height=height, **options):
                    picture(phone, into, name, width, height)
                print(f"{look}: {into}", flush=True)
            finally:
                stage.end()
        if server:
            server.stop()
        of_demo(playwright, folder, wanted)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
