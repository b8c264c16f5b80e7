"""The other jobs in the yard: each touch is counted and compared with what the screen is allowed, and what was told is
compared with the ledger."""

import hashlib
import json
import os
import uuid

from service import Yard


def at_yard(stage, hives=4, each=1):
    yard = Yard(stage.service, hives, hives * each + 2)
    yard.place(stage.service, each)
    phone = stage.phone().join()
    phone.touch(f"[data-key='{yard.id}']", count=False)
    phone.see(".board")
    phone.ready()
    phone.context.set_offline(True)
    return yard, phone


def job(phone, yard, name):
    """Goes to a job; the job stays, so that is not counted again for each hive."""
    phone.go(f"/yard/{yard.id}/{name}")
    phone.see(f".job[aria-current=true]")
    phone.touches = 0


def hive(phone, yard, code):
    phone.touch(f"[data-key='hive-{yard.hives[code]}']")
    phone.see(f"[data-key='hive-{yard.hives[code]}'][aria-pressed=true]")


def touched(phone, stage, what, least, most):
    assert least <= phone.touches <= most, f"{what}: {phone.touches} touches, {least} to {most} are allowed"
    stage.figure(f"{what}: {phone.touches} touches, {most} allowed")


def told(stage, phone, *kinds):
    phone.context.set_offline(False)
    phone.until_sent()
    return stage.service.told(*kinds)


def boards_2_then_1(stage):
    """Boards: the method once, then one touch a hive."""
    yard, phone = at_yard(stage)
    job(phone, yard, "boards")
    phone.touch("[data-key=chip-method-escape_board]")
    phone.touch(f"[data-key='hive-{yard.hives['L01']}']")
    phone.says("L01: escape board")
    touched(phone, stage, "boards, the first hive", 1, 2)
    phone.touches = 0
    for code in ("L02", "L03"):
        phone.touch(f"[data-key='hive-{yard.hives[code]}']")
        phone.says(f"{code}: escape board")
    touched(phone, stage, "boards, two more", 2, 2)
    assert "escape board" in phone.page.inner_text(f"[data-key='hive-{yard.hives['L02']}']")
    phone.go("/yard/bring")
    phone.see("text=Boards are on 3: L01, L02, L03")
    fitted = [one["data"] for one in told(stage, phone, "clearing_fitted")]
    assert [(one["hive_ids"], one["clearing"]) for one in fitted] == [([yard.hives[code]], "escape_board") for code in ("L01", "L02", "L03")]


def look_2_to_6(stage):
    """A look: the hive, what was seen, written. What nobody looked at is not in the entry; a suspicion says what to do."""
    yard, phone = at_yard(stage)
    job(phone, yard, "look")
    hive(phone, yard, "L01")
    phone.touch("[data-key=write-look]")
    phone.says("L01 looked into")
    touched(phone, stage, "look, nothing to tell", 2, 2)
    phone.touches = 0
    hive(phone, yard, "L02")
    for chip in ("eggs_seen-true", "stores-light", "brood_frames-6", "suspicion-chalkbrood"):
        phone.touch(f"[data-key='chip-{chip}']")
        phone.see(f"[data-key='chip-{chip}'][aria-pressed=true]")
    assert "ask whom your local law names" in phone.page.inner_text("main")
    phone.touch("[data-key=write-look]")
    phone.says("L02 looked into")
    touched(phone, stage, "look, four things seen", 2, 6)
    seen = {one["data"]["hive_id"]: one["data"] for one in told(stage, phone, "hive_inspected")}
    assert seen[yard.hives["L01"]] == {"hive_id": yard.hives["L01"]}, seen
    assert seen[yard.hives["L02"]] == {
        "hive_id": yard.hives["L02"],
        "eggs_seen": True,
        "stores": "light",
        "brood_frames": 6,
        "suspicion": "chalkbrood",
    }


def photo_of_a_suspicion(stage):
    """A photo taken without a network: the entry names it, it waits on the phone, and goes up after the entries."""
    yard, phone = at_yard(stage)
    job(phone, yard, "look")
    hive(phone, yard, "L01")
    phone.touch("[data-key=chip-suspicion-unknown]")
    picture = os.path.join(os.path.dirname(__file__), "..", "..", "api", "web", "icon-512.png")
    with phone.page.expect_file_chooser() as chooser:
        phone.touch("[data-key=photo]")
    chooser.value.set_files(picture)
    phone.see("[data-key=photo]:has-text('(1)')")
    phone.touch("[data-key=write-look]")
    phone.says("L01 looked into")
    entry = json.loads(phone.kept()[0]["text"])
    assert len(entry["photos"]) == 1 and len(entry["photos"][0]) == 64, entry
    phone.context.set_offline(False)
    phone.until_sent()
    path = f"/v1/photos/{entry['photos'][0]}"
    phone.until(lambda: stage.service.has(path), "the photo at the service")
    assert hashlib.sha256(stage.service.bytes(path)).hexdigest() == entry["photos"][0]
    assert [one["photos"] for one in stage.service.told("hive_inspected")] == [entry["photos"]]


