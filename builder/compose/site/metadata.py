"""What a catalogue or search engine is told of a page, in the words of schema.org, as JSON-LD."""

from __future__ import annotations

import json
from typing import Any

from builder.compose.view.rendered_prose import plain
from builder.compose.view.view import ProcedureView

_SCRIPT_ENDS = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})


def metadata(view: ProcedureView, address: str) -> str:
    """Return the JSON-LD of a procedure's page at ``address`` ("" = unknown), safe to stand inside a script element.

    Types and properties: schema.org ``LearningResource`` and ``MedicalProcedure``.
    """
    name, _, role = view.owner.partition(", ")
    found: dict[str, Any] = {
        "@context": "https://schema.org",
        "@type": "LearningResource",
        "name": view.title,
        "description": view.summary,
        "url": address,
        "inLanguage": view.language,
        "version": view.edition,
        "creativeWorkStatus": view.status,
        "learningResourceType": "operative procedure, step by step",
        "about": {"@type": "MedicalProcedure", "name": view.title, "relevantSpecialty": view.specialty},
        "author": {"@type": "Person", "name": name, "jobTitle": role},
        "publisher": {"@type": "Organization", "name": view.department, "url": view.site},
        "citation": [" ".join(plain(one.html).split()) for one in view.references],
        "usageInfo": view.usual_caution,
    }
    return json.dumps(_filled(found), ensure_ascii=False, separators=(",", ":")).translate(_SCRIPT_ENDS)


def _filled(values: dict[str, Any]) -> dict[str, Any]:
    """Leave out what is empty."""
    inner = {key: _filled(value) if isinstance(value, dict) else value for key, value in values.items()}
    return {key: value for key, value in inner.items() if value}
