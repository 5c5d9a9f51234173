"""The plugin ``prescrub`` for mkdocs: the department's procedures within a mkdocs site that it has already.

They are checked, composed and proved as ``prescrub publish`` does it, site and papers, into a folder of its own; then
each page is handed to mkdocs with its finished HTML, and mkdocs puts its theme, navigation and search around it. When
mkdocs is done, every page is opened again: all words that were proved must be there, in order, visible. Nothing is
built where an error of the content stands in the way. ``mkdocs_engine.py`` goes this way for ``prescrub publish``.
"""

import json
import logging
import re
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from html import unescape
from pathlib import Path
from typing import Any, Literal

from lxml import html
from mkdocs.config import config_options
from mkdocs.config.base import Config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import PluginError
from mkdocs.plugins import BasePlugin
from mkdocs.structure import StructureItem
from mkdocs.structure.files import File, Files, InclusionLevel
from mkdocs.structure.nav import Navigation, Section
from mkdocs.structure.pages import Page
from mkdocs.structure.toc import AnchorLink, TableOfContents

from builder.check.blocking import with_blocking
from builder.commands.formats import terminal
from builder.commands.progress import Bar
from builder.compose.code_mark import FOLDER as CODES
from builder.compose.site import hosting
from builder.compose.site.scoped_look import SCOPE, scoped
from builder.findings.finding import Refused, Severity
from builder.findings.message_words import quoted
from builder.load.program_words import ENGLISH, gettext, speaking
from builder.load.templates import load_templates
from builder.outputs import OUTPUTS
from builder.pipeline import examined, publish
from builder.publish.build_report import NAME as REPORT
from builder.publish.build_report import Report, every_file
from builder.publish.output import SITE
from builder.publish.publish_error import PublishError
from builder.readback.site.page import shown_by

_LOG = logging.getLogger("mkdocs.plugins.prescrub")
_TITLE = re.compile(r"<title>(.*?)</title>", re.DOTALL)
_DESCRIPTION = re.compile(r'<meta name="description" content="(.*?)">', re.DOTALL)
# By these a reference manager knows the page, and what lists pages when it was changed.
_CITED = re.compile(r'<meta name="(?:citation_|DC\.|DCTERMS\.)[^>]*>')
_LANGUAGE = re.compile(r'<html lang="(.*?)"')
_MODIFIED = re.compile(r'<meta name="DCTERMS.modified" content="(.*?)">')
_MAIN = re.compile(r'<main id="main" tabindex="-1">(.*)</main>\s*(<footer.*</footer>)', re.DOTALL)
_SEARCH = re.compile(r'<div class="find[^>]*></div>')
# What only our own frame needs: mkdocs has its own, or its host has.
_OURS_ALONE = ("search/", f"{hosting.FOLDER}/", "404.html", "sitemap.xml", REPORT, "look/site.css")
# Selectors under which the themes that we know are dark, and what they take for our root em.
_DARK = {"material": '[data-md-color-scheme="slate"]'}
_UNIT = {"material": ".85rem"}
_WATCHED = ("content", "references", "site_templates", "ledger")


class Settings(Config):  # type: ignore[no-untyped-call]  # of mkdocs
    """What a mkdocs.yml may say of the plugin."""

    folder = config_options.Type(str, default=".")
    """The department's folder, seen from that of mkdocs.yml."""
    under = config_options.Type(str, default="procedures")
    """The folder of the site that the pages are put into."""
    outputs = config_options.ListOfItems(config_options.Choice(OUTPUTS.usual), default=[*OUTPUTS.usual])
    """What is made beside the pages; ``mkdocs serve`` makes the pages alone."""


@dataclass(frozen=True, slots=True)
class OurPage:
    """A page that was made and proved: its ``language``, ``title``, ``description``, and ``body``, which mkdocs puts
    its frame around; ``cited`` are the meta elements that say how it is cited, ``modified`` the day since which it is
    in force, "" where it is not."""

    language: str
    title: str
    description: str
    body: str
    cited: str
    modified: str


