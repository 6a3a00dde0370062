from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import QuerySet

from analysis.causes import CauseMap
from analysis.types import JOINTS
from coachhub.accounts.models import User
from coachhub.common.wording import say
from coachhub.feedback.domain.camp_map import map_of
from coachhub.feedback.domain.causes import mechanism_nodes, root_nodes
from coachhub.feedback.domain.finding import miss_sentence
from coachhub.feedback.domain.ideas import demonstrations
from coachhub.feedback.domain.library import Suggestions, allowed_drills
from coachhub.feedback.domain.phrases import LINES, phrases_of
from coachhub.feedback.enums import Confidence, RootKind
from coachhub.feedback.models import Drill, Finding, IdeaChange, Review
from coachhub.swings.enums import SignKey, SwingEvent, Verdict
from coachhub.videos.models import Clip
from coachhub.web.words import event_label

Frames = list[tuple[str, str]]
FINDING = ("miss", "mechanism_node", "mechanism", "root_kind", "root_node", "root", "confidence")
# Links of the chain that a frame can show.
FRAMED = ("mechanism", "root")
IDEA = ("better_idea", "look", "say_back", "own_at", "demo_at")
TEXTS = ("words", "keep", "priority", "cue", "dose")
OPEN_CHOICE = ("", "not chosen")


def _lines(rows: int, most: int) -> forms.Textarea:
    return forms.Textarea(attrs={"rows": rows, "maxlength": most})


class AnswerForm(forms.Form):
    """The answer as it stands on the desk; the same fields whether a person or the autosave sends it."""

    revision = forms.IntegerField(widget=forms.HiddenInput, min_value=0)
    miss = forms.CharField(label="Where the ball goes", max_length=200, required=False)
    mechanism_node = forms.ChoiceField(label="What the club does", required=False)
    mechanism = forms.CharField(label="In your own words", max_length=300, required=False)
    root_kind = forms.ChoiceField(
        label="Where it comes from", choices=[OPEN_CHOICE, *RootKind.choices], required=False
    )
    root_node = forms.ChoiceField(label="Why", required=False)
    root = forms.CharField(label="Why, in your own words", max_length=300, required=False)
    confidence = forms.ChoiceField(
        label="How sure you are", choices=[OPEN_CHOICE, *Confidence.choices], required=False
    )
    taken_root = forms.CharField(widget=forms.HiddenInput, max_length=40, required=False)
    mechanism_frame = forms.CharField(label="Frame that shows it", widget=forms.Select, required=False)
    root_frame = forms.CharField(label="Frame that shows why", widget=forms.Select, required=False)
    better_idea = forms.CharField(
        label="The better idea", max_length=600, required=False, widget=_lines(3, 600)
    )
    look = forms.CharField(label="What to look at", max_length=300, required=False)
    own_at = forms.CharField(label="In the student's swing", widget=forms.Select, required=False)
    demo_at = forms.CharField(label="In a demonstration", widget=forms.Select, required=False)
    say_back = forms.CharField(label="Ask to say it back", max_length=200, required=False)
    keep = forms.CharField(label="Keep", max_length=300, required=False)
    priority = forms.CharField(label="The one thing to work on", max_length=300, required=False)
    cue = forms.CharField(label="Cue", max_length=200, required=False)
    drill = forms.ChoiceField(label="Drill", required=False)
    dose = forms.CharField(label="Dose", max_length=160, required=False)
    words = forms.CharField(
        label="Your words to the student", max_length=8000, required=False, widget=_lines(6, 8000)
    )

    def __init__(
        self,
        *args: Any,
        review: Review,
        suggestions: Suggestions,
        frames: Frames | None = None,
        user: User | None = None,
        **kwargs: Any,
    ) -> None:
        """``frames`` and ``user``: what the page offers to choose from; a form that is sent needs neither."""
        kwargs.setdefault("initial", initial_of(review))
        kwargs.setdefault("auto_id", "answer-%s")
        super().__init__(*args, **kwargs)
        self.drills = drills_for(review, suggestions)
        self._offer("drill", _drill_choices(self.drills, suggestions))
        found = map_of(review.submission.camp).found
        nodes = ((node.key, node.label) for node in mechanism_nodes(found))
        self._offer("mechanism_node", [OPEN_CHOICE, *nodes])
        self._offer("root_node", _root_choices(found))
        for name in ("mechanism_frame", "root_frame", "own_at"):
            self._offer_frames(name, frames or [])
        self._offer_frames("demo_at", demo_frames(review, user) if user else [])
        self.phrases = phrases_of(user) if user else {}
        for name in {*LINES} & self.phrases.keys():
            self.fields[name].widget.attrs["list"] = f"phrases-{name}"

    def _offer_frames(self, name: str, frames: Frames) -> None:
        """A frame that was chosen by hand stays choosable."""
        chosen = str(self.initial.get(name) or "")
        widget = self.fields[name].widget
        assert isinstance(widget, forms.Select)
        widget.choices = [("", "none"), *frames]
        if chosen and chosen not in dict(frames):
            widget.choices = [
                *widget.choices,
                (chosen, f"the chosen frame, {int(chosen.partition('@')[2]) / 1e6:.2f} s"),
            ]

    def _offer(self, name: str, choices: list[Any]) -> None:
        field = self.fields[name]
        assert isinstance(field, forms.ChoiceField)
        field.choices = choices

    def domain_fields(self) -> dict[str, Any]:
        """As ``save_draft`` takes them."""
        data = self.cleaned_data
        fields: dict[str, Any] = {name: data[name] for name in TEXTS}
        fields["drill"] = self.drills.get(data["drill"])
        fields["finding"] = {name: data[name] for name in (*FINDING, "taken_root")}
        fields["finding"]["frames"] = {name: data[f"{name}_frame"] for name in FRAMED}
        fields["idea"] = {name: data[name] for name in IDEA}
        return fields


