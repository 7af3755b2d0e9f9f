"""``labelsvc serve`` as a process: it says where it is, answers, and keeps its secret to itself."""

import os
import stat
import subprocess
import sys
import urllib.error
import urllib.request

import build
import pytest

from labelsvc.cli import serving
from labelsvc.errors import InputError
from labelsvc.ledger.database import open_ledger
from labelsvc.operations import accounts, people


def test_serve_when_started_then_it_prints_an_address_that_answers(tmp_path):
    secret = tmp_path / "secret"
    command = [
        "serve",
        "--port",
        "0",
        "--database",
        str(tmp_path / "new.db"),
        "--secret-file",
        str(secret),
        "--backup-folder",
        str(tmp_path),
    ]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [sys.executable, "-m", "labelsvc", *command], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment
    ) as serving:  # fmt: skip
        try:
            said = {serving.stderr.readline() for _ in range(2)}
            assert "0 facts hold.\n" in said
            (written,) = tmp_path.glob("labelsvc-*.backup")
            assert f"Backup written and read again: {written}\n" in said
            address = serving.stdout.readline().split()[1]
            with urllib.request.urlopen(f"{address}who", timeout=10) as answer:
                assert "Who is there?" in answer.read().decode()
        finally:
            serving.terminate()
    assert stat.S_IMODE(secret.stat().st_mode) == 0o600
    assert len(secret.read_text()) > 30


@pytest.mark.parametrize("proxy", ["", "127.0.0.1"])
def test_serve_when_a_proxy_passes_something_on_then_it_is_never_taken_for_this_machine(tmp_path, proxy):
    command = ["serve", "--port", "0", "--database", str(tmp_path / "new.db"), *(["--proxy", proxy] if proxy else [])]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [sys.executable, "-m", "labelsvc", *command], stdout=subprocess.PIPE, text=True, env=environment
    ) as serving:  # fmt: skip
        try:
            address = serving.stdout.readline().split()[1]
            assert serving.stdout.readline().startswith("No account is made yet: whoever sits at this machine")
            with urllib.request.urlopen(f"{address}api/v1/lots", timeout=10) as answer:
                assert answer.status == 200
            passed_on = urllib.request.Request(f"{address}api/v1/lots", headers={"X-Forwarded-For": "127.0.0.1"})
            with pytest.raises(urllib.error.HTTPError) as refused:
                urllib.request.urlopen(passed_on, timeout=10)
            refused.value.close()
            assert refused.value.code == 401
        finally:
            serving.terminate()


@pytest.mark.parametrize("proxy", ["", "127.0.0.1"])
def test_serve_when_a_proxy_speaks_https_then_cookies_are_secure_and_browsers_told_only_where_it_is_named(tmp_path, proxy):
    database = str(tmp_path / "new.db")
    ledger = open_ledger(database)
    accounts.set_password(ledger, people.add_person(ledger, "Ada", "responsible", "").number, "quite a long one", build.NOW)
    ledger.close()
    command = ["serve", "--port", "0", "--database", database, *(["--proxy", proxy] if proxy else [])]
    environment = {**os.environ, "PYTHONUNBUFFERED": "1"}
    with subprocess.Popen(
        [sys.executable, "-m", "labelsvc", *command], stdout=subprocess.PIPE, text=True, env=environment
    ) as serving:  # fmt: skip
        try:
            address = serving.stdout.readline().split()[1]
            by_https = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"}
            asked = urllib.request.Request(f"{address}sign-in", headers=by_https)
            with urllib.request.urlopen(asked, timeout=10) as answer:
                is_secure = "; Secure" in answer.headers["Set-Cookie"]
                told = answer.headers["Strict-Transport-Security"]
            assert (is_secure, told) == ((True, "max-age=31536000") if proxy else (False, None))
            with urllib.request.urlopen(f"{address}sign-in", timeout=10) as plain:
                assert plain.headers["Strict-Transport-Security"] is None
        finally:
            serving.terminate()


def test_the_file_of_the_secret_when_it_is_empty_then_it_is_refused_and_a_new_one_is_whole(tmp_path):
    file = tmp_path / "secret"
    first = serving._secret(file)
    assert serving._secret(file) == first
    assert file.stat().st_mode & 0o777 == 0o600
    assert [one.name for one in tmp_path.iterdir()] == ["secret"]
    file.write_text("")
    with pytest.raises(InputError, match="secret-file: expected a file with 32 characters or more, or one"):
        serving._secret(file)
