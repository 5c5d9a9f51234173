"""What a procedure's page offers beside itself: papers, the self-test, the page as one file."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Offer:
    """A file that was made: its address, its name, its form, and the shelf it stands on ("" = none).

    ``place`` is its place among all offers, ``first`` that among the few which are wanted in a hurry (0 = none).
    """

    href: str
    label: str
    form: str
    shelf: str
    place: int
    first: int = 0


@dataclass(frozen=True, slots=True)
class Shelf:
    """Offers for one purpose."""

    name: str
    offers: tuple[Offer, ...]


def shelves_of(offers: Iterable[Offer], folder: str = "") -> tuple[Shelf, ...]:
    """Return what a page in ``folder`` offers, by purpose."""
    shelves: dict[str, list[Offer]] = {}
    for offer in sorted(offers, key=lambda offer: offer.place):
        if offer.shelf:
            shelves.setdefault(offer.shelf, []).append(_seen_from(folder, offer))
    return tuple(Shelf(name, tuple(members)) for name, members in shelves.items())


def first_of(offers: Iterable[Offer], folder: str = "") -> tuple[Offer, ...]:
    """Return the few offers that are wanted in a hurry."""
    wanted = (offer for offer in offers if offer.shelf and offer.first)
    return tuple(_seen_from(folder, offer) for offer in sorted(wanted, key=lambda offer: offer.first))


def _seen_from(folder: str, offer: Offer) -> Offer:
    return replace(offer, href=offer.href.removeprefix(folder))
