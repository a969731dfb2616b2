"""Public functions of the clinical maths say what goes in, what comes out, and from where."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
MODULES = [
    path
    for room in ["patients", "programs", "assessments", "reports"]
    for path in sorted((ROOT / room).rglob("calc/**/*.py"))
]
SOURCES = ("References", "doi:", "common practice, no source", "from memory", "project choice")


def _is_property(function: ast.FunctionDef) -> bool:
    return any("property" in ast.unparse(d) for d in function.decorator_list)


def _public(body: list[ast.stmt]):
    for node in body:
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            yield from _public(node.body)
        elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def _cases():
    for path in MODULES:
        tree = ast.parse(path.read_text())
        for function in _public(tree.body):
            name = f"{path.relative_to(ROOT)}:{function.name}"
            yield pytest.param(function, ast.get_docstring(tree) or "", id=name)


def _arguments(function: ast.FunctionDef) -> list[str]:
    given = function.args
    every = [*given.posonlyargs, *given.args, *given.kwonlyargs]
    return [a.arg for a in every if a.arg not in {"self", "cls"}]


def _section(docstring: str, title: str) -> str:
    """The lines of one section of a numpydoc docstring, empty where there is none."""
    lines = docstring.splitlines()
    for place, line in enumerate(lines[:-1]):
        if line.strip() == title and set(lines[place + 1].strip()) == {"-"}:
            after = lines[place + 2 :]
            ends = [n for n, text in enumerate(after[1:]) if set(text.strip()) == {"-"}]
            return "\n".join(after[: ends[0]] if ends else after)
    return ""


def _raises(function: ast.FunctionDef) -> bool:
    """It raises by itself, or checks a limit."""
    for node in ast.walk(function):
        if isinstance(node, ast.Raise) and node.exc is not None:
            return True
        is_call = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
        if is_call and node.func.attr == "check":
            return True
    return False


@pytest.mark.parametrize(("function", "module"), list(_cases()))
def test_public_function_says_what_goes_in_and_comes_out(function, module):
    docstring = ast.get_docstring(function) or ""
    assert docstring, "a docstring"
    if _is_property(function):
        return
    if _arguments(function):
        given = _section(docstring, "Parameters")
        heads = " ".join(line.partition(" : ")[0] for line in given.splitlines() if " : " in line)
        missing = [a for a in _arguments(function) if a not in heads.replace(",", " ").split()]
        assert not missing, f"Parameters of {missing}"
    if function.returns is not None and ast.unparse(function.returns) != "None":
        assert _section(docstring, "Returns"), "Returns"
    if _raises(function):
        assert _section(docstring, "Raises"), "Raises"
    assert any(word in docstring + module for word in SOURCES), "where it comes from"
