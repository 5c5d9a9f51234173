"""The pages of a region, composed from what is known of its hospitals."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any, NamedTuple

from builder.compose.document import Must, Renderer
from builder.compose.site.region.hospital import CodeAnswer, Hospital, HospitalPage, HospitalState, LocalText
from builder.compose.site.web import FRONT, SearchSection, WebPage, index_entry, index_script
from builder.compose.view.words import USUAL_CAUTION, day
from builder.grouping import grouped
from builder.load.program_words import gettext, ngettext

SIDE_BY_SIDE = "local/index.html"
CODES = "codes/index.html"
NIGHT = "night.html"
INDEX = "search/places.js"
_REFRESH_SECONDS = 10


class SideText(NamedTuple):
    """One text of several that hospitals have in the same place: ``who`` says it, in which ``language``, and for each
    why and by what."""

    who: str
    text: str
    language: str
    reasons: tuple[tuple[str, str, str], ...] = ()


class Compared(NamedTuple):
    """What hospitals changed in one place: ``what`` it is, and the texts, the common library's first."""

    what: str
    texts: tuple[SideText, ...]


class Composer:
    """Composes the pages of the region ``name`` on the day ``today`` in ``language``, which is spoken."""

    def __init__(self, name: str, language: str, today: date, renderer: Renderer) -> None:
        self._name = name
        self._language = language
        self._today = today
        self._renderer = renderer

    def pages(self, hospitals: Sequence[Hospital]) -> Iterator[WebPage]:
        """Yield every page but that of the night."""
        yield self._front(hospitals)
        yield self._side_by_side(hospitals)
        yield from self._codes(hospitals)

    def _page(self, name: str, title: str, template: str, musts: tuple[Must, ...], **values: Any) -> WebPage:
        refresh = values.pop("refresh", 0)
        body = self._renderer.render(
            f"region/{template}.html.j2", title=title, today=day(self._today), written_in=self._language, **values
        )
        text = self._renderer.render(
            "region/frame.html.j2",
            root="/".join([".."] * name.count("/")) or ".",
            is_front=name == FRONT,
            region=self._name,
            language=self._language,
            title=title,
            usual_caution=gettext(USUAL_CAUTION),
            body=body,
            refresh=refresh,
        )
        return WebPage("page", title, name, text, musts=musts)

    def _front(self, hospitals: Sequence[Hospital]) -> WebPage:
        by_procedure = grouped((page.procedure, (page, hospital)) for hospital in hospitals for page in hospital.pages)
        procedures = [
            # Each hospital calls it in its own language.
            (list(dict.fromkeys((page.title, hospital.language) for page, hospital in offered)), offered)
            for offered in by_procedure.values()
        ]
        procedures.sort(key=lambda listed: listed[0][0][0].casefold())
        musts = (
            *(Must("hospital", hospital.id, hospital.name) for hospital in hospitals),
            *(Must("procedure", title, title) for titles, _ in procedures for title, _ in titles),
        )
        counts = gettext(
            "%(hospitals)s, %(procedures)s.", hospitals=_hospitals(len(hospitals)),
            procedures=ngettext("%(num)s procedure", "%(num)s procedures", len(procedures)),
        )  # fmt: skip
        return self._page(
            FRONT, self._name, "front", musts, hospitals=hospitals, procedures=procedures, counts=counts,
            night=night_summary(hospitals), differ=any(hospital.local for hospital in hospitals),
        )  # fmt: skip

    def _side_by_side(self, hospitals: Sequence[Hospital]) -> WebPage:
        told = [(text, hospital) for hospital in hospitals for text in hospital.local]
        by_title = grouped(((text.procedure, text.title), (text, hospital)) for text, hospital in told)
        sections = [
            (title, [*_compared(listed)])
            for (_, title), listed in sorted(by_title.items(), key=lambda pair: pair[0][1])
        ]
        musts = tuple(
            Must("local", compared.what, text.text)
            for _, places in sections
            for compared in places
            for text in compared.texts
        )
        return self._page(
            SIDE_BY_SIDE, gettext("Local policies side by side"), "side_by_side", musts, sections=sections
        )

    def _codes(self, hospitals: Sequence[Hospital]) -> Iterator[WebPage]:
        by_code = grouped((answer.code, (answer, hospital)) for hospital in hospitals for answer in hospital.codes)
        rows = [(code, by_code[code]) for code in sorted(by_code)]
        musts = tuple(Must("code", code, code) for code in by_code)
        yield self._page(CODES, gettext("Is your copy still current?"), "codes", tuple(sorted(musts)), rows=rows)
        for code, answers in rows:
            told = tuple(Must("answer", hospital.id, gettext(answer.state)) for answer, hospital in answers)
            yield self._page(f"codes/{code}/index.html", f"{code}: {_answer(answers)}", "code", told, answers=answers)

    def night(self, hospitals: Sequence[Hospital], *, is_over: bool) -> WebPage:
        """Return the page that tells how the night goes, or went."""
        musts = tuple(
            Must("problem", hospital.id, str(problem)) for hospital in hospitals for problem in hospital.problems
        )
        done = sum(hospital.state is not HospitalState.WAITING for hospital in hospitals)
        counts = (
            night_summary(hospitals)
            if is_over
            else gettext(
                "%(done)s of %(all)s done. This page renews itself.", done=done, all=_hospitals(len(hospitals))
            )
        )
        title = gettext("Last night") if is_over else gettext("This night")
        refresh = 0 if is_over else _REFRESH_SECONDS
        return self._page(NIGHT, title, "night", musts, hospitals=hospitals, counts=counts, refresh=refresh)


