"""Who wrote what a page prints: the site itself, the shipped library, or people, whose words are never looked up.

Told by the name of the variable, so that templates stay plain.
"""

from __future__ import annotations

import re

from django.template.base import VariableNode


def _names(text: str) -> frozenset[str]:
    return frozenset(text.split())


# What these print was written by the site itself, so it is said in the reader's language too.
OWN_WORDS = _names(
    """
    label labels words title heading sentence reason reasons help_text state_words verdict message error
    problem refused_text left_out course relation root_kind definition summary caution unit said_of
    choice_label alt asked ask_text kind_label fate_label level_label step_words lock_words via what why
    means miss chance clue clue_how mechanism unseen unread limits promise source missing refusal
    more_reasons grade tries caption_words site_words red_flag_words past_site_words error_text
    hours_said filmed here there action whose step if_so taught allowed shipped likely signs detectable
    difference ticked gap intent limit
    """
)
# By their whole path: the last part alone says too little.
OWN_PATHS = _names(
    """
    map_name last.sure term.weight deed.told one.first one.latest line.first line.latest sight.role number_title
    verb reason.text term.text step.text strand.what row.what entry.text sign.note state.0
    row.club_class clip.name old_idea.where row.time group.views line.sign link.from link.to view
    """
)
OWN_FILTERS = frozenset(("yesno", "promise", "trend_sentence", "trend_left_out"))
# A value with its unit, whoever prints it.
VALUE = re.compile(r"[−-]?\d+(?:\.\d+)?(?: ± \d+(?:\.\d+)?)?(?: ?[%°].*| [a-z]{1,4})?")
ERRORS = re.compile(r"(^|\.)(errors|non_field_errors)\b")
# Sentences of the shipped library, or a coach's own in their place: said as a whole or not at all.
LIBRARY_WORDS = _names(
    """
    how dose stop_rule progression per_week video_check club_and_speed cue priority evidence caution
    effect ask look show say_back better_idea question group cause kind node fact
    """
)
# ... but these are people's own.
PEOPLES_PATHS = _names(
    """
    case.title case.words concern.words drill.film.title draft.words hello.words late.task.words
    lesson.clip.reference.title one.row.title one.task.words reference.title request.POST.title
    request.POST.words review.words task.words
    """
)


def is_own(node: VariableNode) -> bool:
    path, last = _path(node)
    if path in PEOPLES_PATHS:
        return False
    return (
        last in OWN_WORDS
        or path in OWN_PATHS
        or bool(_filters(node) & OWN_FILTERS)
        or (last.startswith("get_") and last.endswith("_display"))
        or bool(ERRORS.search(path))
    )


def is_of_library(node: VariableNode) -> bool:
    path, last = _path(node)
    return last in LIBRARY_WORDS or path.endswith("drill.name") or "default" in _filters(node)


def _path(node: VariableNode) -> tuple[str, str]:
    path = str(node.filter_expression.var)
    return path, path.rpartition(".")[2]


def _filters(node: VariableNode) -> set[str]:
    return {getattr(one[0], "_filter_name", one[0].__name__) for one in node.filter_expression.filters}
