"""Signatures of approvals, made and checked by the ``ssh-keygen`` of the machine (OpenSSH, PROTOCOL.sshsig).

The department keeps who may sign in ``ledger/signers``, in the form of OpenSSH's allowed signers: a line holds a
person's name in small letters with hyphens (``bea-example``), then the public key. The private key is the approver's
own, and is never read here.
"""

import re
import subprocess
import tempfile
from enum import StrEnum
from pathlib import Path
from shutil import which

from builder.findings.message_words import quoted
from builder.load.ledger import UNSIGNED, Approved, signed_text

SIGNERS = "ledger/signers"
_NAMESPACE = "prescrub-approval"
_SECONDS = 60
"""For a person to type the passphrase of a key."""


class CannotSign(Exception):
    """No signature was made; the text says why and what to do."""


class SignatureState(StrEnum):
    """What is known of a signature, in words."""

    UNSIGNED = "unsigned"
    GOOD = "signed"
    UNKNOWN = "signed, and not checked"
    WRONG = "signed, but the signature is not this person's or the line was changed"


def signature_of(approved: Approved, key: Path) -> str:
    """Return the signature of ``approved`` with the private key in the file ``key``. Raises CannotSign."""
    if not key.is_file():
        raise CannotSign(f"{quoted(str(key))} is not a file. Name the file of your private key, or leave --key out.")
    done = _asked("-Y", "sign", "-f", str(key), "-n", _NAMESPACE, text=signed_text(approved))
    if done is None:
        raise CannotSign("ssh-keygen is not installed here, or did not answer. Install OpenSSH, or leave --key out.")
    if done.returncode:
        why = done.stderr.decode("utf-8", "replace").strip().splitlines()
        raise CannotSign(f"{quoted(str(key))} made no signature: {why[-1] if why else 'ssh-keygen did not say why'}.")
    return done.stdout.decode()


def signer_of(name: str) -> str:
    """Return what ``ledger/signers`` calls the person with this ``name``."""
    return "-".join(re.findall(r"\w+", name.casefold()))


def signature_state(root: Path, approved: Approved) -> SignatureState:
    """Return what is known of the signature of ``approved``."""
    if approved.signature == UNSIGNED:
        return SignatureState.UNSIGNED
    signers = root / SIGNERS
    if not signers.is_file():
        return SignatureState.UNKNOWN
    with tempfile.TemporaryDirectory() as work:
        signature = Path(work) / "signature"
        signature.write_text(approved.signature, encoding="utf-8")
        names = ("-f", str(signers), "-I", signer_of(approved.by), "-n", _NAMESPACE, "-s", str(signature))
        done = _asked("-Y", "verify", *names, text=signed_text(approved))
    if done is None:
        return SignatureState.UNKNOWN
    return SignatureState.WRONG if done.returncode else SignatureState.GOOD


def _asked(*words: str, text: str) -> subprocess.CompletedProcess[bytes] | None:
    """Return what ssh-keygen made of ``text``; None where there is none, or none that answered."""
    program = which("ssh-keygen")
    if program is None:
        return None
    try:
        asked = [program, *words]
        return subprocess.run(asked, input=text.encode(), capture_output=True, check=False, timeout=_SECONDS)  # noqa: S603
    except (OSError, subprocess.TimeoutExpired):
        return None
