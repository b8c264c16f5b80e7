"""The real service with a private PostgreSQL, and its calls as another device makes them.

One server runs for all scenarios; each scenario gets a business of its own, which sees nothing of the others.
"""

import json
import os
import re
import secrets
import shutil
import signal
import socket
import subprocess
import tempfile
import threading
import time
import urllib.error
import urllib.request
import uuid
from datetime import datetime, timezone

# The demo loads a whole harvest before it listens.
READY_S = 180
# Long enough for the service; it belongs to a business that ends with the test.
PASSWORD = "four plain words here"


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def now():
    return datetime.now(timezone.utc).isoformat().replace("+00:00", "Z")


class Server:
    """The program with its database, in a folder of its own."""

    def __init__(self, host="127.0.0.1", demo=False):
        self.folder = tempfile.mkdtemp(prefix="yardjar-browser-")
        # PostgreSQL runs under an account of its own where root starts it.
        os.chmod(self.folder, 0o755)
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.said = []
        self.env = dict(os.environ, YARDJAR_DATA=f"{self.folder}/data", YARDJAR_LISTEN=f"{host}:{self.port}")
        self.env["YARDJAR_LOG"] = "warn"
        for name in ("DATABASE_URL", "DATABASE_URL_FILE"):
            self.env.pop(name, None)
        self.program = os.environ["YARDJAR_PROGRAM"]
        self.start(*(["--demo"] if demo else []))

    def start(self, *how):
        self.process = subprocess.Popen(
            [self.program, "serve", *how], env=self.env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        listens = threading.Event()
        threading.Thread(target=self._listen, args=(self.process, listens), daemon=True).start()
        if not listens.wait(READY_S) or self.process.poll() is not None:
            self.stop()
            raise RuntimeError("the service did not start:\n" + "".join(self.said))

    def _listen(self, process, listens):
        for line in process.stdout:
            self.said.append(line)
            if "listens on" in line:
                listens.set()
        # It ended: whoever waits need not wait on.
        listens.set()

    def end(self):
        """As an operator ends it; what it kept stays."""
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(timeout=60)

    def stop(self):
        self.end()
        shutil.rmtree(self.folder, ignore_errors=True)

    def first(self):
        """The login and the pass phrase that the first start printed: of the first owner, or of the demo's."""
        return re.search(r"login\s+(\S+?),?\s+pass phrase\s+(\S+)", "".join(self.said)).groups()

    def found(self, name):
        """Founds a business at the console, as an operator does. Answers the owner's login."""
        login = f"{name}-{secrets.token_hex(4)}"
        path = os.path.join(self.folder, "password")
        with open(path, "w") as file:
            file.write(PASSWORD + "\n")
        made = subprocess.run(
            [self.program, "owner", "add", "--business", name, "--name", "Owner", "--login", login, "--password-file", path],
            env=self.env,
            capture_output=True,
            text=True,
        )
        assert made.returncode == 0, made.stdout + made.stderr
        return login


class Service:
    """An empty business of a running server."""

    def __init__(self, server, name="business", first=False):
        self.server = server
        self.url = server.url
        self.login, self.password = server.first() if first else (server.found(name), PASSWORD)
        self.token = None
        self._sign_in()

    def call(self, method, path, body=None, kind="application/json"):
        headers = {"content-type": kind}
        if self.token:
            headers["authorization"] = f"Bearer {self.token}"
        data = body if isinstance(body, bytes) else None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.url + path, data=data, method=method, headers=headers)
        try:
            with urllib.request.urlopen(request, timeout=120) as answer:
                text = answer.read()
        except urllib.error.HTTPError as refused:
            if refused.code == 401 and self.token:
                # A long scenario outlives the access token.
                self._sign_in()
                return self.call(method, path, body, kind)
            raise AssertionError(f"{method} {path}: {refused.code} {refused.read().decode()}") from refused
        return json.loads(text) if text else None

    def bytes(self, path, accept="*/*"):
        """An answer that is no JSON."""
        request = urllib.request.Request(self.url + path, headers={"authorization": f"Bearer {self.token}", "accept": accept})
        with urllib.request.urlopen(request, timeout=30) as answer:
            return answer.read()

    def console(self, *words):
        """What the program says at the console of the server."""
        said = subprocess.run([self.server.program, *words], env=self.server.env, capture_output=True, text=True, timeout=60)
        assert said.returncode == 0, said.stdout + said.stderr
        return said.stdout

    def has(self, path):
        """Whether something is there."""
        try:
            return bool(self.bytes(path))
        except urllib.error.HTTPError:
            return False

    def _sign_in(self):
        self.token = None
        said = {"login": self.login, "password": self.password, "device_name": "Test office"}
        tokens = self.call("POST", "/v1/auth/sign-in", said)
        self.token = tokens["access_token"]
        self.operation = tokens["operation_id"]
        self.member = tokens["member_id"]
        self.counter = 0

    def code(self):
        """A one-use code for a phone of the owner."""
        self.call("POST", "/v1/auth/confirmations", {"password": self.password})
        made = self.call("POST", "/v1/devices/codes", {"member_id": self.member, "device_name": "Phone"})
        return made["code"]

    def devices(self):
        return self.call("GET", "/v1/devices")["items"]

    def push(self, *told, at=None):
        """Entries of another device: (kind, data) each, of now or of a time told by hand. Answers their ids."""
        entries = []
        for kind, data in told:
            self.counter += 1
            entries.append(
                {
                    "id": str(uuid.uuid4()),
                    "kind": kind,
                    "v": 1,
                    "data": data,
                    "happened_at": at or now(),
                    "utc_offset_min": 0,
                    "happened_src": "entered" if at else "clock",
                    "device_counter": self.counter,
                    "saw": 0,
                    "salt": secrets.token_hex(16),
                }
            )
        for start in range(0, len(entries), 500):
            part = entries[start : start + 500]
            answer = self.call(
                "POST", "/v1/sync/push", {"operation_id": self.operation, "sent_at": now(), "entries": part}
            )
            results = [one["result"] for one in answer["results"]]
            assert set(results) == {"stored"}, answer
        return [entry["id"] for entry in entries]

    def ledger(self):
        """Every entry there is, in the order of its number."""
        entries, cursor = [], ""
        while True:
            page = self.call("GET", f"/v1/ledger?limit=5000{cursor}")
            entries += page["entries"]
            if not page["more"]:
                return entries
            cursor = f"&cursor={page['cursor']}"

    def told(self, *kinds):
        """What phones told of these kinds: the entries as they were sent."""
        return [one["entry"] for one in self.ledger() if one["entry"]["kind"] in kinds]


class Yard:
    """A yard with hives and supers, set up through the service."""

    def __init__(self, service, hives, supers, name="Linden Row", letter="L", first=1):
        self.id = str(uuid.uuid4())
        self.name = name
        self.hives = {f"{letter}{n:02}": str(uuid.uuid4()) for n in range(1, hives + 1)}
        self.supers = {f"{n:03}": str(uuid.uuid4()) for n in range(first, first + supers)}
        told = [("yard_registered", {"yard_id": self.id, "name": name, "code": letter})]
        told += [
            ("hive_registered", {"hive_id": key, "yard_id": self.id, "code": code}) for code, key in self.hives.items()
        ]
        told += [
            ("super_registered", {"super_id": key, "number": number, "class": "medium", "frames": 10})
            for number, key in self.supers.items()
        ]
        service.push(*told)

    def place(self, service, each):
        """Puts `each` supers on every hive, in the order of their numbers. Answers number by hive code."""
        numbers = iter(self.supers)
        on = {code: [next(numbers) for _ in range(each)] for code in self.hives}
        service.push(
            *[
                ("super_placed", {"super_id": self.supers[number], "hive_id": self.hives[code]})
                for code, placed in on.items()
                for number in placed
            ]
        )
        return on
