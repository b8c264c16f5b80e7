"""What is printed: number labels read back from the paper, papers in both sizes, charts that say what their table says."""

import csv
import os
import re
import subprocess
import tempfile

import zxingcpp
from PIL import Image

from looks import axe_faults
from office import at_desk, fill

DPI = 300
MM = DPI / 25.4
PAGES = {"A4": (210, 297), "Letter": (215.9, 279.4)}


def rendered(pdf, dpi=DPI):
    """The pages of a PDF as pictures."""
    with tempfile.TemporaryDirectory() as folder:
        path = os.path.join(folder, "paper.pdf")
        with open(path, "wb") as file:
            file.write(pdf)
        subprocess.run(["pdftoppm", "-r", str(dpi), "-png", path, os.path.join(folder, "page")], check=True)
        names = sorted(name for name in os.listdir(folder) if name.endswith(".png"))
        return [Image.open(os.path.join(folder, name)).convert("L").copy() for name in names]


def text_of(pdf):
    with tempfile.NamedTemporaryFile(suffix=".pdf") as file:
        file.write(pdf)
        file.flush()
        return subprocess.run(["pdftotext", "-layout", file.name, "-"], capture_output=True, text=True, check=True).stdout


def ink(picture, box):
    """Height in mm of what is dark in a part of a picture."""
    part = picture.crop(box).point(lambda value: 255 if value < 128 else 0)
    bounds = part.getbbox()
    return (bounds[3] - bounds[1]) / MM if bounds else 0


def labels_read_back(stage):
    """Sheets on A4 and Letter are drawn at 300 dpi: every code reads back as its number's address, where the user put
    it, and every number is at least 10 mm high, which is read from two metres."""
    service = stage.service
    desk = at_desk(stage)
    desk.go("/office/set-up/supers")
    desk.see("#supers-range")
    fill(desk, "supers-range", from_="001", to="030", frames="10")
    desk.says("30 set up")
    for paper, preset, first, drift in (("A4", "A4, 3 by 8, 70 x 37 mm", 5, "0,4"), ("Letter", "Letter, 2 by 5, 4 x 2 in", 1, "0")):
        desk.go("/office/labels")
        desk.see("#preset-form")
        fill(desk, "preset-form", preset=preset)
        desk.page.wait_for_timeout(1100)
        with desk.page.expect_download() as waited:
            fill(desk, "labels-form", address="https://192.168.1.20:8470", first=str(first), drift_x=drift, words="Ashwick Honey")
        with open(waited.value.path(), "rb") as file:
            pdf = file.read()
        sheet = {key: float(desk.page.input_value(f"#labels-form-{key}").replace(",", ".")) for key in ("columns", "rows", "width", "height", "left", "top", "across", "down", "margin")}
        pictures = rendered(pdf)
        wide, high = PAGES[paper]
        codes, heights, off = [], [], 0
        each = int(sheet["columns"] * sheet["rows"])
        for page, picture in enumerate(pictures):
            assert abs(picture.width / MM - wide) < 0.3 and abs(picture.height / MM - high) < 0.3, picture.size
            for found in zxingcpp.read_barcodes(picture):
                codes.append(found.text)
                number = found.text.rsplit("/", 1)[1]
                place = int(number) - 1 + first - 1
                assert place // each == page, number
                column, row = place % each % int(sheet["columns"]), place % each // int(sheet["columns"])
                x = sheet["left"] + column * sheet["across"] + float(drift.replace(",", "."))
                y = sheet["top"] + row * sheet["down"]
                # The code stands in the left half, in the middle of the label's height.
                corners = [found.position.top_left, found.position.bottom_right]
                centre = [sum(getattr(corner, axis) for corner in corners) / 2 / MM for axis in ("x", "y")]
                side = min(sheet["height"] - 2 * sheet["margin"], (sheet["width"] - 2 * sheet["margin"]) / 2)
                off = max(off, abs(centre[0] - (x + sheet["margin"] + side / 2)), abs(centre[1] - (y + sheet["margin"] + side / 2)))
                left = (x + sheet["margin"] + side) * MM
                box = (left, y * MM, (x + sheet["width"]) * MM, (y + sheet["height"] - sheet["margin"] - 4.5) * MM)
                heights.append(ink(picture, tuple(round(value) for value in box)))
        assert sorted(codes) == [f"https://192.168.1.20:8470/n/{n:03}" for n in range(1, 31)], f"{len(codes)} codes were read"
        assert min(heights) >= 10, f"the lowest number is {min(heights):.1f} mm high"
        assert off < 0.5, f"a code lies {off:.2f} mm off its place"
        assert all(f"{n:03}" in text_of(pdf) for n in range(1, 31))
        fonts = subprocess.run(["pdffonts", waited.value.path()], capture_output=True, text=True, check=True).stdout
        assert "DejaVuSansCondensed-Bold" in fonts and " yes " in fonts, fonts
        stage.figure(f"{paper}: {len(codes)} codes read, numbers {min(heights):.1f} to {max(heights):.1f} mm high, at most {off:.2f} mm off their place")
    # What cannot be is refused where it stands, with what to do.
    desk.page.wait_for_timeout(1100)
    fill(desk, "labels-form", across="50")
    desk.says("lie upon each other")


