"""What compose hands to publish: a whole document, what it promises to show, and the templates that are filled for it.

A template only arranges: it sees a view whose texts and numbers are final. A department's own templates are filled in a
sandbox, which costs a quarter of the time of filling; the project's own are not, so a department without templates pays
nothing. What fails in one is named with file and line.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from traceback import walk_tb
from types import CodeType
from typing import Any, NamedTuple, Self

from jinja2 import Environment, FunctionLoader, StrictUndefined, TemplateError, TemplateNotFound, TemplateSyntaxError
from jinja2.bccache import Bucket, BytecodeCache
from jinja2.sandbox import ImmutableSandboxedEnvironment
from lxml import etree
from markupsafe import Markup

from builder.compose.site.own_look import OwnLook
from builder.facts.calls import dialled
from builder.facts.directions import is_right_to_left, runs
from builder.facts.notation import KNOWN
from builder.facts.times import HOURS
from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.load.program_words import gettext, message, message_in, messages, spoken
from builder.load.templates import Templates
from builder.model.pages import Procedure
from builder.place import Place

Measure = Callable[[str], tuple[Mapping[str, float], ...]]
"""Sets a page of HTML and returns, for each sheet, how far in mm every element with an id lies below its top edge."""
_FOLDER = "site_templates"
_SHORT = 5
_OWN_LINES = ("preview/", "slides/")  # what is typed in stays as it was; lines of slides are measured
# No line ends between a number and its unit. What is in a tag, a style or a script is passed over.
_PARTED = re.compile(
    r"<(style|script)\b.*?</\1>|<[^>]*>|(?<=[0-9]) (?=(?:"
    + "|".join(re.escape(unit) for unit in sorted({*KNOWN, *HOURS}) if len(unit) <= _SHORT)
    + r")(?![\w-]))",
    re.DOTALL,
)
_HINT = "Correct that file, or remove it, so that the template that comes with prescrub is used again."


class Must(NamedTuple):
    """Something the finished document must show once, visible and in this order: ``kind`` is caution, step, dose,
    count, reference and so on; ``text`` is the words to find."""

    kind: str
    id: str
    text: str


def promised(kind: str, id: str, *texts: object) -> Iterator[Must]:
    """Yield a must for each of ``texts`` that says something."""
    return (Must(kind, id, str(text)) for text in texts if text)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Something the document does not show for want of space, and why."""

    kind: str
    id: str
    why: str


@dataclass(frozen=True, slots=True)
class Placed:
    """A page of another document on a sheet of this one, both numbered from 1: where its top left corner lies in mm
    from that of the sheet, whether it stands on its head, and its size."""

    sheet: int
    page: int
    left_mm: float
    top_mm: float
    turned: bool = False
    width_mm: float = 105.0
    height_mm: float = 148.0


class SetAlike(NamedTuple):
    """HTML that stands on paper as a document does, but for whole lines: each with what the document says there. They
    are in the margins, or in what the HTML marks as ``data-said``."""

    text: str
    lines: Mapping[str, str]


class PointedAt(NamedTuple):
    """A numbered pointer over the figure described by ``alt``, in per cent of its width and height."""

    alt: str
    number: int
    across: float
    down: float


