"""The self-test as QTI 3.0, read by qti_convert of Citolab, which makes QTI 2.1 of it: that must be our own QTI 2.1.

qti_convert (citolab-qti-convert of the Python Package Index) shares no code with ours and reads a package as 1EdTech's
"QTI 3.0 Best Practices and Implementation Guide" says (from memory).
"""

from __future__ import annotations

import json
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from lxml import etree
from papers import library, renderer
from qti_convert import downgrade_package

from builder.compose.document import Document
from builder.compose.selftest import qti3
from builder.compose.selftest.selftest import package
from builder.outputs import OUTPUTS
from builder.publish.output import Equipment

DEMO = Path(__file__).parents[2]
ROW = OUTPUTS["self-test-qti3"]
SCHEMA = etree.RelaxNG(etree.parse(str(DEMO / "tests/selftest/qti21.rng")))
ASKED = ("prompt", "simpleChoice", "value", "modalFeedback", "rubricBlock")


def written(document: Document, path: Path) -> Path:
    ROW.format.write(Equipment(DEMO, {}), document, path)
    return path


def items(path: Path) -> dict[str, Any]:
    with zipfile.ZipFile(path) as packed:
        return {name: etree.fromstring(packed.read(name)) for name in packed.namelist() if name.endswith(".xml")}


def told(tree: Any) -> list[tuple[str, str, str]]:
    """What a question or test says, asks and holds for right, in order: element, identifier, words."""
    nodes = (node for node in tree.iter() if isinstance(node.tag, str) and etree.QName(node).localname in ASKED)
    return [
        (etree.QName(node).localname, node.get("identifier", ""), " ".join("".join(node.itertext()).split()))
        for node in nodes
    ]


@pytest.mark.parametrize("procedure", ["carpal-tunnel-decompression", "open-mesh-inguinal-hernia"])
def test_a_second_reader_makes_our_own_older_package_of_it(procedure: str, tmp_path: Path) -> None:
    known = library(DEMO).by_id[procedure]
    newer = written(qti3.compose(library(DEMO), known, renderer(DEMO)), tmp_path / "newer.zip")
    older = items(written(package(library(DEMO), known, renderer(DEMO)), tmp_path / "older.zip"))
    result = downgrade_package(newer, tmp_path / "read.zip")
    read = items(tmp_path / "read.zip")
    # Only the newer format asks what a rubric is used for.
    assert {one.message for one in result.warnings} == {
        'Attribute "use" on qti-rubric-block is not supported in QTI 2.1.'
    }
    assert read.keys() == older.keys()
    assert sum(len(told(tree)) for tree in older.values()) > 100
    for name, tree in older.items():
        assert told(read[name]) == told(tree), name


def test_every_element_has_its_newer_name() -> None:
    document = qti3.compose(library(DEMO), library(DEMO).by_id["carpal-tunnel-decompression"], renderer(DEMO))
    for name, text in json.loads(document.text).items():
        if isinstance(text, str) and name != "imsmanifest.xml":
            tree = etree.fromstring(text.encode())
            names = {etree.QName(node).localname for node in tree.iter()} - {"p", "img"}
            assert all(one.startswith("qti-") for one in names), name
            assert not any(sign.isupper() for node in tree.iter() for key in node.attrib for sign in key)


@pytest.mark.parametrize("spoil", ["<value>", "qti-prompt", "modal-feedback"])
def test_a_spoilt_package_is_noticed(spoil: str, tmp_path: Path) -> None:
    document = qti3.compose(library(DEMO), library(DEMO).by_id["carpal-tunnel-decompression"], renderer(DEMO))
    assert ROW.proof.read_back(document, written(document, tmp_path / "good.zip")).problems == ()
    files = json.loads(document.text)
    item = next(name for name in files if name.startswith("items/"))
    changes = {"<value>": ("choice-", "other-", 1), "qti-prompt": ("<qti-prompt>", "<qti-prompt>Not ", 1)}
    old, new, many = changes.get(spoil, ("modal-feedback", "other-feedback", -1))
    files[item] = files[item].replace(old, new, many)
    bad = replace(document, text=json.dumps(files))
    assert ROW.proof.read_back(bad, written(bad, tmp_path / "bad.zip")).problems
