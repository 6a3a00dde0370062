"""Which way imports may point: between the packages, between the apps, and inside an app."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from coachhub.common.checks.findings import Finding, files

APPS = ("common", "accounts", "camps", "videos", "swings", "feedback", "progress", "web")
# What stands further right may use what stands to its left. Rules ask the database, so they stand after the models;
# tasks stand first: the domain sends them, and they call it only when a message arrives.
LAYERS = ("enums", "models", "rules", "domain", "forms", "web")
LAYER_OF = {
    "enums": "enums",
    "rules": "rules",
    "tasks": "enums",
    "models": "models",
    "forms": "forms",
    "apps": "enums",
    "admin": "web",
    "management": "web",
    "checks": "web",
    "checkup": "web",
}
PROJECT_ROOT_MODULES = frozenset({"celery", "env", "settings", "bootstrap"})
MODEL_AND_MEDIA = frozenset({"mediapipe", "cv2", "av"})
NEVER_IN_ANALYSIS = frozenset({"django", "celery", "kombu", "coachhub", "scipy", "matplotlib", "requests"})
NEVER_IN_COACHHUB = frozenset({"scipy", "matplotlib", "mediapipe", "cv2", "av"})
# Rendering and training: a program of its own, which may use what the product must not.
TRAINING, FOR_TRAINING = "analysis.training", frozenset({"torch", "moderngl", "onnx"})
# The demo draws a clip of its own; it opens nobody's.
DRAWS_OWN_CLIPS = ("progress", "demo")
# These are called when an app is ready or a message arrives, after everything is loaded.
LATE_MODULES = frozenset({"tasks", "apps"})


@dataclass(frozen=True)
class Use:
    """One import: the full dotted name, where, and whether it happens when the module is loaded."""

    name: str
    line: int
    at_load: bool
    explained: bool


def check(root: Path) -> list[Finding]:
    return list(dict.fromkeys([*check_analysis(root), *check_coachhub(root)]))


def check_analysis(root: Path) -> list[Finding]:
    found = []
    for path in files(root / "analysis", ".py"):
        relative = path.relative_to(root)
        trains = relative.parts[:2] == tuple(TRAINING.split("."))
        in_adapters = "adapters" in relative.parts or trains
        for use in uses(path):
            top = use.name.partition(".")[0]
            if not trains and _of_training(use):
                found.append(Finding(str(relative), use.line, f"only {TRAINING} may import {use.name}"))
            if top in NEVER_IN_ANALYSIS:
                found.append(Finding(str(relative), use.line, f"analysis must not import {top}"))
            elif top in MODEL_AND_MEDIA and not in_adapters:
                found.append(Finding(str(relative), use.line, f"only analysis/adapters may import {top}"))
    return found


def check_coachhub(root: Path) -> list[Finding]:
    found = []
    for path in files(root / "coachhub", ".py"):
        relative = path.relative_to(root)
        if "migrations" in relative.parts:
            continue
        for use in uses(path):
            text = _complaint(relative.parts[1:], use)
            if _of_training(use):
                text = f"only {TRAINING} may import {use.name}"
            if text:
                found.append(Finding(str(relative), use.line, text))
    return found


def _of_training(use: Use) -> bool:
    inside = use.name == TRAINING or use.name.startswith(f"{TRAINING}.")
    return inside or use.name.partition(".")[0] in FOR_TRAINING


def _complaint(parts: tuple[str, ...], use: Use) -> str:
    top = use.name.partition(".")[0]
    if parts[0] == "bootstrap":
        own = top in sys.stdlib_module_names or use.name.startswith("coachhub.bootstrap")
        return (
            "" if own else f"coachhub/bootstrap runs before anything is installed; it must not import {top}"
        )
    if top in NEVER_IN_COACHHUB and not (top == "av" and parts[:2] == DRAWS_OWN_CLIPS):
        return f"coachhub must not import {top}; that is for analysis (in its limited child) or for tests"
    if parts[0] not in APPS or not use.name.startswith("coachhub."):
        return ""
    target = use.name.split(".")[1:]
    if target[0] in PROJECT_ROOT_MODULES or target[0] not in APPS:
        return ""
    return _direction(parts, target, use)


def _direction(parts: tuple[str, ...], target: list[str], use: Use) -> str:
    upward = _upward(parts, target)
    if not upward:
        return ""
    module = parts[1].removesuffix(".py") if len(parts) > 1 else ""
    if not use.at_load and (use.explained or module in LATE_MODULES):
        return ""
    hint = "" if use.at_load else " (inside a function it needs the comment `# upward: why`)"
    return f"{upward}{hint}"


def _upward(parts: tuple[str, ...], target: list[str]) -> str:
    here, there = parts[0], target[0]
    if _layer(parts[1:]) == "web" and parts[0] != "web" and parts[1] in {"management", "checks", "checkup"}:
        return ""
    if APPS.index(there) > APPS.index(here):
        return f"{here} must not import {there}: apps stand in the order {' -> '.join(APPS)}"
    if there != here or here == "web":
        return ""
    own, other = _layer(parts[1:]), _layer(target[1:])
    if LAYERS.index(other) > LAYERS.index(own):
        return f"{own} must not import {other}: inside an app the order is {' -> '.join(LAYERS)}"
    return ""


def _layer(parts: tuple[str, ...] | list[str]) -> str:
    first = parts[0].removesuffix(".py") if parts else "enums"
    if first in {"sweep", "__init__"}:
        return "enums"
    if first.endswith("_models"):
        return "models"
    return LAYER_OF.get(first, "domain")


def uses(path: Path) -> Iterator[Use]:
    """Every import of a file. Imports for type checkers only are left out: nothing is loaded for them."""
    source = path.read_text("utf-8")
    lines = source.splitlines()
    yield from _walk(ast.parse(source), lines, at_load=True)


def _walk(node: ast.AST, lines: list[str], *, at_load: bool) -> Iterator[Use]:
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and "TYPE_CHECKING" in ast.dump(child.test):
            yield from (use for part in child.orelse for use in _walk(part, lines, at_load=at_load))
        elif isinstance(child, ast.Import | ast.ImportFrom):
            yield from _names(child, at_load=at_load, explained=_explained(lines, child.lineno))
        else:
            inside = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
            yield from _walk(child, lines, at_load=at_load and not inside)


def _names(node: ast.Import | ast.ImportFrom, *, at_load: bool, explained: bool) -> Iterator[Use]:
    if isinstance(node, ast.Import):
        for alias in node.names:
            yield Use(alias.name, node.lineno, at_load, explained)
    elif node.module:
        # `from coachhub.swings import models` imports a module: the name belongs to the path.
        for alias in node.names:
            yield Use(f"{node.module}.{alias.name}", node.lineno, at_load, explained)


def _explained(lines: list[str], number: int) -> bool:
    """`# upward: why` on the line, or in the four lines above it."""
    return any("# upward:" in line for line in lines[max(0, number - 5) : number])