PAPERS = [
    ("season", "/office/season/2025"),
    ("recall", "/office/recall/batch/"),
    ("trace", "/office/trace/batch/"),
    ("stock", "/office/stock"),
    ("sales", "/office/sales"),
    ("flags", "/office/flags"),
]


def address(service, path):
    """A paper's address: those of a batch get one."""
    return path + service.call("GET", "/v1/batches?limit=100")["items"][0]["id"] if path.endswith("/") else path


def every_paper_prints(stage):
    """Each paper as a PDF of the browser in A4 and Letter: its size, its heading on every page, nothing of the screen."""
    desk = at_desk(stage)
    most = 0
    for name, path in PAPERS:
        desk.go(address(stage.service, path))
        desk.page.wait_for_timeout(1500)
        heading = desk.page.inner_text("h1")
        for paper, (wide, high) in PAGES.items():
            # The paper's size is the printer's choice, not the page's.
            pdf = desk.page.pdf(format=paper, prefer_css_page_size=False)
            pages = rendered(pdf, dpi=50)
            for page in pages:
                assert abs(page.width / 50 * 25.4 - wide) < 1 and abs(page.height / 50 * 25.4 - high) < 1, (name, paper, page.size)
            text = text_of(pdf)
            parts = text.split("\f")[: len(pages)]
            for number, part in enumerate(parts, 1):
                bare = re.sub(r"\s+", " ", part)
                assert heading in bare, f"{name}, {paper}: page {number} does not say {heading!r}"
                assert re.search(rf"\b{number} ?/ ?{len(pages)}\b", bare), f"{name}, {paper}: page {number} has no number"
            assert "Outbox" not in text and "All sent" not in text, f"{name}: the screen is on the paper"
            # Nothing is cut off at the right: no dark column touches the paper's edge.
            for page in pages:
                assert page.crop((page.width - 3, 0, page.width, page.height)).getextrema()[0] > 200, (name, paper)
            most = max(most, len(pages))
            stage.figure(f"{name}, {paper}: {len(pages)} pages")
    assert most > 1, "no paper has a second page, so nothing was seen of its heading"


every_paper_prints.how = {"demo": True}


