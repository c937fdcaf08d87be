"""A shared page by TLS: nobody reads along, and a certificate that cannot serve is named."""

from __future__ import annotations

import asyncio
import datetime
import ipaddress
import ssl
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from websockets.asyncio.client import connect
from websockets.typing import Origin

from dashboard.access.certificate import load_certificate
from dashboard.access.sharing import Sharing, privacy
from dashboard.bench.composed_bench import Bench
from dashboard.errors import SetupError
from dashboard.server.page_server import ADDRESS, Share, listen
from tests.counts import PATIENCE_S
from tests.dashboard.access.test_sharing import code_of, join, lend_to_the_last
from tests.dashboard.conftest import finish, origin, serving, until
from tests.dashboard.server.test_page_server import action_call, own


def make(folder: Path, name: str = "weir", passphrase: bytes = b"") -> tuple[Path, Path]:
    """A certificate for this machine that vouches for itself, and its key, as files."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    day = datetime.datetime.now(datetime.UTC).replace(hour=0)
    names = [x509.IPAddress(ipaddress.ip_address(ADDRESS)), x509.DNSName("localhost")]
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(day - datetime.timedelta(days=1))
        .not_valid_after(day + datetime.timedelta(days=2))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .sign(key, hashes.SHA256())
    )
    lock: serialization.KeySerializationEncryption = serialization.NoEncryption()
    if passphrase:
        lock = serialization.BestAvailableEncryption(passphrase)
    paths = folder / f"{name}.pem", folder / f"{name}.key"
    paths[0].write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    paths[1].write_bytes(
        key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, lock)
    )
    return paths


@pytest.fixture
def pair(tmp_path: Path) -> tuple[Path, Path]:
    return make(tmp_path)


@pytest.fixture
def private(bench: Bench, pair: tuple[Path, Path]) -> Iterator[tuple[Sharing, str]]:
    """The page, shared by TLS; the sharing, and the bench's own address."""
    sockets = [listen(0), listen(0)]
    sharing = Sharing("localhost", sockets[1].getsockname()[1], private=True)
    with serving(bench, *sockets, sharing=sharing, tls=Share(*pair).tls()):
        yield sharing, origin(sockets[0])


async def first_heard(
    feed: str, reading_budget: ssl.SSLContext, origin: str, headers: dict[str, str]
) -> bytes:
    """The feed's first message. In one thread: OpenSSL's connections are not for two at once."""
    async with connect(
        feed, ssl=reading_budget, origin=Origin(origin), additional_headers=headers
    ) as socket:
        heard = await asyncio.wait_for(socket.recv(decode=False), PATIENCE_S)
    assert isinstance(heard, bytes)
    return heard


def test_the_shared_page_goes_by_tls_and_the_bench_s_own_does_not(
    bench: Bench, private: tuple[Sharing, str], pair: tuple[Path, Path]
) -> None:
    until(bench, lambda now: now.sequence > 0)
    sharing, bench_url = private
    assert httpx.get(bench_url).status_code == 200
    assert sharing.state.address.startswith("https://localhost:")
    reading_budget = ssl.create_default_context(cafile=str(pair[0]))
    with httpx.Client(verify=reading_budget, base_url=f"https://{sharing.authority}") as viewer:
        answer = join(viewer, code_of(sharing))
        assert answer.status_code == 303
        assert "secure" in answer.headers["set-cookie"].lower()
        assert viewer.get("/").status_code == 200
        lend_to_the_last(sharing)
        answer = viewer.post(
            "/_dash-update-component", headers=own(viewer), json=action_call("hold")
        )
        assert answer.status_code == 200
        feed = f"wss://{sharing.authority}/feed"
        headers = {"Cookie": "; ".join(f"{n}={v}" for n, v in viewer.cookies.items())}
        origin = f"https://{sharing.authority}"
        first = finish(first_heard(feed, reading_budget, origin, headers))
        assert b'"role":"lent"' in first
        plain = own(viewer) | {"origin": origin.replace("https", "http")}
        answer = viewer.post("/_dash-update-component", headers=plain, json=action_call("hold"))
        assert answer.status_code == 403, "a page without TLS is another origin"


def test_without_tls_the_shared_port_answers_nothing(private: tuple[Sharing, str]) -> None:
    sharing, _ = private
    with pytest.raises(httpx.HTTPError):
        httpx.get(f"http://{sharing.authority}/?code={code_of(sharing)}")


def test_old_tls_is_not_spoken(pair: tuple[Path, Path]) -> None:
    assert load_certificate(*pair).minimum_version >= ssl.TLSVersion.TLSv1_2


def test_key_and_certificate_may_stand_in_one_file(pair: tuple[Path, Path], tmp_path: Path) -> None:
    both = tmp_path / "both.pem"
    both.write_bytes(pair[0].read_bytes() + pair[1].read_bytes())
    assert load_certificate(both)


def test_a_certificate_that_cannot_serve_is_named_with_the_cure(
    pair: tuple[Path, Path], tmp_path: Path
) -> None:
    certificate, key = pair
    other, other_key = make(tmp_path, "other", b"open sesame")
    nonsense = tmp_path / "nonsense.pem"
    nonsense.write_text("nonsense")
    plain, plain_key = make(tmp_path, "plain")
    for files, sentence in (
        ((tmp_path / "none.pem", key), r"There is no file .*none\.pem"),
        ((certificate, tmp_path / "none.key"), r"There is no file .*none\.key"),
        ((nonsense, key), "no certificate and key in PEM form"),
        ((certificate, None), "no certificate and key in PEM form"),
        ((plain, key), "the key does not belong to the certificate"),
        ((other, other_key), "locked by a passphrase"),
        ((tmp_path, key), "--share-certificate|rights"),
    ):
        with pytest.raises(SetupError, match=sentence):
            load_certificate(*files)
    assert load_certificate(plain, plain_key)


def test_who_can_read_along_is_said_plainly() -> None:
    assert "everyone on this network can read along" in privacy(Sharing("192.0.2.7", 8000))
    assert "nobody on the way" in privacy(Sharing("192.0.2.7", 8000, private=True))
