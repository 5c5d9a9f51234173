"""What a department's own templates and style sheets may change: never the words, and not unseen how they look.

The same view is filled into the template that ships with the program. What the text says, pictures and drawings of both
must be the same, one after the other; a template may have other words of its own, such as a heading. A style sheet is
read rule by rule: one that is not ours, or ours and gone, and that fits an element of a page may hide, move or recolour
it, and no proof on the file can tell. Whatever is changed, a draft says so in view and an approved edition is refused.
Paper is proved by its ink as well (``readback/paper/``), so there the size and colour of plain text are free.
"""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from contextlib import suppress
from difflib import SequenceMatcher
from functools import cached_property, lru_cache
from typing import Any

import cssselect2  # type: ignore[import-untyped]  # publishes no types
import tinycss2  # type: ignore[import-untyped]  # nor does this
from jinja2 import Environment, TemplateSyntaxError, meta
from lxml import etree

from builder.findings.finding import Finding, Refused
from builder.findings.message_words import quoted
from builder.findings.register import finding
from builder.grouping import word_set
from builder.load.program_words import gettext, message, noted
from builder.load.templates import FOLDER, Templates
from builder.model.pages import Procedure, Status
from builder.place import Place

LOOK_CHANGED = noted("The look of this page was changed by the department and is not proved")
PAPER_LOOK = noted("Look not proved")
SCREEN = "site/look/site.css"
_SCRIPT = "site/look/site.js"
# The department's own to say: no text of a procedure stands there.
_FREE = ("site/front.", "site/404.", "site/sitemap.", "site/frame.", "hosting/", "preview/", "slides/slide_measure.")
_UNREAD = frozenset({"script", "style", "head", "template"})
# What an element does to its words, so that they are not the same without it.
_TURNING = frozenset({"s", "del", "strike", "ins", "sup", "sub", "bdo", "rt", "select", "option", "progress"})
_ONLY_LOOKS = ("class", "id", "aria-", "data-c", "data-b", "data-line", "data-n", "data-s", "data-t", "style")
_SAYING = word_set("data-label data-or dir start reversed value checked type title placeholder data-right data-kind")
_SHAPES = "{http://www.w3.org/2000/svg}"
_MOVABLE = ".//table[@class='facts']"  # what a page says of its edition may stand anywhere on it
_ACTIVE = ("style", "script", "link", "base", "iframe", "object", "embed", "dialog", "form", "meta")
_PSEUDO = re.compile(r"::?[-\w]+(\((?:[^()]|\([^()]*\))*\))?")
_COMBINED = re.compile(r" ?([>+~]) ?")
_LEFT_EMPTY = re.compile(r"(^|[ >+~])(?=$|[ >+~])")
_MARKS = {"standing", "mark"}
_HIDING = re.compile(
    r"(?<![-\w])(display|visibility|opacity|position|transform|clip|mask|filter|(min-|max-)?(width|height)|overflow|"
    r"text-indent|zoom|scale|rotate|translate|inset|left|top|right|bottom|margin|content-visibility|font|color|all)"
    r"[-\w]*\s*:|@import|\{"
)
# On paper the ink of plain text is proved: its least size, its contrast, that nothing cuts it.
_PLAIN_SUBJECT = re.compile(r"(?:html|body|h1|h2|@page)", re.IGNORECASE)
_PLAIN_LOOK = re.compile(
    r"(?:(?:font-size|line-height|letter-spacing|color|background|background-color|size|margin|padding|"
    r"(?:margin|padding)-\w+|border[-\w]*)\s*:(?:[^;:(){}\"'-]|-(?=[a-z]))*(?:;|$)\s*)*"
)
_SHOWING = re.compile(  # type that is no smaller, lines that are no closer, margins of a sheet
    r"(?:(?:font-size\s*:\s*(?:[89]\d|1\d\d)(?:\.\d+)?%|line-height\s*:\s*[12](?:\.\d+)?|size\s*:\s*A4|"
    r"font-family\s*:\s*(?:serif|sans-serif|system-ui)|font\s*:\s*[12](?:\.\d+)?rem/[12](?:\.\d+)? [-\w\s,\"']*|"
    r"(?:margin|padding)\s*:(?:\s*[0-3]?\d(?:\.\d+)?mm){1,4})\s*(?:;|$)\s*)*"
)
# What a rule that fits no part of a procedure, as one of header and footer, may say: it keeps its element in the flow,
# and paints nothing beyond its box. So no lid lies over the text; what is not in this list may be one.
_LENGTH = r"(?:auto|0|1?\d?\d%|\d{1,3}(?:\.\d+)?px|\d?(?:\.?\d+)(?:rem|em)|\d?\d(?:\.\d+)?mm)"
_IN_ITS_BOX = re.compile(
    r"\s*(?:(?:color|background[-\w]*|border[-\w]*|font-(?:family|weight|style|variant)|text-(?:align|decoration|transform)"
    r"[-\w]*|white-space|vertical-align|list-style[-\w]*|display|flex[-\w]*|justify-[-\w]+|align-[-\w]+|opacity|visibility|"
    r"cursor|fill|stroke|object-fit|hyphens)\s*:[^;{}]*|line-height\s*:\s*[1-3](?:\.\d+)?|"
    rf"(?:font-size|(?:row-|column-)?gap|(?:margin|padding|(?:min-|max-)?(?:width|height))[-\w]*)\s*:(?:\s*{_LENGTH})+)?\s*"
)
# Templates whose page or paper says in view that its look was changed; in all others no word may differ.
_SAYS_SO = ("site/page.", "site/single.", "selftest/", "card/", "handout/", "sheets/", "slides/", "map/")
_JINJA = re.compile(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}|<[^>]*>", re.DOTALL)
_MESSAGE = re.compile(r"""\b_\((["'])(.*?)\1""")
_PLACE = re.compile(r"%\(\w+\)s")
_PLAIN_GROUPS = frozenset({"media", "supports", "layer", "container"})
_WORDS_SHOWN = 6


