"""The self-test as SCORM 1.2, played in a real browser within a learning system whose run-time is scorm-again.

scorm-again (npm) is an open run-time that shares no code with ours; ``scorm12.min.js`` is its file for SCORM 1.2. Names
of the data model and of the manifest: ADL, SCORM 1.2 Run-Time Environment and Content Aggregation Model (2001).
"""

from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from department import BASE, read
from lxml import etree
from papers import library, renderer
from playwright.sync_api import Browser, Frame, Page, Route

from builder.compose.document import Document
from builder.compose.selftest import scorm
from builder.outputs import OUTPUTS
from builder.publish.output import Equipment

DEMO = Path(__file__).parents[2]
RUN_TIME = Path(__file__).with_name("scorm12.min.js").read_text(encoding="utf-8")
ROW = OUTPUTS["self-test-scorm"]
PROCEDURE = "carpal-tunnel-decompression"
SYSTEM = "https://learning.example"
KINDS = {
    ".html": "text/html",
    ".js": "text/javascript",
    ".css": "text/css",
    ".svg": "image/svg+xml",
    ".png": "image/png",
}
STARTED = """
<!doctype html><title>A learning system</title>
<script src="/run-time.js"></script>
<script>
  window.API = new Scorm12API({autocommit: false, logLevel: 5});
  var kept = KEPT;
  if (kept) { window.API.loadFromJSON(kept); }
</script>
<iframe src="/package/index.html" style="width: 100%; height: 90vh"></iframe>
"""


@pytest.fixture(scope="module")
def document() -> Document:
    return scorm.compose(library(DEMO), library(DEMO).by_id[PROCEDURE], renderer(DEMO))


