"""How a phone comes in: plain http and why not, a certificate to trust once, a code to scan, the first open."""

import io
import re
import socket
import subprocess
import urllib.error
import urllib.request
from contextlib import closing

import zxingcpp
from PIL import Image


def network_address():
    """An address of this machine that is not its loopback, as another machine would call it."""
    listed = subprocess.run(["hostname", "-I"], capture_output=True, text=True, check=True).stdout.split()
    found = [one for one in listed if ":" not in one]
    # Those of private networks first: only for them does the service vouch.
    private = [one for one in found if re.match(r"10\.|192\.168\.|172\.(1[6-9]|2\d|3[01])\.", one)]
    assert private, f"this machine has no address of a private network, only {found}"
    return private[0]


def plain_http(stage):
    """From another machine plain http is answered by what to do; having done it, https works, offline too."""
    service, host = stage.service, network_address()
    plain, secure = f"http://{host}:{service.server.port}", f"https://{host}:{service.server.port}"
    phone = stage.phone()
    phone.page.goto(plain + "/join")
    phone.see("text=This page came over plain http")
    shown = phone.page.inner_text(".fingerprint")
    assert shown in "".join(service.server.said), "the console names another fingerprint"
    assert phone.page.get_attribute("a.main[href^=https]", "href") == secure + "/"
    # Not trusted yet, the browser says so and nothing is kept.
    try:
        phone.page.goto(secure)
        raise AssertionError("an unknown authority was trusted")
    except Exception as refused:
        assert "ERR_CERT_AUTHORITY_INVALID" in str(refused), refused
    # No call is answered over plain http from elsewhere, whatever it asks.
    try:
        urllib.request.urlopen(plain + "/v1/me", timeout=10)
        raise AssertionError("a call was answered over plain http")
    except urllib.error.HTTPError as refused:
        assert refused.code == 426 and "https" in refused.read().decode(), refused.code
    with closing(urllib.request.urlopen(plain + "/authority.crt", timeout=10)) as answer:
        assert answer.headers["content-type"] == "application/x-x509-ca-cert"
        phone.trust(answer.read())
    phone.page.goto(secure + "/join")
    phone.see("#code")
    assert phone.page.evaluate("isSecureContext && navigator.serviceWorker.ready.then(() => true)")
    phone.page.fill("#code", service.code())
    phone.page.click("[data-key=by-code]")
    phone.see("main[data-screen=arrive]")
    phone.until_sent()
    phone.context.set_offline(True)
    phone.page.reload()
    phone.see("main[data-screen=arrive]")
    phone.context.set_offline(False)
    # On the machine itself plain http is the app, without anything to trust.
    here = stage.phone()
    here.page.goto(f"http://127.0.0.1:{service.server.port}/join")
    here.see("#code")
    assert here.page.evaluate("isSecureContext")
    # TLS of another kind than HTTP/1.1 over it: a port that is open for both does not hang on silence.
    with closing(socket.create_connection((host, service.server.port), timeout=20)) as silent:
        silent.settimeout(20)
        assert silent.recv(1) == b"", "a connection without a word is kept open"
    stage.figure(f"{plain} leads to {secure}; fingerprint {shown[:23]}…")


plain_http.how = {"host": "0.0.0.0"}


def read_code(element):
    """What a camera makes of what is on the screen."""
    found = zxingcpp.read_barcodes(Image.open(io.BytesIO(element.screenshot())))
    assert len(found) == 1, f"{len(found)} codes were found"
    return found[0].text


def sign_in(phone, service):
    phone.page.goto(service.url + "/sign-in")
    phone.page.fill("#login", service.login)
    phone.page.fill("#password", service.password)
    phone.touch("[data-key=by-password]")
    phone.see("main[data-screen=arrive]")


def enrol_by_qr(stage):
    """The office shows a code, the phone's camera reads an address, one touch and the phone is in."""
    service, host = stage.service, network_address()
    office = stage.phone(width=1200, height=900)
    sign_in(office, service)
    office.go("/office/phones")
    office.page.fill("#code-form-device_name", "Phone 1")
    office.page.fill("#code-form-password", service.password)
    office.touch("[data-key=code-form-save]")
    office.see(".told .qr")
    address = read_code(office.page.locator(".told .qr"))
    assert address.startswith(f"https://{host}:{service.server.port}/join#YARDJAR:"), address
    first = read_code(office.page.locator(".page > .qr"))
    assert first == f"http://{host}:{service.server.port}/", first
    phone = stage.phone()
    phone.page.goto(first)
    with closing(urllib.request.urlopen(first + "authority.crt", timeout=10)) as answer:
        phone.trust(answer.read())
    phone.page.goto(address)
    phone.see("#code")
    phone.touch("[data-key=by-code]")
    phone.see("main[data-screen=arrive]")
    assert phone.touches == 1 and "#" not in phone.page.url
    phone.until_sent()
    # It is good once.
    again = stage.phone()
    again.page.goto(first)
    with closing(urllib.request.urlopen(first + "authority.crt", timeout=10)) as answer:
        again.trust(answer.read())
    again.page.goto(address)
    again.see("#code")
    again.touch("[data-key=by-code]")
    again.says("That does not fit")
    stage.figure("one touch from the scanned address to the yards")


enrol_by_qr.how = {"host": "0.0.0.0"}


def first_open(stage):
    """A fresh data folder, nothing set up: from the sign-in to the first super on a hive, every touch counted."""
    service = stage.service
    phone = stage.phone()
    phone.page.goto(service.url)
    phone.see("#login")

    def type_in(selector, text):
        phone.touch(selector)
        phone.page.keyboard.type(text)

    type_in("#login", service.login)
    type_in("#password", service.password)
    phone.touch("[data-key=by-password]")
    phone.see("text=First steps")
    phone.touch("a[href='/office/begin']")
    phone.see("#begin-form-name")
    type_in("#begin-form-name", "Home")
    type_in("#begin-form-hives", "6")
    type_in("#begin-form-supers", "12")
    phone.touch("[data-key=begin-form-save]")
    phone.see(".tile.hive")
    phone.touch(".tile.hive")
    phone.see(".tile.super")
    phone.touch(".tile.super")
    phone.says("placed on H01")
    phone.until_sent()
    kinds = [one["entry"]["kind"] for one in service.ledger()]
    counted = {kind: kinds.count(kind) for kind in ("yard_registered", "hive_registered", "super_registered", "super_placed")}
    assert counted == {"yard_registered": 1, "hive_registered": 6, "super_registered": 12, "super_placed": 1}, counted
    stage.figure(f"{phone.touches} touches from nothing to the first super placed")
    assert phone.touches < 12, phone.touches


first_open.how = {}


SCENARIOS = {"plain-http": plain_http, "enrol-by-qr": enrol_by_qr, "first-open": first_open}
