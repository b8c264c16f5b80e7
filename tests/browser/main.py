"""Runs scenarios, each with a business and phones of its own, and says what came out."""

import os
import sys
import time
import traceback

from playwright.sync_api import sync_playwright

import access
import deeds
import amend
import harvest
import house_work
import joining
import looks
import network
import numbers_typed
import office
import papers
import reach
import scanning
import slow
import storage
import together
import undo
import versions
import yard_jobs
import yard_work
from phone import Phone
from service import Server, Service

# Touches every screen in some minutes: what each change is held against.
SLICE = [
    "first-load", "first-open", "run-to-jar", "whole-harvest", "phone-decides-alone", "flagged-after-sync",
    "update-with-full-outbox", "save-a-copy-and-hand-in", "axe-everywhere", "targets-measured", "contrast-computed",
    "one-total", "chart-equals-table", "every-paper-prints",
]
OUTPUT = os.path.join(os.path.dirname(__file__), "..", "output")


class Stage:
    """What a scenario needs: the service, phones, and a place for figures."""

    def __init__(self, playwright, server, name, how=None):
        self.playwright = playwright
        self.name = name
        self.phones = []
        self.figures = []
        # What else has to be stopped afterwards.
        self.borrowed = []
        if how is None:
            self.service = Service(server, name)
        else:
            # One that is asked for in another way runs for this scenario alone, with what its first start founded.
            own = Server(**how)
            self.borrowed.append(own)
            self.service = Service(own, first=True)

    def phone(self, service=None, **options):
        phone = Phone(self.playwright, service or self.service, **options)
        self.phones.append(phone)
        return phone

    def figure(self, text):
        self.figures.append(text)

    def picture(self):
        os.makedirs(OUTPUT, exist_ok=True)
        for number, phone in enumerate(self.phones):
            try:
                phone.page.screenshot(path=os.path.join(OUTPUT, f"{self.name}-{number}.png"))
            except Exception:  # A browser that is gone has no picture.
                pass

    def end(self):
        for thing in reversed(self.borrowed):
            thing.stop()
        for phone in self.phones:
            try:
                phone.close()
            except Exception:  # Killed by the scenario itself.
                pass


def scenarios():
    found = {}
    for room in (yard_work, yard_jobs, house_work, deeds, harvest, numbers_typed, undo, network, versions, joining, together, storage, scanning, access, reach, office, papers, looks, amend, slow):
        twice = found.keys() & room.SCENARIOS.keys()
        assert not twice, f"two scenarios are called {', '.join(twice)}: only one of them would be run"
        found.update(room.SCENARIOS)
    return found


def run(playwright, server, name, play):
    started = time.time()
    stage = None
    try:
        stage = Stage(playwright, server, name, getattr(play, "how", None))
        play(stage)
        faults = [fault for phone in stage.phones for fault in phone.faults]
        assert not faults, f"the page complained: {faults}"
        result = "ok"
    except Exception:
        if stage:
            stage.picture()
            print([fault for phone in stage.phones for fault in phone.faults], flush=True)
        traceback.print_exc()
        result = "FAILED"
    finally:
        if stage:
            stage.end()
    print(f"{name}: {result}, {time.time() - started:.1f} s", flush=True)
    for figure in stage.figures if stage else []:
        print(f"    {figure}", flush=True)
    return result == "ok"


def main(wanted):
    known = scenarios()
    if wanted == ["slice"]:
        wanted = SLICE
    unknown = [name for name in wanted if name not in known]
    if unknown:
        sys.exit(f"no scenario is called {', '.join(unknown)}; there are {', '.join(known)}")
    names = wanted or list(known)
    started = time.time()
    server = Server()
    try:
        with sync_playwright() as playwright:
            passed = [run(playwright, server, name, known[name]) for name in names]
    finally:
        server.stop()
    print(f"{time.time() - started:.0f} s in all")
    print(f"{sum(passed)} passed, {len(passed) - sum(passed)} failed")
    sys.exit(0 if all(passed) and passed else 1)


if __name__ == "__main__":
    main(sys.argv[1:])
