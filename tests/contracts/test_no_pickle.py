"""Nothing that can run code is ever read back: no pickle, no eval, no unsafe loader."""

from __future__ import annotations

import ast
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCES = [p for part in ("analytics", "firmware_bridge", "dashboards") for p in
           sorted((ROOT / part).rglob("*.py"))]  # fmt: skip
MODULES = {"pickle", "cPickle", "_pickle", "marshal", "shelve", "dill", "cloudpickle", "joblib"}
CALLS = {"eval", "exec"}
LOADERS = {"load", "loads", "fromfile", "memmap", "genfromtxt"}


def names_of(tree: ast.AST) -> set[str]:
    """Modules imported anywhere in a file, by their first name."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module.split(".")[0])
    return found


def calls_of(tree: ast.AST) -> set[str]:
    """What is called by a plain name, and what of numpy is called."""
    found: set[str] = set()
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        if isinstance(node.func, ast.Name):
            found.add(node.func.id)
        elif isinstance(node.func, ast.Attribute) and isinstance(node.func.value, ast.Name):
            found.add(f"{node.func.value.id}.{node.func.attr}")
    return found


def test_nothing_that_can_run_is_read_back() -> None:
    """No module that unpickles, no eval or exec, no numpy loader that may unpickle."""
    unsafe = CALLS | {f"np.{name}" for name in LOADERS}
    found = {}
    for source in SOURCES:
        tree = ast.parse(source.read_text(encoding="utf-8"))
        if met := (names_of(tree) & MODULES) | (calls_of(tree) & unsafe):
            found[str(source.relative_to(ROOT))] = met

    assert found == {}


def test_the_check_finds_what_it_looks_for() -> None:
    """Each of them, however it is imported."""
    tree = ast.parse("from pickle import loads\nimport numpy as np\nnp.load(x)\neval(y)")

    assert names_of(tree) & MODULES
    assert calls_of(tree) >= {"np.load", "eval"}
