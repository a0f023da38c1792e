"""The shop's own certificates: an authority that a phone trusts once, and the one the door shows.

Both lie in the data folder with their keys, closed to everyone but its owner. The authority may
speak for addresses of a shop's network only (RFC 5280, 4.2.1.10), so that whoever steals it cannot
pass for anything else on a phone that trusts it. The door's certificate is made anew by itself:
before it ends, and when this machine has got another address.
"""

from __future__ import annotations

import os
import secrets
import ssl
from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from rehang.trade.terms.errors import Refused

__all__ = ["GivenPapers", "OwnPapers", "Papers"]

# A phone trusts the authority once, for as long as a bench computer lives. Our choice, no source.
AUTHORITY_LASTS = timedelta(days=3650)
# Phones refuse a longer one: CA/Browser Forum Baseline Requirements 6.3.2 (from memory).
DOOR_LASTS, RENEWED_BEFORE = timedelta(days=397), timedelta(days=30)
# A phone whose clock is a day slow takes it all the same.
BACKDATED = timedelta(days=1)
# What a shop's network is addressed by: RFC 1918, RFC 3927, RFC 4193, RFC 4291, and this machine.
NETWORKS = tuple(
    ip_network(one)
    for one in (
        "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8",
        "fc00::/7", "fe80::/10", "::1/128",
    )
)  # fmt: skip
# RFC 6762, 3; RFC 6761, 6.3.
NAMES = ("local", "localhost")
NO_NETWORK = (
    "This machine has no address on a shop's network (10.x, 172.16.x to 172.31.x, 192.168.x), so "
    "nothing is served. Join the shop's Wi-Fi first, or give the shop's own certificate with "
    "--certificate and --key."
)


class Papers:
    """The context that the door speaks TLS with, and what a phone must trust first.

    ``authority`` is that certificate, DER; empty where a phone trusts the door as it is.
    """

    authority = b""

    def __init__(self) -> None:
        self.context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        self.context.minimum_version = ssl.TLSVersion.TLSv1_2
        self.context.set_alpn_protocols(["http/1.1"])

    def keep_good(self, reached_at: Iterable[str], now: datetime) -> None:
        """Look whether the door's certificate is still good for these addresses and names.

        Raises
        ------
        Refused
            There is none that can be shown.
        """
        raise NotImplementedError


class GivenPapers(Papers):
    """A certificate of the shop's own, which somebody else renews; read again when its file changes."""

    def __init__(self, certificate: Path, key: Path) -> None:
        super().__init__()
        self._certificate, self._key = certificate, key
        self._read_at = 0.0

    def keep_good(self, reached_at: Iterable[str], now: datetime) -> None:
        try:
            changed = max(self._certificate.stat().st_mtime, self._key.stat().st_mtime)
            if changed == self._read_at:
                return
            shown = x509.load_pem_x509_certificate(self._certificate.read_bytes())
            # A context of its own first: one that does not fit leaves the door as it was.
            Papers().context.load_cert_chain(self._certificate, self._key)
            self.context.load_cert_chain(self._certificate, self._key)
        except OSError as problem:
            # An SSLError is one too, and its own words name no file.
            why = problem.strerror if not isinstance(problem, ssl.SSLError) else "no such pair"
            raise Refused(
                f"{self._certificate} and {self._key} cannot be used ({why}). Give a certificate "
                "with --certificate and the key that belongs to it with --key, both as PEM, the key "
                "without a password."
            ) from None
        except ValueError:
            raise Refused(
                f"{self._certificate} is no certificate. Give one as PEM, which begins "
                '"-----BEGIN CERTIFICATE-----".'
            ) from None
        if shown.not_valid_after_utc <= now:
            raise Refused(
                f"{self._certificate} ended on {shown.not_valid_after_utc:%Y-%m-%d}. "
                "Put a newer one in its place."
            )
        self._read_at = changed