@dataclass(frozen=True, slots=True)
class Document:
    """One artefact before it is written.

    ``kind`` is page, handout, card and so on (the words of build-report.json); ``name`` is its path below the published
    folder; ``text`` is HTML or Markdown; ``procedure`` is the id of the one it is about, "" where it is about the whole
    department; ``resources`` are files of the department's folder it shows; ``musts`` what must be seen in it, in
    order, and ``pointed`` what must stand over its figures; ``explained`` goes into build-report.json as it is;
    ``code`` is that of the edition, with a word where it is not issued; ``alike`` spares laying out what was laid out
    for another document. A sheet for printing carries pages ``of`` another document, each ``placed`` in its cell;
    ``text`` then holds only the marks around them.
    """

    kind: str
    title: str
    name: str
    text: str
    procedure: str = ""
    edition: str = ""
    resources: tuple[str, ...] = ()
    musts: tuple[Must, ...] = ()
    pointed: tuple[PointedAt, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    explained: dict[str, Any] = field(default_factory=dict)
    code: str = ""
    alike: SetAlike | None = None
    of: "Document | None" = None
    placed: tuple[Placed, ...] = ()

    @classmethod
    def about(cls, procedure: Procedure, kind: str, file: str, text: str, **more: Any) -> Self:
        """Return a document about ``procedure``, called ``file`` in its folder; its title, unless ``more`` names one,
        is the title of the procedure."""
        told = {"title": procedure.title, "procedure": procedure.id, "edition": procedure.edition, **more}
        return cls(kind=kind, name=f"{procedure.id}/{file}", text=text, **told)

    @property
    def keywords(self) -> str:
        """What a file says of itself beside its title: edition and code."""
        told = ((gettext("edition"), self.edition), (gettext("code"), self.code))
        return ", ".join(f"{label} {value}" for label, value in told if value)


def _nothing_measures(html: str) -> tuple[Mapping[str, float], ...]:
    raise RuntimeError(f"this output fits text to paper, so its Renderer needs a measure ({len(html)} characters)")


class Renderer:
    """The templates of ``site_templates/`` by name; escaping is on, and a missing name is an error.

    A department may bring templates of its own; then none gets a way to anything but what it is shown (which costs a
    quarter of the time of filling them). ``measure`` is handed in by whoever sets type, because composing reads no
    fonts itself.
    """

    def __init__(self, templates: Mapping[str, str], measure: Measure = _nothing_measures) -> None:
        self.templates = templates
        self.measure = measure
        self.look = OwnLook(templates)
        are_ours = isinstance(templates, Templates) and templates.are_ours
        self._environment = _environment(templates, Environment if are_ours else ImmutableSandboxedEnvironment)
        self._shipped = _environment(self.look.shipped, Environment) if self.look.has_markup else None

    def render(self, name: str, **values: Any) -> str:
        """Return the template ``name`` filled with ``values``.

        Raises Refused, with the place, where that cannot be, or where a department's own shows other words than ours.
        """
        html = self._filled(name, values)
        if name.endswith(".html.j2") and not name.startswith(_OWN_LINES):
            html = _PARTED.sub(lambda found: found[0] if found[0] != " " else "\u00a0", html)
        if told := self.look.changed_words(name, self.shipped(name, html, values), html):
            raise Refused(told)
        return html

    def shipped(self, name: str, html: str, values: Mapping[str, Any]) -> str:
        """Return what the template that came with the program makes of ``values``; ``html`` where it is the same."""
        if self._shipped is None or name not in self.look.shipped:
            return html
        return self._shipped.get_template(name).render(**values)

    def _filled(self, name: str, values: Mapping[str, Any]) -> str:
        try:
            return self._environment.get_template(name).render(**values)
        except Exception as error:
            # The lines that led here, without those of Jinja: where the last is no template's, none of them failed.
            traceback = walk_tb(error.__traceback__)
            lines = [
                Place(frame.f_code.co_filename, line)
                for frame, line in traceback
                if frame.f_globals.get("__name__", "").partition(".")[0] != "jinja2"
            ]
            if isinstance(error, TemplateError) or _is_template(lines[-1]):
                raise Refused(_template_finding(name, error, lines)) from error
            raise


class _CompiledTemplates(BytecodeCache):
    """What templates were compiled to in this process: filling one takes less time than compiling it."""

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], CodeType | None] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        bucket.code = self._kept.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        self._kept[bucket.key, bucket.checksum] = bucket.code


_COMPILED = {Environment: _CompiledTemplates(), ImmutableSandboxedEnvironment: _CompiledTemplates()}


def _environment(templates: Mapping[str, str], kind: type[Environment]) -> Environment:
    def source(name: str) -> tuple[str, str, Callable[[], bool]] | None:
        text = templates.get(name)
        return None if text is None else (text, f"{_FOLDER}/{name}", lambda: True)

    environment = kind(
        loader=FunctionLoader(source),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
        bytecode_cache=_COMPILED[kind],
    )
    # Places are filled by the extension, which escapes what goes into them.
    environment.install_gettext_callables(message, messages, newstyle=True, pgettext=message_in)  # type: ignore[attr-defined]
    # What the composer cleaned: every ``..._html`` of a view, made by compose.view.rendered_prose alone.
    environment.filters["clean"] = Markup
    environment.filters["dialled"] = dialled
    environment.filters["apart"] = _apart
    return environment


def _apart(text: str) -> str:
    """Return ``text`` in the language that is spoken: where that is read from right to left, with markup round each
    dose, range and number, which would be turned round in it."""
    if not is_right_to_left(spoken()):
        return text
    plain = text.unescape() if isinstance(text, Markup) else text
    parts = (Markup('<bdi dir="ltr">{}</bdi>').format(part) if forwards else part for part, forwards in runs(plain))
    return Markup("").join(parts)


def _is_template(place: Place) -> bool:
    return place.file.startswith(f"{_FOLDER}/")


def _template_finding(name: str, error: Exception, lines: list[Place]) -> Finding:
    """Return what to say of a template that cannot be filled: of the innermost one that was being filled."""
    if isinstance(error, TemplateSyntaxError):
        at = Place(error.filename or f"{_FOLDER}/{name}", error.lineno)
    else:
        at = next(filter(_is_template, reversed(lines)), Place(f"{_FOLDER}/{name}"))
    why = f"there is no template {quoted(error.name)}" if isinstance(error, TemplateNotFound) else str(error)
    return finding("template-unusable", at, f"this template cannot be used: {why}", _HINT)


def xml_of(root: Any) -> str:
    """Return ``root`` as a file of XML."""
    etree.indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{etree.tostring(root, encoding="unicode")}\n'
