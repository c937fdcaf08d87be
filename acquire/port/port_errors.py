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
                f"{address} is not a port or a URL ({fault}). Give a port's name as "
                "`bandwright ports` lists it, or a URL such as socket://host:port."
            ) from fault
        if isinstance(fault, OSError) or (kind.__module__, kind.__name__) == ("termios", "error"):
            raise PortError(
                _not_opened(address, fault) if opening else _gone(address, fault)
            ) from (fault)
        raise


def _gone(address: str, fault: Exception) -> str:
    return (
        f"The port {address} went away while in use ({fault}). {PLUG_IN} again, and "
        "close any other program that uses it."
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
            f"You have no permission to open {address}. On Linux, join the group that owns it "
            "(often `sudo usermod -aG dialout $USER`), then log in again."
        )
    if number in {errno.ENOENT, errno.ENXIO, errno.ENODEV} or "FileNotFoundError" in text:
        return f"There is no port {address}. {PLUG_IN}, then find its port with `bandwright ports`."
    if text.startswith("Cannot configure port"):
        return (
            f"{address} cannot be set up ({text}). Unplug the analyzer and plug it in again. If "
            "that does not help, install the driver that its maker names."
        )
    if number in {errno.ENOTTY, errno.EINVAL, errno.EISDIR} or "configure port" in text:
        return f"{address} is not a serial port. `bandwright ports` lists the serial ports."
    return (
        f"{address} cannot be opened ({text}). Check the cable and the address, and that the "
        "analyzer is switched on."
    )
