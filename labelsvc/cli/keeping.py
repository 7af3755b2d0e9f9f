"""Commands that look after the ledger: verify, rebuild, head, backup, restore, import."""

from __future__ import annotations

from pathlib import Path

import click

from labelsvc.cli.options import as_json, database, now, opened, show_json

_file = click.argument("file", type=click.Path(dir_okay=False, path_type=Path))


@click.command()
@click.option("--deep", is_flag=True, help="Derive everything anew beside it and compare all of it; takes as long as rebuild.")
@click.option("--head", metavar="LINE", help="A line that the command head printed earlier, or a file of such lines.")
@as_json
@database
def verify(deep: bool, head: str | None, as_json: bool, database: str) -> None:
    """Walk the sealed chain of facts and check that every movement sums to zero; names the first wrong fact.

    Who rewrites the whole chain is found out by a head that was kept outside: print one now and then with: labelsvc head
    """
    from labelsvc.operations.keeping import Head, risks
    from labelsvc.operations.keeping import verify as verify_ledger

    ledger = opened(database)
    lines = _lines(head) if head is not None else []
    for line in lines[:-1]:
        verify_ledger(ledger, head=Head.parse(line))
    count, last = verify_ledger(ledger, deep=deep, head=Head.parse(lines[-1]) if lines else None)
    if as_json:
        show_json({"facts": count, "head": last, "verified": True, "deep": deep, "heads": len(lines), "risks": risks(ledger)})
    else:
        also = f" {len(lines)} kept heads are in the chain." if lines else ""
        click.echo(f"{count} facts hold.{also}{' What was derived from them is right.' if deep else ''} Head: {last}")
        for sentence in risks(ledger):
            click.echo(sentence, err=True)


@click.command()
@as_json
@database
def head(as_json: bool, database: str) -> None:
    """Print one line that stands for all facts so far: keep it outside, on paper or in a mail, for verify --head."""
    from labelsvc.operations.keeping import head_of

    found = head_of(opened(database), now())
    show_json({**vars(found), "line": str(found)}) if as_json else click.echo(str(found))


@click.command()
@as_json
@database
def rebuild(as_json: bool, database: str) -> None:
    """Drop what was derived and derive it anew from the facts; the facts themselves never change."""
    from labelsvc.operations.keeping import rebuild as rebuild_ledger

    count = rebuild_ledger(opened(database))
    if as_json:
        show_json({"facts": count})
    else:
        click.echo(f"Derived anew from {count} facts.")


@click.command()
@_file
@as_json
@database
def backup(file: Path, as_json: bool, database: str) -> None:
    """Write a copy of everything to FILE while the work goes on, and read it again.

    Of an SQLite database it is an SQLite file; of PostgreSQL lines of JSON, compressed. Either goes into either kind again
    with: labelsvc restore FILE. Every night by cron: 0 2 * * * labelsvc backup /backups/$(date +%F).db
    """
    from labelsvc.operations.keeping import backup as write

    _tell("written and read again", file, write(opened(database), file), as_json)


@click.command()
@_file
@as_json
@database
def restore(file: Path, as_json: bool, database: str) -> None:
    """Put a backup into an empty database; it is read whole before, and nothing is ever overwritten."""
    from labelsvc.operations.keeping import restore as put_back

    _tell("put back", file, put_back(file, database), as_json)


@click.command("import")
@click.argument("what", type=click.Choice(["facts"]))
@_file
@as_json
@database
def import_(what: str, file: Path, as_json: bool, database: str) -> None:
    """Take the facts that "export facts" wrote into an empty database; they are read whole before.

    The hashes prove the facts; everything else is derived anew.
    """
    from labelsvc.operations.keeping import restore as put_back

    _tell("taken in", file, put_back(file, database), as_json)


def _lines(head: str) -> list[str]:
    """Return one line as it is, or the lines of a file of that name."""
    file = Path(head) if len(head) < 200 else None
    if file is None or not file.is_file():
        return [head]
    return [line for line in file.read_text(encoding="utf-8").splitlines() if line.strip()]


def _tell(done: str, file: Path, found: tuple[int, str], as_json: bool) -> None:
    count, last = found
    if as_json:
        show_json({"file": str(file), "facts": count, "head": last})
    else:
        click.echo(f"{file}: {count} facts {done}. Head: {last}")
