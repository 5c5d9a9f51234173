"""``region.yml``: the departments that are published together, the common library under them, the cache they share."""

from pydantic import Field

from builder.model.fields import Count, Node
from builder.model.pages import Parent
from builder.place import Text

FILE = "region.yml"
RESERVED = ("look", "search", "codes", "local")
"""Names in the folder of a region that are its own."""


class Member(Parent):
    """A department of the region, known by its ``id``: a ``folder``, or a ``wheel`` or ``archive`` with its digest."""

    id: Text


class RegionCache(Node):
    """Where files that were made are kept for the next night: at most so many ``gigabytes``, at most so many ``days``
    after their last use."""

    folder: Text = Text("region-cache")
    gigabytes: Count = 20
    days: Count = 60


class Region(Node):
    """The whole file. A department that names a parent is laid over ``parent``, where the region names one."""

    name: Text
    language: Text = Text("en-GB")
    parent: Parent | None = None
    departments: tuple[Member, ...] = Field(min_length=1)
    cache: RegionCache = Field(default_factory=RegionCache)
