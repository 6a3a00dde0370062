"""How trends, pairs and signs are called on the pages of progress."""

from __future__ import annotations

from coachhub.progress.domain.trends import Trend
from coachhub.swings.enums import SignKey
from coachhub.videos.enums import ClubClass, View
from coachhub.web.words import metric_label, plain


def kind_words(club_class: str, view: str) -> str:
    """What was filmed: "iron, face-on"."""
    club = ClubClass(club_class).label if club_class in ClubClass.values else club_class
    seen = View(view).label if view in View.values else plain(view)
    return f"{club}, {seen}"


def trend_words(trend: Trend) -> str:
    return f"{metric_label(trend.metric).capitalize()}: {kind_words(trend.club_class, trend.view)}"


def sign_label(sign: str) -> str:
    return str(SignKey(sign).label) if sign in SignKey.values else plain(sign)