class Prescrub(BasePlugin[Settings]):  # type: ignore[no-untyped-call]  # of mkdocs
    """Adds the pages and papers of a department to the files of mkdocs, and proves them when it is done."""

    def __init__(self) -> None:
        self.given: Callable[[Path], Report] | None = None
        """Publishes to a folder what is to be framed; None where mkdocs was started by hand."""
        self.report: Report | None = None
        """What was made and proved, before the frame."""
        self._is_serving = False
        self._pages: dict[str, OurPage] = {}
        self._language = ENGLISH

    def on_startup(self, *, command: Literal["build", "gh-deploy", "serve"], dirty: bool) -> None:  # noqa: ARG002
        """Take note whether somebody is writing and waits."""
        self._is_serving = command == "serve"

    def on_serve(self, server: Any, /, *, config: MkDocsConfig, builder: Any) -> Any:  # noqa: ARG002
        """Watch what the department writes."""
        for name in _WATCHED:
            if (folder := self._root(config) / name).is_dir():
                server.watch(str(folder))
        return server

    def on_files(self, files: Files, /, *, config: MkDocsConfig) -> Files:
        """Check, compose and prove the department, and add what was made."""
        with tempfile.TemporaryDirectory() as name:
            made = Path(name) / "site"
            style = self._made(self._root(config), made, config)
            self._pages = {}
            for path in every_file(made):
                if not path.startswith(_OURS_ALONE):
                    self._add(files, path, (made / path).read_bytes(), config)
        look = f"{self.under}look"
        files.append(File.generated(config, f"{look}/site.css", content=style))
        config.extra_css.append(f"{look}/site.css")
        config.extra_javascript.append(f"{look}/site.js")
        if config.nav is not None and self.config.under not in json.dumps(config.nav):
            with speaking(self._language):
                config.nav.append({gettext("Procedures"): [*filter(self._is_listed, self._pages)]})
        return files

    def on_nav(self, nav: Navigation, /, *, config: MkDocsConfig, files: Files) -> Navigation:  # noqa: ARG002
        """Name each procedure once: mkdocs makes a section of its folder, with the page alone in it."""
        for section in nav.items:
            if isinstance(section, Section):
                section.children = [self._alone(child) or child for child in section.children]
                for child in section.children:
                    child.parent = section
        return nav

    def _alone(self, item: StructureItem) -> Page | None:
        """Return the page that is alone in the section ``item``, if it is one of ours."""
        only = item.children[0] if isinstance(item, Section) and len(item.children) == 1 else None
        return only if isinstance(only, Page) and only.file.src_uri in self._pages else None

    def on_page_content(self, _: str, /, *, page: Page, config: MkDocsConfig, files: Files) -> str | None:  # noqa: ARG002
        """Give the finished HTML, and the headings that mkdocs would else find in Markdown."""
        ours = self._pages.get(page.file.src_uri)
        if ours is None:
            return None
        page.toc = TableOfContents([*_headings(ours.body)])
        page.update_date = ours.modified  # mkdocs would say the day of the build
        return ours.body

    def on_post_page(self, output: str, /, *, page: Page, config: MkDocsConfig) -> str:  # noqa: ARG002
        """Say in the head of each page how it is cited, whatever the theme."""
        ours = self._pages.get(page.file.src_uri)
        return output.replace("</head>", f"{ours.cited}\n</head>", 1) if ours and ours.cited else output

    def on_post_build(self, *, config: MkDocsConfig) -> None:
        """Open every page again: all that was proved is there, in order, visible."""
        lost = [
            f"{source}: {problem}"
            for source, ours in self._pages.items()
            if (problem := _lost(ours, _finished(source, config)))
        ]
        if lost:
            for path in self._pages:  # what is not proved is not left for somebody to copy
                _finished(path, config).unlink(missing_ok=True)
            raise PluginError("\n".join(lost))
        _LOG.info("prescrub: %d pages opened again, every word of them is there", len(self._pages))

    @property
    def under(self) -> str:
        """The folder of the site that the pages are in, as "procedures/"; "" for the site itself."""
        return f"{self.config.under.strip('/')}/" if self.config.under.strip("/.") else ""

    def _is_listed(self, source: str) -> bool:
        """Tell whether the navigation lists the page: the department, each procedure and the sources."""
        path = source.removeprefix(self.under)
        return path.endswith("index.md") and path.count("/") < 2 and not path.startswith(f"{CODES}/")

    def _root(self, config: MkDocsConfig) -> Path:
        return Path(config.config_file_path or ".").parent / self.config.folder

    def _made(self, root: Path, to: Path, config: MkDocsConfig) -> str:
        """Publish to ``to`` and return the look of pages in the theme. Raises PluginError with what is wrong."""
        publish_to = self.given or self._publishing_of(root)
        try:
            self.report = publish_to(to)
        except PublishError as error:
            raise PluginError(f"Nothing was built. {error}") from error
        except Refused as refusal:
            raise PluginError(f"Nothing was built.\n{terminal.render([refusal.finding])}") from refusal
        theme = str(config.theme.name)
        style = load_templates(root)["site/look/site.css"]
        return scoped(style, _UNIT.get(theme, "1.0625rem"), _DARK.get(theme, ""))

    def _publishing_of(self, root: Path) -> Callable[[Path], Report]:
        """Return what publishes the department in ``root``, once it is checked. Raises PluginError."""
        library, findings = examined(root)
        errors = [found for found in with_blocking(library, findings) if found.severity is Severity.ERROR]
        if errors:
            raise PluginError(f"Nothing was built.\n{terminal.render(errors)}")
        only = (SITE,) if self._is_serving else (SITE, *self.config.outputs)

        def publish_to(folder: Path) -> Report:
            with Bar() as bar:
                return publish(library, folder, load_templates(library.root), bar.show, only=only)

        return publish_to

    def _add(self, files: Files, path: str, content: bytes, config: MkDocsConfig) -> None:
        source = f"{self.under}{path}"
        if not path.endswith(".html") or (page := _read(content.decode("utf-8"))) is None:
            files.append(File.generated(config, source, content=content))
            return
        source = f"{source.removesuffix('.html')}.md"
        self._pages[source] = page
        self._language = page.language
        head = f"---\ntitle: {json.dumps(page.title)}\ndescription: {json.dumps(page.description)}\n---\n"
        kind = InclusionLevel.INCLUDED if self._is_listed(source) else InclusionLevel.NOT_IN_NAV
        file = File.generated(config, source, content=head, inclusion=kind)
        # Links between our pages are written for files, whatever the rest of the site does.
        file.use_directory_urls = False
        files.append(file)


