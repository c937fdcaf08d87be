"""TLS for a shared page, by a certificate that the user gives."""

from __future__ import annotations

import ssl
from pathlib import Path

from dashboard.errors import SetupError


def load_certificate(certificate: Path, key: Path | None = None) -> ssl.SSLContext:
    """What a server speaks TLS 1.2 or newer by.

    certificate : PEM, with those it was issued by behind it. key : PEM, without a passphrase;
    the certificate's own file where None.
    Raises SetupError where either cannot be used, or they do not belong together.
    """
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    context.minimum_version = ssl.TLSVersion.TLSv1_2
    try:
        context.load_cert_chain(certificate, key, password=_no_passphrase)
    except FileNotFoundError as error:
        gone = next(each for each in (certificate, key) if each is None or not each.exists())
        raise SetupError(
            f"There is no file {gone}. Check --share-certificate and --share-key."
        ) from error
    except ssl.SSLError as error:
        raise SetupError(
            f"{certificate}: {_why(error)}. --share-certificate takes a certificate in PEM form, "
            "--share-key the private key that it was made with."
        ) from error
    except OSError as error:
        raise SetupError(
            f"{certificate} or its key cannot be read: {error.strerror or error}. Check the rights."
        ) from error
    return context


def _no_passphrase() -> str:
    raise SetupError(
        "The key of --share-key is locked by a passphrase, which would have to be typed at every "
        "start. Give a copy without one, that only you can read."
    )


def _why(error: ssl.SSLError) -> str:
    if error.reason == "KEY_VALUES_MISMATCH":
        return "the key does not belong to the certificate"
    return "no certificate and key in PEM form were found"
