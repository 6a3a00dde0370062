"""Pages in the reader's language without a word of marking in them: what is text in a template is looked up.

English, the language that the templates are written in, takes the framework's own way untouched.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from html import unescape
from typing import Any

from django.template import Template
from django.template.base import Node, NodeList, TextNode, VariableNode
from django.template.defaulttags import CommentNode
from django.template.loader_tags import BlockNode
from django.template.loaders import cached, filesystem
from django.templatetags.i18n import BlockTranslateNode, TranslateNode
from django.utils.html import escape
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext

from coachhub.common.lengths import are_in_yards
from coachhub.common.wording import is_source, say, say_whole
from coachhub.web.wording.runs import MARK, MARKS, Run, find_runs, marks_for_programs, marks_in_tags, say_run
from coachhub.web.wording.whose import VALUE, is_of_library, is_own

# What these hold goes into an attribute of the frame.
SILENT_BLOCKS = frozenset(("body_class", "styles", "scripts"))


class SaidNode(Node):
    """A list of nodes whose text is looked up as a whole, sentence by sentence."""

    child_nodelists = ("nodelist",)

    def __init__(
        self, nodelist: NodeList, source: str, runs: list[Run], for_programs: frozenset[int]
    ) -> None:
        self.nodelist, self.source, self.runs, self.for_programs = nodelist, source, runs, for_programs
        # What stands in an attribute is read by programs too: numbers there keep their point.
        self.in_tags = marks_in_tags(source)

    def render(self, context: Any) -> SafeString:
        if is_source() and not are_in_yards():
            return self.nodelist.render(context)
        printed = {}
        for mark, node in enumerate(_marked(self.nodelist), start=MARK):
            localized = context.use_l10n
            context.use_l10n = False if mark in self.in_tags else localized
            try:
                printed[mark] = _printed(node, context, is_text=mark not in self.for_programs)
            finally:
                context.use_l10n = localized
        said = self._said(self.runs, 0, len(self.source), printed)
        return mark_safe(re.sub(f"[{MARKS}]", lambda mark: printed.get(ord(mark[0]), mark[0]), said))

    def _said(self, runs: list[Run], start: int, end: int, printed: dict[int, str]) -> str:
        """The source from ``start`` to ``end``; runs inside of a run are said with its elements."""
        out, at = [], start
        for run in runs:
            if run.start < at:
                continue
            inner = [one for one in runs if run.start < one.start and one.end <= run.end]
            said = gettext(run.key)

            def element(start: int, end: int, inner: list[Run] = inner) -> str:
                return self._said([one for one in inner if start < one.start < end], start, end, printed)

            out.append(self.source[at : run.start])
            out.append(
                self._said(inner, run.start, run.end, printed)
                if said == run.key
                else say_run(run, said, printed, element)
            )
            at = run.end
        return "".join([*out, self.source[at:end]])


def _marked(nodelist: NodeList) -> list[Node]:
    return [node for node in nodelist if not isinstance(node, TextNode)]


def _printed(node: Node, context: Any, *, is_text: bool) -> str:
    text = str(node.render_annotated(context))
    if not is_text or not isinstance(node, VariableNode):
        return text
    # Printed text is escaped for the page already, the catalogue's isn't.
    plain = unescape(text) if context.autoescape else text
    is_said = is_own(node) or VALUE.fullmatch(plain) is not None
    how = say if is_said else say_whole if is_of_library(node) else None
    if how is None or "<" in text:
        return text
    said = how(plain)
    if said == plain:
        return text
    return escape(said) if context.autoescape else said


def speak(template: Template, *, plain: bool = False) -> list[Run]:
    """Let every list of nodes in the template speak the reader's language. Returns what there is to translate."""
    found: list[Run] = []
    _speak_list(template, "nodelist", _Place(found, plain))
    return found


@dataclass(frozen=True)
class _Place:
    """Where a list of nodes stands; what there is to translate goes into ``found``."""

    found: list[Run]
    plain: bool
    in_tag: bool = False


def _speak_list(owner: Any, attribute: str, where: _Place) -> None:
    nodelist: NodeList = getattr(owner, attribute)
    source, names = _flattened(nodelist)
    for_programs = marks_for_programs(source, in_tag=where.in_tag)
    for mark, node in enumerate(_marked(nodelist), start=MARK):
        _speak_node(node, replace(where, in_tag=mark in for_programs))
    runs = find_runs(source, names, plain=where.plain, in_tag=where.in_tag)
    where.found.extend(runs)
    prints = any(isinstance(node, VariableNode) for node in nodelist)
    if (runs or prints or marks_in_tags(source)) and not isinstance(nodelist[0], SaidNode):
        said = SaidNode(NodeList(nodelist), source, runs, for_programs)
        _place(said, nodelist[0])
        setattr(owner, attribute, NodeList([said]))


def _place(node: Any, where: Any) -> None:
    """The framework's error pages want to know where a node stands."""
    for name in ("token", "origin"):
        if hasattr(where, name):
            setattr(node, name, getattr(where, name))


def _speak_node(node: Node, where: _Place) -> None:
    if isinstance(
        node, BlockTranslateNode | TranslateNode | CommentNode | SaidNode | TextNode | VariableNode
    ) or (isinstance(node, BlockNode) and node.name in SILENT_BLOCKS):
        return
    if hasattr(node, "conditions_nodelists"):
        for i, (condition, nodelist) in enumerate(node.conditions_nodelists):
            branch = _Branch(nodelist)
            _speak_list(branch, "nodelist", where)
            node.conditions_nodelists[i] = (condition, branch.nodelist)
        return
    for attribute in getattr(node, "child_nodelists", ()):
        if isinstance(getattr(node, attribute, None), NodeList):
            _speak_list(node, attribute, where)


class _Branch:
    def __init__(self, nodelist: NodeList) -> None:
        self.nodelist = nodelist


def _flattened(nodelist: NodeList) -> tuple[str, dict[int, str]]:
    parts, names = [], {}
    mark = MARK
    for node in nodelist:
        if isinstance(node, TextNode):
            parts.append(node.s)
        else:
            parts.append(chr(mark))
            names[mark] = _name_of(node)
            mark += 1
    return "".join(parts), names


def _name_of(node: Node) -> str:
    if isinstance(node, VariableNode):
        last = str(node.filter_expression.var).rpartition(".")[2]
        name = re.sub(r"\W", "", last)
        # A place in a list, `days.0`, has a number for a name.
        return name if name and not name[0].isdigit() else "value"
    return {"IfNode": "if", "URLNode": "url", "ForNode": "list"}.get(type(node).__name__, "part")


class _Speaking:
    def get_template(self, template_name: str, skip: Any = None) -> Template:
        template: Template = super().get_template(template_name, skip)  # type: ignore[misc]
        if not getattr(template, "speaks", False):
            template.speaks = True  # type: ignore[attr-defined]
            speak(template, plain=template_name.endswith(".txt"))
        return template


class Loader(_Speaking, filesystem.Loader):
    """For work on the templates: each is read anew."""


class CachedLoader(_Speaking, cached.Loader):
    """Each template is read and prepared once."""
