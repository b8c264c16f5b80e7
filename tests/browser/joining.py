"""Coming in: by a code that is typed, on a phone that has no network, and in a tab whose store is not the app's."""

import re

# What Safari on an iPhone shows a page of itself in a tab: the property is there and says no.
IPHONE_TAB = "Object.defineProperty(Navigator.prototype, 'standalone', { get: () => false });"
IPHONE = "Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.5 Mobile/15E148 Safari/604.1"


def enrol_typed(stage):
    """A code typed as people type: small letters and blanks. A wrong one says what to do, and is not the end."""
    phone = stage.phone()
    phone.load("/join")
    phone.page.fill("#device", "Truck phone")
    code = stage.service.code()
    wrong = ("2" if code[0] != "2" else "3") + code[1:]
    phone.page.fill("#code", wrong)
    phone.touch("[data-key=by-code]")
    phone.says("That does not fit")
    assert phone.page.input_value("#code") == wrong, "what was typed is gone"
    typed = " ".join(re.findall("..?", code.lower().replace("-", "")))
    phone.page.fill("#code", typed)
    phone.touch("[data-key=by-code]")
    phone.see("main[data-screen=arrive]")
    phone.until_sent()
    assert "Truck phone" in [one["name"] for one in stage.service.devices()]
    # Good once.
    second = stage.phone()
    second.load("/join")
    second.page.fill("#code", code)
    second.touch("[data-key=by-code]")
    second.says("That does not fit")


def first_open_offline(stage):
    """Nobody came in yet and there is no network: the app opens and says what it needs. Once in, it opens without one."""
    phone = stage.phone()
    phone.load("/join")
    phone.page.wait_for_function("() => navigator.serviceWorker.controller")
    phone.close_window()
    phone.open(offline=True)
    phone.load("/")
    phone.see("#code")
    phone.page.fill("#code", "ABCD1234")
    phone.touch("[data-key=by-code]")
    phone.says("Coming in for the first time needs one")
    phone.context.set_offline(False)
    phone.page.fill("#code", stage.service.code())
    phone.touch("[data-key=by-code]")
    phone.see("main[data-screen=arrive]")
    phone.until_sent()
    phone.close_window()
    phone.open(offline=True)
    phone.load("/")
    phone.see("main[data-screen=arrive]")
    assert "All sent" in phone.strip()


def ios_tab_install_first(stage):
    """On an iPhone a tab has a store of its own: it asks to be installed and lets nobody in there."""
    phone = stage.phone(user_agent=IPHONE)
    phone.context.add_init_script(IPHONE_TAB)
    phone.load("/join")
    phone.see("text=Add to Home Screen")
    assert not phone.page.query_selector("#code"), "a code can be typed where it would be lost"
    # Opened from the home screen it is another matter.
    installed = stage.phone(user_agent=IPHONE)
    installed.context.add_init_script(IPHONE_TAB.replace("false", "true"))
    installed.join()
    assert not installed.page.query_selector("text=Add to Home Screen")


SCENARIOS = {
    "enrol-typed": enrol_typed,
    "first-open-offline": first_open_offline,
    "ios-tab-install-first": ios_tab_install_first,
}
