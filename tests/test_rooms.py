"""The arrows between rooms, and calc free of Django: broken ones fail here and in CI."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LINT = [
    sys.executable,
    "-c",
    "from importlinter.cli import lint_imports; raise SystemExit(lint_imports())",
]


def test_rooms_import_one_way_and_calc_knows_no_django():
    done = subprocess.run(LINT, cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_an_arrow_against_the_wind_would_be_caught(tmp_path):
    for name in ["config", "patients", "programs", "assessments", "reports", "pyproject.toml"]:
        (tmp_path / name).symlink_to(ROOT / name)
    (tmp_path / "patients").unlink()
    _copy_python(ROOT / "patients", tmp_path / "patients")
    age = tmp_path / "patients" / "calc" / "age.py"
    age.write_text(
        age.read_text() + "\n\ndef late():\n    import django\n    import reports.journey\n"
    )
    done = subprocess.run(LINT, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 1
    assert "Rooms import one way BROKEN" in done.stdout
    assert "Clinical maths is free of Django BROKEN" in done.stdout


def _copy_python(source: Path, target: Path) -> None:
    for path in source.rglob("*.py"):
        copy = target / path.relative_to(source)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_text(path.read_text())
