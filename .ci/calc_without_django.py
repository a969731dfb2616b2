"""Run tests/calc with the name "django" blocked: clinical maths must not need it."""

import sys

import pytest

sys.modules["django"] = None  # type: ignore[assignment]
sys.exit(pytest.main(["-p", "no:django", "-q", "-W", "ignore", "tests/calc"]))