def _as_text(match: re.Match[str]) -> str:
    """Return a message of the catalogue as text of the template that shows it, parted where a value stands."""
    return f"}}}} {_PLACE.sub(chr(10), message(match[2]))} {{{{ ("


def _shown(html: str) -> list[str]:
    """Return, in order, each run of words of ``html`` and a sign for each picture, shape and turn of its words."""
    if not html.lstrip().startswith("<"):
        return html.split()
    signs: list[str] = []
    root = etree.fromstring(f"<div>{html}</div>" if "<body" not in html else html, etree.HTMLParser(encoding="utf-8"))
    for table in root.xpath(_MOVABLE):
        root.append(table)
    for moment, node in etree.iterwalk(root, events=("start", "end")):
        if not isinstance(node.tag, str):
            continue
        tag = node.tag.removeprefix(_SHAPES)
        if moment == "start":
            signs.extend(_signs_of(tag, node))
            signs.append("" if tag in _UNREAD else " ".join((node.text or "").split()))
            if tag in _UNREAD:
                for kid in list(node):
                    node.remove(kid)
        else:
            signs.extend([f"</{tag}>"] if tag in _TURNING else ())
            signs.append(" ".join((node.tail or "").split()))
    return [sign for sign in signs if sign]


def _signs_of(tag: str, node: Any) -> Iterator[str]:
    if tag in _TURNING:
        yield f"<{tag}>"
    held = {key: value for key, value in node.items() if not key.startswith(_ONLY_LOOKS)}
    if tag == "img" or any(parent.tag == "svg" for parent in (node, *node.iterancestors())):
        yield f"<{tag} {' '.join(f'{key}={value}' for key, value in sorted(held.items()))}>"
    for key in _SAYING & held.keys():
        if tag not in ("img", "svg"):
            yield f"<{tag} {key}={held[key]}>"
    if tag == "a" and held.get("href", "").startswith(("tel:", "figures/")):
        yield f"<a {held['href']}>"


def _changes(wanted: Sequence[str], shown: Sequence[str]) -> Iterator[tuple[list[str], list[str]]]:
    """Yield the words of ``wanted`` that are gone and those of ``shown`` in their place, one of them perhaps none."""
    for tag, a, b, c, d in SequenceMatcher(None, wanted, shown, autojunk=False).get_opcodes():
        if tag == "equal":
            continue
        lost, new = ([word for run in runs for word in _words_of(run)] for runs in (wanted[a:b], shown[c:d]))
        inner = SequenceMatcher(None, lost, new, autojunk=False).get_opcodes()
        yield from ((lost[e:f], new[g:h]) for kind, e, f, g, h in inner if kind != "equal")


