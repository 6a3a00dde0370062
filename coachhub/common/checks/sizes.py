"""Files and functions that have grown: named, but no failure."""

from __future__ import annotations

import ast
from pathlib import Path

from coachhub.common.checks.findings import Finding, files

LONG_FILE = 300
LONG_FUNCTION = 45


def check(root: Path) -> list[Finding]:
    found = []
    for package in ("analysis", "coachhub"):
        for path in files(root / package, ".py"):
            if "migrations" not in path.parts:
                found += check_source(path.read_text("utf-8"), str(path.relative_to(root)))
    return found


def check_source(source: str, name: str) -> list[Finding]:
    length = source.count("\n")
    found = [Finding(name, 1, f"{length} lines; over {LONG_FILE}")] if length > LONG_FILE else []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            own = _body_lines(node)
            if own > LONG_FUNCTION:
                found.append(Finding(name, node.lineno, f"{node.name} has {own} lines; over {LONG_FUNCTION}"))
    return found


def _body_lines(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    """Lines of a function without its docstring."""
    body = node.body
    if body and isinstance(body[0], ast.Expr) and isinstance(body[0].value, ast.Constant):
        body = body[1:]
    return (node.end_lineno or node.lineno) - body[0].lineno + 1 if body else 0