def one_total(stage):
    """The season's kilograms are the same in the answer, as CSV, on the page, on the printed paper and at the console; the
    yards and what belongs to none add up to it."""
    service = stage.service
    desk = at_desk(stage)
    for season in (2024, 2025):
        answer = service.call("GET", f"/v1/seasons/{season}/yards")
        tables = {table["name"]: {row["name"]: row["figures"] for row in table["rows"]} for table in answer["tables"]}
        total = tables["season"][str(season)]["yield_g"]["value"]
        assert total == sum(figures["yield_g"]["value"] for figures in tables["yards"].values()), tables["yards"]
        lines = list(csv.DictReader(service.bytes(f"/v1/seasons/{season}/yards", accept="text/csv").decode().splitlines()))
        told = [line["value"] for line in lines if (line["table"], line["name"], line["figure"]) == ("season", str(season), "yield_g")]
        assert told == [str(total)], told
        said = f"{total / 1000:,.1f}\u00a0kg"
        desk.go(f"/office/season/{season}/yields")
        desk.see(f"td:text-is('{said}')")
        for paper in PAGES:
            text = text_of(desk.page.pdf(format=paper, prefer_css_page_size=False)).replace("\u00a0", " ")
            assert re.search(rf"Yield\s+{re.escape(said.replace(chr(160), ' '))}", text), f"{season}, {paper}: {said} is not on the paper"
        console = service.console("yields", "--season", str(season))
        assert f"Season {season}: {total / 1000:.1f} kg" in console, console
        stage.figure(f"{season}: {said} everywhere")


one_total.how = {"demo": True}


def chart_equals_table(stage):
    """Every figure in a chart stands in the table below it, in the same words beside the same name; every single colony,
    box or day that a chart shows stands in a table of the page; no name of the program's insides is read."""
    desk = at_desk(stage)
    desk.go("/office/season/2025")
    desk.see("section.question")
    desk.page.wait_for_timeout(2000)
    charts = desk.page.evaluate(
        """() => [...document.querySelectorAll('figure.chart')].map((figure) => ({
            title: figure.querySelector('title').textContent,
            labelled: figure.querySelector('svg').getAttribute('aria-labelledby').split(' ').map((id) => document.getElementById(id)?.textContent ?? ''),
            role: figure.querySelector('svg').getAttribute('role'),
            column: figure.dataset.column && Number(figure.dataset.column),
            said: [...figure.querySelectorAll('.said')].map((text) => [text.dataset.row, text.textContent]),
            singles: [...figure.querySelectorAll('.single')].map((one) => [one.dataset.name, one.dataset.said]),
            rows: [...figure.nextElementSibling.querySelectorAll('tbody tr')].map((row) => [...row.children].map((cell) => cell.textContent)),
        }))"""
    )
    cells = desk.page.evaluate("() => [...document.querySelectorAll('tbody tr')].flatMap((row) => [...row.children].slice(1).map((cell) => [row.children[0].textContent, cell.textContent]))")
    stand = set(map(tuple, cells))
    assert charts, "the season shows no chart"
    figures, singles = 0, 0
    for one in charts:
        assert one["role"] == "img" and all(one["labelled"]), one["title"]
        assert one["said"] or one["singles"], f"{one['title']}: says no figure"
        for single in map(tuple, one["singles"]):
            assert single in stand, f"{one['title']}: {single} stands in no table"
        singles += len(one["singles"])
        said = list(map(tuple, one["said"]))
        if said:
            column = [(row[0], row[one["column"]]) for row in one["rows"] if row[one["column"]]]
            # Where one row is told downwards, its chart shows some of its lines in their order.
            rest = iter(column)
            assert all(pair in rest for pair in said), (one["title"], said, column)
            assert one["title"].startswith("Season:") or len(said) == len(column), (one["title"], said, column)
        figures += len(said)
    raw = re.findall(r"[a-z]+_[a-z_]+", desk.page.inner_text("main"))
    assert not raw, f"not said in words: {sorted(set(raw))}"
    faults = axe_faults(desk, "season of the demo")
    assert not faults, "\n".join(faults)
    stage.figure(f"{len(charts)} charts, {figures} figures and {singles} single colonies, boxes and days, each in its table")


chart_equals_table.how = {"demo": True}

SCENARIOS = {"one-total": one_total, "labels-read-back": labels_read_back, "every-paper-prints": every_paper_prints, "chart-equals-table": chart_equals_table}
