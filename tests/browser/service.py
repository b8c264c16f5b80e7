"""The real service with a private PostgreSQL, and its calls as another device makes them."""

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

READY_S = 60


def free_port():
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def now():
    return datetime.now(timezone.utc).isoformat().replace("+00:00", "Z")


class Service:
    """Starts with an empty business and stops with everything it made."""

    def __init__(self):
        self.folder = tempfile.mkdtemp(prefix="yardjar-browser-")
        # PostgreSQL runs under an account of its own where root starts it.
        os.chmod(self.folder, 0o755)
        self.port = free_port()
        self.url = f"http://127.0.0.1:{self.port}"
        self.said = []
        env = dict(os.environ, YARDJAR_DATA=f"{self.folder}/data", YARDJAR_LISTEN=f"127.0.0.1:{self.port}")
        env["YARDJAR_LOG"] = "warn"
        for name in ("DATABASE_URL", "DATABASE_URL_FILE"):
            env.pop(name, None)
        program = os.environ["YARDJAR_PROGRAM"]
        self.process = subprocess.Popen(
            [program, "serve"], env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
        )
        threading.Thread(target=self._listen, daemon=True).start()
        try:
            self._wait()
            self.login, self.password = re.search(r"login (\S+), pass phrase (\S+)", "".join(self.said)).groups()
            self.token = None
            self._sign_in()
        except BaseException:
            self.stop()
            raise

    def _listen(self):
        for line in self.process.stdout:
            self.said.append(line)

    def _wait(self):
        end = time.time() + READY_S
        while time.time() < end:
            if "listens on" in "".join(self.said):
                return
            if self.process.poll() is not None:
                break
            time.sleep(0.05)
        raise RuntimeError("the service did not start:\n" + "".join(self.said))

    def stop(self):
        self.process.send_signal(signal.SIGTERM)
        self.process.wait(timeout=60)
        shutil.rmtree(self.folder, ignore_errors=True)

    def call(self, method, path, body=None):
        headers = {"content-type": "application/json"}
        if self.token:
            headers["authorization"] = f"Bearer {self.token}"
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self.url + path, data=data, method=method, headers=headers)
        try:
            with urllib.request.urlopen(request, timeout=30) as answer:
                text = answer.read()
        except urllib.error.HTTPError as refused:
            raise AssertionError(f"{method} {path}: {refused.code} {refused.read().decode()}") from refused
        return json.loads(text) if text else None

    def _sign_in(self):
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

    def push(self, *told):
        """Entries of another device: (kind, data) each. Answers their ids."""
        entries = []
        for kind, data in told:
            self.counter += 1
            entries.append(
                {
                    "id": str(uuid.uuid4()),
                    "kind": kind,
                    "v": 1,
                    "data": data,
                    "happened_at": now(),
                    "utc_offset_min": 0,
                    "happened_src": "clock",
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

    def __init__(self, service, hives, supers, name="Linden Row", letter="L"):
        self.id = str(uuid.uuid4())
        self.name = name
        self.hives = {f"{letter}{n:02}": str(uuid.uuid4()) for n in range(1, hives + 1)}
        self.supers = {f"{n:03}": str(uuid.uuid4()) for n in range(1, supers + 1)}
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
