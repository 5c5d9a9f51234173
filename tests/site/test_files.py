"""Files beside the pages: single files, headers for servers, metadata for catalogues."""

from __future__ import annotations

import html as entities
import json
import re
from pathlib import Path

import pytest
from department import lay
from lxml import html
from publishing import publish_site
from site_pages import page

from builder.compose.site.hosting import hash_of
from builder.load.templates import load_templates
from builder.publish.publish_error import PublishError
from builder.publish.site import site as site_files


def text_of(path: Path, tag: str) -> str:
    return re.search(rf"<{tag}>(.*?)</{tag}>", path.read_text(), re.DOTALL)[1]


def test_a_hash_is_the_one_of_the_standard() -> None:
    """The example of CSP Level 2, 4.2.5 (from memory); `openssl dgst -sha256 -binary | base64` gives the same."""
    assert hash_of("alert('Hello, world.');") == "'sha256-qznLcsROx4GACP2dm0UCKCzCG+HiZ1guq6ZZDob/Tng='"


def test_the_single_files_policy_lets_its_own_style_and_script_in_and_nothing_else(site: Path) -> None:
    path = site / "example/example.html"
    [policy] = page(site, "example/example.html").xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    assert f"style-src {hash_of(text_of(path, 'style'))}" in policy
    assert f"script-src {hash_of(text_of(path, 'script'))}" in policy
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert "'self'" not in policy


def test_the_servers_policy_lets_single_files_in_too(site: Path) -> None:
    path = site / "example/example.html"
    for server in ("nginx", "apache"):
        config = (site / f"hosting/{server}.conf").read_text()
        assert hash_of(text_of(path, "style")) in config
        assert hash_of(text_of(path, "script")) in config
        assert "unsafe-inline" not in config.split("svg")[0]
        assert "&" not in config.split("Content-Security-Policy", 1)[1].split("\n")[0]


def test_the_single_file_holds_everything_and_points_to_no_file(site: Path, example: html.HtmlElement) -> None:
    alone = page(site, "example/example.html")
    assert [src.split(";")[0] for src in alone.xpath("//img/@src")] == ["data:image/svg+xml"]
    assert 'url("data:font/woff2;base64,' in text_of(site / "example/example.html", "style")
    assert not [link for link in alone.xpath("//@href") if not re.match(r"#|tel:|https://", link)]
    inner = alone.xpath("//*[@id='steps']/..")[0].text_content().split()
    assert inner == example.xpath("//*[@id='steps']/..")[0].text_content().split()


def test_the_single_file_knows_where_the_current_edition_is(site: Path, base: Path, to: Path) -> None:
    links = page(site, "example/example.html").xpath("//header//a/@href")
    assert links == ["https://surgery.example.org/example/index.html"]
    path = base / "content/department.md"
    path.write_text(path.read_text().replace("site: https://surgery.example.org/\n", ""))
    publish_site(base, to, ["single-file"])
    assert page(to, "example/example.html").xpath("//header//a/@href") == []


def test_a_single_file_that_is_too_large_names_what_to_shrink(
    base: Path, to: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(site_files, "MAX_SINGLE_BYTES", 100_000)
    with pytest.raises(PublishError, match=r"at most 2 MB\. The largest part is canal\.svg: save it smaller"):
        publish_site(base, to, ["single-file"])


def test_text_of_an_educator_is_never_taken_for_a_mark(base: Path, to: Path) -> None:
    path = base / "content/procedures/example/procedure.md"
    marks = "prescrub-policy /*prescrub-style*/ /*prescrub-script*/ <body>"
    path.write_text(re.sub(r"^title: .*$", f"title: '{marks}'", path.read_text(), flags=re.MULTILINE))
    publish_site(base, to, ["single-file"])
    alone = page(to, "example/example.html")
    assert alone.xpath("string(//h1)") == marks
    assert len(alone.xpath("//style")) == 1


def test_a_folder_of_the_site_is_no_procedure(base: Path, to: Path) -> None:
    (base / "content/procedures/example").rename(base / "content/procedures/hosting")
    with pytest.raises(PublishError, match="'hosting' is a folder of the site itself"):
        publish_site(base, to)


def test_a_style_that_would_end_its_element_is_refused(base: Path) -> None:
    lay(base, {"site_templates/site/look/site.css": "/* </style><script>alert(1)</script> */\n"})
    with pytest.raises(PublishError, match="may not hold `</`"):
        site_files.SingleFiles(base, load_templates(base))


def test_catalogues_are_told_what_the_page_is(example: html.HtmlElement) -> None:
    """Types and properties of schema.org: LearningResource, MedicalProcedure, Person, Organization."""
    [script] = example.xpath("//script[@type='application/ld+json']/text()")
    told = json.loads(script)
    assert (told["@context"], told["@type"]) == ("https://schema.org", "LearningResource")
    assert told["url"] == "https://surgery.example.org/example/index.html"
    assert told["about"]["@type"] == "MedicalProcedure"
    assert told["author"] == {"@type": "Person", "name": "Ada Example", "jobTitle": "consultant surgeon"}
    assert (told["version"], told["creativeWorkStatus"], told["inLanguage"]) == ("1.0", "draft", "en-GB")
    assert all("<" not in text for text in told["citation"])


def test_metadata_cannot_end_its_script(base: Path, to: Path) -> None:
    path = base / "content/procedures/example/procedure.md"
    path.write_text(re.sub(r"^title: .*$", "title: '</script><b>&amp;x'", path.read_text(), flags=re.MULTILINE))
    publish_site(base, to)
    [script] = page(to, "example/index.html").xpath("//script[@type='application/ld+json']/text()")
    assert json.loads(script)["name"] == "</script><b>&amp;x"
    assert "</script><b>" not in entities.unescape(script)