@pytest.fixture(scope="module")
def package(document: Document, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("scorm") / "self-test-scorm.zip"
    ROW.format.write(Equipment(DEMO, {}), document, path)
    return path


class LearningSystem:
    """Shows the package to one learner, and keeps what the run-time was told from one visit to the next."""

    def __init__(self, browser: Browser, package: Path) -> None:
        self.browser = browser
        self.package = zipfile.ZipFile(package)
        self.kept: Any = None
        self.page: Page | None = None
        self.asked: list[str] = []

    def visit(self) -> Frame:
        self.page = self.browser.new_page()
        self.page.set_default_timeout(60_000)
        self.page.route("**/*", self._serve)
        self.page.goto(f"{SYSTEM}/")
        frame = next(one for one in self.page.frames if one.url.endswith("/package/index.html"))
        frame.wait_for_selector(".marksheet")
        return frame

    def _serve(self, route: Route) -> None:
        name = route.request.url.removeprefix(f"{SYSTEM}/")
        self.asked.append(route.request.url)
        if name == "":
            route.fulfill(body=STARTED.replace("KEPT", json.dumps(self.kept)), content_type="text/html")
        elif name == "run-time.js":
            route.fulfill(body=RUN_TIME, content_type="text/javascript")
        else:
            member = name.removeprefix("package/")
            there = member in self.package.namelist()
            kind = KINDS.get(Path(member).suffix, "text/plain")
            route.fulfill(
                status=200 if there else 404, body=self.package.read(member) if there else "", content_type=kind
            )

    def told(self, name: str) -> str:
        assert self.page is not None
        return str(self.page.evaluate("name => window.API.LMSGetValue(name)", name))

    def leave(self) -> dict[str, Any]:
        """Let the learner go; return what the run-time was told."""
        assert self.page is not None
        self.page.evaluate("document.querySelector('iframe').src = 'about:blank'")
        self.page.wait_for_function("window.API.isTerminated()")
        self.kept = self.page.evaluate("JSON.parse(JSON.stringify(window.API.cmi))")
        self.page.close()
        return dict(self.kept)


ANSWER = """
([number, rightly]) => {
  const field = document.getElementById('question-' + number);
  const right = field.dataset.right.split(' ');
  const inputs = [...field.querySelectorAll('select, input')];
  const order = field.dataset.kind === 'order';
  inputs.forEach((input, at) => {
    if (order) { input.value = rightly ? right[at] : right[right.length - 1 - at]; }
    else { input.checked = rightly ? right[at] === '1' : right[at] !== '1'; }
  });
  field.querySelector('button').click();
  return field.querySelector('.verdict').textContent;
}
"""


def answer(frame: Frame, number: int, *, rightly: bool = True) -> str:
    return str(frame.evaluate(ANSWER, [number, rightly]))


@pytest.fixture
def system(browser: Browser, package: Path) -> LearningSystem:
    return LearningSystem(browser, package)


def test_a_test_that_is_answered_rightly_is_passed(system: LearningSystem, document: Document) -> None:
    frame, total = system.visit(), document.explained["questions"]
    assert system.told("cmi.core.lesson_status") == "incomplete"
    for number in range(1, total):
        answer(frame, number)
    assert system.told("cmi.core.lesson_status") == "incomplete", "one question is still open"
    answer(frame, total)
    assert system.told("cmi.core.lesson_status") == "passed"
    assert system.told("cmi.core.score.raw") == "100"
    told = system.leave()
    assert told["core"]["exit"] == "suspend"
    assert told["core"]["session_time"].count(":") == 2
    assert {one for one in system.asked if not one.startswith(SYSTEM)} == set(), "nothing is fetched from elsewhere"


def test_a_wrong_answer_is_explained_and_told(system: LearningSystem) -> None:
    frame = system.visit()
    said = answer(frame, 1, rightly=False)
    assert "✗ Not so." in said
    assert "This is right:" in said
    assert system.told("cmi.interactions._count") == "1"
    told = system.leave()
    assert "question-1" in json.dumps(told["interactions"])
    assert "wrong" in json.dumps(told["interactions"])


def test_below_the_pass_mark_a_test_is_failed_and_can_be_bettered(system: LearningSystem, document: Document) -> None:
    frame, total = system.visit(), document.explained["questions"]
    enough = -(-total * scorm.PASS_MARK // 100)
    for number in range(1, total + 1):
        answer(frame, number, rightly=number < enough)
    assert system.told("cmi.core.lesson_status") == "failed", "one right answer too few"
    answer(frame, enough)
    assert system.told("cmi.core.lesson_status") == "passed"


def test_a_learner_goes_on_where_the_last_visit_ended(system: LearningSystem, document: Document) -> None:
    frame = system.visit()
    for number in (1, 2, 3):
        answer(frame, number)
    system.leave()
    again, total = system.visit(), document.explained["questions"]
    assert again.inner_text(".marksheet p:first-child") == f"3 of {total} right so far."
    assert "You had this right before." in again.inner_text("#question-2 .verdict")
    assert "Your learning system keeps" in again.inner_text(".marksheet")
    answer(again, 2, rightly=False)
    system.leave()
    assert system.visit().inner_text(".marksheet p:first-child") == f"2 of {total} right so far."


def test_without_a_learning_system_the_test_still_works(package: Path, browser: Browser, tmp_path: Path) -> None:
    with zipfile.ZipFile(package) as packed:
        packed.extractall(tmp_path)
    page = browser.new_page()
    page.goto((tmp_path / "index.html").as_uri())
    assert "✓ Right." in answer(page.main_frame, 1)
    assert "They are sent nowhere." in page.inner_text(".marksheet")
    page.close()


def test_what_is_kept_has_room_in_the_least_a_learning_system_must_keep(document: Document) -> None:
    """SCORM 1.2 promises 4096 signs of suspend data; no test of the demonstration has four times as many questions."""
    most = 4 * document.explained["questions"]
    assert 2 * sum(len(f'"{number}":1,') for number in range(1, most)) < 4096


def test_the_manifest_says_what_is_started(package: Path) -> None:
    with zipfile.ZipFile(package) as packed:
        manifest = etree.fromstring(packed.read("imsmanifest.xml"))
    assert manifest.xpath("string(//*[local-name()='schemaversion'])") == "1.2"
    [resource] = manifest.xpath("//*[local-name()='resource']")
    assert resource.get("{http://www.adlnet.org/xsd/adlcp_rootv1p2}scormtype") == "sco"
    [item] = manifest.xpath("//*[local-name()='item']")
    assert item.get("identifierref") == resource.get("identifier")
    assert manifest.xpath("string(//*[local-name()='organization']/*[local-name()='title'])").endswith("edition 1.0")


def changed(change: Callable[[dict[str, Any]], object]) -> Callable[[Document], Document]:
    def spoil(document: Document) -> Document:
        files = json.loads(document.text)
        change(files)
        return replace(document, text=json.dumps(files))

    return spoil


SPOILT = {
    "a file is not listed": changed(lambda files: files.update({"more.html": files["index.html"]})),
    "a file is lost": changed(lambda files: files.pop("scorm.js")),
    "an answer is lost": changed(
        lambda files: files.update({"index.html": files["index.html"].replace('class="proof"', "hidden")})
    ),
    "the caution is lost": changed(
        lambda files: files.update({"index.html": files["index.html"].replace("supervising clinician decide", "")})
    ),
    "no manifest": changed(lambda files: files.pop("imsmanifest.xml")),
}


@pytest.mark.parametrize("spoil", SPOILT)
def test_a_spoilt_package_is_noticed(spoil: str, document: Document, package: Path, tmp_path: Path) -> None:
    assert ROW.proof.read_back(document, package).problems == ()
    ROW.format.write(Equipment(DEMO, {}), SPOILT[spoil](document), tmp_path / "x.zip")
    assert ROW.proof.read_back(document, tmp_path / "x.zip").problems


def test_a_department_without_a_site_gets_no_links_that_lead_nowhere(tmp_path: Path) -> None:
    root = tmp_path / "department"
    shutil.copytree(BASE, root)
    path = root / "content/department.md"
    path.write_text(
        path.read_text(encoding="utf-8").replace("site: https://surgery.example.org/\n", ""), encoding="utf-8"
    )
    department, _ = read(root)
    made = scorm.compose(department, department.procedures[0], renderer())
    assert "href=" not in json.loads(made.text)["index.html"].partition("<main")[2]
