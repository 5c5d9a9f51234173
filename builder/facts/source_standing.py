"""Whether sources still stand: what the department's lists of notices say of each, and how fresh the lists are."""

from collections import defaultdict
from collections.abc import Mapping
from datetime import date

from builder.facts.remembered import once_per_library
from builder.load.sources.bibliography import RawSource
from builder.load.sources.identifiers import pmid_of, same_doi
from builder.load.sources.notices import Notice, NoticeKind, NoticeList, read_notices
from builder.model.library import Library


def notice_lists(library: Library) -> tuple[NoticeList, ...]:
    """Return the department's lists of notices in the order of their files. An empty file is not a list."""
    return tuple(read_notices(text, file) for file, text in sorted(library.notices.items()) if text.strip())


@once_per_library
def notices_on(library: Library) -> Mapping[str, tuple[Notice, ...]]:
    """Return, by key, the notices on each source that has any, the gravest first. Two lists that agree count once."""
    known: dict[str, list[Notice]] = defaultdict(list)
    for notice_list in notice_lists(library):
        for notice in notice_list.notices:
            for name in (notice.doi, notice.pmid and f"pmid {notice.pmid}"):
                if name:
                    known[name].append(notice)
    if not known:
        return {}
    found = {key: _on(source, known) for key, source in library.sources.items()}
    return {key: notices for key, notices in found.items() if notices}


def _on(source: RawSource, known: Mapping[str, list[Notice]]) -> tuple[Notice, ...]:
    names = [same_doi(source.fields["doi"])] if "doi" in source.fields else []
    if "pmid" in source.fields:
        names.append(f"pmid {pmid_of(source.fields['pmid'])}")
    of_kind: dict[NoticeKind, Notice] = {}
    for name in names:
        for notice in known.get(name, ()):
            of_kind.setdefault(notice.kind, notice)
    return tuple(of_kind[kind] for kind in NoticeKind if kind in of_kind)


def months_old(dated: date, today: date) -> int:
    """Return the whole months from ``dated`` to ``today``."""
    months = (today.year - dated.year) * 12 + today.month - dated.month
    return months - (today.day < dated.day)
