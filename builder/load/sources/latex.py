"""Text of BibTeX fields: LaTeX as written becomes plain Unicode, and back."""

import re
from functools import lru_cache
from itertools import accumulate

from pybtex.richtext import Text as RichText

_FORMATTING = re.compile(r"\\(?:emph|text(?:it|bf|sc|sl|rm|sf|tt|up|superscript|subscript)|url|mkbibemph)\s*(?=\{)")
_SPECIAL = re.compile(r"([&%$#_])")
# Signs that BibTeX or LaTeX would read as its own; while decoding they hide behind private-use characters.
_NAMED = {"\\": r"\textbackslash{}", "{": r"\textbraceleft{}", "}": r"\textbraceright{}", "~": r"\textasciitilde{}"}
_HIDDEN = {"\\": "\ue000", "{": "\ue001", "}": "\ue002", "~": "\ue003", "$": "\ue004"}
_MARKED = re.compile(r"[\\{}~`$%]|--|''")
_BRACE = re.compile(r"[{}]")
_LIGATURES = (("---", "—"), ("--", "–"), ("``", "“"), ("''", "”"), ("~", " "))
# Signs that LaTeX would join: two hyphens are a dash, two apostrophes a quotation mark.
_JOINED = re.compile(r"([-`'])(?=\1)")
_ESCAPED = re.compile(r"\\([&%$#_~{}])")
# What latexcodec would take for the start of a comment.
_COMMENT = re.compile(r"(?<!\\)%")


@lru_cache(maxsize=65_536)
def plain(written: str) -> str:
    """Return what the LaTeX text ``written`` says, as one line of plain Unicode. Never raises.

    Text that is no LaTeX (unbalanced braces, say) comes back as it stands, without its braces.
    """
    if _MARKED.search(written) is None:
        return " ".join(written.split())
    if "\\" not in written and "$" not in written and _is_balanced(written):
        return _unmarked(written)
    text = _hidden(_COMMENT.sub(r"\\%", _FORMATTING.sub("", written)))
    try:
        decoded = str(RichText.from_latex(text))
    # pybtex and latexcodec raise many kinds of error on broken LaTeX, deep nesting among them.
    except Exception:
        decoded = raw(written).replace("{", "").replace("}", "")
    for sign, hidden in _HIDDEN.items():
        decoded = decoded.replace(hidden, sign)
    return " ".join(decoded.replace("<nbsp>", " ").split())


def _hidden(text: str) -> str:
    for sign, name in _NAMED.items():
        text = text.replace(name, _HIDDEN[sign])
    return text.replace(r"\$", _HIDDEN["$"])


def _is_balanced(written: str) -> bool:
    depths = list(accumulate(1 if brace == "{" else -1 for brace in _BRACE.findall(written)))
    return not depths or (min(depths) >= 0 and depths[-1] == 0)


def _unmarked(written: str) -> str:
    """Decode text without commands or formulas, nearly all there is: latexcodec takes a hundred times as long."""
    for ligature, sign in _LIGATURES:
        if ligature in written:
            written = written.replace(ligature, sign)
    return " ".join(_BRACE.sub("", written).split())


def raw(written: str) -> str:
    """Return an identifier or address without the backslashes that some programs write before special signs."""
    if "\\" in written:
        written = _ESCAPED.sub(r"\1", written)
    return written.strip(" \t\r\n{}")


def latex(text: str) -> str:
    """Return ``text`` as a BibTeX field holds it: Unicode kept, special signs escaped, braces balanced."""
    named = "".join(_NAMED.get(sign, sign) for sign in text)
    return _JOINED.sub(r"\1{}", _SPECIAL.sub(r"\\\1", named))
