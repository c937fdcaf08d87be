"""What an operating system says of a port, in one sentence with its cure."""

from __future__ import annotations

import contextlib
import errno
from collections.abc import Iterator

from acquire.errors import PortError

PLUG_IN = "Plug the analyzer in"
"""How the cure begins where a port is not there: who finds it again by itself says so instead."""


@contextlib.contextmanager
def faults_named(address: str, *, opening: bool = False) -> Iterator[None]:
    """Turn what a port raises into a PortError of one sentence with its cure.

    Besides SerialException and OSError an unplugged port raises termios.error, which has no
    base in common with them and is told by its name: the module is not there on every system.
    """
    try:
        yield
    except Exception as fault:
        if isinstance(fault, PortError):
            raise
        kind = type(fault)
        if opening and isinstance(fault, (ValueError, ImportError)):
            raise PortError(
                f"{address} is no address an analyzer can be at ({fault}). Give a port's name as "
                "`bandwright ports` lists it, or a URL such as socket://host:port."
            ) from fault
        if isinstance(fault, OSError) or (kind.__module__, kind.__name__) == ("termios", "error"):
            raise PortError(
                _not_opened(address, fault) if opening else _gone(address, fault)
            ) from (fault)
        raise


def _gone(address: str, fault: Exception) -> str:
    return (
        f"The port {address} went away while it was used ({fault}). {PLUG_IN} again, and "
        "let no other program use the port."
    )


def _not_opened(address: str, fault: Exception) -> str:
    text = str(fault)
    number = getattr(fault, "errno", None) or (fault.args[0] if fault.args else None)
    if number in {errno.EBUSY, errno.EAGAIN} or "Access is denied" in text:
        return (
            f"{address} is in use by another program. Close that program, or choose another port."
        )
    if number in {errno.EACCES, errno.EPERM}:
        return (
            f"You may not open {address}. Give yourself the right: on Linux, join the group that "
            "owns it (often `sudo usermod -aG dialout $USER`), then log in again."
        )
    if number in {errno.ENOENT, errno.ENXIO, errno.ENODEV} or "FileNotFoundError" in text:
        return (
            f"There is no port {address}. {PLUG_IN}, and look with `bandwright ports` what "
            "its port is called now."
        )
    if text.startswith("Cannot configure port"):
        return (
            f"{address} does not let itself be set up ({text}). Unplug the analyzer, plug it in "
            f"again, "
            "and install the driver its maker names if that does not help."
        )
    if number in {errno.ENOTTY, errno.EINVAL, errno.EISDIR} or "configure port" in text:
        return f"{address} is not a serial port. `bandwright ports` lists those there are."
    return (
        f"{address} cannot be opened ({text}). Check the cable and the address, and that the "
        f"analyzer "
        "is switched on."
    )