def _words_of(run: str) -> list[str]:
    return [run] if run.startswith("<") else run.split()


StyleRule = tuple[str, str, str]
"""Group, selector and declarations of a rule. A selector "" is for whole pages, "@page" for whole sheets."""
_READER = Environment(autoescape=True)
_READ = (".j2", ".css", ".js", ".html")


class OwnLook:
    """What a department changed of the look of its pages; made of its ``templates``."""

    def __init__(self, templates: Mapping[str, str]) -> None:
        self._templates = templates
        self._own: frozenset[str] = templates.own_files if isinstance(templates, Templates) else frozenset()
        self.shipped: Mapping[str, str] = templates.shipped if isinstance(templates, Templates) else {}
        """The texts of the templates that came with the program."""
        self._includes: dict[str, frozenset[str]] = {}

    @property
    def has_markup(self) -> bool:
        """Whether any of the templates in the place of ours decides words."""
        return any(name.endswith(".j2") for name in self._own)

    def changed_words(self, name: str, shipped: str, own: str) -> Finding | None:
        """Return what to say where the template ``name`` shows in ``own`` what ours does not in ``shipped``: other
        words of the text, another picture or turn, or, where nothing says in view that the look was changed, any."""
        if name.startswith(_FREE) or shipped == own:
            return None
        wanted, shown = _shown(shipped), _shown(own)
        if "".join("".join(wanted).split()) == "".join("".join(shown).split()):
            return None
        changes = list(_changes(wanted, shown))
        # What is said elsewhere already, or was taken away elsewhere: a text told twice, two labels exchanged.
        told = {*self._told(wanted), *(" ".join(lost) for lost, _ in changes if lost)}
        says_so = name.startswith(_SAYS_SO)
        wrong = next((words for words in changes if not (says_so and self._is_own_to_say(*words, told))), None)
        if wrong is None:
            return None
        should, there = (" ".join(words[:_WORDS_SHOWN]) for words in wrong)
        what = f"{quoted(there)} appears where the text has {quoted(should) if should else 'nothing'}"
        if not there:
            what = f"{quoted(should)} is missing"
        own_files = [file for file in sorted(self._own) if file.endswith(".j2") and not file.startswith(_FREE)]
        file = name if name in self._own else next(iter(own_files), name)
        return finding(
            "template-changes-words",
            Place(f"{FOLDER}/{file}"),
            f"{what}: a template may not change what is said",
            "Remove what that file adds, moves or leaves out; the header and footer of the site are free.",
        )

    def _told(self, runs: Iterable[str]) -> Iterator[str]:
        """Yield those of ``runs`` that are no words of a template itself."""
        return (run for run in runs if f" {run} " not in self._template_words)

    def _is_own_to_say(self, lost: Sequence[str], new: Sequence[str], told: Set[str]) -> bool:
        """Tell whether only words of a template itself, such as a heading, are ``lost``, and the ``new`` are neither a
        sign nor ``told`` elsewhere, and hold no sentence that is."""
        has_signs, said = any(word.startswith("<") for word in (*lost, *new)), " ".join(new)
        is_told = said in told or any(run.endswith(".") and run in said for run in told)
        return not has_signs and not is_told and not any(self._told([" ".join(lost)]))

    @cached_property
    def _template_words(self) -> str:
        own = (_MESSAGE.sub(_as_text, text) for name, text in self.shipped.items() if name.endswith(".j2"))
        texts = (_JINJA.sub(" \n ", text) for text in own)
        return "  " + " \n ".join(" ".join(line.split()) for text in texts for line in text.split("\n"))

    def paper_mark(self, procedure: Procedure, *names: str) -> str:
        """Return what a paper of ``procedure``, made with the templates ``names``, says of its look, "" where it is
        ours. Raises Refused where it is not ours and ``procedure`` is approved."""
        if not (self._own and any(map(self._changes_paper, names))):
            return ""
        if procedure.status is Status.APPROVED:
            why = "is approved, and the department's own templates change how its paper looks"
            raise Refused(refusal(procedure, why))
        return gettext(PAPER_LOOK)

    def _changes_paper(self, name: str) -> bool:
        """Tell whether ``name``, or a template that it includes, is not ours or may look otherwise than is proved."""
        used = self._used_by(name) & self._own
        sheets = {one for one in used if one.endswith(".css")}
        if used != sheets or any(not one.endswith(_READ) and not one.startswith("site/") for one in self._own):
            return True
        foreign = (rule for sheet in sheets for rule in self._foreign(sheet))
        return any(
            not (_PLAIN_SUBJECT.fullmatch(selector) and _PLAIN_LOOK.fullmatch(told)) for selector, told in foreign
        )

    def _used_by(self, name: str) -> frozenset[str]:
        """Return ``name`` and all that it includes, as the department's and our own templates say."""
        if name in self._includes:
            return self._includes[name]
        used, todo = set[str](), [name]
        while todo:
            here = todo.pop()
            used.add(here)
            for texts in (self._templates, self.shipped):
                todo.extend(each for each in _included(texts.get(here, "")) if each not in used)
        return self._includes.setdefault(name, frozenset(used))

    def touches(self, html: str, shipped: str, sheet: str) -> bool:
        """Tell whether anything that is not ours may decide how the page ``html`` looks, which the ``shipped``
        templates make otherwise; ``sheet`` is the style sheet of the page."""
        if not self._own:
            return False
        if any(name.startswith("fonts/") for name in self._own) or " ".join(html.split()) != " ".join(shipped.split()):
            return True
        if sheet == SCREEN and (_SCRIPT in self._own or self._frame_acts()):
            return True
        elements = _elements(html)
        return any(
            _fits(selector, elements) or not all(map(_IN_ITS_BOX.fullmatch, told.split(";")))
            for selector, told in self._foreign(sheet)
        )

    def hides_marks(self, html: str, sheet: str) -> bool:
        """Tell whether the style sheet may hide what a page says of itself, such as that it is a draft."""
        marks = [one for one in _elements(html) if _MARKS & set(one.classes)]
        above = [ancestor for mark in marks for ancestor in (mark, *mark.ancestors)]
        return any(
            _fits(selector, above)
            for selector, told in self._foreign(sheet)
            if _HIDING.search(told) and not (_PLAIN_SUBJECT.fullmatch(selector) and _SHOWING.fullmatch(told))
        )

    def _foreign(self, sheet: str) -> tuple[tuple[str, str], ...]:
        return _foreign(self.shipped.get(sheet, ""), self._templates[sheet]) if sheet in self._own else ()

    def _frame_acts(self) -> bool:
        """Tell whether frame, header or footer hold more than words, links and pictures that ours do not hold."""
        names = [name for name in ("frame", "header", "footer") if f"site/{name}.html.j2" in self._own]
        return any(
            _acts(self._templates[f"site/{name}.html.j2"]) != _acts(self.shipped[f"site/{name}.html.j2"])
            for name in names
        )


