"""The camp's tasks for those who set them, who is late, and who hasn't got in yet."""

from __future__ import annotations

from typing import Any
from uuid import UUID

from django import forms
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from coachhub.camps.domain import plan as verbs
from coachhub.camps.domain.weeks import weeks
from coachhub.camps.models import Camp, CampTask, Cohort
from coachhub.camps.plan_models import MOST_SWINGS
from coachhub.common.domain.errors import RuleBroken
from coachhub.common.rules import can, require
from coachhub.progress.domain.plan import arrivals, not_in_yet
from coachhub.videos.enums import ClubClass, View
from coachhub.web.organiser.access import camp_for
from coachhub.web.organiser.hellos import hello_cards, other_hellos
from coachhub.web.who import person_of


class _Day(forms.DateInput):
    def __init__(self) -> None:
        super().__init__(attrs={"type": "date"}, format="%Y-%m-%d")


class TaskForm(forms.Form):
    words = forms.CharField(
        label="The task",
        max_length=verbs.LONGEST_WORDS,
        help_text="Such as: three seven-iron swings, both views",
    )
    note = forms.CharField(
        label="More about it",
        max_length=400,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2}),
    )
    week = forms.TypedChoiceField(
        label="In which week", coerce=int, empty_value=None, required=False, help_text="Or give days below."
    )
    opens_on = forms.DateField(label="Opens on", widget=_Day(), required=False)
    due_on = forms.DateField(label="Due on (the whole day counts)", widget=_Day(), required=False)
    club_class = forms.ChoiceField(label="Club", required=False, choices=[("", "any"), *ClubClass.choices])
    views = forms.MultipleChoiceField(
        label="Filmed from", choices=View.choices, widget=forms.CheckboxSelectMultiple, initial=View.values
    )
    swings = forms.IntegerField(label="Swings from each view", min_value=1, max_value=MOST_SWINGS, initial=3)
    is_baseline = forms.BooleanField(
        label="This is the baseline: later swings are set beside it", required=False
    )

    def __init__(self, camp: Camp, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.camp = camp
        listed = [(week.number, f"Week {week.number}") for week in weeks(camp)]
        self.fields["week"].choices = [("", "days as below"), *listed]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        found = super().clean() or {}
        if found.get("week"):
            found["opens_on"], found["due_on"] = verbs.days_of_week(self.camp, found["week"])
        elif not (found.get("opens_on") and found.get("due_on")):
            self.add_error("week", "Choose a week, or give the day it opens and the day it is due.")
        return found

    def plan(self) -> verbs.TaskPlan:
        given = {name: value for name, value in self.cleaned_data.items() if name not in ("week", "views")}
        return verbs.TaskPlan(views=tuple(self.cleaned_data["views"]), known_views=View.values, **given)


def _first(task: CampTask) -> dict[str, Any]:
    names = ("words", "note", "opens_on", "due_on", "club_class", "views", "swings", "is_baseline")
    return {name: getattr(task, name) for name in names}


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def plan(request: HttpRequest, public_id: UUID) -> HttpResponse:
    camp = camp_for(request, public_id, "camps.see_plan")
    form = TaskForm(camp, request.POST or None)
    if request.method == "POST":
        require(person_of(request), "camps.set_plan", camp)
        if form.is_valid() and _kept(form, request, camp):
            messages.success(request, "The task is made. Students see it from now on.")
            return redirect("organiser:plan", public_id)
    return _page(request, camp, form)


def _kept(form: TaskForm, request: HttpRequest, camp: Camp, task: CampTask | None = None) -> bool:
    who = {"by": person_of(request), "now": timezone.now()}
    try:
        if task is None:
            verbs.add_task(camp, form.plan(), **who)  # type: ignore[arg-type]
        else:
            verbs.change_task(task, form.plan(), **who)  # type: ignore[arg-type]
    except RuleBroken as broken:
        form.add_error(broken.code if broken.code in form.fields else None, broken.sentence)
        return False
    return True


def _page(request: HttpRequest, camp: Camp, form: TaskForm) -> HttpResponse:
    person, now = person_of(request), timezone.now()
    cohorts = list(Cohort.objects.staffed_by(person).filter(camp=camp))
    may_manage = can(person, "camps.manage_members", camp)
    context = {
        "camp": camp,
        "form": form,
        "tasks": CampTask.objects.visible_to(person).standing().filter(camp=camp),
        "arrivals": arrivals(camp, cohorts, now=now),
        "missing": not_in_yet(cohorts, now=now) if may_manage else [],
        "may_manage": may_manage,
        "hellos": hello_cards(person, cohorts),
        "others": other_hellos(person, cohorts),
        "may_set": can(person, "camps.set_plan", camp),
    }
    return render(request, "organiser/plan.html", context)


def _task(request: HttpRequest, public_id: UUID) -> CampTask:
    person = person_of(request)
    rows = CampTask.objects.visible_to(person).standing().select_related("camp")
    task = get_object_or_404(rows, public_id=public_id)
    require(person, "camps.set_plan", task.camp)
    return task


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def change(request: HttpRequest, public_id: UUID) -> HttpResponse:
    task = _task(request, public_id)
    form = TaskForm(task.camp, request.POST or None, initial=_first(task))
    if request.method == "POST" and form.is_valid() and _kept(form, request, task.camp, task):
        messages.success(request, "Saved.")
        return redirect("organiser:plan", task.camp.public_id)
    return render(request, "organiser/task.html", {"camp": task.camp, "form": form, "task": task})


@login_required
@require_POST
def retire(request: HttpRequest, public_id: UUID) -> HttpResponse:
    task = _task(request, public_id)
    verbs.retire_task(task, by=person_of(request), now=timezone.now())
    messages.success(request, "The task is taken out. What was sent for it stays.")
    return redirect("organiser:plan", task.camp.public_id)
