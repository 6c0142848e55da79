"""The page in a real browser, without a network: every state, touch, keyboard, search, print, accessibility."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.conftest import program
from wiregen import pipeline
from wiregen.packet.page.data import page_data
from wiregen.packet.page.html import page_text

DEMO = Path(__file__).parent.parent / "wiregen" / "demo" / "observatory-bus.toml"
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True}
DESK = {"viewport": {"width": 1280, "height": 900}}
CONDITIONS = {"L": "live", "R": "return", "D": "dead", "F": "floating"}

#: Works the controls as a finger does, then reads what is shown: one call a state, because there are many.
CHOOSE_AND_READ = """([number, chosen]) => {
    chosen.forEach((value, control) => {
        const button = document.getElementById(`c-${control}-${value}`) ?? document.getElementById(`c-${control}-1`);
        const wanted = button.role === 'switch' ? String(value === 1) : 'true';
        if (button.getAttribute('aria-checked') !== wanted) button.click();
    });
    return [
        [...document.querySelectorAll(`#trailer-${number} [data-net]`)].map(
            e => [e.dataset.net, e.dataset.now, e.classList.contains('c-' + e.dataset.now)]),
        [...document.querySelectorAll(`#trailer-${number} tr[data-reading]`)].map(
            e => [e.dataset.reading, [...e.querySelectorAll('.n')].map(n => n.firstChild.data)]),
    ];
}"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, Any]]:
    """Return the page of the example rig as a file, and the data in it."""
    page = pipeline.live_page(pipeline.load(DEMO))
    path = tmp_path_factory.mktemp("page") / "rig.html"
    path.write_text(page_text(page), encoding="utf-8")
    return path, page_data(page)


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    """Return a headless browser."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
    with playwright.sync_playwright() as started:
        opened = started.chromium.launch(executable_path=program("chromium"), args=arguments)
        yield opened
        opened.close()


@pytest.fixture(params=["phone", "desk"])
def page(browser: Any, made: tuple[Path, dict[str, Any]], request: pytest.FixtureRequest) -> Iterator[Any]:
    """Open the page offline on a phone and on a desk, and fail on any error, warning or request but the file's own."""
    context = browser.new_context(
        offline=True, reduced_motion="reduce", **(PHONE if request.param == "phone" else DESK)
    )
    opened = context.new_page()
    told: list[str] = []
    opened.on("console", lambda message: told.append(message.text))
    opened.on("pageerror", lambda error: told.append(str(error)))
    opened.on("request", lambda asked: told.append(asked.url))
    opened.goto(made[0].as_uri())
    yield opened
    context.close()
    assert told == [made[0].as_uri()]


def press(page: Any, name: str, role: str = "switch") -> None:
    """Tap a control."""
    control = page.get_by_role(role, name=name, exact=True)
    if page.viewport_size["width"] < 600:
        control.tap()
    else:
        control.click()


def test_every_state_shown_is_the_one_computed(page: Any, made: tuple[Path, dict[str, Any]]) -> None:
    """In every setting of the controls of both trailers: wires, lamps and the table say what the data say."""
    controls = made[1]["controls"]
    for number, trailer in enumerate(made[1]["trailers"]):
        page.locator("#trailers button").nth(number).click()
        place = {name: row for row, name in enumerate(trailer["terminals"])}
        for count, chosen in enumerate(itertools.product(*(range(len(values)) for _, values in controls))):
            seen, rows = page.evaluate(CHOOSE_AND_READ, [number, list(chosen)])
            state = trailer["states"][trailer["rows"][count][0]]
            assert seen
            for net, now, has_class in seen:
                assert (now, has_class) == (CONDITIONS[state["c"][place[net]]], True)
            for reading, cells in rows:
                spans = [trailer["spans"][state["r"][int(at)]] for at in reading.split()]
                wanted = [None if span[0] is None else span[0] / 100 for span in spans]
                wanted.append(None if spans[0][3] is None else spans[0][3] / 1000)
                assert [None if cell in ("floats", "–") else float(cell) for cell in cells] == wanted


def test_every_value_lies_inside_the_range_beneath_it(page: Any) -> None:
    """The script writes the ends of a range rounded away from it."""
    press(page, "Service lights", "radio")
    press(page, "Brake")
    cells = page.eval_on_selector_all(
        "#trailer-0 td.n", "found => found.map(one => [one.firstChild.textContent, one.lastChild.textContent])"
    )
    pairs = [(float(value), [float(end) for end in ends.split("\u2026")]) for value, ends in cells if "\u2026" in ends]
    assert len(pairs) > 5
    assert [pair for pair in pairs if not pair[1][0] <= pair[0] <= pair[1][1]] == []


