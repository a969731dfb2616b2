"""The list of values from memory names every module that says so, and no other."""

import re
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
LIST = (ROOT / "fixtures" / "reference" / "FROM_MEMORY.md").read_text(encoding="utf-8")


def test_list_names_every_module_with_a_value_from_memory():
    rooms = ["patients", "programs", "assessments", "reports"]
    modules = [path for room in rooms for path in (ROOT / room).rglob("calc/**/*.py")]
    saying = {
        str(path.relative_to(ROOT))
        for path in modules
        if "from memory" in path.read_text(encoding="utf-8")
    }
    assert set(re.findall(r"`([a-z_/]+\.py)`", LIST)) - {"tests/calc/test_from_memory.py"} == saying
