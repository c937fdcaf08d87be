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
from acquire.files.bounded_read import read_at_most
from acquire.printable_text import plain
from dashboard.errors import SetupError

NAMESPACE = "bandwright-record"
"""What the signature is for: one made for a letter is none for a record."""
LONGEST_S = 60.0
LARGEST_SIGNERS = 4 * 2**20
"""Bytes of a file of signers."""


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


def signature_words(
    folder: Path, allowed_signers: Path | None = None, wanted: str | None = None
) -> tuple[bool, str]:
    """Whether a record's signature holds, and a sentence about it.

    allowed_signers : whose keys are trusted, in OpenSSH's own form. Without it a record that is not
    signed holds, and of one that is the signature is checked, but by whom it was made is not known.
    wanted : whose signature alone will do, as allowed_signers calls them. Raises SetupError where
    it was asked who signed, and nothing here can tell.
    """
    signature, checksums = folder / SIGNATURE, folder / CHECKSUMS
    program = _program()
    if allowed_signers is not None:
        _require_means(program, allowed_signers)
    elif wanted is not None:
        raise SetupError(
            f'Who "{wanted}" is, nothing here tells. Name the file that has their key: '
            "--signers FILE."
        )
    if not signature.is_file():
        if allowed_signers is not None:
            return False, "It is not signed, and a signature by somebody trusted was asked for."
        return True, "It is not signed: the sums show change, not who made the record."
    if program is None:
        return True, "It is signed, but ssh-keygen is not installed here, so that was not checked."
    if not checksums.is_file():
        return False, f"It has a signature and no {CHECKSUMS}, so nothing is signed."
    if allowed_signers is None:
        return _unbroken(program, signature, checksums)
    return _by_whom(program, signature, checksums, allowed_signers, wanted)


def _require_means(program: str | None, allowed_signers: Path) -> None:
    """Raise SetupError where nothing here can tell who signed: that is no verdict."""
    if program is None:
        raise SetupError(
            "Who signed cannot be checked here: ssh-keygen is not installed. Install OpenSSH."
        )
    if not allowed_signers.is_file():
        raise SetupError(
            f"Who signed cannot be checked: there is no file {allowed_signers}. Check its name."
        )
    try:
        text = read_at_most(allowed_signers, LARGEST_SIGNERS).decode(errors="replace")
    except OSError as error:
        raise SetupError(
            f"Who signed cannot be checked: {allowed_signers} cannot be read: "
            f"{error.strerror or error}. Check its rights."
        ) from error
    lines = [line.strip() for line in text.splitlines()]
    if not any(line and not line.startswith("#") for line in lines):
        raise SetupError(
            f"Who signed cannot be checked: {allowed_signers} names nobody. Write a line for each "
            'who is trusted: "you@example.org ssh-ed25519 AAAA...".'
        )


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
    program: str, signature: Path, checksums: Path, allowed_signers: Path, wanted: str | None
) -> tuple[bool, str]:
    """find-principals tells the first alone whose key it is, so who is wanted is asked for."""
    trusted = ["-f", str(allowed_signers), "-s", str(signature)]
    found = _run([program, "-Y", "find-principals", *trusted])
    names = found.stdout.decode(errors="replace").strip().splitlines()
    if found.returncode or not names:
        return False, "The signature was made by a key that is not among those trusted."
    name = wanted or names[0]
    done = _run([program, "-Y", "verify", *trusted, "-I", name, "-n", NAMESPACE], checksums)
    if not done.returncode:
        return True, f"Signed by {plain(name)}."
    if wanted is not None:
        return False, (
            f'No signature of "{plain(wanted)}" holds ({_words(done)}); the key that signed is '
            f"that of {plain(names[0])}."
        )
    return False, f"The signature does not hold: {_words(done)}."


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
