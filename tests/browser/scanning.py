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


# Stands in for a phone with the chip: `held(text)` is a tag at its back.
TAGS = """
window.NDEFReader = class {
    async scan({ signal }) {
        window.held = (text) => signal.aborted || this.onreading({ message: { records: [{ recordType: 'url', encoding: undefined, data: new TextEncoder().encode(text) }] } });
    }
};
"""


def tag_held_to_phone(stage):
    """A tag on the box, held to the back of the phone, is as good as its code; the camera need not be there."""
    yard = Yard(stage.service, 2, 6)
    phone = stage.phone(flags=["--deny-permission-prompts"])
    phone.context.add_init_script(TAGS)
    # Without a camera there is nothing else to wait for.
    phone.context.add_init_script("Object.defineProperty(navigator, 'mediaDevices', { value: undefined })")
    phone.join()
    phone.ready()
    phone.go(f"/yard/{yard.id}/place/{yard.hives['L01']}")
    phone.touch("[data-key=other-number-scan]")
    phone.page.wait_for_function("() => window.held")
    phone.page.evaluate("(text) => window.held(text)", f"{stage.service.url}/n/003")
    phone.says("003 placed on L01")
    assert not phone.page.query_selector("dialog[open]")
    phone.until_sent()
    assert [one["data"]["super_id"] for one in stage.service.told("super_placed")] == [yard.supers["003"]]


# Stand in for a scale: `shows(bytes)` is what it sends.
SCALES = """
window.found = null;
const service = { getCharacteristic: async (id) => {
    if (id !== 0x2a9d) throw new Error('no such value');
    const measured = new EventTarget();
    measured.startNotifications = async () => {};
    window.shows = (bytes) => { measured.value = new DataView(new Uint8Array(bytes).buffer); measured.dispatchEvent(new Event('characteristicvaluechanged')); };
    return measured;
} };
const far = Object.assign(new EventTarget(), { name: 'House scale', gatt: { connect: async () => ({ getPrimaryService: async () => service }) } });
window.leaves = () => far.dispatchEvent(new Event('gattserverdisconnected'));
Object.defineProperty(navigator, 'bluetooth', { value: { requestDevice: async ({ filters }) => { if (filters[0].services[0] !== 0x181d) throw new Error('another service'); return far; } } });
const wired = Object.assign(new EventTarget(), { productName: 'Bench scale', open: async () => {} });
window.reports = (bytes) => wired.dispatchEvent(Object.assign(new Event('inputreport'), { data: new DataView(new Uint8Array(bytes).buffer) }));
const hid = Object.assign(new EventTarget(), { requestDevice: async ({ filters }) => (filters[0].usagePage === 0x8d ? [wired] : []) });
Object.defineProperty(navigator, 'hid', { value: hid });
"""


def low_high(number):
    return [number & 255, number >> 8]


def scale_that_sends(stage):
    """What a scale shows steadily stands in the field: two touches a super. What is typed counts before it.

    Bytes as the Weight Scale Service 1.0 (steps of 5 g or 0.01 lb) and the weighing page of the HID usage tables
    (status 4 is steady, unit 3 is kg, 12 is lb, then the decimal exponent) say."""
    yard = Yard(stage.service, 1, 5)
    yard.place(stage.service, 5)
    hive = yard.hives["L01"]
    for kind, extra in (("super_pulled", {"hive_id": hive}), ("super_loaded", {})):
        stage.service.push(*[(kind, {"super_id": key, **extra}) for key in yard.supers.values()])
    phone = stage.phone()
    phone.context.add_init_script(SCALES)
    phone.join()
    phone.ready()
    phone.go("/phone")
    phone.touch("[data-key=scale-bluetooth]")
    phone.says("Connected: House scale")

    def receive(number, shows, field, said):
        phone.go("/house/receive")
        phone.touches = 0
        phone.touch(f"[data-key='super-{yard.supers[number]}']")
        phone.see("#gross")
        shows()
        phone.page.wait_for_function("(text) => document.querySelector('#gross').value === text", arg=field)
        phone.touch("[data-key=gross-next]")
        phone.says(said)
        return phone.touches

    # 21.435 kg in steps of 5 g; 47.25 lb in steps of 0.01 lb.
    touches = receive("001", lambda: phone.page.evaluate("window.shows", [0, *low_high(4287)]), "21.4", "001 received, 21.4")
    stage.figure(f"{touches} touches a super")
    assert touches == 2, touches
    receive("002", lambda: phone.page.evaluate("window.shows", [1, *low_high(4725)]), "21.4", "002 received, 21.4")

    def typed():
        phone.digits("198")
        phone.page.evaluate("window.shows", [0, *low_high(4287)])

    receive("003", typed, "19.8", "003 received, 19.8")
    phone.page.evaluate("window.leaves()")
    phone.says("no longer connected")
    phone.go("/phone")
    phone.touch("[data-key=scale-hid]")
    phone.says("Connected: Bench scale")

    def settling():
        # In motion (3) is not taken; steady (4) is: 20.55 kg, then the next.
        phone.page.evaluate("window.reports", [3, 3, 254, *low_high(2555)])
        assert phone.page.input_value("#gross") == ""
        phone.page.evaluate("window.reports", [4, 3, 254, *low_high(2055)])

    receive("004", settling, "20.6", "004 received, 20.6")
    receive("005", lambda: phone.page.evaluate("window.reports", [4, 12, 255, *low_high(441)]), "20.0", "005 received, 20.0")
    phone.until_sent()
    told = {one["data"]["super_id"]: one["data"]["gross_g"] for one in stage.service.told("super_received")}
    # 1 lb is 453.59237 g by definition (international yard and pound agreement, 1959).
    expected = {"001": 21435, "002": round(47.25 * 453.59237), "003": 19800, "004": 20550, "005": round(44.1 * 453.59237)}
    assert told == {yard.supers[number]: grams for number, grams in expected.items()}, told


SCENARIOS = {"tag-held-to-phone": tag_held_to_phone, "scale-that-sends": scale_that_sends, "scan-fake-camera": scan_fake_camera, "scan-denied": scan_denied, "wedge-scanner": wedge_scanner}
