"""Scanning: a camera that shows a code, one that may not be used, and a wedge scanner that types."""

import os
import tempfile

import segno

from service import Yard

WIDE, HIGH = 640, 480


def camera(text):
    """A film of one picture: what a camera sees that is held at a code. Raw frames in the form that chromium plays."""
    code = segno.make(text, error="m", micro=False)
    cells = [list(row) for row in code.matrix]
    scale = HIGH * 2 // 3 // len(cells)
    left, top = (WIDE - scale * len(cells)) // 2, (HIGH - scale * len(cells)) // 2
    light = bytearray([225]) * (WIDE * HIGH)
    for y, row in enumerate(cells):
        for x, dark in enumerate(row):
            if dark:
                for line in range(scale):
                    at = (top + y * scale + line) * WIDE + left + x * scale
                    light[at : at + scale] = bytes([25]) * scale
    grey = bytes([128]) * (WIDE * HIGH // 2)
    path = os.path.join(tempfile.mkdtemp(prefix="yardjar-camera-"), "camera.y4m")
    with open(path, "wb") as film:
        film.write(f"YUV4MPEG2 W{WIDE} H{HIGH} F10:1 Ip A1:1 C420jpeg\n".encode())
        for _ in range(5):
            film.write(b"FRAME\n" + bytes(light) + grey)
    return path


def ready(stage, flags, **options):
    yard = Yard(stage.service, 2, 6)
    phone = stage.phone(flags=flags, **options).join()
    phone.page.wait_for_function("() => navigator.serviceWorker.controller")
    phone.ready()
    phone.go(f"/yard/{yard.id}/place/{yard.hives['L01']}")
    phone.see("[data-key=other-number-scan]")
    return yard, phone


def scan_fake_camera(stage):
    """The code on a box is held before the camera: the super is placed by two touches, without a network too."""
    film = camera(f"{stage.service.url}/n/004")
    flags = ["--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream", f"--use-file-for-fake-video-capture={film}"]
    yard, phone = ready(stage, flags)
    kept = "async () => Boolean(await caches.match(document.querySelector('script[type=module]').src.replace('app.js', 'scan.wasm')))"
    phone.until(lambda: phone.page.evaluate(kept), "the reader in the worker's keeping")
    phone.context.set_offline(True)
    phone.touches = 0
    phone.touch("[data-key=other-number-scan]")
    phone.says("004 placed on L01")
    assert not phone.page.query_selector("dialog[open]")
    knows = phone.page.evaluate("async () => ((await globalThis.BarcodeDetector?.getSupportedFormats?.()) ?? []).includes('qr_code')")
    stage.figure(f"{phone.touches} touch to scan and place; read by {'the browser' if knows else 'scan.wasm'}")
    phone.context.set_offline(False)
    phone.until_sent()
    assert [one["data"]["super_id"] for one in stage.service.told("super_placed")] == [yard.supers["004"]]


def scan_denied(stage):
    """The camera may not be used: the screen says so, and the number is typed on the same screen."""
    yard, phone = ready(stage, ["--use-fake-device-for-media-stream", "--deny-permission-prompts"])
    phone.touch("[data-key=other-number-scan]")
    phone.says("The camera may not be used")
    assert not phone.page.query_selector("dialog[open]")
    # The field has the focus already.
    phone.page.keyboard.type("005")
    phone.page.keyboard.press("Enter")
    phone.says("005 placed on L01")
    phone.until_sent()
    assert len(stage.service.told("super_placed")) == 1


def wedge_scanner(stage):
    """A scanner that types digits and Enter, wherever the focus is: the super, then its weight, then the next one."""
    yard = Yard(stage.service, 1, 3)
    yard.place(stage.service, 3)
    hive = yard.hives["L01"]
    for kind, extra in (("super_pulled", {"hive_id": hive}), ("super_loaded", {})):
        stage.service.push(*[(kind, {"super_id": key, **extra}) for key in yard.supers.values()])
    phone = stage.phone().join()
    phone.ready()
    phone.go("/house/receive")
    phone.see("#receive-number")
    for number, tenths in (("001", "214"), ("002", "198")):
        phone.page.evaluate("document.activeElement?.blur()")
        phone.page.keyboard.type(f"{phone.service.url}/n/{number}" if number == "002" else number)
        phone.page.keyboard.press("Enter")
        phone.see("#gross")
        # A scale that types does the same.
        phone.page.keyboard.type(tenths)
        phone.page.keyboard.press("Enter")
        phone.says(f"{number} received, {tenths[:2]}.{tenths[2]}")
        phone.see("#receive-number")
    # What nobody knows is shown as it was read.
    phone.page.evaluate("document.activeElement?.blur()")
    phone.page.keyboard.type("999")
    phone.page.keyboard.press("Enter")
    phone.says("No super has the number 999")
    assert phone.page.input_value("#receive-number") == "999"
    phone.until_sent()
    told = {one["data"]["super_id"]: one["data"]["gross_g"] for one in stage.service.told("super_received")}
    assert told == {yard.supers["001"]: 21400, yard.supers["002"]: 19800}, told
    assert phone.touches == 0


SCENARIOS = {"scan-fake-camera": scan_fake_camera, "scan-denied": scan_denied, "wedge-scanner": wedge_scanner}
