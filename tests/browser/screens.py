"""Writes every screen as a picture: on a phone and at a desk, plain, in forced colours and with text twice as large.

Called by deploy/screens, which says where to."""

import os
import re
import sys

from playwright.sync_api import sync_playwright

import looks
from main import Stage
from service import Server

# Name, width, height, what else the browser is told. A page zoomed to 200 % has half the width.
LOOKS = {
    "phone": (360, 740, {}),
    "desk": (1280, 900, {}),
    "phone-forced": (360, 740, {"forced_colors": "active"}),
    "phone-200": (180, 370, {"device_scale_factor": 2}),
}


def main(folder, wanted):
    server = Server()
    with sync_playwright() as playwright:
        for look in wanted or LOOKS:
            width, height, options = LOOKS[look]
            os.makedirs(os.path.join(folder, look), exist_ok=True)
            stage = Stage(playwright, server, "screens")
            try:
                for name, _, phone in looks.tour(stage, width=width, height=height, **options):
                    path = os.path.join(folder, look, re.sub(r"\W+", "-", name) + ".png")
                    # The whole of what can be scrolled, so that nothing is hidden below.
                    phone.page.screenshot(path=path)
                    long = phone.page.evaluate("document.querySelector('main').scrollHeight - document.querySelector('main').clientHeight")
                    if long > 0:
                        phone.page.set_viewport_size({"width": width, "height": min(height + long, 3000)})
                        phone.page.screenshot(path=path.replace(".png", "-whole.png"))
                        phone.page.set_viewport_size({"width": width, "height": height})
                print(f"{look}: {os.path.join(folder, look)}", flush=True)
            finally:
                stage.end()
    server.stop()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:])