class OwnPapers(Papers):
    """An authority of this shop's own and what it says of the door, both made where missing."""

    def __init__(self, data: Path) -> None:
        super().__init__()
        self._folder = data / "certificates"
        self._folder.mkdir(parents=True, exist_ok=True, mode=0o700)
        self._folder.chmod(0o700)
        self._shown: x509.Certificate | None = None

    def keep_good(self, reached_at: Iterable[str], now: datetime) -> None:
        asked = list(reached_at)
        said = _named(asked)
        # Served at this machine alone, its own address is enough.
        wanted = [one for one in map(_address, asked) if one and not one.is_loopback]
        shown = [one.value for one in said if isinstance(one, x509.IPAddress)]
        if not shown or (wanted and all(one.is_loopback for one in shown)):
            raise Refused(NO_NETWORK)
        key, authority = self._pair("authority") or self._new_authority(now)
        if authority.not_valid_after_utc <= now:
            raise Refused(
                f"The shop's certificate authority ended on {authority.not_valid_after_utc:%Y-%m-%d}. "
                f"Delete {self._folder}, serve again, and have each phone trust the new one."
            )
        self.authority = authority.public_bytes(serialization.Encoding.DER)
        if self._shown is not None and _is_good(self._shown, authority, said, now):
            return
        kept = self._pair("door")
        if kept is None or not _is_good(kept[1], authority, said, now):
            kept = self._new_door(key, authority, said, now)
        self.context.load_cert_chain(self._folder / "door.pem")
        self._shown = kept[1]

    def _pair(self, name: str) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate] | None:
        """Key and certificate of one file, or None where it is not there."""
        file = self._folder / f"{name}.pem"
        try:
            text = file.read_bytes()
            key = serialization.load_pem_private_key(text, None)
            certificate = x509.load_pem_x509_certificate(text)
        except FileNotFoundError:
            return None
        except (OSError, ValueError, TypeError):
            raise Refused(
                f"{file} cannot be read. Bring it back from a copy, or delete {self._folder}, serve "
                "again, and have each phone trust the new certificate."
            ) from None
        assert isinstance(key, ec.EllipticCurvePrivateKey)
        return key, certificate

    def _new_authority(self, now: datetime) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
        key = ec.generate_private_key(ec.SECP256R1())
        # Two shops on one phone are told apart.
        name = _name(f"Rehang, this shop only ({secrets.token_hex(3)})")
        allowed = [*map(x509.IPAddress, NETWORKS), *map(x509.DNSName, NAMES)]
        made = (
            _begun(name, name, key, now, AUTHORITY_LASTS)
            .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
            .add_extension(_usage(signs_certificates=True), critical=True)
            .add_extension(x509.NameConstraints(allowed, None), critical=True)
            .sign(key, hashes.SHA256())
        )
        self._write("authority", key, made)
        return key, made

    def _new_door(
        self,
        by: ec.EllipticCurvePrivateKey,
        authority: x509.Certificate,
        said: list[x509.GeneralName],
        now: datetime,
    ) -> tuple[ec.EllipticCurvePrivateKey, x509.Certificate]:
        key = ec.generate_private_key(ec.SECP256R1())
        lasts = min(DOOR_LASTS, authority.not_valid_after_utc - now)
        made = (
            _begun(_name("Rehang bench"), authority.subject, key, now, lasts)
            .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
            .add_extension(_usage(signs_certificates=False), critical=True)
            .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
            .add_extension(x509.SubjectAlternativeName(said), critical=False)
            .add_extension(
                x509.AuthorityKeyIdentifier.from_issuer_public_key(by.public_key()), critical=False
            )
            .sign(by, hashes.SHA256())
        )
        self._write("door", key, made)
        return key, made

    def _write(self, name: str, key: ec.EllipticCurvePrivateKey, made: x509.Certificate) -> None:
        """Whole or not at all: written beside its place, on the disk, then put there."""
        beside = self._folder / f".{name}.{secrets.token_hex(4)}"
        handle = os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            file.write(
                key.private_bytes(
                    serialization.Encoding.PEM,
                    serialization.PrivateFormat.PKCS8,
                    serialization.NoEncryption(),
                )
                + made.public_bytes(serialization.Encoding.PEM)
            )
            file.flush()
            os.fsync(file.fileno())
        beside.replace(self._folder / f"{name}.pem")


def _named(reached_at: Iterable[str]) -> list[x509.GeneralName]:
    """The addresses and names that the authority may speak for; of others nothing is said."""
    found: list[x509.GeneralName] = []
    for one in sorted(set(reached_at)):
        address = _address(one)
        if address is None:
            if any(one == name or one.endswith(f".{name}") for name in NAMES):
                found.append(x509.DNSName(one))
        elif any(address in net for net in NETWORKS if net.version == address.version):
            found.append(x509.IPAddress(address))
    return found


def _address(said: str) -> IPv4Address | IPv6Address | None:
    """An address; None of a name."""
    try:
        return ip_address(said)
    except ValueError:
        return None


def _is_good(
    shown: x509.Certificate,
    authority: x509.Certificate,
    said: list[x509.GeneralName],
    now: datetime,
) -> bool:
    of = shown.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    ends = min(shown.not_valid_after_utc, authority.not_valid_after_utc)
    return (
        shown.issuer == authority.subject
        and set(said) <= set(of)
        and shown.not_valid_before_utc <= now
        and (now < ends - RENEWED_BEFORE or ends == authority.not_valid_after_utc)
    )


def _name(said: str) -> x509.Name:
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, said)])


def _begun(
    subject: x509.Name,
    issuer: x509.Name,
    key: ec.EllipticCurvePrivateKey,
    now: datetime,
    lasts: timedelta,
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(issuer)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now.astimezone(UTC) - BACKDATED)
        .not_valid_after(now.astimezone(UTC) + lasts)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
    )


def _usage(*, signs_certificates: bool) -> x509.KeyUsage:
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        encipher_only=False,
        decipher_only=False,
    )
