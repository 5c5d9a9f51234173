"""Front matter as people write it: every style of value, remarks everywhere, any line end. For tests of edits."""

from __future__ import annotations

from dataclasses import dataclass

from hypothesis import strategies as st

NAMES = ("vagus nerve", "artery forceps", "tape", "cystic duct", "skin")
WORDS = st.one_of(
    st.sampled_from(
        ["Stop.", "a: b", "bleep #4000", "- dash", "yes", "null", "~", "0.50", "'quoted'", 'say "stop"', "é ü ß 手",
         "100 % sure", "@home", "!never cut", "&now", "*star", "? what", "{a}", "[b", "a, b", "x: ", "tab\there", "#1",
         "ends with colon:", "---", "...", "> 3 cm", "| bar", "`code`", "\u2028", "\x85", "\ufeffmark", "C:\\path"]
    ),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs",), exclude_characters="\r\0", min_codepoint=32),
            min_size=1, max_size=30),
    st.lists(st.sampled_from(["Look", "for", "the nerve", "and: stop", "#now", "then"]), min_size=1, max_size=30)
    .map(" ".join),
)  # fmt: skip
LINES = st.lists(
    st.sampled_from(["One line.", "Another: with a colon", "  set in", "", "no #remark", "é"]), min_size=2
).map("\n".join)
ANY_TEXT = st.one_of(WORDS, LINES)


@dataclass(frozen=True)
class Written:
    """A file's text, and the lines that each top-level key takes up."""

    text: str
    keys: tuple[str, ...]


_SCALARS = (
    "plain words", "plain words  # a remark", '"in double: quotes"', "'in ''single'' quotes'  # why", "",
    "  # nothing yet", ">\n  folded text\n  over lines\n\n  and a paragraph", "|\n  literal text\n    set in\n",
    "|- # remark\n  literal", "plain over\n  two lines", '"quoted over\n  two lines"', "é ü 手 # é", ">+\n  kept\n\n",
)  # fmt: skip
_LISTS = (
    "[vagus nerve, tape]", "[]", "[vagus nerve, 'tape', \"skin\"]  # three", "[\n  vagus nerve, # first\n  tape,\n]",
    "\n  - vagus nerve\n  # above the tape\n  - tape  # the tape\n\n  - skin", "\n- vagus nerve\n- tape",

    "  # head\n  # detached\n\n  # of the nerve\n  - vagus nerve\n  - tape\n  # at the end",
    "\n  -   tape\n  -\n  - skin",
)  # fmt: skip
_ACTIONS = (
    "\n  - identify: vagus nerve\n  - place: tape\n    number: 2  # two\n    # remark inside\n    on: skin",
    "\n- identify: vagus nerve\n# above\n- place: tape\n  in: skin\n",
    "\n  - {identify: vagus nerve}\n  - {place: tape, number: 2} # braces",
    "  # head\n  -\n    identify: vagus nerve\n  - place:\n      - tape\n      - swab\n"
    "    what: >\n      folded\n      words",
    "\n    - identify: [vagus nerve, skin]\n\n    # own\n    - tell: surgeon\n      what: 'Ready: go'"
    "\n\n    - open: skin",
    "[{identify: skin}, {place: tape}]",
)
_TEXT_KEYS = ("title", "cue", "why", "recovery")
_LIST_KEYS = ("at_risk", "cautions")


@st.composite
def files(draw: st.DrawFn) -> Written:
    """A step's file."""
    keys = draw(st.lists(st.sampled_from([*_TEXT_KEYS, *_LIST_KEYS, "actions"]), unique=True, min_size=1))
    parts = []
    value = ""
    for key in keys:
        set_in = [] if value[:1] in (">", "|") or "folded" in value else [["  # set in"]]  # there it would be text
        parts += draw(st.sampled_from([[], ["# above " + key], ["", "# far above", ""], *set_in]))
        values = _ACTIONS if key == "actions" else _LISTS if key in _LIST_KEYS else _SCALARS
        value = draw(st.sampled_from(values))
        parts.append(f"{key}:{value if value[:1] in ('', ' ', chr(10)) else ' ' + value}")
    parts += draw(st.sampled_from([[], ["# the end"], [""]]))
    body = draw(st.sampled_from(["", "Prose.\n", "\n## Head\n\n---\n\ntail without end", "é\n---\n"]))
    text = "---\n" + "\n".join(parts) + "\n---\n" + body
    ending = draw(st.sampled_from(["\n", "\r\n", "\n", "\r"]))
    mark = draw(st.sampled_from(["", "\ufeff"]))
    return Written(mark + text.replace("\n", ending), tuple(keys))