def _included(template: str) -> Iterator[str]:
    """Yield the names that a ``template`` includes or imports; what cannot be read is told when it is filled."""
    with suppress(TemplateSyntaxError):
        yield from filter(None, meta.find_referenced_templates(_READER.parse(template)))


def _acts(template: str) -> list[str]:
    """Return what in a ``template`` of the frame can do something to other elements: its active and open tags."""
    plain = " ".join(template.lower().split())
    active = re.findall(rf"<(?:{'|'.join(_ACTIVE)}|html|body|main)\b[^>]*>|\bon\w+ *=|\bstyle *=|<!--", plain)
    return [*active, f"{plain.count('<') - plain.count('</')} {plain.count('</')}"] if "<main" in plain else active


def _foreign(shipped: str, own: str) -> tuple[tuple[str, str], ...]:
    """Return selector and declarations of each rule that only one of two style sheets has, or has elsewhere.

    A selector "" is for whole pages.
    """
    ours, theirs = list(_rules(shipped)), list(_rules(own))
    changed = SequenceMatcher(None, ours, theirs, autojunk=False).get_opcodes()
    parts = [(ours[a:b], theirs[c:d]) for tag, a, b, c, d in changed if tag != "equal"]
    rules = (rule for gone, new in parts for rule in _apart(gone, new))
    return tuple(dict.fromkeys((selector, told) for _, selector, told in rules))


