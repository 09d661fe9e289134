"""The marked proof in a real browser.

Sources: Debian's Chromium, driven by the PyPI package selenium; axe-core (from the PyPI package axe-core-python), an accessibility
checker; the PyPI package pypdf, which reads the sheets that are printed.
"""

from __future__ import annotations

import base64
import io
import json
import shutil
import subprocess
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import helpers

COPIES = ("score-loose.musicxml", "part-clarinet-1.musicxml", "part-horn-1.musicxml")
POINT_MM = 25.4 / 72


@pytest.fixture(scope="module")
def proof(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The proof of three copies of the demo set."""
    out = tmp_path_factory.mktemp("proof") / "proof.html"
    demo = [str(helpers.ROOT / "fixtures" / "demo" / name) for name in COPIES]
    command = [str(helpers.program()), "audit", "--gate", "never", "--report", f"html={out}", *demo]
    done = subprocess.run(command, capture_output=True, encoding="utf-8", check=False, cwd=helpers.ROOT)
    assert done.returncode == 0, done.stderr[-500:]
    return out


@pytest.fixture(scope="module")
def browser(proof: Path) -> Iterator[Any]:
    """A browser without a network that has opened the proof from disk."""
    chromium, driver = shutil.which("chromium"), shutil.which("chromedriver")
    if not chromium or not driver:
        pytest.skip("browser check not done: chromium or chromedriver is missing (apt-get install chromium chromium-driver)")
    from selenium import webdriver

    options = webdriver.ChromeOptions()
    options.binary_location = chromium
    for argument in ("--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
                     "--disable-component-update", "--disable-sync", "--disable-quic", "--window-size=1250,900"):
        options.add_argument(argument)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    opened = webdriver.Chrome(options=options, service=webdriver.ChromeService(driver))
    opened.execute_cdp_cmd("Network.enable", {})
    opened.execute_cdp_cmd("Network.emulateNetworkConditions", {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0})
    opened.get(proof.as_uri())
    yield opened
    opened.quit()


def test_it_opens_from_disk_and_asks_for_nothing(browser: Any, proof: Path) -> None:
    """No console errors; nothing is requested but the file itself."""
    assert [entry for entry in browser.get_log("browser") if entry["level"] == "SEVERE"] == []
    messages = [json.loads(entry["message"])["message"] for entry in browser.get_log("performance")]
    asked = [message["params"]["request"]["url"] for message in messages if message["method"] == "Network.requestWillBeSent"]
    assert set(asked) <= {proof.as_uri()}
    assert browser.execute_script("return performance.getEntriesByType('resource').length") == 0


def test_it_is_accessible(browser: Any) -> None:
    """No violations, by light and by dark, wide and narrow."""
    import axe_core_python

    axe = (Path(axe_core_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    for scheme in ("light", "dark"):
        for width in (1250, 420):
            browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": [{"name": "prefers-color-scheme", "value": scheme}]})
            browser.set_window_size(width, 900)
            browser.execute_script(axe)
            # Openings out of sight are not laid out until they are scrolled to; what is measured meanwhile lies on what moves. All at once:
            browser.execute_script("document.querySelectorAll('.opening').forEach(one => one.style.contentVisibility = 'visible')")
            found = browser.execute_async_script(
                "const done = arguments[0]; axe.run().then(r => done(r.violations.map(v => [v.id, v.nodes[0].html.slice(0, 200)])))"
            )
            assert found == [], f"{scheme}, {width} wide"
    browser.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": []})
    browser.set_window_size(1250, 900)


def test_the_picture_is_the_measured_geometry(browser: Any) -> None:
    """The first and last line of every staff, as the browser places them, against `measure`, within a twentieth of a millimetre."""
    checked = 0
    for number, name in enumerate(sorted(COPIES), 1):
        file = str(helpers.ROOT / "fixtures" / "demo" / name)
        done = subprocess.run(
            [str(helpers.program()), "measure", "--report", "json", file], capture_output=True, encoding="utf-8", check=True
        )
        for ordinal, page in enumerate(json.loads(done.stdout)["files"][0]["pages"], 1):
            box = browser.execute_script(
                "const s = document.getElementById(arguments[0]), b = s.querySelector('.staff').getBBox(), v = s.viewBox.baseVal;"
                "return [v.width, v.height, b.x, b.y, b.x + b.width, b.y + b.height]",
                f"c{number}-p{ordinal}",
            )
            lines = [(staff["top_mm"], staff["bottom_mm"]) for system in page["systems"] for staff in system["staves"]]
            left = min(system["left_mm"] for system in page["systems"])
            assert abs(box[0] - page["width_mm"]) < 0.05 and abs(box[1] - page["height_mm"]) < 0.05
            assert abs(box[2] - left) < 0.05
            # Ledger lines may stand above and below.
            assert box[3] <= min(top for top, _ in lines) + 0.05
            assert box[5] >= max(bottom for _, bottom in lines) - 0.05
            checked += 1
    assert checked > 15


def test_filters_and_links_work_by_keyboard(browser: Any) -> None:
    """A filter hides rows and their marks; a link leads to its mark and back; the repair is flipped in place."""
    from selenium.webdriver.common.by import By
    from selenium.webdriver.common.keys import Keys

    rows = browser.find_elements(By.CSS_SELECTOR, "li.finding")
    shown = lambda: sum(row.is_displayed() for row in rows)  # noqa: E731
    everything = shown()
    queries = browser.find_element(By.CSS_SELECTOR, "#filters input[value=note]")
    queries.send_keys(Keys.SPACE)
    assert shown() == everything - len(browser.find_elements(By.CSS_SELECTOR, "li.finding.note"))
    queries.send_keys(Keys.SPACE)
    assert shown() == everything
    link = browser.find_element(By.CSS_SELECTOR, "li.finding a[href*='-mark-']")
    target = link.get_attribute("href").split("#")[1]
    link.send_keys(Keys.ENTER)
    assert browser.execute_script("return location.hash") == f"#{target}"
    mark = browser.find_element(By.ID, target)
    back = browser.execute_script("return arguments[0].href.baseVal", mark)
    assert browser.find_elements(By.ID, back.split("#")[1])
    flip = browser.find_element(By.ID, "c1-could")
    then = browser.find_element(By.CSS_SELECTOR, "#c1 .then")
    assert not then.is_displayed()
    flip.send_keys(Keys.SPACE)
    assert then.is_displayed() and not browser.find_element(By.CSS_SELECTOR, "#c1 .now").is_displayed()
    # Side by side: both, the one beside the other.
    browser.find_element(By.ID, "c1-both").send_keys(Keys.SPACE)
    now = browser.find_element(By.CSS_SELECTOR, "#c1 .now")
    assert now.is_displayed() and then.is_displayed()
    assert now.rect["x"] + now.rect["width"] <= then.rect["x"] and now.rect["y"] == then.rect["y"]
    browser.find_element(By.ID, "c1-now").send_keys(Keys.SPACE)
    assert now.is_displayed() and not then.is_displayed()
    copies = browser.find_element(By.ID, "copies")
    copies.send_keys(Keys.ARROW_DOWN)
    sections = browser.find_elements(By.CSS_SELECTOR, "section.copy")
    assert [section.is_displayed() for section in sections] == [True] + [False] * (len(sections) - 1)
    copies.send_keys(Keys.ARROW_UP)
    assert all(section.is_displayed() for section in sections)


def test_it_prints_a_page_a_sheet(browser: Any) -> None:
    """Every page of the copies on a sheet of its own size."""
    from pypdf import PdfReader

    printed = browser.execute_cdp_cmd("Page.printToPDF", {"preferCSSPageSize": True, "printBackground": True})
    sizes = Counter(
        (round(float(page.mediabox.width) * POINT_MM), round(float(page.mediabox.height) * POINT_MM))
        for page in PdfReader(io.BytesIO(base64.b64decode(printed["data"]))).pages
    )
    wanted = Counter(
        (round(float(view[2])), round(float(view[3])))
        for view in (
            svg.split() for svg in browser.execute_script(
                "return [...document.querySelectorAll('.now .sheet')].map(s => s.getAttribute('viewBox'))"
            )
        )
    )
    # The list before the pages takes sheets of its own: A4, as some copies have.
    for size, number in wanted.items():
        assert sizes[size] >= number, f"{sizes} for {wanted}"
    assert set(sizes) <= set(wanted) | {(210, 297)}
    assert sizes[(420, 297)] == wanted[(420, 297)]


def test_it_reads_without_scripts(proof: Path) -> None:
    """All findings, pages and both states are in the file itself; only the filter waits for a script."""
    text = proof.read_text(encoding="utf-8")
    assert text.count("<script>") == 1
    assert "<fieldset id=\"filters\" hidden>" in text
    assert "class=\"flip\" type=\"radio\"" in text
    assert text.count("class=\"sheet\"") >= 19
