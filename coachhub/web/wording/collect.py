"""Gathers what there is to translate: runs of the templates, sentences of the code, labels, and the shipped tables."""

from __future__ import annotations

import ast
import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from django.template import Engine, Template, engines
from django.utils.translation.template import templatize

from coachhub.feedback.domain.library import COLUMNS
from coachhub.web.wording import scripts
from coachhub.web.wording.templates import speak

# Parts of the code that speak to people who run or test the site, not to those who use it.
UNSPOKEN = (
    "migrations",
    "management",
    "bootstrap",
    "checks",
    "checkup",
    "demo",
    "settings.py",
    "env.py",
    "celery.py",
    "unsafe.py",
    "preparing.py",
    "serving.py",
    "wording",
    "wording.py",
    "urls.py",
)
SPOKEN_OF_ANALYSIS = (
    "quality.py",
    "gate.py",
    "strike.py",
    "view.py",
    "readout.py",
    "numbers.py",
    "text.py",
    "compare.py",
    "metrics",
    "signs",
    "causes",
    "sheet",
)
FOR_PROGRAMS = frozenset(
    [
        "ValueError",
        "TypeError",
        "KeyError",
        "RuntimeError",
        "AssertionError",
        "NotImplementedError",
        "compile",
        "getLogger",
        "debug",
        "exception",
        "BadRequest",
        "ImproperlyConfigured",
        "getenv",
        "Error",
        "Warning",
        "CheckMessage",
        "execute",
        "match",
        "search",
        "sub",
        "split",
        "fullmatch",
        "finditer",
        "add_argument",
        "Http404",
        "print",
        "field",
        "namedtuple",
        "getattr",
        "hasattr",
        "startswith",
        "endswith",
        "removeprefix",
        "reverse",
        "redirect",
        "only",
        "defer",
        "select_related",
        "get_model",
        "ForeignKey",
        "OneToOneField",
        "ManyToManyField",
        "prefetch_related",
        "values",
        "values_list",
        "order_by",
    ]
)
SPOKEN_ARGUMENTS = frozenset(
    [
        "label",
        "help_text",
        "sentence",
        "title",
        "words",
        "heading",
        "text",
        "reason",
        "summary",
        "empty_label",
        "required",
        "invalid",
        "blocked",
        "name",
        "definition",
        "sign",
        "limits",
        "note",
        "relation",
    ]
)
# Their second argument and what follows are what people read.
LABELLED = ("Choice", "Look")
MARKERS = ("say", "gettext", "gettext_lazy", "ngettext", "ngettext_lazy", "_")
SENTENCE = re.compile(r"[A-Za-zÀ-ž][^<>]* [^<>]*[a-zà-ž]|^[A-Z][a-z]{2,}\.?$")
ONE_WORD = re.compile(r"[A-Z][a-z]{2,}[.?]?")
# What a filter prints in place of nothing, or for yes and no.
INSTEAD = re.compile(r"\|(default|default_if_none|yesno):\"([^\"]*[a-z]{2}[^\"]*)\"")
CODE_LIKE = re.compile(
    r"^<|%s|^[\w./%:@{}<>=*-]+$|^[a-z-]+/[a-z-]|;$|'(?:none|self)'|; (?:filename|charset)="
    r"|__|^SELECT |\\d|\(\?|^[\d ]+$"
)
TABLES = {
    "analysis/causes/nodes.csv": ("label", "kind", "seen_by"),
    "analysis/causes/edges.csv": ("how", "relation"),
    "analysis/causes/ideas.csv": ("ask", "effect", "better_idea", "better_idea_driver", "show", "say_back"),
    "coachhub/feedback/library/drills.csv": tuple(name for name in COLUMNS if name not in ("node", "sign")),
}


@dataclass(frozen=True)
class Message:
    key: str
    plural: str
    where: str


def collect(root: Path) -> list[Message]:
    """Every message once, in the order of the files."""
    found: dict[str, Message] = {}
    for message in _all(root):
        kept = found.get(message.key)
        if kept is None or (message.plural and not kept.plural):
            found[message.key] = message
    return list(found.values())


def _all(root: Path) -> Iterator[Message]:
    yield from of_templates(root)
    for path in sorted((root / "coachhub").rglob("*.py")):
        if not set(path.relative_to(root).parts) & set(UNSPOKEN):
            yield from of_python(root, path)
    for name in SPOKEN_OF_ANALYSIS:
        place = root / "analysis" / name
        for path in sorted(place.rglob("*.py")) if place.is_dir() else [place]:
            yield from of_python(root, path)
    yield from of_tables(root)
    for sentence, where in scripts.spoken(root):
        yield Message(sentence, "", where)


def of_templates(root: Path) -> Iterator[Message]:
    engine: Engine = engines["django"].engine  # type: ignore[attr-defined]
    for path in sorted((root / "templates").rglob("*.*")):
        where, source = path.relative_to(root).as_posix(), path.read_text(encoding="utf-8")
        if path.suffix not in (".html", ".txt"):
            continue
        for run in speak(Template(source, engine=engine), plain=path.suffix == ".txt"):
            yield Message(run.key, "", where)
        yield from _marked_in_template(source, where)
        for name, words in INSTEAD.findall(source):
            for one in words.split(",") if name == "yesno" else (words,):
                if one.strip():
                    yield Message(one.strip(), "", where)


def _marked_in_template(source: str, where: str) -> Iterator[Message]:
    """What the tags of the framework mark."""
    quoted = r"u?('(?:[^'\\\\]|\\\\.)*'|\"(?:[^\"\\\\]|\\\\.)*\")"
    for call in re.finditer(rf"(?:n?gettext|\b_)\({quoted}(?:, ?{quoted})?", templatize(source)):
        key, plural = (ast.literal_eval(part) if part else "" for part in call.groups())
        yield Message(key, plural, where)


