"""Where a printer is, and one question to it: a message goes there by HTTP and its answer comes back (RFC 8010, section 4).

Whoever names an address makes this machine ask something there. So nothing but a message of the protocol is sent, nothing but
one is taken as an answer, no other address is followed, what was answered is never repeated, and the whole question has an end.
"""

from __future__ import annotations

import errno
import http.client
import re
import socket
import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from urllib.parse import urlsplit

from labelsvc.errors import InputError, PrinterError
from labelsvc.printing.ipp import Message, Unreadable, decode, encode

MEDIA_TYPE = "application/ipp"
PATIENCE = 5.0  # seconds for a question about the printer or a job
PATIENCE_FOR_A_DOCUMENT = 30.0  # seconds for a document, which some printers take at the speed of their paper
LONGEST_ANSWER = 1_000_000  # bytes; the longest seen from a printer is a tenth of it
LONGEST_ADDRESS = 1023  # bytes, RFC 8011, section 5.1.6
_SCHEMES = {"ipp": ("http", 631), "ipps": ("https", 631), "http": ("http", 80), "https": ("https", 443)}
_PLAIN = re.compile(r"[!-~]+", re.ASCII)
_EXPECTED = "the address of a printer, such as ipp://192.0.2.7/ipp/print"


@dataclass(frozen=True)
class Address:
    """The address of a printer, as it was given.

    Args:
        uri: the whole, with the scheme ipp, ipps, http or https.
        host: name or number of the machine.
        port: of the machine.
        path: of the printer on it.
        is_secure: whether what goes there is sealed by TLS.
    """

    uri: str
    host: str
    port: int
    path: str
    is_secure: bool

    @classmethod
    def parse(cls, text: str) -> Address:
        """Return the address that a text is.

        Raises:
            InputError: it is none.

        >>> Address.parse("ipp://labels.example.com/ipp/print").port
        631
        """
        uri = text.strip()
        try:
            parts = urlsplit(uri)
            port = parts.port
        except ValueError:
            raise InputError("uri", _EXPECTED, uri) from None
        if parts.scheme not in _SCHEMES:
            raise InputError("uri", _EXPECTED, uri or "nothing", "It begins with ipp, ipps, http or https.")
        if len(uri) > LONGEST_ADDRESS or not parts.hostname or not _PLAIN.fullmatch(uri):
            raise InputError("uri", _EXPECTED, uri[:200])
        if parts.username is not None or parts.query or parts.fragment:
            raise InputError("uri", f"{_EXPECTED}, without a name, password or question mark", uri[:200])
        carrier, usual = _SCHEMES[parts.scheme]
        return cls(uri, parts.hostname, port or usual, parts.path or "/", carrier == "https")

    def __str__(self) -> str:
        return self.uri


def ask(address: Address, message: Message, name: str, document: bytes = b"", patience: float = PATIENCE) -> Message:
    """Send a message, and return the answer.

    Args:
        address: of the printer.
        message: the question.
        name: of the printer, for errors.
        document: what follows the message.
        patience: seconds after which it is given up, however slowly something still comes.

    Raises:
        PrinterError: nobody answers there, or not as a printer does.
        LostAnswerError: it was sent, and no whole answer came back.
    """
    try:
        connected = _connected(address, patience)
    except (OSError, ValueError) as trouble:
        raise PrinterError("printer", f"{name} to answer", _in_words(trouble), _LOOK) from None
    try:
        content = _exchange(address, connected, encode(message) + document, patience)
        answer = decode(content)
    except _NotAPrinterError as wrong:
        raise PrinterError("printer", f"{name} to answer as a printer", str(wrong), _LOOK_AT_ADDRESS) from None
    except Unreadable as wrong:
        raise LostAnswerError("printer", f"{name} to answer as a printer", f"an answer with {wrong}", _LOOK_AT_ADDRESS) from None
    except ssl.SSLCertVerificationError:
        raise PrinterError("printer", f"{name} with a certificate trusted here", "another one", _CERTIFICATE) from None
    except (OSError, http.client.HTTPException, ValueError) as trouble:
        raise LostAnswerError("printer", f"{name} to answer", _in_words(trouble), _LOOK) from None
    if answer.request != message.request:
        raise PrinterError("printer", f"{name} to answer what it was asked", "the answer to something else", _LOOK_AT_ADDRESS)
    return answer


_LOOK = "Is it switched on, and on the workshop's network?"
_LOOK_AT_ADDRESS = "Is this the printer's own address? It often ends in /ipp/print."
_CERTIFICATE = "Give its address with ipp:// on the workshop's own network, or make this machine trust its certificate."


class LostAnswerError(PrinterError):
    """The question went out and no whole answer came back: the printer may have done what it was asked."""


class _NotAPrinterError(Exception):
    """Something answers there that is no printer."""


def _exchange(address: Address, connected: socket.socket, body: bytes, patience: float) -> bytes:
    connection = http.client.HTTPConnection(address.host, address.port)
    connection.sock = connected
    try:
        with _given_up_after(patience, connection.sock) as is_late:
            if isinstance(connection.sock, ssl.SSLSocket):
                connection.sock.do_handshake()
            connection.request("POST", address.path, body, {"Content-Type": MEDIA_TYPE, "Accept": MEDIA_TYPE})
            with connection.getresponse() as response:
                content = _content(response)
    except (OSError, http.client.HTTPException, ValueError):
        if is_late.is_set():
            raise TimeoutError from None
        raise
    finally:
        connection.close()
    if is_late.is_set():
        raise TimeoutError  # the end of the connection looked like the end of the answer
    return content


def _connected(address: Address, patience: float) -> socket.socket:
    """Return a connection, sealed where the address says so; hands are shaken later, while the time is watched."""
    plain = socket.create_connection((address.host, address.port), timeout=patience)
    if not address.is_secure:
        return plain
    sealing = ssl.create_default_context()
    return sealing.wrap_socket(plain, server_hostname=address.host, do_handshake_on_connect=False)


@contextmanager
def _given_up_after(seconds: float, connected: socket.socket) -> Iterator[threading.Event]:
    """End a connection when time is up: a timeout of the socket alone begins anew with each byte that trickles in."""
    is_late = threading.Event()

    def give_up() -> None:
        is_late.set()
        with suppress(OSError):
            connected.shutdown(socket.SHUT_RDWR)

    timer = threading.Timer(seconds, give_up)
    timer.daemon = True
    timer.start()
    try:
        yield is_late
    finally:
        timer.cancel()


def _content(response: http.client.HTTPResponse) -> bytes:
    if response.status != http.client.OK:
        raise _NotAPrinterError(f"HTTP status {response.status}")
    if response.headers.get_content_type() != MEDIA_TYPE:
        raise _NotAPrinterError("a page that is no answer of a printer")
    content = response.read(LONGEST_ANSWER + 1)
    if len(content) > LONGEST_ANSWER:
        raise _NotAPrinterError(f"more than {LONGEST_ANSWER} bytes")
    return content


def _in_words(trouble: Exception) -> str:
    if isinstance(trouble, TimeoutError):
        return "no answer in time"
    if isinstance(trouble, ConnectionRefusedError):
        return "nobody who listens at its address"
    if isinstance(trouble, socket.gaierror):
        return "no machine of that name"
    if isinstance(trouble, OSError) and trouble.errno in (errno.EHOSTUNREACH, errno.ENETUNREACH):
        return "no way from here to its address"
    return "no whole answer"
