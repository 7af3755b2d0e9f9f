"""The tests' own PostgreSQL goes with the tests, also when they are killed."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

HOLD = """
import postgres, time
with postgres.running() as server:
    print(server._folder, flush=True)
    time.sleep(600)
"""


def test_server_when_the_tests_are_killed_then_it_stops_and_its_folder_goes(server):
    here = str(Path(__file__).parent)
    environment = {**os.environ, "PYTHONPATH": here}
    with subprocess.Popen([sys.executable, "-c", HOLD], stdout=subprocess.PIPE, text=True, env=environment) as tests:
        folder = Path(tests.stdout.readline().strip())
        number = int((folder / "data" / "postmaster.pid").read_text().split()[0])
        assert Path(f"/proc/{number}").exists()
        tests.send_signal(signal.SIGKILL)
        tests.wait()
    for _ in range(300):
        if not folder.exists() and not Path(f"/proc/{number}").exists():
            return
        time.sleep(0.1)
    raise AssertionError(f"the server {number} in {folder} is still there")
