"""Plots in templates: {% load plots %} … {% trend_plot trend "hip sway" %}."""

from __future__ import annotations

from typing import Any

from django import template
from django.utils.safestring import SafeString

from coachhub.progress import plots, words
from coachhub.progress.domain.trends import Point, Trend

register = template.Library()


@register.simple_tag
def trend_plot(trend: Trend, title: str) -> SafeString:
    return plots.trend_svg(trend, title=title)


@register.filter
def trend_sentence(trend: Trend) -> str:
    return words.sentence(trend)


@register.filter
def trend_detectable(trend: Trend) -> str:
    return words.detectable(trend)


@register.filter
def trend_left_out(trend: Trend) -> str:
    return words.left_out(trend)


@register.simple_tag
def point_value(trend: Trend, point: Point) -> str:
    return words.with_width(point.value, point.half_width, trend.unit)


@register.simple_tag
def swing_values(trend: Trend, point: Point) -> str:
    return ", ".join(words.value_words(value, point.half_width, trend.unit) for value in point.swings)


@register.simple_tag
def point_limit(trend: Trend, point: Point) -> str:
    found = next((limit for limit in trend.limits if limit.day == point.day), None)
    return words.amount(found.half_width, trend.unit) if found else "–"


@register.simple_tag
def weeks_plot(prevalence: Any, title: str) -> SafeString:
    return plots.weeks_svg(prevalence, title=title)