def feed_whole_yard(stage):
    """Feed for the whole yard: three touches once an amount was typed; a hive touched away gets none."""
    yard, phone = at_yard(stage)
    job(phone, yard, "feed")
    phone.touch("[data-key=chip-feed-fondant]")
    phone.touch("[data-key=amount-mass]")
    phone.see("#feed-amount")
    phone.digits(25)
    phone.touch("[data-key=feed-amount-next]")
    phone.touch(f"[data-key='hive-{yard.hives['L04']}']")
    phone.see(f"[data-key='hive-{yard.hives['L04']}'][aria-pressed=false]")
    phone.touch("[data-key=feed-on]")
    phone.says("3 hives in Linden Row: fondant, 2.5\u00a0kg each")
    phone.touches = 0
    phone.touch("[data-key=chip-feed-sugar_syrup]")
    phone.touch("[data-key=amount-0]")
    phone.see("[data-key=chip-feed-sugar_syrup][aria-pressed=true]")
    phone.touch("[data-key=feed-on]")
    phone.says("4 hives in Linden Row: sugar syrup")
    touched(phone, stage, "feed, whole yard", 1, 3)
    fed = [one["data"] for one in told(stage, phone, "feed_put_on")]
    assert set(fed[0]["hive_ids"]) == {yard.hives[code] for code in ("L01", "L02", "L03")}
    assert fed[0]["feed"] == "fondant" and fed[0]["per_hive"] == {"weight_g": 2500}, fed
    assert len(fed[1]["hive_ids"]) == 4 and fed[1]["feed"] == "sugar_syrup"
    # A super that stands there while feed is on is held: the rules say so, and the tile shows it.
    phone.see(".hive .tag-hold")


def treat_from_the_cupboard(stage):
    """Treat: medicine, batch, in: three touches. Supers that stand there are named before."""
    medicine = str(uuid.uuid4())
    stage.service.push(
        ("medicine_registered", {"medicine_id": medicine, "name": "thymol strips", "wait_days": 7, "supers_allowed": False}),
        ("medicine_bought", {"medicine_id": medicine, "batch": "K44", "quantity": {"pieces": 100}, "supplier": "the vet"}),
    )
    yard, phone = at_yard(stage)
    job(phone, yard, "treat")
    phone.touch(f"[data-key='chip-medicine-{medicine}']")
    phone.touch("[data-key=chip-batch-K44]")
    phone.see("[data-key=chip-batch-K44][aria-pressed=true]")
    assert "Supers stand on: L01 (1), L02 (1), L03 (1), L04 (1)" in phone.page.inner_text("main")
    phone.touch("[data-key=put-in]")
    phone.says("thymol strips put into 4 hives")
    touched(phone, stage, "treat, whole yard", 3, 3)
    phone.see(".hive .tag-hold")
    phone.touch("[data-key=take-out]")
    phone.says("Medicine out of 4 hives")
    given = [one["data"] for one in told(stage, phone, "treatment_put_in")]
    assert len(given) == 1 and given[0]["batch"] == "K44" and len(given[0]["hive_ids"]) == 4, given
    assert len(stage.service.told("treatment_taken_out")) == 1


def move_hives(stage):
    """Move: to which yard, then go; a permit is typed where one is needed."""
    other = Yard(stage.service, 1, 0, name="Heath", letter="H")
    yard, phone = at_yard(stage)
    job(phone, yard, "move")
    phone.touch(f"[data-key='hive-{yard.hives['L03']}']")
    phone.touch(f"[data-key='to-{other.id}']")
    phone.see(f"[data-key='to-{other.id}'][aria-pressed=true]")
    phone.touch("[data-key=move]")
    phone.says("3 hives moved to Heath")
    touched(phone, stage, "move, one hive stays", 2, 3)
    phone.page.wait_for_function("() => document.querySelectorAll('.hive').length === 1")
    moved = [one["data"] for one in told(stage, phone, "hive_moved")]
    assert {one["hive_id"] for one in moved} == {yard.hives[code] for code in ("L01", "L02", "L04")}
    assert {one["yard_id"] for one in moved} == {other.id}


