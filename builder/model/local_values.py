"""Values as they were written, of both the department and its parent: found, put in place, compared and shown."""

import hashlib
import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from builder.load.folder import Loaded, RawFile
from builder.place import WHERE_KEY, Text, Where

NOTHING = ""
Key = tuple[str, str]
Pages = dict[Key, RawFile]
_DIGEST_LENGTH = 16
_LETTERS = str.maketrans("0123456789abcdef", "ghjkmnpqrsabcdef")  # a run of digits is taken for a patient's number


def key_of(file: RawFile) -> Key:
    """Return kind and id of a file."""
    return (file.kind, str(file.id))


def front_of(file: RawFile | None) -> dict[str, Any]:
    """Return the front matter of a file; nothing where it has none."""
    return file.front if file is not None and isinstance(file.front, dict) else {}


def department_of(loaded: Loaded) -> RawFile | None:
    """Return the page of the department itself."""
    return next((file for file in loaded.files if file.kind == "department"), None)


def calls_of(front: Mapping[str, Any]) -> Iterator[dict[str, Any]]:
    """Yield the numbers to call that have a role."""
    calls = front.get("call")
    for call in calls if isinstance(calls, list) else ():
        if isinstance(call, dict) and isinstance(call.get("role"), Text):
            yield call


def role_of(call: Mapping[str, Any]) -> str:
    """Return the role of a number to call, as it is compared."""
    return " ".join(str(call.get("role")).split()).casefold()


def texts_in(page: RawFile, key: str) -> tuple[str, ...]:
    """Return the texts of the list ``key``."""
    value = front_of(page).get(key)
    return tuple(str(one) for one in value if isinstance(one, Text)) if isinstance(value, list) else ()


def cautions_linked(page: RawFile) -> Iterator[str]:
    """Yield the cautions that the prose of a page links to."""
    return (str(target) for link in page.body.links if link.kind == "caution" for target in link.targets)


def without_id(page: RawFile, key: str, id: str) -> RawFile:
    """Return ``page`` without ``id`` in the list ``key``."""
    value = front_of(page).get(key)
    if not isinstance(value, list) or id not in value:
        return page
    return replace(page, front={**front_of(page), key: [one for one in value if one != id]})


def value_at(value: Any, path: Iterable[str]) -> Any:
    """Return what stands at ``path``; None where nothing does."""
    for part in path:
        value = value.get(part) if isinstance(value, dict) and part != WHERE_KEY else None
    return value


def put_value(
    front: dict[str, Any], path: list[str], value: Any, where: Where, written: str = "with"
) -> dict[str, Any]:
    """Return ``front`` with ``value`` at ``path``, standing where ``written`` does in ``where``; without it where it is
    None."""
    name, rest = path[0], path[1:]
    if rest:
        inner = front.get(name)
        below = inner if isinstance(inner, dict) else {WHERE_KEY: where}
        return {**front, name: put_value(below, rest, value, where, written)}
    if value is None:
        return {key: held for key, held in front.items() if key != name}
    places = front.get(WHERE_KEY)
    held = {WHERE_KEY: places.laid(name, where, written)} if isinstance(places, Where) else {}
    return {**front, name: value, **held}


class _WholePage(list[Any]):
    """Kind, id, front matter and prose of a page."""


def whole_of(pages: Mapping[Key, RawFile]) -> Any:
    """Return all that ``pages`` say."""
    return [_WholePage([*key, front_of(page), page.body.source]) for key, page in sorted(pages.items())]


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items() if key != WHERE_KEY}
    if isinstance(value, list):
        return [_plain(inner) for inner in value]
    return None if value is None else " ".join(str(value).split())


def digest_of(value: Any) -> str:
    """Return the digest of what the parent says; "" of nothing. How lines are broken does not count."""
    if value in (None, NOTHING):
        return ""
    text = json.dumps(_plain(value), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    digest = hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()[:_DIGEST_LENGTH]
    return digest.translate(_LETTERS)


def told(value: Any) -> str:
    """Return ``value`` in words, as it is set beside another."""
    if isinstance(value, dict):
        inside = {str(key).replace("_", " "): told(inner) for key, inner in value.items() if key != WHERE_KEY}
        return "; ".join(f"{key}: {'yes' if words == 'true' else words}" for key, words in inside.items())
    if isinstance(value, list):
        return "; ".join(filter(None, map(told, value[2:] if isinstance(value, _WholePage) else value)))
    return "" if value is None else " ".join(str(value).split())
