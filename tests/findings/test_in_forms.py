"""In a form a finding speaks the form's words, beside the field that mends it."""

from __future__ import annotations

from department import BASE, Overlay, read

from builder.edit.forms.form_fields import Field, shown_page
from builder.edit.forms.form_files import problems_of, target_of

FILE = "content/procedures/example/steps/open-canal.md"


def test_finding_stands_at_the_field_that_mends_it_in_words_of_the_form(overlay: Overlay) -> None:
    step = (BASE / FILE).read_text(encoding="utf-8")
    text = "".join(line for line in step.splitlines(keepends=True) if not line.startswith("if_not:"))
    _, findings = read(overlay({FILE: text}))
    target = target_of(FILE)
    assert target is not None
    page = shown_page(target, text, [made for made in findings if made.at.file == FILE])
    fields: dict[str, Field] = {one.key: one for section in page.sections for one in section.fields}
    [made] = fields["if_not"].findings
    assert made.name == "critical-without-if-not"
    assert made.hint == "Add “If not” with one or two orders: stop, look where, ask whom."
    assert not fields["critical"].findings


def test_text_that_a_form_would_write_is_refused_in_its_words() -> None:
    target = target_of(FILE)
    assert target is not None
    told = dict(problems_of("---\ntitle: Look\nsupervision: asist\n---\n", target))
    assert "Write “assist”." in told[("supervision",)]
    assert not [words for words in told.values() if "`supervision:" in words]
