"""The theory core stands on the standard library alone."""

import ast
import inspect
import sys
from functools import cached_property
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


PUBLIC = [name for name in studio.theory.__all__ if not name.isupper()]


@pytest.mark.parametrize("name", PUBLIC)
def test_every_public_name_says_what_it_takes_and_what_it_raises(name):
    value = getattr(studio.theory, name)
    said = inspect.getdoc(value) or ""
    assert len(said) > 60
    if inspect.isfunction(value):
        assert "Raises" in said
        for parameter in inspect.signature(value).parameters:
            assert parameter in said, parameter
    elif not issubclass(value, Exception):
        shown = [part for word, part in vars(value).items() if not word.startswith("_")]
        own = [part for part in shown if isinstance(part, (property, cached_property, classmethod))]
        own += [part for part in shown if inspect.isfunction(part)]
        for part in own:
            function = getattr(part, "fget", None) or getattr(part, "func", None) or getattr(part, "__func__", part)
            assert (function.__doc__ or "").strip(), function


def test_the_issues_names_are_exported():
    """The public names that the issues of the theory core list."""
    asked = (
        "Note Key Instrument INSTRUMENTS SHAPES Voicing Goal Hand Context Finding TheoryError OffNeck place validate"
        " diagram_svg places name_frets ChordName arrange grip_demand change_demand relation"
    )
    names = asked.split()
    assert set(names) <= set(studio.theory.__all__)
    assert all(hasattr(studio.theory, name) for name in studio.theory.__all__)
