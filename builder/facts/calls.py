"""Whom to call on which number, as the department lists it."""

import re

from builder.facts.approvals import folded_role
from builder.model.library import Library
from builder.model.pages import Call

_NUMBER = re.compile(r"\+?\d(?:[ ().-]{0,2}\d){2,}")
_PAGER = re.compile(r"bleep|pager|page\b", re.IGNORECASE)


def contact(library: Library, role: str) -> Call | None:
    """Return the entry of ``role`` in the department's list; capitals and spaces do not matter."""
    wanted = folded_role(role)
    return next((listed for listed in library.department.call if folded_role(listed.role) == wanted), None)


def has_number(call: Call) -> bool:
    """Tell whether ``call`` says what to dial: any digit."""
    return any(map(str.isdigit, str(call.number)))


def dialled(number: str) -> str:
    """Return the address that dials ``number``, for instance ``tel:0001``; "" where a telephone cannot dial it.

    Of ``extension 0001`` the digits are dialled, as within the hospital. A pager is not dialled, and of two numbers
    neither. Form of the address: RFC 3966, without its punctuation.
    """
    numbers = _NUMBER.findall(number)
    if len(numbers) != 1 or _PAGER.search(number):
        return ""
    return "tel:" + re.sub(r"[^+0-9]", "", numbers[0])
