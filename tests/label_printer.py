"""A printer of the tests' own: a real process that speaks the protocol, on the loopback address with a folder of its own."""

import http.client
import http.server
import itertools
import os
import shutil
import signal
import socket
import subprocess
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.parse import urlsplit

import pytest

from labelsvc.errors import PrinterError
from labelsvc.printing.address import Address
from labelsvc.printing.send import Printer

PROGRAM, BUS = "ippeveprinter", "dbus-daemon"  # it asks a bus to announce it, and ends without one: it gets one of its own
SIZES = {"tag": (6000, 12000), "sale": (7000, 10000)}  # hundredths of a millimetre
# What the printer does with a document: keeps it, and the size that it was told, where the test finds both.
_COMMAND = """#!/bin/sh
n=$(ls "{kept}" | grep -c document)
cp "$1" "{kept}/$n.part"
env | grep ^IPP_ > "{kept}/said-$n"
mv "{kept}/$n.part" "{kept}/document-$n"
while [ -e "{folder}/slow" ]; do sleep 0.05; done
if [ -e "{folder}/reason" ]; then
  reason=$(cat "{folder}/reason")
  echo "STATE: +$reason" >&2
  while [ -e "{folder}/reason" ]; do sleep 0.05; done
  echo "STATE: -$reason" >&2
fi
[ ! -e "{folder}/broken" ]
"""


class LabelPrinter:
    """A running printer.

    Args:
        folder: of what it was told and what it got.
        formats: the media types it takes.
        resolution: dots per inch.
    """

    def __init__(self, folder: Path, formats: str = "application/pdf", resolution: int = 203) -> None:
        self.folder = folder
        self.kept = folder / "kept"
        self.kept.mkdir()
        (folder / "spool").mkdir()
        self._port = _free_port()
        self.uri = f"ipp://localhost:{self._port}/ipp/print"
        self._command = folder / "command.sh"
        self._command.write_text(_COMMAND.format(kept=self.kept, folder=folder))
        self._command.chmod(0o755)
        (folder / "printer.conf").write_text(_described(formats, resolution))
        self._running = None
        self.start()

    def start(self) -> None:
        """Switch it on, and wait until it answers."""
        words = [_program(PROGRAM), "-r", "off", "-n", "localhost", "-p", str(self._port), "-d", str(self.folder / "spool"),
                 "-a", str(self.folder / "printer.conf"), "-c", str(self._command), "labels"]  # fmt: skip
        environment = {**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": f"unix:path={self.folder.parent / 'bus'}"}
        log = (self.folder / "log").open("ab")
        self._running = subprocess.Popen(words, env=environment, stdout=log, stderr=log, start_new_session=True)
        log.close()
        for _ in range(1200):
            with suppress(PrinterError):
                Printer("the tests' printer", Address.parse(self.uri)).state()
                return
            assert self._running.poll() is None, (self.folder / "log").read_text()
            time.sleep(0.05)
        raise AssertionError("the printer did not start")

    def stop(self) -> None:
        """Switch it off, whatever it does; what it runs ends with it."""
        if self._running is not None:
            with suppress(ProcessLookupError):
                os.killpg(self._running.pid, signal.SIGKILL)
            self._running.wait()
            self._running = None

    def documents(self, wanted: int = 1) -> list[bytes]:
        """Return the documents it got, as soon as they are so many."""
        for _ in range(1200):
            found = sorted(self.kept.glob("document-*"), key=lambda file: int(file.name.partition("-")[2]))
            if len(found) >= wanted:
                return [file.read_bytes() for file in found]
            time.sleep(0.05)
        raise AssertionError(f"{len(found)} documents came")

    def told(self, number: int = 0) -> dict[str, str]:
        """Return what it was told of a job, by the names its own program gives."""
        lines = (self.kept / f"said-{number}").read_text().splitlines()
        return dict(line.partition("=")[::2] for line in lines)

    @contextmanager
    def being(self, how: str, reason: str = "") -> Iterator[None]:
        """Let it be ``slow``, ``broken``, or stopped for a ``reason`` while the block lasts."""
        file = self.folder / how
        file.write_text(reason)
        try:
            yield
        finally:
            file.unlink()


@contextmanager
def bus(folder: Path) -> Iterator[None]:
    """Give the printers of a folder a bus to announce themselves on, which nobody hears."""
    words = [_program(BUS), "--session", f"--address=unix:path={folder / 'bus'}", "--nofork", "--nopidfile", "--nosyslog"]
    running = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    for _ in range(1200):
        if (folder / "bus").exists():
            break
        time.sleep(0.02)
    try:
        yield
    finally:
        running.kill()
        running.wait()


@contextmanager
def losing(printer: LabelPrinter) -> Iterator[tuple[str, set[int]]]:
    """Give another address of a printer, and the operations whose answers are lost on the way back from there.

    What is asked arrives: only what the printer says to it does not.
    """
    lost: set[int] = set()
    there = urlsplit(printer.uri)

    class Between(http.server.BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked = self.rfile.read(int(self.headers["Content-Length"]))
            onward = http.client.HTTPConnection(str(there.hostname), there.port)
            onward.request("POST", self.path, asked, {"Content-Type": self.headers["Content-Type"]})
            answer = onward.getresponse().read()
            onward.close()
            if int.from_bytes(asked[2:4], "big") in lost:  # RFC 8010, 3.1.1: version, operation
                return
            self.send_response(200)
            self.send_header("Content-Type", "application/ipp")
            self.send_header("Content-Length", str(len(answer)))
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, *_: object) -> None:
            pass

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Between)
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
    thread.start()
    yield f"ipp://127.0.0.1:{server.server_port}{there.path}", lost
    server.shutdown()
    thread.join()
    server.server_close()