def _apart(gone: Sequence[StyleRule], new: Sequence[StyleRule]) -> Iterator[StyleRule]:
    """Yield what is told in one of two runs of rules alone: of rules that stand in for each other, what they change."""
    if [rule[:2] for rule in gone] != [rule[:2] for rule in new]:
        yield from (*gone, *new)
        return
    for (group, selector, ours), (_, _, theirs) in zip(gone, new, strict=True):
        told = [[part.strip() for part in one.split(";")] for one in (ours, theirs)]
        apart = [part for one, other in (told, told[::-1]) for part in one if part not in other]
        # In another order the same declarations may come to something else.
        yield group, selector, "; ".join(apart) or theirs


@lru_cache(maxsize=8)
def _rules(style: str) -> Sequence[StyleRule]:
    """Return group, selector and declarations of each rule of ``style``."""
    return tuple(_rules_in(tinycss2.parse_stylesheet(style, skip_comments=True, skip_whitespace=True), ""))


def _rules_in(rules: list[Any], group: str) -> Iterator[StyleRule]:
    for rule in rules:
        if rule.type == "qualified-rule":
            inside = tinycss2.serialize(rule.content)
            # A rule may contain others; which elements those fit is not worked out.
            yield group, "" if "{" in inside else tinycss2.serialize(rule.prelude).strip(), " ".join(inside.split())
        elif rule.type == "at-rule" and rule.lower_at_keyword in _PLAIN_GROUPS and rule.content is not None:
            inner = tinycss2.parse_rule_list(rule.content, skip_comments=True, skip_whitespace=True)
            yield from _rules_in(inner, f"{group} @{rule.at_keyword} {tinycss2.serialize(rule.prelude).strip()}")
        else:
            inside = tinycss2.serialize(rule.content or [])
            is_page = rule.type == "at-rule" and rule.lower_at_keyword == "page" and "@" not in inside
            is_page = is_page and not tinycss2.serialize(rule.prelude).strip()
            told = inside if is_page else rule.serialize()
            yield group, "@page" if is_page else "", " ".join(told.split())


@lru_cache(maxsize=2)
def _elements(html: str) -> list[Any]:
    """Return the elements of the page ``html`` and those around its text, without header and footer of the site."""
    page = html if "<body" in html else f'<body><main id="main" tabindex="-1">{html}</main></body>'
    root = etree.fromstring(page, etree.HTMLParser(encoding="utf-8"))
    for part in root.xpath("//header[@class='top'] | //footer[@class='bottom']"):
        part.getparent().remove(part)
    return list(cssselect2.ElementWrapper.from_html_root(root).iter_subtree())


def _fits(selector: str, elements: list[Any]) -> bool:
    # Without its states and lids a selector fits more, never less. What attributes and escapes fit is not worked out.
    if not selector or any(sign in selector for sign in "[\\"):
        return True
    bare = (_COMBINED.sub(r"\1", " ".join(_PSEUDO.sub("", one).split())) for one in _parted(selector))
    wider = ",".join(_LEFT_EMPTY.sub(r"\1*", one) for one in bare)
    try:
        tests = [compiled.test for compiled in cssselect2.compile_selector_list(wider)]
    except cssselect2.SelectorError:
        return True
    return any(test(element) for element in elements for test in tests)


def _parted(selector: str) -> list[str]:
    return _PSEUDO.sub(lambda match: match[0] if "(" not in match[0] else ":is", selector).split(",")


def refusal(procedure: Procedure, why: str) -> Finding:
    """Return what to say of ``procedure``, with a page whose look is not ours, and ``why`` that cannot be."""
    return finding(
        "look-not-proved",
        procedure.where.value("status"),
        f"{quoted(procedure.title)} {why}",
        f"Remove from {FOLDER}/ what changes the look of procedures; header and footer of the site are free.",
    )
