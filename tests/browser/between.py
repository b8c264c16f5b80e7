"""Something between a phone and the service: a newer version of the app, a network that breaks off, an older service."""

import http.client
import re
import threading
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from urllib.parse import urlsplit

HOP = {"connection", "keep-alive", "transfer-encoding", "content-length", "host", "accept-encoding"}
PAGES = re.compile(r"^/($|sw\.js$|(yard|house|office|find|today|outbox|phone|sign-in|join|n)(/|$))")


class Between:
    """Passes everything on to a service, except what a test changes on the way. Itself looks like the service."""

    def __init__(self, service):
        self.service = service
        self.there = urlsplit(service.url)
        self.asked = []
        # The app pretends to be this version, with these files changed: name -> function of its text.
        self.pretends, self.changed = None, {}
        # Called with (method, path, body); what it answers, (status, type, bytes), is sent instead.
        self.instead = None
        # Called with (method, path, status, bytes); bytes it answers are sent, and the line is cut if they are fewer.
        self.through = None
        between = self

        class Handler(BaseHTTPRequestHandler):
            protocol_version = "HTTP/1.1"

            def answer(self):
                between.pass_on(self)

            do_GET = do_POST = do_PATCH = do_PUT = do_DELETE = answer

            def log_message(self, *_):
                pass

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.server.daemon_threads = True
        # Phones hang up in the middle; that is what some tests are about.
        self.server.handle_error = lambda *_: None
        self.url = f"http://127.0.0.1:{self.server.server_address[1]}"
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def __getattr__(self, name):
        return getattr(self.service, name)

    def stop(self):
        self.server.shutdown()
        self.server.server_close()

    def true_version(self):
        _, _, text = self.fetch("GET", "/", None, {})
        return re.search(rb"/app/([0-9a-f]+)/", text).group(1).decode()

    def fetch(self, method, path, body, headers):
        line = http.client.HTTPConnection(self.there.hostname, self.there.port, timeout=120)
        try:
            line.request(method, path, body=body, headers=headers)
            answer = line.getresponse()
            return answer.status, answer.getheaders(), answer.read()
        finally:
            line.close()

    def pass_on(self, call):
        size = int(call.headers.get("content-length") or 0)
        body = call.rfile.read(size) if size else None
        method, path = call.command, call.path
        self.asked.append((method, path))
        instead = self.instead and self.instead(method, path, body)
        if instead:
            status, kind, data = instead
            return self.say(call, status, [("content-type", kind)], data)
        asked = path
        version = self.pretends and self.true_version()
        if version:
            asked = path.replace(f"/app/{self.pretends}/", f"/app/{version}/", 1)
        headers = {name: value for name, value in call.headers.items() if name.lower() not in HOP}
        status, given, data = self.fetch(method, asked, body, headers)
        if version and PAGES.match(path.split("?")[0]):
            data = data.replace(version.encode(), self.pretends.encode())
        name = path.split("?")[0].split("/", 3)[-1]
        if version and path.startswith("/app/") and name in self.changed:
            data = self.changed[name](data.decode()).encode()
        whole = len(data)
        if self.through:
            data = self.through(method, path, status, data)
        return self.say(call, status, given, data, whole)

    def say(self, call, status, headers, data, whole=None):
        try:
            call.send_response(status)
            for name, value in headers:
                if name.lower() not in HOP:
                    call.send_header(name, value)
            call.send_header("content-length", str(len(data) if whole is None else whole))
            call.end_headers()
            call.wfile.write(data)
            if whole is not None and len(data) < whole:
                call.close_connection = True
        except OSError:  # The phone hung up, as phones do.
            call.close_connection = True