def colony_event(stage):
    """What became of the bees: the hive and the event. Bees nobody wrote down are written down first."""
    yard, phone = at_yard(stage)
    job(phone, yard, "colony")
    hive(phone, yard, "L01")
    phone.touch("[data-key=end-dead]")
    phone.says("L01: bees found dead")
    touched(phone, stage, "colony event", 2, 2)
    phone.touches = 0
    hive(phone, yard, "L02")
    phone.touch("[data-key=end-united]")
    phone.touch(f"[data-key='into-{yard.hives['L03']}']")
    phone.says("L02 united into L03")
    hive(phone, yard, "L01")
    phone.touch("[data-key=found-swarm]")
    phone.says("L01: swarm")
    ended = {one["data"]["how"]: one["data"] for one in told(stage, phone, "colony_ended")}
    homes = {one["data"]["colony_id"]: one["data"] for one in stage.service.told("colony_registered")}
    assert homes[ended["dead"]["colony_id"]]["hive_id"] == yard.hives["L01"]
    assert homes[ended["united"]["colony_id"]]["hive_id"] == yard.hives["L02"]
    assert homes[ended["united"]["united_into"]]["hive_id"] == yard.hives["L03"]
    assert [one.get("founding") for one in homes.values()].count("swarm") == 1


def count_at_start_of_flow(stage):
    """Counting: the figure of the book stands there only after something was typed."""
    yard, phone = at_yard(stage, hives=5)
    job(phone, yard, "count")
    assert "5" not in phone.page.inner_text(".pane .keypad-label"), "the book's figure is shown before the count"
    phone.digits(4)
    phone.touch("[data-key=fit-next]")
    phone.see("#unfit")
    phone.digits(1)
    phone.touch("[data-key=unfit-next]")
    phone.says("4 colonies fit in Linden Row; 5 hives stand there")
    touched(phone, stage, "count, both figures", 2 + 2, 2 + 2)
    phone.touch("[data-key=flow-start]")
    phone.says("Flow begins in Linden Row")
    counted = [one["data"] for one in told(stage, phone, "colonies_counted")]
    assert [(one["fit"], one["unfit"]) for one in counted] == [(4, 1)], counted
    assert len(stage.service.told("flow_started")) == 1


def spare_and_what_to_bring(stage):
    """Spare supers are left by one touch each, and the list of what to bring where counts them."""
    yard, phone = at_yard(stage)
    job(phone, yard, "spare")
    for number in ("005", "006"):
        phone.touch(f"[data-key='super-{yard.supers[number]}']")
        phone.says(f"{number} left spare in Linden Row")
    touched(phone, stage, "two supers left spare", 2, 2)
    phone.go("/yard/bring")
    assert "Hives: 4. Supers on them: 4. Spare there: 2." in phone.page.inner_text("main")
    left = told(stage, phone, "super_left_in_yard")
    assert [one["data"]["yard_id"] for one in left] == [yard.id] * 2


def caution_put_aside(stage):
    """What can hurt is said where it can happen; who has read it puts it aside by one touch, and hears of it again when
    the app is opened anew."""
    yard = Yard(stage.service, 1, 2)
    on = yard.place(stage.service, 2)["L01"]
    hive = yard.hives["L01"]
    run = str(uuid.uuid4())
    pulled = [("super_pulled", {"super_id": yard.supers[on[0]], "hive_id": hive}), ("super_received", {"super_id": yard.supers[on[0]], "gross_g": 21400})]
    stage.service.push(*pulled, ("run_opened", {"run_id": run, "name": "R1"}))
    phone = stage.phone().join()
    phone.ready()
    places = {f"/yard/{yard.id}/look/{hive}": ["stings"], f"/house/run/{run}": ["extractor", "knife"], f"/house/run/{run}/cappings": ["wax"]}
    for address, moments in places.items():
        phone.go(address)
        for moment in moments:
            phone.see(f"[data-key='aside-safety.{moment}']")
            phone.touch(f"[data-key='aside-safety.{moment}']")
            phone.see(f"[data-key='aside-safety.{moment}']", "detached")
    for address, moments in places.items():
        phone.go(address)
        phone.see("main h1, main h2", "attached")
        assert not phone.page.query_selector("main .caution"), address
    phone.page.reload()
    phone.see("[data-key='aside-safety.wax']")


SCENARIOS = {
    "caution-put-aside": caution_put_aside,
    "boards-2-then-1": boards_2_then_1,
    "look-2-to-6": look_2_to_6,
    "photo-of-a-suspicion": photo_of_a_suspicion,
    "feed-whole-yard": feed_whole_yard,
    "treat-from-the-cupboard": treat_from_the_cupboard,
    "move-hives": move_hives,
    "colony-event": colony_event,
    "count-at-start-of-flow": count_at_start_of_flow,
    "spare-and-what-to-bring": spare_and_what_to_bring,
}
