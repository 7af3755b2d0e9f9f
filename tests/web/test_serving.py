"""``labelsvc serve`` as a process: it says where it is, answers, and keeps its secret to itself."""

import os
import stat
import subprocess
import sys
import urllib.request


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