def of_python(root: Path, path: Path) -> Iterator[Message]:
    where, source = path.relative_to(root).as_posix(), path.read_text(encoding="utf-8")
    finder = _Finder(is_enums=path.name == "enums.py")
    finder.visit(ast.parse(source))
    for key, plural in finder.found:
        yield Message(key, plural, where)


class _Finder(ast.NodeVisitor):
    """String constants and f-strings that are sentences, outside of what only programs read."""

    def __init__(self, *, is_enums: bool) -> None:
        self.found: list[tuple[str, str]] = []
        self.is_enums = is_enums

    def visit_Expr(self, node: ast.Expr) -> None:
        if not isinstance(node.value, ast.Constant):
            self.generic_visit(node)

    def visit_Call(self, node: ast.Call) -> None:
        name = _called(node)
        if name in FOR_PROGRAMS or _logs(node):
            return
        if name in MARKERS:
            said = [
                one.value for one in node.args if isinstance(one, ast.Constant) and isinstance(one.value, str)
            ]
            if said:
                self.found.append((said[0], said[1] if name.startswith("ng") else ""))
                return
        for one in node.args[1:] if name in LABELLED else ():
            if isinstance(one, ast.Constant):
                self._keep(one.value, single=True)
        for keyword in node.keywords:
            if keyword.arg in SPOKEN_ARGUMENTS and isinstance(keyword.value, ast.Constant):
                self._keep(keyword.value.value, single=True)
        self.generic_visit(node)

    def visit_ClassDef(self, node: ast.ClassDef) -> None:
        if self.is_enums:
            for one in node.body:
                if isinstance(one, ast.Assign) and isinstance(one.value, ast.Tuple):
                    last = one.value.elts[-1]
                    if isinstance(last, ast.Constant):
                        self._keep(last.value, single=True)
        self.generic_visit(node)

    def visit_Subscript(self, node: ast.Subscript) -> None:
        self.visit(node.value)

    def visit_Dict(self, node: ast.Dict) -> None:
        for value in node.values:
            if isinstance(value, ast.Constant):
                self._keep(value.value, single=True)
            else:
                self.visit(value)

    def visit_Constant(self, node: ast.Constant) -> None:
        self._keep(node.value)

    def visit_JoinedStr(self, node: ast.JoinedStr) -> None:
        key = pattern_of(node)
        if SENTENCE.search(key) or re.search(r"[A-Za-z]{3,} ", key):
            self._keep(key)
        for value in node.values:
            if isinstance(value, ast.FormattedValue):
                self.visit(value.value)

    def visit_BinOp(self, node: ast.BinOp) -> None:
        """A sentence put together with a plus is one pattern, like an f-string."""
        parts = _added(node)
        texts = [one for one in parts if _is_text(one)]
        named = [one for one in parts if isinstance(one, ast.Name | ast.Attribute)]
        if not (texts and named) or len(texts) + len(named) < len(parts):
            self.generic_visit(node)
            return
        values: list[ast.expr] = []
        for one in parts:
            if isinstance(one, ast.JoinedStr):
                values += one.values
            else:
                values.append(one if _is_text(one) else ast.FormattedValue(one, -1))
        self.visit_JoinedStr(ast.JoinedStr(values))

    def visit_FunctionDef(self, node: ast.FunctionDef) -> None:
        for one in node.body:
            self.visit(one)

    def visit_AnnAssign(self, node: ast.AnnAssign) -> None:
        if node.value is not None:
            self.visit(node.value)

    def _keep(self, text: object, *, single: bool = False) -> None:
        if not isinstance(text, str):
            return
        key = text.strip()
        if not re.search(r"[A-Za-z]{2}", key) or "\n" in key:
            return
        if (
            (single and len(key) > 1 and not re.search(r"[_/]|^\W|^\S*\d\S*$", key))
            or ONE_WORD.fullmatch(key)
            or (SENTENCE.search(key) and not CODE_LIKE.search(key))
        ):
            self.found.append((key, ""))


def pattern_of(node: ast.JoinedStr) -> str:
    """An f-string as a key with named gaps."""
    parts: list[str] = []
    taken: dict[str, str] = {}
    for value in node.values:
        if isinstance(value, ast.Constant):
            parts.append(str(value.value))
        elif isinstance(value, ast.FormattedValue):
            shown = ast.unparse(value.value)
            base = re.sub(r"\W", "", (re.findall(r"[A-Za-z_]\w*", shown) or ["value"])[-1])
            name, number = base, 1
            while taken.get(name, shown) != shown:
                number += 1
                name = f"{base}{number}"
            taken[name] = shown
            parts.append("{" + name + "}")
    return "".join(parts).strip()


def _added(node: ast.expr) -> list[ast.expr]:
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return [*_added(node.left), *_added(node.right)]
    return [node]


def _is_text(node: ast.expr) -> bool:
    return isinstance(node, ast.JoinedStr) or (isinstance(node, ast.Constant) and isinstance(node.value, str))


def _called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def _logs(node: ast.Call) -> bool:
    owner = node.func.value if isinstance(node.func, ast.Attribute) else None
    return isinstance(owner, ast.Name) and owner.id in ("logger", "log")


def of_tables(root: Path) -> Iterator[Message]:
    for name, columns in TABLES.items():
        path = root / name
        if not path.exists():
            continue
        with path.open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                for column in columns:
                    if text := (row.get(column) or "").strip():
                        yield Message(text, "", name)