def night_summary(hospitals: Sequence[Hospital]) -> str:
    """Return how the night went, in one line."""
    counts = Counter(hospital.state for hospital in hospitals)
    told = ", ".join(_counted(state, counts[state]) for state in HospitalState if counts[state])
    return gettext("%(hospitals)s: %(told)s.", hospitals=_hospitals(len(hospitals)), told=told)


def _hospitals(number: int) -> str:
    return ngettext("%(num)s hospital", "%(num)s hospitals", number)


def _counted(state: HospitalState, number: int) -> str:
    told = {
        HospitalState.WAITING: ngettext("%(num)s waiting", "%(num)s waiting", number),
        HospitalState.PUBLISHED: ngettext("%(num)s published", "%(num)s published", number),
        HospitalState.UNCHANGED: ngettext("%(num)s unchanged", "%(num)s unchanged", number),
        HospitalState.KEPT: ngettext(
            "%(num)s left on the last good site", "%(num)s left on the last good site", number
        ),
        HospitalState.MISSING: ngettext("%(num)s never published", "%(num)s never published", number),
    }
    return told[state]


def _answer(answers: Sequence[tuple[CodeAnswer, Hospital]]) -> str:
    states = list(dict.fromkeys(answer.state for answer, _ in answers))
    return gettext(states[0]) if len(states) == 1 else gettext("it depends on the hospital")


def _compared(listed: Sequence[tuple[LocalText, Hospital]]) -> Iterator[Compared]:
    for what, changes in grouped((text.what, (text, hospital)) for text, hospital in listed).items():
        language = changes[0][1].language if changes[0][0].theirs else ""
        theirs = SideText(gettext("Common library"), changes[0][0].theirs or gettext("Nothing."), language)
        by_text = grouped((text.ours or gettext("Left out."), (text, hospital)) for text, hospital in changes)
        ours = (
            SideText(
                ", ".join(hospital.name for _, hospital in same),
                words,
                same[0][1].language if same[0][0].ours else "",
                tuple((hospital.name, text.because, text.rests) for text, hospital in same),
            )
            for words, same in by_text.items()
        )
        yield Compared(what, (theirs, *ours))


def search_index(hospitals: Sequence[Hospital]) -> str:
    """Return the index of the search box: each procedure of each hospital, found by either name."""
    return index_script(
        index_entry(f"{hospital.id}/{page.href}", page.title, [_section(page, hospital)])
        for hospital in hospitals
        for page in hospital.pages
    )


def _section(page: HospitalPage, hospital: Hospital) -> SearchSection:
    said = gettext("%(hospital)s, edition %(edition)s", hospital=hospital.name, edition=page.edition)
    return SearchSection("", page.title, said, "")
