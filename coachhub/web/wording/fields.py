"""Fields in the reader's language: what the framework's own little templates print of a field's choices."""

from __future__ import annotations

from typing import Any

from django.forms.renderers import DjangoTemplates
from django.http import HttpRequest

from coachhub.common.wording import is_source, say


class Renderer(DjangoTemplates):
    def render(self, template_name: str, context: dict[str, Any], request: HttpRequest | None = None) -> str:
        widget = context.get("widget")
        if widget is not None and not is_source():
            if "optgroups" in widget:
                widget["optgroups"] = [
                    (name and say(str(name)), [_said(option) for option in options], index)
                    for name, options, index in widget["optgroups"]
                ]
            attributes = widget.get("attrs", {})
            for name in attributes.keys() & {"placeholder", "aria-label", "title"}:
                attributes[name] = say(str(attributes[name]))
        return str(super().render(template_name, context, request))


def _said(option: dict[str, Any]) -> dict[str, Any]:
    return option | {"label": say(str(option["label"]))}