class OpinionForm(forms.Form):
    """Another coach's chain beside the answer's."""

    mechanism_node = forms.ChoiceField(label="What the club does", required=False)
    mechanism = forms.CharField(label="In your own words", max_length=300, required=False)
    root_node = forms.ChoiceField(label="Why", required=False)
    root = forms.CharField(label="Why, in your own words", max_length=300, required=False)
    confidence = forms.ChoiceField(
        label="How sure you are", choices=[OPEN_CHOICE, *Confidence.choices], required=False
    )

    def __init__(self, *args: Any, found: CauseMap, **kwargs: Any) -> None:
        kwargs.setdefault("auto_id", "opinion-%s")
        super().__init__(*args, **kwargs)
        mechanisms, roots = self.fields["mechanism_node"], self.fields["root_node"]
        assert isinstance(mechanisms, forms.ChoiceField) and isinstance(roots, forms.ChoiceField)
        mechanisms.choices = [OPEN_CHOICE, *((node.key, node.label) for node in mechanism_nodes(found))]
        roots.choices = _root_choices(found)


def initial_of(review: Review) -> dict[str, Any]:
    finding = Finding.objects.filter(review=review).first()
    initial: dict[str, Any] = {name: getattr(review, name) for name in TEXTS}
    initial["revision"] = review.revision
    initial["drill"] = str(review.drill.public_id) if review.drill else ""
    for name in (*FINDING, "taken_root"):
        initial[name] = getattr(finding, name) if finding else ""
    for name in FRAMED:
        frame = finding.frames.get(name) if finding else None
        initial[f"{name}_frame"] = f"{frame['swing']}@{frame['at_us']}" if frame else ""
    initial |= _idea_initial(review)
    if finding is None:
        initial["miss"] = say(miss_sentence(review.submission))[:200]
    return initial


def _idea_initial(review: Review) -> dict[str, Any]:
    change = IdeaChange.objects.filter(review=review).select_related("own_swing", "demo_clip").first()
    if change is None:
        return {}
    return {
        "better_idea": change.better_idea,
        "look": change.look,
        "say_back": change.say_back,
        "own_at": f"{change.own_swing.public_id}@{change.own_us or 0}" if change.own_swing else "",
        "demo_at": f"{change.demo_clip.public_id}@{change.demo_us or 0}" if change.demo_clip else "",
    }


def demo_frames(review: Review, user: User) -> Frames:
    return library_frames(demonstrations(review, user))


def library_frames(clips: QuerySet[Clip]) -> Frames:
    """Frames of the coach's library: the events of a measured swing, else the film's start."""
    frames: Frames = []
    for clip in clips.select_related("reference").prefetch_related("swings__readouts"):
        title = clip.reference.title if clip.reference else ""
        events = [
            (name, found["t"])
            for swing in clip.swings.all()
            for readout in swing.readouts.all()
            if readout.is_current
            for name, found in readout.data.get("events", {}).items()
            if found.get("t") is not None
        ]
        named = [
            (f"{clip.public_id}@{round(t * 1e6)}", f"{title}: {event_label(name)}") for name, t in events
        ]
        frames += named or [(f"{clip.public_id}@0", title)]
    return frames


