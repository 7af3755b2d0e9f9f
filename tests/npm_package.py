"""An outside judge that npm carries: fetched for the tests that ask it, never copied."""

import os
import shutil
import subprocess
import tarfile
from pathlib import Path

import pytest


def fetched(package: str, folder: Path) -> Path:
    """Return the folder of a package; where it cannot be had, say so, and fail on a machine that must have it."""
    missing = "" if shutil.which("npm") else "npm is not installed"
    if not missing:
        done = subprocess.run(["npm", "pack", package], cwd=folder, capture_output=True, text=True, timeout=120, check=False)
        missing = "" if done.returncode == 0 else f"npm could not fetch {package}: {done.stderr.strip()[-200:]}"
    if missing:
        (pytest.fail if os.environ.get("CI") == "true" else pytest.skip)(missing)
    with tarfile.open(next(folder.glob("*.tgz"))) as packed:
        packed.extractall(folder, filter="data")
    return folder / "package"
