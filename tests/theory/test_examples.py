"""The examples in the theory core's docstrings are run."""

import doctest
import importlib
import pkgutil

import pytest

import studio.theory

MODULES = ["studio.theory"] + [module.name for module in pkgutil.iter_modules(studio.theory.__path__, "studio.theory.")]


@pytest.mark.parametrize("name", MODULES)
def test_examples(name):
    assert doctest.testmod(importlib.import_module(name)).failed == 0


def test_there_are_examples():
    finder = doctest.DocTestFinder(exclude_empty=True)
    found = [test for name in MODULES for test in finder.find(importlib.import_module(name)) if test.examples]
    assert len(found) > 20
