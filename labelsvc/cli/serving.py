"""``serve``: the pages in a browser, on this machine or on the workshop's network."""

from __future__ import annotations

import secrets
import threading
import time
from pathlib import Path
from typing import Any

import click

from labelsvc import settings
from labelsvc.cli.options import database, now, opened
from labelsvc.errors import InputError, LabelsvcError
from labelsvc.ledger.database import Ledger
from labelsvc.operations.accounts import has_accounts


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="0.0.0.0 lets other devices of the network in.")
@click.option("--port", default=8321, show_default=True, type=click.IntRange(0, 65535), help="0 takes a free one.")
@click.option("--secret-file", type=click.Path(dir_okay=False, path_type=Path), help="Keeps who is signed in over a restart.")
@click.option(
    "--idle-minutes",
    default=settings.idle_minutes,
    show_default="LABELSVC_IDLE_MINUTES or 30",
    type=click.IntRange(0, 1440),
    help="A bench left alone so long asks again who is there; 0: never.",
)
@click.option(
    "--backup-folder",
    type=click.Path(file_okay=False, exists=True, path_type=Path),
    help="Write a copy into this folder each day; none is ever removed.",
)
@click.option(
    "--proxy",
    default=settings.proxy,
    show_default="LABELSVC_PROXY or none",
    help="Address of a proxy in front: its word is taken for who asks and whether by https, nobody else's.",
)
@database
def serve(
    host: str,
    port: int,
    secret_file: Path | None,
    idle_minutes: int,
    proxy: str,
    backup_folder: Path | None,
    database: str,
) -> None:
    """Show the pages: open the address it prints in a browser."""
    if backup_folder is not None:
        threading.Thread(target=_back_up_each_day, args=(opened(database), backup_folder), daemon=True).start()
    show_pages(database, host=host, port=port, secret_file=secret_file, idle_minutes=idle_minutes, proxy=proxy)


def _back_up_each_day(ledger: Ledger, folder: Path) -> None:
    """Write the day's copy; what fails is said, and tried again a quarter of an hour later."""
    from labelsvc.operations.keeping import backup_of_the_day

    while True:
        try:
            file = backup_of_the_day(ledger, folder, now())
        except LabelsvcError as error:
            click.echo(f"No backup: {error.message}", err=True)
        except Exception as error:  # noqa: BLE001  whatever it was, tomorrow's copy must be tried
            click.echo(f"No backup: {type(error).__name__}: {error}", err=True)
        else:
            if file is not None:
                click.echo(f"Backup written and read again: {file}", err=True)
        time.sleep(900)


def show_pages(
    database: str, *, host: str = "127.0.0.1", port: int, secret_file: Path | None = None, idle_minutes: int = 0, proxy: str = ""
) -> None:
    """Serve the pages until someone stops it, and say where to open them.

    Args:
        database: URL of the ledger.
        host: address to listen on.
        port: port to listen on; 0 takes a free one.
        secret_file: keeps who is signed in over a restart.
        idle_minutes: how long a bench may be left alone before it asks again who is there; 0 for ever.
        proxy: address of a proxy in front of it, or empty.

    Raises:
        InputError: the address is taken.
        LedgerIntegrityError: a fact is wrong; nothing is shown then.
    """
    import waitress

    from labelsvc.operations.keeping import start_up
    from labelsvc.web import create_app

    for sentence in start_up(opened(database), now()):
        click.echo(sentence, err=True)
    app = create_app(database, settings.layouts(), _secret(secret_file), idle_minutes=idle_minutes)
    try:
        server = waitress.create_server(app, host=host, port=port, threads=8, ident="labelsvc", **_passed_on(proxy))
    except OSError as error:
        raise InputError("port", "a host and port that are free", f"{host}:{port}", error.strerror or "") from None
    address = f"http://{'localhost' if host in ('0.0.0.0', '::') else host}:{server.effective_port}/"
    click.echo(f"Open {address}  (stop with Ctrl-C)")
    click.echo(_who_gets_in(database, address))
    server.run()


def _passed_on(proxy: str) -> dict[str, Any]:
    """Return how the server reads the headers of a proxy; they stay: what was passed on is never taken for this machine."""
    kept: dict[str, Any] = {"clear_untrusted_proxy_headers": False}
    if not proxy:
        return kept
    trusted = {"x-forwarded-for", "x-forwarded-proto"}  # never the host: the QR must not follow what someone sends
    return {**kept, "trusted_proxy": proxy, "trusted_proxy_count": 1, "trusted_proxy_headers": trusted}


def _who_gets_in(database: str, address: str) -> str:
    """Say whether anyone signs in yet."""
    if has_accounts(opened(database)):
        return "Everyone signs in; a buyer's page opens without."
    return (
        "No account is made yet: whoever sits at this machine may do everything, no other device anything. "
        f"Make the account of the responsible person at {address}first-account or by: labelsvc person NAME --role responsible "
        "--password-prompt"
    )


_LEAST_SECRET = 32  # characters; a new one has 43


def _secret(file: Path | None) -> str:
    """Return what sessions are signed with: kept in a file only its owner reads, or new at each start."""
    if file is None:
        return secrets.token_urlsafe(32)
    if not file.exists():
        part = file.with_name(f"{file.name}.part")  # whole or not at all: an empty one would sign for anyone
        part.unlink(missing_ok=True)
        part.touch(mode=0o600)
        part.write_text(secrets.token_urlsafe(32), encoding="ascii")
        part.replace(file)
    kept = file.read_text(encoding="ascii", errors="replace").strip()
    if len(kept) < _LEAST_SECRET:
        raise InputError(
            "secret-file", f"a file with {_LEAST_SECRET} characters or more, or one that is not there yet", str(file)
        )
    return kept
