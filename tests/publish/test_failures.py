"""Whatever the machine does, the old site stays and the reason is said in plain words."""

from __future__ import annotations

import errno
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from publishing import fingerprint, publish_site

from builder.findings.finding import Refused
from builder.publish.publish_error import PublishError

HERE = Path(__file__).parent


def test_a_full_disk_while_writing_pages(base: Path, to: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    publish_site(base, to)
    before = fingerprint(to)
    real = Path.write_bytes

    def write_bytes(self: Path, content: bytes) -> int:
        if self.suffix == ".html":
            raise OSError(errno.ENOSPC, "No space left on device", str(self))
        return real(self, content)

    monkeypatch.setattr(Path, "write_bytes", write_bytes)
    with pytest.raises(PublishError, match=r"The disk that holds .* is full\. Free some space"):
        publish_site(base, to)
    assert fingerprint(to) == before
    assert [entry.name for entry in to.parent.iterdir()] == ["public"]


@pytest.mark.parametrize(("size", "output"), [("240k", "site"), ("40k", "handout")])
def test_a_disk_that_is_really_full(size: str, output: str, base: Path, tmp_path: Path) -> None:
    """On a small disk of its own, made in a name space that ends with the process."""
    disk = tmp_path / "disk"
    disk.mkdir()
    program = (
        "import sys; from pathlib import Path; sys.path[:0] = sys.argv[3:]; from publishing import publish_site\n"
        "from builder.publish.publish_error import PublishError\n"
        "to = Path(sys.argv[2])\n"
        f"try: publish_site(Path(sys.argv[1]), to, ['{output}'])\n"
        "except PublishError as error: print(error)\n"
        "print([entry.name for entry in to.parent.iterdir()])\n"
    )
    mount = f'mount -t tmpfs -o size={size} none "{disk}" && exec "$@"'
    python = [sys.executable, "-c", program, str(base), str(disk / "public"), str(HERE.parent)]
    space = ["unshare", "--user", "--map-root-user", "--mount"]
    if not shutil.which("unshare") or subprocess.run([*space, "true"], check=False, capture_output=True).returncode:
        pytest.skip("a full disk: this machine lets nobody make a name space")
    done = subprocess.run([*space, "sh", "-c", mount, "sh", *python], capture_output=True, text=True, check=False)
    if "mount:" in done.stderr:
        pytest.skip("a full disk: this machine lets nobody mount a disk in memory")
    assert done.stderr == ""
    assert done.stdout == f"The disk that holds {disk} is full. Free some space, then publish again.\n[]\n"


def test_no_right_to_write(base: Path, to: Path) -> None:
    to.parent.mkdir()
    to.parent.chmod(0o555)
    with pytest.raises(PublishError, match="There is no right to write"):
        publish_site(base, to)


def test_a_picture_that_disappears_is_said_by_its_name(base: Path, to: Path) -> None:
    publish_site(base, to)
    before = fingerprint(to)
    (base / "content/procedures/example/figures/canal.svg").unlink()
    with pytest.raises(Refused, match=r"figures/canal\.svg does not exist"):
        publish_site(base, to)
    assert fingerprint(to) == before


def test_a_failing_paper_stops_everything(base: Path, to: Path) -> None:
    publish_site(base, to, ("site", "handout"))
    before = fingerprint(to)
    (base / "content/procedures/example/figures/canal.svg").write_text("no drawing")
    with pytest.raises(PublishError):
        publish_site(base, to, ("site", "handout"))
    assert fingerprint(to) == before
    assert sorted(entry.name for entry in to.parent.iterdir()) == ["public"]
