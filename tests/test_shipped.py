"""The program with its layouts and its demo, in a checkout and from a built wheel, as real processes."""

import os
import subprocess
import sys
import sysconfig
import zipfile
from pathlib import Path

import pytest

from labelsvc import settings

ROOT = Path(__file__).parents[1]


def _run(folder: Path, *words: str, given: str = "", **environment: str) -> subprocess.CompletedProcess[str]:
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("LABELSVC_", "PYTHON"))}
    words = (sys.executable, *words)
    whole = {**kept, **environment}
    return subprocess.run(words, cwd=folder, env=whole, input=given, capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize(("name", "file"), [("label_layouts", "hanging_tag_60x120.toml"), ("demo", "facts.toml")])
def test_shipped_when_in_a_checkout_then_the_folders_that_people_edit(name: str, file: str):
    folder = settings.shipped(name)
    assert (folder / file).is_file()
    assert folder == {"label_layouts": ROOT / "label_layouts", "demo": ROOT / "fixtures" / "demo"}[name]


def test_module_when_run_as_a_process_then_exit_codes_and_streams_are_the_systems(tmp_path):
    def labelsvc(*words: str, given: str = "") -> subprocess.CompletedProcess[str]:
        named = {"PYTHONPATH": str(ROOT), "LABELSVC_DATABASE": str(tmp_path / "w.db")}
        return _run(tmp_path, "-m", "labelsvc", *words, given=given, **named)

    recorded = labelsvc("record", "supplier", given='{"name": "Hill Farm"}')
    assert (recorded.returncode, recorded.stdout, recorded.stderr) == (0, '{"fact": 1, "codes": []}\n', "")
    unknown = labelsvc("trace", "P261125A4M")
    assert (unknown.returncode, unknown.stdout) == (1, "")
    assert unknown.stderr == "code: expected the code of a lot, got P261125A4M. No such lot: read the code again.\n"
    assert labelsvc("trace", "P261125A4N").returncode == 2
    assert labelsvc("polish").returncode == 2
    assert labelsvc("verify").stdout.startswith("1 facts hold. Head: ")
    computed = labelsvc("compute", "lot-code", "--lines", given='{"code": "P261125A4M"}\n\n{"code": "x"}\n')
    assert (computed.returncode, len(computed.stdout.splitlines()), computed.stderr) == (0, 2, "")


def test_wheel_when_built_and_installed_elsewhere_then_the_demo_runs_in_another_folder(tmp_path):
    built = _run(ROOT, "-m", "build", "--wheel", "--no-isolation", "--outdir", str(tmp_path / "dist"))
    assert built.returncode == 0, built.stderr
    (wheel,) = (tmp_path / "dist").iterdir()
    # A wheel is a zip of what goes into site-packages; the libraries it needs are those of this environment.
    with zipfile.ZipFile(wheel) as packed:
        packed.extractall(tmp_path / "site")
        inside = set(packed.namelist())
    assert {"labelsvc/_shipped/demo/facts.toml", "labelsvc/_shipped/label_layouts/sale_label_70x100.toml"} <= inside
    assert not any(name.startswith(("tests/", "fixtures/")) for name in inside)
    (tmp_path / "elsewhere").mkdir()

    found = "import labelsvc.settings as s; print(s.__file__, s.shipped('demo'), s.shipped('label_layouts'), sep='\\n')"
    path = os.pathsep.join([str(tmp_path / "site"), sysconfig.get_path("purelib")])
    where = _run(tmp_path / "elsewhere", "-S", "-c", found, PYTHONPATH=path).stdout.splitlines()
    assert all(Path(line).is_relative_to(tmp_path / "site") for line in where)
    assert len(where) == 3

    demo = _run(tmp_path / "elsewhere", "-S", "-m", "labelsvc", "demo", "--no-serve", PYTHONPATH=path)
    assert (demo.returncode, demo.stderr) == (0, "")
    assert "every symbol on its labels decoded again" in demo.stdout
    assert any((tmp_path / "elsewhere" / "demo").glob("tag-*.pdf"))
    assert _run(tmp_path / "elsewhere", "-S", "-m", "labelsvc", "verify", PYTHONPATH=path).returncode == 0
