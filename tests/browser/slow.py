"""A slow line between a phone and the service, and how long the app takes over it until it can be used.

The line is a proxy of its own for every connection of the browser, so that the worker's fetches go through it like the
page's; what the browser's own tools slow down would leave those out."""

import asyncio
import threading
from urllib.parse import urlsplit

from looks import SLOWER, settled
from service import Yard

# As decided for the app: bits a second each way, round trip, and until when it must be usable.
BITS, ROUND_TRIP_S, USABLE_S = 400_000, 0.4, 8
# What goes out at one time, as on a real line; connections take turns.
PIECE = 1460
LATE_S = 0.02


class Way:
    """One direction: pieces of all connections one after another, each on its way for half a round trip."""

    def __init__(self):
        self.turn = asyncio.Lock()
        self.free = 0.0

    async def send(self, piece):
        loop = asyncio.get_running_loop()
        async with self.turn:
            # What a busy machine wakes too late for does not make the line slower than it is.
            self.free = max(self.free, loop.time() - LATE_S) + len(piece) * 8 / BITS
            await asyncio.sleep(self.free - loop.time())
        return self.free + ROUND_TRIP_S / 2


class SlowLine:
    """Looks like the service; as slow as a phone at the edge of the signal while `slow`."""

    def __init__(self, service):
        self.service = service
        self.there = urlsplit(service.url)
        self.slow = True
        self.carried = 0
        self.loop = asyncio.new_event_loop()
        started = threading.Event()
        threading.Thread(target=self.run, args=(started,), daemon=True).start()
        started.wait()

    def __getattr__(self, name):
        return getattr(self.service, name)

    def run(self, started):
        asyncio.set_event_loop(self.loop)
        self.up, self.down = Way(), Way()
        self.server = self.loop.run_until_complete(asyncio.start_server(self.connection, "127.0.0.1", 0))
        self.url = f"http://127.0.0.1:{self.server.sockets[0].getsockname()[1]}"
        started.set()
        self.loop.run_forever()

    def stop(self):
        asyncio.run_coroutine_threadsafe(self.hang_up(), self.loop).result()
        self.loop.call_soon_threadsafe(self.loop.stop)

    async def hang_up(self):
        self.server.close()
        open_ = asyncio.all_tasks() - {asyncio.current_task()}
        for one in open_:
            one.cancel()
        await asyncio.gather(*open_, return_exceptions=True)

    async def connection(self, reader, writer):
        try:
            there, back = await asyncio.open_connection(self.there.hostname, self.there.port)
            # A connection is made by a round trip, of which nothing is seen here.
            if self.slow:
                await asyncio.sleep(ROUND_TRIP_S)
            await asyncio.gather(self.carry(reader, back, self.up), self.carry(there, writer, self.down))
        except (OSError, asyncio.CancelledError):  # Either side hung up, as browsers do; or the test is over.
            writer.close()

    async def carry(self, source, target, way):
        arriving = asyncio.Queue()
        delivery = asyncio.create_task(self.deliver(arriving, target))
        try:
            while piece := await source.read(PIECE):
                if way is self.down:
                    self.carried += len(piece)
                due = await way.send(piece) if self.slow else 0
                arriving.put_nowait((due, piece))
        finally:
            arriving.put_nowait((0, None))
        await delivery

    async def deliver(self, arriving, target):
        while True:
            due, piece = await arriving.get()
            if piece is None:
                break
            await asyncio.sleep(max(0, due - self.loop.time()))
            target.write(piece)
        target.close()


def slow_processor(phone):
    phone.context.new_cdp_session(phone.page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})


def seconds(phone, condition):
    """When something came about, in seconds since the address was opened, by the clock of the page."""
    handle = phone.page.wait_for_function(f"() => ({condition}) && performance.now() / 1000", polling=50)
    return handle.json_value()


def fetched(phone):
    """What came until when, for whoever looks where the time goes."""
    times = "() => performance.getEntriesByType('resource').map((one) => one.name.split('/').pop().split('?')[0] + ' ' + (one.responseEnd / 1000).toFixed(1))"
    return "    " + ", ".join(phone.page.evaluate(times))


def usable(yard):
    """Arrive stands, the yard is on it, and the rules are ready for what is touched."""
    return f"document.querySelector('main[data-screen=arrive] [data-key=\"{yard.id}\"]') && document.body.dataset.rules === 'ready'"


def usable_on_a_slow_link(stage):
    """The first load at 400 kbit/s, 400 ms and a processor four times slower: a new phone that opens the address of its
    code, and one that is known but lost all files. Page, worker and calls share the line."""
    settled(stage.service)
    yard = Yard(stage.service, 6, 24)
    line = SlowLine(stage.service)
    stage.borrowed.append(line)
    phone = stage.phone(service=line)
    slow_processor(phone)
    code = stage.service.code()
    phone.page.goto(f"{line.url}/join#{code}", wait_until="commit")
    form = seconds(phone, "document.querySelector('[data-key=by-code]')")
    assert phone.page.input_value("#code") == code
    first = fetched(phone)
    phone.touch("[data-key=by-code]")
    joined = seconds(phone, usable(yard))
    stage.figure(f"a new phone: the form stands after {form:.1f} s; the code is sent at once, and a yard can be touched {joined:.1f} s after the address was opened, {line.carried} bytes")
    stage.figure(first)
    phone.touch(f"[data-key='{yard.id}']")
    board = seconds(phone, "document.querySelector('main[data-screen=board] .hive')")
    stage.figure(f"    its board stands after {board:.1f} s")
    phone.page.wait_for_function("() => navigator.serviceWorker.controller")
    stage.figure(f"    everything is kept after {seconds(phone, 'true'):.1f} s, {line.carried} bytes")

    phone.until_sent()
    line.slow = False
    phone.page.evaluate("async () => { for (const one of await caches.keys()) await caches.delete(one); await (await navigator.serviceWorker.getRegistration()).unregister(); }")
    phone.context.new_cdp_session(phone.page).send("Network.clearBrowserCache")
    phone.close_window()
    line.slow, line.carried = True, 0
    phone.open()
    slow_processor(phone)
    phone.page.goto(line.url + "/", wait_until="commit")
    again = seconds(phone, usable(yard))
    stage.figure(f"known, without any file: a yard can be touched after {again:.1f} s, {line.carried} bytes")
    stage.figure(fetched(phone))
    late = {what: took for what, took in (("form", form), ("joined", joined), ("known", again)) if took > USABLE_S}
    assert not late, f"later than {USABLE_S} s: {late}"


SCENARIOS = {"usable-on-a-slow-link": usable_on_a_slow_link}
