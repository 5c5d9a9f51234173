"""Whether a committee's copy comes back whole: every passage with its id, its words and its place, and nothing more."""

from builder.compose.changes.committee_copy import CommitteeCopy
from builder.compose.changes.sent import sent_copy, sent_words
from builder.load.marked_file import read_marked_file


def lost_of(copy: CommitteeCopy, content: bytes) -> str:
    """Return what of ``copy`` the file ``content`` does not give back as it was sent; "" where it gives back all."""
    marked = read_marked_file("committee.docx", content)
    told = [([*one.ids], one.after) for one in marked.paragraphs]
    if len(told) != len(copy.passages):
        return f"it has {len(told)} paragraphs in place of {len(copy.passages)}"
    pairs = zip(copy.passages, told, strict=True)
    wrong = next((passage.words for passage, came in pairs if came != ([passage.name], passage.shown)), "")
    sent = "".join(marked.sent[number] for number in sorted(marked.sent))
    return wrong or ("" if sent == sent_words(copy) and sent_copy(marked.sent) else "what was sent")
