"""The camp from the coach's side: what students have in common, lessons to all of them, and the camp's own map."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from analysis.causes.paths import edge_id
from coachhub.accounts.models import User
from coachhub.camps.models import Camp, Cohort
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.common.wording import say
from coachhub.feedback.domain.camp_map import (
    OWN_KINDS,
    OWN_RELATIONS,
    OWN_SUPPORT,
    add_edge,
    add_node,
    map_of,
    set_question,
    switch_edge,
    with_changes,
)
from coachhub.feedback.domain.finding import frame_of
from coachhub.feedback.domain.lessons import send_lesson
from coachhub.feedback.models import CampMap, Drill, Lesson
from coachhub.progress.domain.course import course_of
from coachhub.progress.domain.patterns import Group, groups, takes
from coachhub.videos.models import Clip, Reference
from coachhub.web.coach.access import me, student_place
from coachhub.web.coach.desk.forms import library_frames
from coachhub.web.course import in_words


def _camp(request: HttpRequest, public_id: UUID, action: str) -> Camp:
    camp = get_object_or_404(Camp.objects.visible_to(me(request)), public_id=public_id)
    require(me(request), action, camp)
    return camp


def _cohorts(user: User, camp: Camp) -> list[Cohort]:
    return list(Cohort.objects.staffed_by(user).filter(camp=camp).order_by("name"))


@require_safe
@login_required
def findings(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = _camp(request, public_id, "feedback.see_findings")
    cohorts = _cohorts(me(request), camp)
    found = groups(camp, cohorts)
    context = {
        "camp": camp,
        "cohorts": cohorts,
        "grounds": [
            (heading, [each for each in found if each.ground == ground])
            for ground, heading in (("miss", "By miss"), ("sign", "By confirmed sign"), ("idea", "By idea"))
        ],
        "takes": takes(camp, cohorts),
        "may_teach": can(me(request), "feedback.teach", camp),
        "lessons": Lesson.objects.visible_to(me(request)).filter(camp=camp).select_related("by")[:20],
    }
    return render(request, "coach/findings.html", context)


def _group(request: HttpRequest, camp: Camp, ground: str, key: str) -> Group:
    """Of the cohorts that this coach teaches."""
    coached = Cohort.objects.coached_by(me(request)).filter(camp=camp)
    for each in groups(camp, coached):
        if (each.ground, each.key) == (ground, key):
            return each
    raise Http404("nobody has this just now")


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def lesson(request: HttpRequest, public_id: UUID, ground: str, key: str) -> HttpResponse:
    """Who would get it, and the lesson itself."""
    camp = _camp(request, public_id, "feedback.teach")
    group = _group(request, camp, ground, key)
    if request.method == "POST":
        try:
            sent = _send(request, camp, group)
        except RuleBroken as broken:
            messages.error(request, broken.sentence)
        else:
            reached = sent.deliveries.count()
            messages.success(
                request, f"Sent to {reached} student{'' if reached == 1 else 's'}, each in the own talk."
            )
            return redirect("coach:camp-findings", camp.public_id)
    found = map_of(camp).found
    idea = found.ideas.get(key)
    usable = Reference.objects.usable_by(me(request)).filter(camp=camp)
    drills = Drill.objects.in_reach(camp)
    context = {
        "camp": camp,
        "group": group,
        "text": request.POST.get("text", say(idea.better_idea) if idea else ""),
        "drills": list(drills),
        "suggested": [drill for drill in drills if key in (drill.node, drill.sign)],
        "films": library_frames(Clip.objects.filter(reference__in=usable).exclude(rendition_key="")),
    }
    return render(request, "coach/lesson.html", context)


def _send(request: HttpRequest, camp: Camp, group: Group) -> Lesson:
    frame = frame_of(request.POST.get("film", ""))
    usable = Clip.objects.filter(reference__in=Reference.objects.usable_by(me(request)).filter(camp=camp))
    drills = Drill.objects.in_reach(camp)
    wanted = request.POST.get("drill", "")
    return send_lesson(
        camp,
        ground=group.ground,
        key=group.key,
        text=request.POST.get("text", ""),
        students=[each.student for each in group.students],
        drill=next((drill for drill in drills if str(drill.public_id) == wanted), None),
        clip=usable.filter(public_id=frame[0]).first() if frame else None,
        at_us=frame[1] if frame else None,
        by=me(request),
        now=timezone.now(),
    )


@require_safe
@login_required
def course(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """One student on one time line."""
    place = student_place(request, public_id)
    shown = in_words(course_of(place.user, place.camp, only_published=False))
    return render(request, "coach/course.html", {"place": place, "course": shown})


@require_safe
@login_required
def cause_map(request: HttpRequest, public_id: UUID) -> HttpResponse:
    """The map as this camp uses it, or as it was with an earlier version."""
    camp = _camp(request, public_id, "feedback.see_findings")
    in_use = map_of(camp)
    versions = list(CampMap.objects.filter(camp=camp).select_related("by").order_by("-number"))
    wanted = request.GET.get("version", "")
    old = next((row for row in versions if str(row.number) == wanted), None)
    context = {
        "camp": camp,
        "map_name": in_use.name,
        "versions": versions,
        "old": old,
        "rows": _edge_rows(old, camp),
        "kinds": OWN_KINDS,
        "relations": OWN_RELATIONS,
        "nodes": _nodes(camp),
        "ideas": [
            (node, in_use.found.ideas.get(node.key))
            for node in in_use.found.nodes.values()
            if node.kind == "belief"
        ],
        "may_edit": can(me(request), "feedback.edit_map", camp) and old is None,
    }
    return render(request, "coach/cause_map.html", context)


def _edge_rows(old: CampMap | None, camp: Camp) -> list[tuple[str, list[dict[str, Any]]]]:
    """Every link by its cause, also those switched off."""
    row = old or map_of(camp).row
    changes: dict[str, Any] = row.changes if row else {}
    off = set(changes.get("off", ()))
    every = with_changes(changes | {"off": []})
    groups_of: dict[str, list[dict[str, Any]]] = {}
    for edge in every.edges:
        groups_of.setdefault(every.nodes[edge.cause].label, []).append(
            {
                "id": edge_id(edge),
                "effect": every.nodes[edge.effect].label,
                "edge": edge,
                "off": edge_id(edge) in off,
                "own": edge.support == OWN_SUPPORT,
            }
        )
    return sorted(groups_of.items(), key=lambda group: group[0].casefold())


def _nodes(camp: Camp) -> list[tuple[str, list[Any]]]:
    by_kind: dict[str, list[Any]] = {}
    for node in map_of(camp).found.nodes.values():
        by_kind.setdefault(node.kind.capitalize(), []).append(node)
    return list(by_kind.items())


@require_POST
@login_required
def change_map(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = _camp(request, public_id, "feedback.edit_map")
    try:
        row = _changed(request, camp)
    except RuleBroken as broken:
        messages.error(request, broken.sentence)
    else:
        messages.success(
            request, f"Version {row.number} of the camp's map. {row.what[:1].upper()}{row.what[1:]}."
        )
    return redirect("coach:camp-map", camp.public_id)


def _changed(request: HttpRequest, camp: Camp) -> CampMap:
    sent, by, now = request.POST, me(request), timezone.now()
    what = sent.get("do", "")
    if what in ("off", "on"):
        return switch_edge(camp, sent.get("edge", ""), off=what == "off", by=by, now=now)
    if what == "node":
        words = {name: sent.get(name, "") for name in ("kind", "label", "seen_by")}
        return add_node(camp, **words, by=by, now=now)
    if what == "edge":
        words = {name: sent.get(name, "") for name in ("cause", "effect", "relation", "how")}
        return add_edge(camp, **words, by=by, now=now)
    if what == "question":
        words = {name: sent.get(name, "") for name in ("ask", "better_idea", "say_back")}
        return set_question(camp, sent.get("node", ""), **words, by=by, now=now)
    raise RuleBroken("form", "Choose what to change.")
