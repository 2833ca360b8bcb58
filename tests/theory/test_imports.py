"""The theory core stands on the standard library alone."""

import ast
import sys
from pathlib import Path

import pytest

import studio.theory

FILES = sorted(Path(studio.theory.__file__).parent.glob("**/*.py"))


def imported(tree):
    """Top names of every import in a module, wherever it stands."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield f"studio.theory.{node.module or ''}" if node.level else node.module
        elif isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) in (
            "__import__",
            "import_module",
        ):
            yield "a hidden import"


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_imports_only_the_standard_library_and_itself(path):
    for name in imported(ast.parse(path.read_text(encoding="utf-8"))):
        itself = name == "studio.theory" or name.startswith("studio.theory.")
        assert itself or name.split(".")[0] in sys.stdlib_module_names, f"{path.name} imports {name}"


def test_there_are_modules_to_look_at():
    assert {"pitch.py", "shapes.py", "voicing.py", "findings.py"} <= {path.name for path in FILES}


def test_a_foreign_import_would_be_seen():
    tree = ast.parse("def f():\n    from django.utils import timezone\n    import numpy.linalg\n")
    assert list(imported(tree)) == ["django.utils", "numpy.linalg"]


def test_every_public_name_is_there_and_documented():
    for name in studio.theory.__all__:
        value = getattr(studio.theory, name)
        assert name.isupper() or (value.__doc__ or "").strip(), name
