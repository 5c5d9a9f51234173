"""What a reader's browser does with the published demo: from nginx with the shipped headers, and from a folder."""

from __future__ import annotations

import html
import json
import re
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browser_tools import WATCH, barriers, nginx, too_wide
from department import new_base
from publishing import publish_site

DEMO = Path(__file__).parents[2]
HERNIA = "open-mesh-inguinal-hernia"


@pytest.fixture(scope="module")
def cards(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The published site of the smallest department, with a card for each of its four ways and two sides."""
    folder = tmp_path_factory.mktemp("cards")
    publish_site(new_base(folder), folder / "public", ("site", "card-ways"))
    return folder / "public"


@pytest.fixture(params=["demo", "cards"])
def shown(request: pytest.FixtureRequest) -> Path:
    """Every kind of page there is."""
    folder: Path = request.getfixturevalue(request.param)
    return folder


@pytest.fixture
def shown_address(shown: Path, tmp_path: Path) -> Iterator[str]:
    with nginx(shown, tmp_path) as address:
        yield address


@pytest.fixture(scope="module")
def served(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    with nginx(demo, tmp_path_factory.mktemp("nginx")) as address:
        yield address


@pytest.fixture
def tab(browser: Any) -> Iterator[Any]:
    """A page 1280 px wide that fails the test on any error of a script."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    errors: list[str] = []
    opened.on("pageerror", lambda error: errors.append(str(error)))
    yield opened
    context.close()
    assert errors == []


def pages(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.html"))


def get(address: str) -> tuple[int, dict[str, str]]:
    try:
        with urllib.request.urlopen(address) as answer:
            return answer.status, {key.lower(): value for key, value in answer.headers.items()}
    except urllib.error.HTTPError as error:
        with error:
            return error.code, {key.lower(): value for key, value in error.headers.items()}


def test_no_page_asks_another_host_or_breaks_the_policy(browser: Any, shown: Path, shown_address: str) -> None:
    context = browser.new_context()
    context.add_init_script(WATCH)
    tab = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.on("console", lambda message: said.append(f"{tab.url}: {message.text}"))
    for name in pages(shown):
        tab.goto(f"{shown_address}/{name}")
        for field in tab.query_selector_all("input[type=search]"):
            field.fill("nerve")
            tab.wait_for_selector(".found:not([hidden])")
        for button in tab.query_selector_all(".enlarge")[:1]:
            button.click()
            tab.keyboard.press("Escape")
        assert tab.evaluate("window.refused") == [], name
    context.close()
    ours = (shown_address, "data:image/svg+xml", "data:font/woff2")
    assert [address for address in asked if not address.startswith(ours)] == []
    assert said == []


def test_the_policy_does_stop_what_it_should(browser: Any, served: str) -> None:
    """The control: under the same headers an inline script and a strange picture are refused."""
    context = browser.new_context()
    context.add_init_script(WATCH)
    tab = context.new_page()
    tab.goto(f"{served}/index.html")
    tab.evaluate(
        "document.body.insertAdjacentHTML('beforeend', '<img src=\"https://elsewhere.example/x.png\" onerror=\"1\">')"
    )
    tab.wait_for_function("window.refused.length > 0")
    assert any("img-src" in line for line in tab.evaluate("window.refused"))
    context.close()


def test_the_shipped_headers_are_sent(demo: Path, served: str) -> None:
    status, sent = get(f"{served}/{HERNIA}/index.html")
    assert status == 200
    policy = sent["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert sent["x-content-type-options"] == "nosniff"
    assert sent["referrer-policy"] == "no-referrer"
    picture = next((demo / HERNIA / "figures").glob("*.svg")).name
    assert "sandbox" in get(f"{served}/{HERNIA}/figures/{picture}")[1]["content-security-policy"]
    assert get(f"{served}/build-report.json")[0] == 403
    assert get(f"{served}/no/such/page")[0] == 404


def test_a_page_that_is_not_there_looks_like_the_site(tab: Any, served: str) -> None:
    tab.goto(f"{served}/no/such/page")
    assert tab.inner_text("h1") == "There is no such page"
    assert tab.evaluate("getComputedStyle(document.body).fontFamily").startswith('"Prescrub Sans"')


@pytest.mark.slow
@pytest.mark.parametrize("width", [320, 768, 1280])
def test_no_barrier_that_axe_can_find(browser: Any, shown: Path, shown_address: str, width: int) -> None:
    # The policy would keep axe itself out; that the pages keep to it is another test.
    context = browser.new_context(viewport={"width": width, "height": 900}, bypass_csp=True)
    tab = context.new_page()
    found: list[str] = []
    for name in pages(shown):
        tab.goto(f"{shown_address}/{name}")
        for scheme in ("light", "dark"):
            tab.emulate_media(color_scheme=scheme)
            found += [f"{name}, {scheme}: {barrier}" for barrier in barriers(tab)]
    context.close()
    assert found == []


def test_nothing_scrolls_sideways(browser: Any, shown: Path) -> None:
    context = browser.new_context()
    tab = context.new_page()
    wide = []
    for widths in ((320, 390), (768,)):  # a page that comes to a small screen folds its reasons
        tab.set_viewport_size({"width": widths[0], "height": 844})
        for name in pages(shown):
            tab.goto((shown / name).as_uri())
            wide += [(name, width) for width in too_wide(tab, *widths)]
    context.close()
    assert wide == []


def test_everything_is_read_with_scripts_off(browser: Any, demo: Path) -> None:
    context = browser.new_context(java_script_enabled=False)
    tab = context.new_page()
    tab.goto((demo / HERNIA / "index.html").as_uri())
    for mark in ("before", "kit", "steps", "aftercare", "references", "checks"):
        assert tab.locator(f"#{mark}").is_visible()
    for steps in (tab.locator(".step").all(), tab.locator(".caution").all(), tab.locator(".branch").all()):
        assert steps
        assert all(step.is_visible() for step in steps)
    assert tab.locator("input, button").count() == 0
    tab.goto((demo / HERNIA / "self-test.html").as_uri())
    assert tab.locator("#answers").is_visible()
    assert tab.locator(".question button").count() == 0
    context.close()


@pytest.mark.parametrize("way", ["file", "nginx"])
def test_search_finds_a_step_and_goes_there_by_keyboard(tab: Any, demo: Path, served: str, way: str) -> None:
    start = (demo / "index.html").as_uri() if way == "file" else f"{served}/index.html"
    tab.goto(start)
    tab.keyboard.press("Tab")
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.type") == "search"
    tab.keyboard.type("ilioinguinal ner")
    tab.wait_for_selector(".found li")
    assert re.match(r"(The first )?\d+", tab.inner_text(".found p"))
    tab.keyboard.press("ArrowDown")
    while "#" not in tab.evaluate("document.activeElement.getAttribute('href')"):  # a page as a whole may come first
        tab.keyboard.press("ArrowDown")
    title = tab.evaluate("document.activeElement.querySelector('b').textContent")
    tab.keyboard.press("Enter")
    tab.wait_for_url("**/index.html?find=ilioinguinal+ner#*")
    shown = tab.evaluate("document.getElementById(location.hash.slice(1)).textContent")
    assert title.split()[-1] in shown
    marks = tab.eval_on_selector_all("main mark", "all => all.map(one => one.textContent.toLowerCase())")
    assert {"ilioinguinal", "nerve"} <= set(marks)
    assert all(re.fullmatch(r"ilioinguinal\w*|ner\w*", word) for word in marks)


def test_results_show_whole_words_with_what_was_asked_for_marked(tab: Any, demo: Path) -> None:
    tab.goto((demo / "index.html").as_uri())
    tab.fill("input[type=search]", "ilioinguinal ner")
    tab.wait_for_selector(".found li mark")
    pages = "".join(path.read_text(encoding="utf-8") for path in demo.rglob("index.html"))
    known = set(re.findall(r"\w+", html.unescape(pages)))
    for line in tab.locator(".found li").all_inner_texts():
        assert set(re.findall(r"\w+", line)) <= known, line
    assert {"nerve", "Nerve", "nerves"} >= set(
        tab.locator(".found mark", has_text=re.compile("^ner")).all_inner_texts()
    )


def test_what_was_searched_is_unfolded_on_a_small_screen(browser: Any, demo: Path) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    tab = context.new_page()
    step = "step-open-canal"
    tab.goto(f"{(demo / HERNIA / 'index.html').as_uri()}?find=slip+slips#{step}")
    folded = tab.locator(f"section[aria-labelledby={step}] .more mark")
    assert folded.count()
    assert all(mark.is_visible() for mark in folded.all())
    assert tab.locator("details[open]").count() < 3
    context.close()


def test_search_says_when_there_is_nothing(tab: Any, demo: Path) -> None:
    tab.goto((demo / "index.html").as_uri())
    tab.fill("input[type=search]", "qwertyuiop")
    tab.wait_for_function("document.querySelector('.found p').textContent === 'Nothing found'")
    tab.fill("input[type=search]", "(.*[")
    assert tab.locator(".found li").count() == 0


def test_a_way_is_chosen_and_every_step_keeps_its_number(tab: Any, demo: Path) -> None:
    tab.goto((demo / HERNIA / "index.html").as_uri())
    everything = tab.locator(".step").count()
    tab.check(".ways input[value=local]")
    tab.check(".ways [name=way-indirect-sac][value=taken]")
    tab.check(".ways input[value=divide]")
    tab.check(".ways [name=way-direct-sac][value=left-out]")
    numbers = tab.eval_on_selector_all(
        ".step",
        "steps => steps.filter(one => one.offsetParent).map(one => one.querySelector('[data-number]').textContent)",
    )
    assert tab.locator("#step-infiltrate-local [data-number]").inner_text() == "3A"
    assert len(numbers) < everything
    assert not tab.locator("#step-test-block").is_visible()
    assert not tab.locator("#step-infiltrate-wound").is_visible(), "what follows from the choice goes with it"
    assert "You do not see every step" in tab.inner_text(".said")
    assert len(numbers) == len(set(numbers))
    tab.locator(".stepbar .here").click()
    listed = tab.eval_on_selector_all(
        ".stepbar li [data-number]", "all => all.filter(one => one.offsetParent).map(one => one.textContent)"
    )
    assert listed == numbers
    tab.click("text=Show all ways")
    assert tab.eval_on_selector_all(".step", "steps => steps.filter(one => one.offsetParent).length") == everything
    assert tab.locator("#step-infiltrate-local [data-number]").inner_text() == "3A"


def test_a_self_test_is_walked_by_keyboard_and_kept_on_the_device(tab: Any, demo: Path) -> None:
    tab.goto((demo / HERNIA / "self-test.html").as_uri())
    first = tab.locator(".question").first
    wanted = first.get_attribute("data-right").split()
    first.locator("select").first.focus()
    for place in wanted:
        tab.keyboard.type(place)
        tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.tagName") == "BUTTON"
    tab.keyboard.press("Enter")
    assert first.locator(".verdict .word").inner_text() == "✓ Right."
    assert tab.inner_text(".marksheet [role=status]").startswith("1 of ")
    assert tab.context.cookies() == []
    assert tab.evaluate("Object.keys(localStorage)") == [f"self-test {HERNIA} {edition(demo)}"]
    tab.reload()
    assert tab.inner_text(".marksheet [role=status]").startswith("1 of ")
    tab.click("text=Forget my marks")
    tab.reload()
    assert tab.inner_text(".marksheet [role=status]").startswith("0 of ")


def test_every_answer_of_the_self_test_is_accepted_and_every_other_refused(tab: Any, demo: Path) -> None:
    tab.goto((demo / HERNIA / "self-test.html").as_uri())
    for question in tab.locator(".question").all():
        order = question.get_attribute("data-kind") == "order"
        wanted = question.get_attribute("data-right").split()
        fields = question.locator("select" if order else "input").all()
        wrong = next(place for place, value in enumerate(wanted) if value == "0") if not order else 0
        if order:
            for field, value in zip(fields, reversed(wanted), strict=True):
                field.select_option(value)
        else:
            fields[wrong].check()
        question.get_by_role("button").click()
        assert "Not so" in question.locator(".verdict").inner_text()
        for field, value in zip(fields, wanted, strict=True):
            if order:
                field.select_option(value)
            elif question.get_attribute("data-kind") == "many" or value == "1":
                field.set_checked(value == "1")
        question.get_by_role("button").click()
        assert "Right" in question.locator(".verdict").inner_text()


def test_a_card_of_one_way_and_side_is_taken_with_scripts_off(browser: Any, cards: Path, tmp_path: Path) -> None:
    context = browser.new_context(java_script_enabled=False, accept_downloads=True)
    tab = context.new_page()
    with nginx(cards, tmp_path) as address:
        tab.goto(f"{address}/example/index.html")
        tab.locator(".downloads a", has_text="Print my card").click()
        row = tab.locator(".choose-card tbody tr", has_text=re.compile("Spinal.*No")).first
        link = row.get_by_role("link", name="Right side. Anaesthesia: spinal; without drain")
        name = link.get_attribute("href")
        # Whether a click opens it or keeps it is the browser's setting; what the link leads to is fetched by itself.
        answer = context.request.get(f"{address}/example/{name}", timeout=0)
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.body() == (cards / "example" / name).read_bytes()
        with tab.expect_response(lambda one: one.url.endswith(f"/{name}")) as got:
            link.click()
        assert got.value.status == 200
    context.close()


def test_the_table_of_cards_is_narrowed_to_one_way(tab: Any, cards: Path) -> None:
    tab.goto((cards / "example/cards.html").as_uri())
    rows = tab.locator(".choose-card tbody tr:visible")
    assert rows.count() == 4
    tab.get_by_role("group", name="Drain", exact=True).get_by_label("No", exact=True).check()
    assert rows.count() == 2
    assert tab.inner_text(".ways .said") == "2 of 4 ways are left."
    tab.get_by_role("group", name="Anaesthesia").get_by_label("Spinal").check()
    assert tab.inner_text(".ways .said") == "One way is left."
    assert rows.locator("a").first.get_attribute("href").endswith("spinal-without-drain-left.pdf")


@pytest.mark.slow
def test_a_choice_within_an_option_narrows_the_table_of_cards(tab: Any, whole_demo: Path) -> None:
    tab.goto((whole_demo / HERNIA / "cards.html").as_uri())
    rows = tab.locator(".choose-card tbody tr:visible")
    assert rows.count() == 12
    for legend, word in (("Anaesthetic", "Local"), ("Indirect sac", "Yes"), ("Direct sac", "No")):
        tab.get_by_role("group", name=legend, exact=True).get_by_label(word, exact=True).check()
    assert rows.count() == 2
    assert tab.inner_text(".ways .said") == "2 of 12 ways are left."
    tab.get_by_role("group", name="Handling of the sac").get_by_label("Divide").check()
    assert tab.inner_text(".ways .said") == "One way is left."
    name = "local-with-indirect-sac-divide-without-direct-sac-left.pdf"
    assert rows.locator("a").first.get_attribute("href").endswith(name)


def test_a_figure_is_enlarged_and_the_focus_comes_back(tab: Any, demo: Path) -> None:
    tab.goto((demo / HERNIA / "index.html").as_uri())
    button = tab.locator(".enlarge").first
    button.focus()
    tab.keyboard.press("Enter")
    tab.locator("dialog .pointers text").first.wait_for()
    widths = [tab.locator(f"{where} img").first.bounding_box()["width"] for where in ("figure", "dialog")]
    assert widths[1] > 1.2 * widths[0]
    tab.keyboard.press("Escape")
    # A dialog tells of its end a moment after it has gone from sight.
    tab.locator("dialog").wait_for(state="detached")
    tab.wait_for_function("document.activeElement.className === 'enlarge'")


def test_the_bar_says_which_step_is_in_view_and_passes_over_no_caution(tab: Any, demo: Path) -> None:
    tab.goto((demo / HERNIA / "index.html").as_uri())
    here, onward = tab.locator(".stepbar .here"), tab.get_by_role("button", name="Next")
    assert here.inner_text().split() == ["Steps", "17"]
    assert tab.get_by_role("button", name="Back").is_disabled()
    anchors = tab.eval_on_selector_all(".step", "all => all.map(one => one.getAttribute('aria-labelledby'))")
    passed: set[str] = set()
    for anchor in anchors:
        onward.click()
        number = tab.locator(f"#{anchor} [data-number]").inner_text()
        assert here.inner_text().split()[0] == number
        assert tab.locator(".stepbar [aria-current=step]").get_attribute("href") == f"#{anchor}"
        passed |= set(tab.evaluate(_SEEN_BELOW))
        assert set(tab.evaluate(_BEFORE, anchor)) <= passed, f"a caution before step {number} was passed over"
    assert onward.is_disabled()
    tab.evaluate("document.getElementById('aftercare').scrollIntoView(true)")
    tab.wait_for_function("document.querySelector('.stepbar .here').textContent === 'Aftercare'")
    assert tab.locator(".stepbar [aria-current=step]").inner_text() == "Aftercare"
    assert onward.is_disabled()
    tab.get_by_role("button", name="Back").click()
    assert here.inner_text().split()[0] == number
    here.click()
    assert tab.locator(".stepbar [aria-current]").evaluate("one => one.offsetTop >= one.closest('ul').scrollTop")
    tab.keyboard.press("Escape")
    assert tab.evaluate("document.activeElement.className") == "here"


# The cautions that begin at or below the top of the window; and those of a page that stand before a step.
_SEEN_BELOW = """[...document.querySelectorAll('.caution')].filter(one => one.getBoundingClientRect().top > -2)
    .map(one => one.id)"""
_BEFORE = """anchor => [...document.querySelectorAll('.way .caution')]
    .filter(one => one.compareDocumentPosition(document.getElementById(anchor)) & Node.DOCUMENT_POSITION_FOLLOWING)
    .map(one => one.id)"""


def test_a_small_screen_folds_reasons_and_a_link_unfolds_them(browser: Any, demo: Path) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844})
    tab = context.new_page()
    tab.goto((demo / HERNIA / "index.html").as_uri())
    assert tab.locator("details[open]").count() == 0
    assert tab.evaluate("document.documentElement.scrollWidth") == 390
    for page in demo.glob("*/self-test.html"):
        tab.goto((page.parent / "index.html").as_uri())
        assert tab.evaluate("document.documentElement.scrollHeight") <= 25 * 844, page.parent.name
    tab.goto((demo / HERNIA / "index.html").as_uri())
    visible = "all => all.every(one => one.getClientRects().length)"
    for name in (".caution", ".actions", ".gate", ".dose", ".phone", ".recall"):
        assert tab.eval_on_selector_all(name, visible), name
    link = tab.locator(".told .source a").first
    link.click()
    assert tab.locator(link.get_attribute("href")).is_visible()
    tab.emulate_media(media="print")
    tab.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    assert tab.eval_on_selector_all(".why, .slip, .references", visible)
    context.close()


def test_the_single_file_needs_nothing_but_itself(browser: Any, demo: Path, tmp_path: Path) -> None:
    alone = tmp_path / "alone.html"
    alone.write_bytes((demo / HERNIA / f"{HERNIA}.html").read_bytes())
    assert alone.stat().st_size <= 2_000_000
    context = browser.new_context(offline=True)
    context.add_init_script(WATCH)
    tab = context.new_page()
    asked: list[str] = []
    tab.on("request", lambda request: asked.append(request.url))
    tab.goto(alone.as_uri())
    assert tab.evaluate("window.refused") == []
    assert [address for address in asked if not address.startswith("data:")] == [alone.as_uri()]
    assert tab.evaluate("document.fonts.check('700 16px \"Prescrub Sans\"')")
    assert tab.evaluate("[...document.images].every(one => one.complete && one.naturalWidth > 0)")
    assert tab.locator(".ways").is_visible()
    context.close()


def edition(demo: Path) -> str:
    report = json.loads((demo / "build-report.json").read_text())
    return next(one["edition"] for one in report["artefacts"] if one["procedure"] == HERNIA)
