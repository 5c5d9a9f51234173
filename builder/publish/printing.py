"""Files on all processors: each worker composes a document, writes it and reads it back."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace

from builder.compose.document import Document
from builder.publish.jobs import Executor
from builder.publish.kept.inputs import Inputs
from builder.publish.output import Output, ReadBack
from builder.publish.publication import Publication
from builder.publish.publish_error import PublishError

Printed = tuple[Output, Document, ReadBack]


@dataclass(frozen=True, slots=True)
class PrintJob:
    """Documents of the procedure ``number`` that one worker makes best, each with the key under which it is kept."""

    name: str
    number: int
    documents: tuple[tuple[str, str], ...]

    def run(self, publication: Publication) -> list[tuple[str, Document, ReadBack]]:
        """Compose, write and read back each. Raises PublishError, Refused and OSError."""
        return [(name, *_printed(publication, self.number, name, key)) for name, key in self.documents]


def printed(publication: Publication, executor: Executor[Publication], wanted: Collection[str]) -> Iterator[Printed]:
    """Yield each document of the outputs ``wanted``, made and proved, without its text.

    Raises what a document fails with: PublishError, Refused, OSError.
    """
    outputs, cache = publication.outputs, publication.cache
    inputs = Inputs(publication.library, publication.templates) if cache else None
    jobs: list[PrintJob] = []
    for number, procedure in enumerate(publication.library.procedures):
        together: dict[str, list[tuple[str, str]]] = {}
        for output, name in outputs.documents_of(procedure, wanted):
            key = inputs.key(procedure, name) if inputs else ""
            kept = cache.take(key, publication.made) if cache else None
            if kept:
                yield output, *kept
            else:
                together.setdefault(output.group or output.name, []).append((name, key))
        # A card and the sheets that carry it are made by one worker, which composes and sets the card once.
        jobs += [PrintJob(f"{group} of {procedure.id}", number, tuple(some)) for group, some in together.items()]
    for made in executor.results(jobs):
        yield from ((outputs[name], document, read) for name, document, read in made)
    if cache:
        cache.prune()


def _printed(publication: Publication, number: int, name: str, key: str) -> tuple[Document, ReadBack]:
    output = publication.outputs[name]
    procedure = publication.library.procedures[number]
    document = output.composed(name, publication.library, procedure, publication.renderer)
    path = publication.made / document.name
    path.parent.mkdir(parents=True, exist_ok=True)
    output.format.write(publication, document, path)
    read = output.proof.read_back(document, path)
    if read.problems:
        raise PublishError("\n".join(f"{document.name}: {problem}" for problem in read.problems), is_content=True)
    bare = replace(document, text="", musts=(), of=None, placed=())
    if publication.cache:
        publication.cache.keep(key, bare, path, read)
    return bare, read
