"""Runs scenarios, each with a fresh service and fresh phones, and says what came out."""

import os
import sys
import time
import traceback

from playwright.sync_api import sync_playwright

import looks
import network
import numbers_typed
import undo
import yard_work
from phone import Phone
from service import Service

OUTPUT = os.path.join(os.path.dirname(__file__), "..", "output")


class Stage:
    """What a scenario needs: the service, phones, and a place for figures."""

    def __init__(self, playwright, name):
        self.playwright = playwright
        self.name = name
        self.service = Service()
        self.phones = []
        self.figures = []

    def phone(self, **options):
        phone = Phone(self.playwright, self.service, **options)
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
        for phone in self.phones:
            try:
                phone.close()
            except Exception:  # Killed by the scenario itself.
                pass
        self.service.stop()


def scenarios():
    found = {}
    for room in (yard_work, numbers_typed, undo, network, looks):
        found.update(room.SCENARIOS)
    return found


def run(playwright, name, play):
    started = time.time()
    stage = None
    try:
        stage = Stage(playwright, name)
        play(stage)
        faults = [fault for phone in stage.phones for fault in phone.faults]
        assert not faults, f"the page complained: {faults}"
        result = "ok"
    except Exception:
        if stage:
            stage.picture()
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
    unknown = [name for name in wanted if name not in known]
    if unknown:
        sys.exit(f"no scenario is called {', '.join(unknown)}; there are {', '.join(known)}")
    names = wanted or list(known)
    with sync_playwright() as playwright:
        passed = [run(playwright, name, known[name]) for name in names]
    print(f"{sum(passed)} passed, {len(passed) - sum(passed)} failed")
    sys.exit(0 if all(passed) and passed else 1)


if __name__ == "__main__":
    main(sys.argv[1:])