_names = itertools.count(1)


@contextmanager
def running(folder: Path, **how: object) -> Iterator[LabelPrinter]:
    """Give a printer for as long as the block lasts, in a folder where a bus is running."""
    own = folder / f"printer-{next(_names)}"
    own.mkdir()
    printer = LabelPrinter(own, **how)
    try:
        yield printer
    finally:
        printer.stop()


def _described(formats: str, resolution: int) -> str:
    """Say what the printer is like: labels of our sizes, and no paper of an office."""
    sizes = [f"{{MEMBER integer x-dimension {wide} MEMBER integer y-dimension {high}}}" for wide, high in SIZES.values()]
    names = [f"om_{name}_{wide // 100}x{high // 100}mm" for name, (wide, high) in SIZES.items()]
    margins = " ".join(f"MEMBER integer media-{side}-margin 0" for side in ("bottom", "left", "right", "top"))
    collections = ",".join(f"{{MEMBER collection media-size {size} {margins}}}" for size in sizes)
    lines = [
        f"ATTR keyword media-supported {','.join(names)}",
        f"ATTR keyword media-ready {','.join(names)}",
        f"ATTR keyword media-default {names[0]}",
        f"ATTR collection media-size-supported {','.join(sizes)}",
        f"ATTR collection media-col-database {collections}",
        f"ATTR collection media-col-ready {collections}",
        f"ATTR collection media-col-default {{MEMBER collection media-size {sizes[0]} {margins}}}",
        "ATTR keyword media-col-supported media-size,media-top-margin,media-bottom-margin,media-left-margin,media-right-margin",
        "ATTR keyword print-scaling-supported auto,fit,none",
        "ATTR keyword print-scaling-default fit",
        "ATTR rangeOfInteger copies-supported 1-99",
        "ATTR integer copies-default 1",
        *(f"ATTR integer media-{side}-margin-supported 0" for side in ("bottom", "left", "right", "top")),
        f"ATTR resolution printer-resolution-supported {resolution}dpi",
        f"ATTR resolution printer-resolution-default {resolution}dpi",
        f"ATTR resolution pwg-raster-document-resolution-supported {resolution}dpi",
        f"ATTR mimeMediaType document-format-supported {formats}",
    ]
    return "\n".join(lines) + "\n"


def _program(name: str) -> str:
    """Return the path of a program; where it is missing the test is left out, in CI it fails."""
    found = shutil.which(name, path=f"{os.environ.get('PATH', '')}:/usr/sbin:/usr/bin")
    if found is None:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(f"{name} is not installed")
    return str(found)


def _free_port() -> int:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])
