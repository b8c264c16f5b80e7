"""A phone in somebody's hand: a real browser of its size, that counts touches."""

import os
import re
import shutil
import signal
import subprocess
import tempfile
import time

WIDE, HIGH = 360, 740
# What no test may wait longer for.
TIMEOUT_MS = 30000


class Phone:
    def __init__(self, playwright, service, width=WIDE, height=HIGH, locale="en-GB", flags=(), **more):
        self.playwright = playwright
        self.service = service
        self.flags = flags
        self.folder = tempfile.mkdtemp(prefix="yardjar-phone-")
        self.home = tempfile.mkdtemp(prefix="yardjar-home-")
        self.options = dict(
            viewport={"width": width, "height": height}, has_touch=True, locale=locale, timezone_id="UTC", **more
        )
        self.touches = 0
        # When the same target counts again, by the clock of the page.
        self.again = {}
        self.faults = []
        self.context = None
        self.open()

    def open(self, offline=False):
        """Starts the browser on what it kept."""
        # Its own home, so that whom it trusts is its own too.
        self.context = self.playwright.chromium.launch_persistent_context(
            self.folder, executable_path="/usr/bin/chromium", args=["--no-sandbox", *self.flags], env=dict(os.environ, HOME=self.home), **self.options
        )
        self.context.set_default_timeout(TIMEOUT_MS)
        self.context.set_offline(offline)
        self.again = {}
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.watch(self.page)

    def load(self, path):
        """Loads the page at an address, as a bookmark does."""
        self.again = {}
        self.page.goto(self.service.url + path)

    def watch(self, page):
        page.on("pageerror", lambda error: self.faults.append(str(error)))
        page.on("console", lambda said: said.type == "error" and self.heard(said.text))

    def heard(self, text):
        # The browser itself complains of a network that is not there.
        if not re.search(r"Failed to load resource|net::ERR_", text):
            self.faults.append(text)

    def close(self):
        self.context.close()
        shutil.rmtree(self.folder, ignore_errors=True)
        shutil.rmtree(self.home, ignore_errors=True)

    def trust(self, certificate):
        """Takes a certificate into the store of authorities, as a person does in the settings of the phone."""
        self.context.close()
        store = os.path.join(self.home, ".pki", "nssdb")
        os.makedirs(store)
        subprocess.run(["certutil", "-d", f"sql:{store}", "-N", "--empty-password"], check=True)
        with tempfile.NamedTemporaryFile() as file:
            file.write(certificate)
            file.flush()
            add = ["certutil", "-d", f"sql:{store}", "-A", "-t", "C,,", "-n", "yardjar", "-i", file.name]
            subprocess.run(add, check=True)
        self.open()

    def close_window(self):
        """The app is left; what it keeps stays."""
        self.context.close()

    def kill(self):
        """As when the battery comes out: kill -9, no goodbye."""
        marks = [self.folder.encode()]
        for pid in filter(str.isdigit, os.listdir("/proc")):
            try:
                with open(f"/proc/{pid}/cmdline", "rb") as line:
                    command = line.read()
            except OSError:
                continue
            if all(mark in command for mark in marks):
                os.kill(int(pid), signal.SIGKILL)
        try:
            self.context.close()
        except Exception:  # It is gone, which was the point.
            pass
        for name in ("SingletonLock", "SingletonCookie", "SingletonSocket"):
            path = os.path.join(self.folder, name)
            if os.path.lexists(path):
                os.unlink(path)

    # Going about --------------------------------------------------------------------------------------------------

    def join(self):
        """Comes in by a code from the office, typed."""
        self.page.goto(self.service.url + "/join")
        self.page.fill("#device", "Test phone")
        self.page.fill("#code", self.service.code())
        self.page.click("[data-key=by-code]")
        self.page.wait_for_selector("main[data-screen=arrive]")
        self.until_sent()
        return self

    def go(self, path):
        """Follows an address as a link does, without loading the page again, and waits until its screen is drawn."""
        self.page.evaluate(
            "(path) => { const a = document.createElement('a'); a.href = path; document.body.append(a); a.click(); a.remove(); }",
            path,
        )
        self.drawn(path)

    def drawn(self, path):
        """The screen of an address is there; an address may be one that leads on to another."""
        self.page.wait_for_function(
            "(path) => document.querySelector('main').dataset.at?.startsWith(path)", arg=path.split("?")[0]
        )

    def ready(self):
        """The rules are loaded and hold every row."""
        self.page.wait_for_selector("body[data-rules=ready]")

    def touch(self, selector, count=True):
        target = self.page.locator(selector).first
        # The same target counts once a second: wait as a person does, by the clock of the page.
        self.page.wait_for_function("(at) => performance.now() >= at", arg=self.again.get(selector, 0))
        target.tap()
        if not selector.startswith("[data-key=key-"):
            try:
                self.again[selector] = self.page.evaluate("performance.now()") + 1000
            except Exception:  # The touch led to another page, where everything counts anew.
                self.again = {}
        if count:
            self.touches += 1

    def until(self, condition, what):
        """Waits for something outside the page, such as a request, while the page goes on."""
        end = time.time() + TIMEOUT_MS / 1000
        while not condition():
            assert time.time() < end, f"{what} did not come about"
            self.page.wait_for_timeout(20)

    def digits(self, digits):
        for digit in str(digits):
            self.touch(f"[data-key=key-{digit}]")

    def see(self, selector, state="visible"):
        return self.page.wait_for_selector(selector, state=state)

    def says(self, text):
        """Waits until the bar or a message says so."""
        self.page.wait_for_function("(text) => document.querySelector('.foot').innerText.includes(text)", arg=text)

    def strip(self):
        return self.page.inner_text(".strip-outbox")

    def until_sent(self):
        """Everything is sent, and the rows of it were fetched back."""
        self.page.wait_for_function(
            "() => document.querySelector('.strip-outbox')?.dataset.state === 'sent' && document.body.dataset.phase === 'sent'"
        )

    def kept(self):
        """Everything in the outbox, as the page's own store has it."""
        return self.page.evaluate(
            """() => new Promise((resolve, reject) => {
                const open = indexedDB.open('yardjar');
                open.onerror = () => reject(open.error);
                open.onsuccess = () => {
                    const all = open.result.transaction('outbox').objectStore('outbox').getAll();
                    all.onsuccess = () => { open.result.close(); resolve(all.result); };
                };
            })"""
        )

    def until_waiting(self, count):
        self.page.wait_for_function(
            "(n) => document.querySelector('.strip-outbox')?.innerText.includes(`${n} to send`)", arg=count
        )
