"""The folders are the architecture: a layer imports only from those below it, and no folder is without one."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "vesselspec"

#: Lowest first. DEVELOPERS.md, "Layers", gives the reasons.
LAYERS = (
    "standards",
    "units",
    "model",
    "record",
    "sheets",
    "network",
    "physics",
    "rules",
    "isolation",
    "tracing",
    "revisions",
    "changes",
    "draw",
    "report",
    "book",
    "cli",
)
#: Imports that the order alone would allow and the architecture does not.
FORBIDDEN = {
    "revisions": {"model", "record", "network", "physics", "rules", "isolation", "tracing"},
    "draw": {"rules", "isolation", "tracing", "changes", "revisions"},
    "book": {"revisions"},
}
#: Packages inside a layer, lowest first.
INNER = {"physics": ("conductors", "steady", "loads", "faults")}


def layer_of(file: Path) -> str:
    return file.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(file: Path) -> Iterator[tuple[int, str]]:
    """Every layer that a file imports from, wherever in the file, with the line."""
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            names = [alias.name for alias in node.names]
        elif not isinstance(node, ast.ImportFrom):
            continue
        else:
            assert node.level == 0, f"{file}:{node.lineno}: imports are absolute"
            module = node.module or ""
            # `from vesselspec import units` names the layer in the alias.
            names = [f"{module}.{alias.name}" for alias in node.names] if module == "vesselspec" else [module]
        for name in names:
            parts = name.split(".")
            if parts[0] == "vesselspec" and len(parts) > 1 and not parts[1].startswith("_"):
                yield node.lineno, parts[1]


FILES = sorted(
    file for file in PACKAGE.rglob("*.py") if file.parent != PACKAGE or file.stem not in ("__init__", "__main__")
)


@pytest.mark.parametrize("file", FILES, ids=lambda file: str(file.relative_to(PACKAGE)))
def test_a_layer_imports_only_from_below(file: Path) -> None:
    layer = layer_of(file)
    assert layer in LAYERS, f"{layer} has no place among the layers"
    for line, imported in imports(file):
        assert imported in LAYERS, f"{file}:{line}: {imported} has no place among the layers"
        assert LAYERS.index(imported) <= LAYERS.index(layer), f"{file}:{line}: {layer} imports {imported}"
        assert imported not in FORBIDDEN.get(layer, ()), f"{file}:{line}: {layer} may not import {imported}"


@pytest.mark.parametrize("layer", INNER)
def test_the_packages_of_a_layer_have_an_order_too(layer: str) -> None:
    order = INNER[layer]
    assert sorted(order) == sorted(path.name for path in (PACKAGE / layer).iterdir() if (path / "__init__.py").exists())
    for file in (PACKAGE / layer).glob("*/*.py"):
        own = file.parent.name
        for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(f"vesselspec.{layer}."):
                other = (node.module or "").split(".")[2]
                assert order.index(other) <= order.index(own), f"{file}:{node.lineno}: {own} imports {other}"


def test_no_cycles_between_modules() -> None:
    """Inside a layer too: importing any module first must work, so no two may need each other at import time."""
    graph: dict[str, set[str]] = {}
    for file in FILES:
        name = "vesselspec." + ".".join(file.relative_to(PACKAGE).with_suffix("").parts)
        name = name.removesuffix(".__init__")
        targets = graph.setdefault(name, set())
        for node in ast.parse(file.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("vesselspec."):
                module = node.module or ""
                for alias in node.names:
                    inner = PACKAGE.joinpath(*module.split(".")[1:], f"{alias.name}.py")
                    targets.add(f"{module}.{alias.name}" if inner.exists() else module)
    visited: dict[str, int] = {}

    def visit(name: str, path: tuple[str, ...]) -> None:
        if visited.get(name) == 2:
            return
        assert visited.get(name) != 1, " → ".join((*path[path.index(name) :], name))
        visited[name] = 1
        for target in sorted(graph.get(name, ())):
            # A package's own __init__ gathers its modules; that is not a cycle between them.
            if target in graph and not name.startswith(target + "."):
                visit(target, (*path, name))
        visited[name] = 2

    for name in sorted(graph):
        visit(name, ())
