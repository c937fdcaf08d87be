"""Detached signatures by the user's own key, made and checked by OpenSSH's ssh-keygen.

`ssh-keygen -Y sign` writes the format of OpenSSH's PROTOCOL.sshsig [memory]; anyone checks it with
`ssh-keygen -Y verify`, without this program. Nothing is signed unless the user asks, and no key is
ever read here: ssh-keygen does that, with an agent where there is one.
"""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path

from acceptance.record.checksums import CHECKSUMS, SIGNATURE
from acquire.printable_text import plain
from dashboard.errors import SetupError

NAMESPACE = "bandwright-record"
"""What the signature is for: one made for a letter is none for a record."""
LONGEST_S = 60.0


def signer(key: Path) -> Callable[[bytes], bytes]:
    """What signs by a key: its private file, or the public one of a key that an agent holds.

    Raises SetupError where ssh-keygen or the key is not at hand.
    """
    program = _program()
    if program is None:
        raise SetupError("--sign needs ssh-keygen, which is not installed. Install OpenSSH.")
    if not key.is_file():
        raise SetupError(f"There is no key {key} to sign with. `ssh-keygen -t ed25519` makes one.")

    def sign(content: bytes) -> bytes:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / CHECKSUMS
            path.write_bytes(content)
            done = _run([program, "-Y", "sign", "-f", str(key), "-n", NAMESPACE, str(path)])
            signature = path.with_name(f"{CHECKSUMS}.sig")
            if done.returncode or not signature.is_file():
                raise SetupError(f"The record could not be signed: {_words(done)}.")
            return signature.read_bytes()

    return sign


def signature_words(folder: Path, allowed_signers: Path | None = None) -> tuple[bool, str]:
    """Whether a record's signature holds, and a sentence about it; True where there is none.

    allowed_signers : whose keys are trusted, in OpenSSH's own form; without it the signature is
    checked, but by whom it was made is not known.
    """
    signature, checksums = folder / SIGNATURE, folder / CHECKSUMS
    if not signature.is_file():
        return True, "It is not signed: the sums show change, not who made the record."
    program = _program()
    if program is None:
        return True, "It is signed, but ssh-keygen is not installed here, so that was not checked."
    if allowed_signers is None:
        return _unbroken(program, signature, checksums)
    return _by_whom(program, signature, checksums, allowed_signers)


def _unbroken(program: str, signature: Path, checksums: Path) -> tuple[bool, str]:
    done = _run(
        [program, "-Y", "check-novalidate", "-n", NAMESPACE, "-s", str(signature)], checksums
    )
    if done.returncode:
        return False, f"The signature does not hold: {_words(done)}."
    return True, (
        f"The signature holds ({_words(done)}). Whose key that is must be known otherwise: "
        "--signers FILE names keys that are trusted."
    )


def _by_whom(
    program: str, signature: Path, checksums: Path, allowed_signers: Path
) -> tuple[bool, str]:
    trusted = ["-f", str(allowed_signers), "-s", str(signature)]
    found = _run([program, "-Y", "find-principals", *trusted])
    names = found.stdout.decode(errors="replace").strip().splitlines()
    if found.returncode or not names:
        return False, "The signature was made by a key that is not among those trusted."
    done = _run([program, "-Y", "verify", *trusted, "-I", names[0], "-n", NAMESPACE], checksums)
    if done.returncode:
        return False, f"The signature does not hold: {_words(done)}."
    return True, f"Signed by {plain(names[0])}."


def _program() -> str | None:
    return shutil.which("ssh-keygen")


def _run(arguments: list[str], content: Path | None = None) -> subprocess.CompletedProcess[bytes]:
    """No shell, nothing asked for on the terminal but a passphrase, by ssh-keygen itself."""
    given = b"" if content is None else content.read_bytes()
    return subprocess.run(  # noqa: S603 - arguments are a list, the program was looked up
        arguments, input=given, capture_output=True, timeout=LONGEST_S, check=False
    )


def _words(done: subprocess.CompletedProcess[bytes]) -> str:
    text = (done.stderr or done.stdout).decode(errors="replace").strip()
    line = text.splitlines()[-1] if text else f"ssh-keygen ended with {done.returncode}"
    return plain(line).rstrip(".")[:200]
