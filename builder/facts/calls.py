"""Whom to call on which number, as the department lists it."""

from builder.model.library import Library
from builder.model.pages import Call


def contact(library: Library, role: str) -> Call | None:
    """Return the entry of ``role`` in the department's list; capitals and spaces do not matter."""
    wanted = _plain(role)
    return next((listed for listed in library.department.call if _plain(listed.role) == wanted), None)


def has_number(call: Call) -> bool:
    """Tell whether ``call`` says what to dial: any digit."""
    return any(map(str.isdigit, str(call.number)))


def _plain(role: str) -> str:
    return " ".join(role.casefold().split())
