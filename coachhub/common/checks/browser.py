"""Browser modules: syntax, types from their comments, and their tests in a JavaScript runtime."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path

from coachhub.bootstrap import layout, scripts
from coachhub.common.checks.findings import files

SOURCE = "coachhub/web/static/js"
TESTS = "tests"
COMMENT = re.compile(r"/\*.*?\*/", re.DOTALL)
CALLED_IMPORT = re.compile(r"\bimport\(")
COMPILER_OPTIONS = {
    "allowJs": True,
    "checkJs": True,
    "noEmit": True,
    "strict": True,
    "noImplicitAny": False,
    "strictPropertyInitialization": False,
    "useUnknownInCatchVariables": False,
    "skipLibCheck": True,
    "target": "es2022",
    "module": "es2022",
    "moduleResolution": "bundler",
    "lib": ["es2023", "dom", "dom.iterable", "webworker.importscripts"],
    "types": [],
}


def modules(root: Path) -> list[Path]:
    return list(files(root / SOURCE, ".js", ".mjs"))


def tests(root: Path) -> list[Path]:
    return list(files(root / TESTS, ".test.js", ".test.mjs"))


def syntax(root: Path) -> tuple[int, str]:
    """`node --check` on each module, read as a module whatever its ending; and no module loaded by a call."""
    bad = []
    for path in modules(root):
        bad += [f"{path.relative_to(root)}:{line}: use `import ... from`" for line in called_imports(path)]
        command = [scripts.node() or "node", "--input-type=module", "--check"]
        done = subprocess.run(
            command, input=path.read_text("utf-8"), capture_output=True, text=True, check=False
        )
        if done.returncode:
            bad.append(f"{path.relative_to(root)}: {done.stderr.strip()}")
    return len(bad), "\n".join(bad) or f"{len(modules(root))} modules"


def called_imports(path: Path) -> list[int]:
    """Lines with `import(...)` in code, which the storage of static files leaves alone; in comments it is a type."""
    lines = COMMENT.sub(lambda found: "\n" * found[0].count("\n"), path.read_text("utf-8")).splitlines()
    return [number for number, line in enumerate(lines, 1) if CALLED_IMPORT.search(line)]


def unit_tests(root: Path) -> tuple[int, str]:
    found = tests(root)
    if not found:
        return 0, "no browser modules to test yet"
    command = [scripts.node() or "node", "--test", *map(str, found)]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    return done.returncode, done.stdout[-3000:] if done.returncode else _count(done.stdout)


def _count(output: str) -> str:
    lines = [line.lstrip("#ℹ ") for line in output.splitlines()]
    return ", ".join(line for line in lines if line.startswith(("tests ", "pass ", "fail ", "skipped ")))


def types(root: Path) -> tuple[int, str]:
    """The types that comments promise, checked by the TypeScript compiler without output."""
    found = modules(root)
    if not found:
        return 0, "no browser modules yet"
    scripts.ensure()
    config = layout.script_tools() / "tsconfig.json"
    config.write_text(
        json.dumps({"compilerOptions": COMPILER_OPTIONS, "files": [str(path) for path in found]})
    )
    program = scripts.modules() / "typescript" / "bin" / "tsc"
    command = [scripts.node() or "node", str(program), "-p", str(config), "--pretty", "false"]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=False)
    return done.returncode, (done.stdout + done.stderr).strip()[-4000:] or f"{len(found)} modules"