def _read(text: str) -> OurPage | None:
    """Return what a page of ours holds within its frame; None where it has none, as a single file."""
    title, description, main = _TITLE.search(text), _DESCRIPTION.search(text), _MAIN.search(text)
    language = _LANGUAGE.search(text)
    if title is None or main is None or language is None:
        return None
    told = unescape(description[1]) if description else ""
    body = f'<div id="{SCOPE}">\n{_SEARCH.sub("", main[1])}\n{main[2]}\n</div>'
    modified = _MODIFIED.search(text)
    return OurPage(
        language[1],
        unescape(title[1]).rpartition(" · ")[0] or unescape(title[1]),
        told,
        body,
        cited="\n".join(_CITED.findall(text)),
        modified=modified[1] if modified else "",
    )


def _headings(body: str) -> Iterator[AnchorLink]:
    """Yield the parts of a page, each with what stands in it, for the theme's list of contents."""
    part: AnchorLink | None = None
    for heading in html.fromstring(body).iter("h2", "h3"):
        title = " ".join(heading.text_content().split())
        if heading.get("id") is None:
            continue
        link = AnchorLink(title, heading.get("id"), int(heading.tag[1]))
        if heading.tag == "h2":
            if part is not None:
                yield part
            part = link
        elif part is not None:
            part.children.append(link)
    if part is not None:
        yield part


def _finished(source: str, config: MkDocsConfig) -> Path:
    return Path(config.site_dir, source).with_suffix(".html")


def _lost(ours: OurPage, path: Path) -> str:
    """Return what is wrong with the finished page; "" where every word that was proved is shown."""
    if not path.is_file():
        return "mkdocs did not write this page"
    for element in html.document_fromstring(path.read_bytes().decode("utf-8")).xpath(f"//*[@id='{SCOPE}']"):
        if any(_hides(outer) for outer in element.iterancestors()):
            return "the theme or another plugin hides this page"
        wanted, found = (_words(text) for text in (ours.body, html.tostring(element, encoding="unicode")))
        if wanted == found:
            return ""
        at = next((n for n, (one, other) in enumerate(zip(wanted, found, strict=False)) if one != other), len(found))
        gone = quoted(" ".join(wanted[at : at + 8]))
        return f"another plugin or the theme changed what is shown: {gone} is not there"
    return "the theme or another plugin left out what this page shows"


def _hides(element: Any) -> bool:
    style = (element.get("style") or "").replace(" ", "")
    folded = element.tag == "details" and element.get("open") is None
    return "hidden" in element.attrib or folded or element.tag == "template" or "display:none" in style


def _words(text: str) -> list[str]:
    return "".join(shown_by(text.encode("utf-8")).words).split()