def test_controls_change_the_sentence_and_the_lamps(page: Any) -> None:
    """Braking with the service lights on is told in words, and its lamps are told as lit in the table."""
    assert page.inner_text("#now") == "all off: every lamp dark"
    press(page, "Service lights", "radio")
    press(page, "Brake")
    assert page.inner_text("#now").startswith("service lights, brake: -E1, -E2, -E3, -E4")
    shown = page.locator('tr[data-lamp="-E3"] .s').first
    assert shown.inner_text() == "lit"


def test_keyboard_alone_works_the_controls(page: Any) -> None:
    """Space presses a switch; arrows move between the positions of the lever."""
    page.get_by_role("switch", name="Brake", exact=True).focus()
    page.keyboard.press("Space")
    assert page.inner_text("#now").startswith("brake")
    page.get_by_role("radio", name="None", exact=True).focus()
    page.keyboard.press("ArrowRight")
    assert page.get_by_role("radio", name="Left", exact=True).get_attribute("aria-checked") == "true"
    assert page.inner_text("#now").startswith("brake, left turn")


def test_both_halves_of_the_flash_can_be_held(page: Any) -> None:
    """Hazard lights show a lit and a dark half."""
    press(page, "Hazard")
    press(page, "Lit", "radio")
    assert "lit half of the flash: -E3, -E4 on" in page.inner_text("#now")
    press(page, "Dark", "radio")
    assert "dark half of the flash: every lamp dark" in page.inner_text("#now")


def test_a_contact_is_found(page: Any) -> None:
    """The search leaves the rows that fit, and marks the part on the drawing."""
    page.fill("#search", "x1 j")
    left = page.locator("#trailer-0 tr[data-words]:not([hidden])")
    assert left.count() == 1
    assert "right stop and turn" in left.inner_text()
    assert page.locator("#trailer-0 .drawing .found").count() == 1


def test_tapping_a_wire_reads_it(page: Any) -> None:
    """A tap on a conductor tells its volts and amps."""
    press(page, "Service lights", "radio")
    page.evaluate("document.querySelector('#trailer-0 [data-ref=\"-W9\"] .wire').dispatchEvent("
                  "new MouseEvent('click', {bubbles: true}))")  # fmt: skip
    assert page.inner_text("#picked").startswith("-W9")
    assert "dead, 0.0" in page.inner_text("#picked")


def test_nothing_is_wider_than_the_screen(page: Any) -> None:
    """Neither phone nor desk scrolls sideways, whatever the state; buttons are large enough for a thumb."""
    for name in ("Hazard", "Brake"):
        press(page, name)
    width = page.viewport_size["width"]
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    sizes = page.evaluate("[...document.querySelectorAll('button')].filter(b => b.offsetParent).map("
                          "b => [b.offsetWidth, b.offsetHeight])")  # fmt: skip
    assert all(wide >= 44 and high >= 44 for wide, high in sizes)


def test_page_is_accessible(page: Any) -> None:
    """The accessibility checker axe finds nothing, with the lamps on and off."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe-playwright-python is not installed")
    script = Path(axe.__file__).with_name("axe.min.js").read_text("utf-8")
    press(page, "Service lights", "radio")
    page.evaluate(script)
    found = page.evaluate("axe.run()")
    assert [(one["id"], [node["html"][:90] for node in one["nodes"]]) for one in found["violations"]] == []


def test_without_scripts_the_first_state_is_there(browser: Any, made: tuple[Path, dict[str, Any]]) -> None:
    """Scripts off: the drawing and the table show everything off, and say so."""
    context = browser.new_context(java_script_enabled=False, offline=True, **PHONE)
    page = context.new_page()
    page.goto(made[0].as_uri())
    assert "Scripts are off" in page.inner_text("body")
    assert page.locator('tr[data-lamp="-E1"] .s').first.inner_text() == "dark"
    assert page.locator("#trailer-0 .net.c-live").count() > 0
    assert not page.get_by_role("switch", name="Brake", exact=True).is_visible()
    context.close()


def test_page_prints(browser: Any, made: tuple[Path, dict[str, Any]], tmp_path: Path) -> None:
    """Printed, it leaves out the controls and keeps drawing, tables and cautions."""
    context = browser.new_context(offline=True, **DESK)
    page = context.new_page()
    page.goto(made[0].as_uri())
    page.emulate_media(media="print")
    assert not page.locator(".controls").is_visible()
    assert page.locator("#trailer-0 .drawing svg").is_visible()
    paper = tmp_path / "page.pdf"
    page.pdf(path=str(paper), prefer_css_page_size=True)
    assert paper.stat().st_size > 10_000
    context.close()