def drills_for(review: Review, suggestions: Suggestions) -> dict[str, Drill]:
    """By public id; none under a red flag, and none that the student's pain forbids."""
    return {} if suggestions.stop else {str(drill.public_id): drill for drill in allowed_drills(review)}


def _drill_choices(drills: dict[str, Drill], suggestions: Suggestions) -> list[Any]:
    offered = {str(offer.drill.public_id): offer for offer in suggestions.offered}
    first = [(ident, f"{offer.drill.name} ({offer.reason})") for ident, offer in offered.items()]
    rest = [(ident, drill.name) for ident, drill in drills.items() if ident not in offered]
    choices: list[Any] = [("", "no drill")]
    if first:
        choices.append(("Suggested", first))
    if rest:
        choices.append(("Library", rest))
    return choices


def _root_choices(found: CauseMap) -> list[Any]:
    groups = [
        (str(kind.label).capitalize(), [(node.key, node.label) for node in root_nodes(kind, found)])
        for kind in RootKind
    ]
    return [OPEN_CHOICE, *groups]


# What a person reads where a page is old or a hand slipped: no field is named by its key.
NO_SWING = {
    "required": "Load the page again: the swing is missing.",
    "invalid": "Load the page again: the swing is missing.",
}
NO_TIME = {
    "required": "Say at which second of the clip it is.",
    "invalid": "Say the time in seconds, as 1.25.",
    "min_value": "The time must lie within the clip, from 0 seconds on.",
    "max_value": "The time must lie within the clip.",
}


def _unknown(thing: str) -> dict[str, str]:
    return {"required": f"Choose {thing}.", "invalid_choice": f"Choose {thing} from the list."}


class JudgeForm(forms.Form):
    swing = forms.UUIDField(label="", error_messages=NO_SWING)
    sign = forms.ChoiceField(label="", choices=SignKey.choices, error_messages=_unknown("a sign"))
    verdict = forms.ChoiceField(label="", choices=Verdict.choices, error_messages=_unknown("a verdict"))
    at_s = forms.FloatField(label="", required=False, min_value=0, max_value=120, error_messages=NO_TIME)


class CorrectForm(forms.Form):
    """``do=back`` takes the corrected time back; otherwise it is set to ``t_s``."""

    swing = forms.UUIDField(label="", error_messages=NO_SWING)
    event = forms.ChoiceField(label="", choices=SwingEvent.choices, error_messages=_unknown("an event"))
    do = forms.CharField(label="", required=False)
    t_s = forms.FloatField(label="", required=False, min_value=0, max_value=120, error_messages=NO_TIME)

    @property
    def is_back(self) -> bool:
        return bool(self.cleaned_data["do"] == "back")

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("do") != "back" and data.get("t_s") is None and "t_s" not in self.errors:
            self.add_error("t_s", NO_TIME["required"])
        return data


class JointForm(forms.Form):
    """``do=back`` takes all corrections of the joint back; otherwise it is at (x, y) in the frame at ``t_us``."""

    swing = forms.UUIDField(label="", error_messages=NO_SWING)
    joint = forms.ChoiceField(
        label="", choices=[(name, name) for name in JOINTS], error_messages=_unknown("a joint")
    )
    do = forms.ChoiceField(
        label="", choices=[("set", "set"), ("back", "back")], error_messages=_unknown("what to do")
    )
    t_us = forms.IntegerField(
        label="", required=False, min_value=0, max_value=61_000_000, error_messages=NO_TIME
    )
    x = forms.FloatField(label="", required=False, min_value=0, max_value=1)
    y = forms.FloatField(label="", required=False, min_value=0, max_value=1)

    def clean(self) -> dict[str, Any]:
        data: dict[str, Any] = super().clean() or {}
        if data.get("do") == "set" and any(data.get(name) is None for name in ("t_us", "x", "y")):
            raise forms.ValidationError("Put the joint inside the picture, in a frame of the swing.")
        return data


class PlaceForm(forms.Form):
    """Where in a swing something is said."""

    swing = forms.UUIDField(required=False)
    at_us = forms.IntegerField(required=False, min_value=0, max_value=61_000_000)


class VoiceForm(PlaceForm):
    recording = forms.FileField(
        error_messages={"required": "Choose a sound file or record one.", "empty": "The recording is empty."}
    )
    caption = forms.CharField(required=False, max_length=8000)
