"""What the browser's swing player needs to know, as plain data: made here, read by js/behaviours/swing_player.js."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Any, TypedDict
from uuid import UUID

from django.db.models import Prefetch

from coachhub.accounts.enums import Hand
from coachhub.accounts.models import Intake, User
from coachhub.common.wording import say
from coachhub.feedback.models import Mark, Moment, Review, VoiceNote
from coachhub.swings.domain.kinds import name_tail, practice_last
from coachhub.swings.models import EventCorrection, Readout, Swing
from coachhub.videos.enums import ClipState
from coachhub.videos.models import Clip, Reference, Submission
from coachhub.web.words import event_label

SHOWN_STATES = (ClipState.PLAYABLE, ClipState.USABLE)


class PlayerEvent(TypedDict):
    name: str
    label: str
    t_us: int
    se_us: int
    corrected: bool


class PlayerSwing(TypedDict):
    """One thing to look at: a measured swing, or a whole clip where nothing was measured."""

    id: str
    clip: str
    view: str
    label: str
    hand: str
    src: str | None
    poster: str
    index: str
    tracks: str | None
    start_us: int
    end_us: int
    in_clip: int
    measured: bool
    width: int
    height: int
    events: list[PlayerEvent]


class PlayerMark(TypedDict):
    uid: str
    swing: str
    kind: str
    points: list[list[float]]
    from_us: int
    to_us: int
    label: str
    note: str
    follows: str
    anchor_us: int | None
    weight: str
    is_dashed: bool


class PlayerMoment(TypedDict):
    uid: str
    swing: str
    at_us: int
    note: str


class Player(TypedDict):
    replay: bool
    swings: list[PlayerSwing]
    marks: list[PlayerMark]
    moments: list[PlayerMoment]


class Replay(TypedDict):
    player: Player
    moments: list[dict[str, Any]]
    marks: list[dict[str, Any]]
    voice: list[dict[str, Any]]


def clips_to_show(submission: Submission, user: User, *, as_of: datetime | None = None) -> list[Clip]:
    """The submission's playable clips with swings, readouts and corrections: four queries, however many.

    ``as_of`` shows what was measured at that time: a published answer keeps the numbers that it was made with.
    """
    return list(
        Clip.objects.visible_to(user)
        .filter(submission=submission, state__in=SHOWN_STATES)
        .select_related("submission", "reference")
        .order_by("number")
        .prefetch_related(_swings_with_readouts(as_of))
    )


def _swings_with_readouts(as_of: datetime | None = None) -> Prefetch[Any]:
    readouts = Readout.objects.shown(as_of).select_related("run")
    known = Swing.objects.all() if as_of is None else Swing.objects.filter(created_at__lte=as_of)
    swings = known.prefetch_related(
        Prefetch("readouts", queryset=readouts, to_attr="current_readouts"),
        Prefetch("corrections", queryset=EventCorrection.objects.all()),
    )
    return Prefetch("swings", queryset=swings)


def player_of(
    clips: Iterable[Clip],
    user: User,
    *,
    hand: str,
    marks: Iterable[Mark] = (),
    moments: Iterable[Moment] = (),
    replay: bool = False,
) -> Player:
    swings: list[PlayerSwing] = []
    for clip in clips:
        swings += _swings_of(clip, user, hand)
    return {
        "replay": replay,
        "swings": swings,
        "marks": [mark_data(mark) for mark in marks],
        "moments": [moment_data(moment) for moment in moments],
    }


def player_of_reference(reference: Reference, user: User) -> Player:
    clips = (
        Clip.objects.visible_to(user)
        .filter(reference=reference, state__in=SHOWN_STATES)
        .prefetch_related(_swings_with_readouts())
    )
    return player_of(clips, user, hand=reference.handedness)


def replay_of(review: Review, user: User) -> Replay:
    """The answer as the student looks at it: the swings that matter first, drawings, moments, voice."""
    marks = list(review.marks.select_related("swing"))
    moments = list(review.moments.select_related("swing"))
    voice = list(
        VoiceNote.objects.filter(review=review, job_state="done").select_related("swing").order_by("id")
    )
    player = player_of(
        clips_to_show(review.submission, user, as_of=review.published_at),
        user,
        hand=hand_of(review.submission.student_id),
        marks=marks,
        moments=moments,
        replay=True,
    )
    pointed = {item["swing"] for item in (*player["marks"], *player["moments"])}
    player["swings"].sort(key=lambda swing: swing["id"] not in pointed)
    labels = {swing["id"]: swing["label"] for swing in player["swings"]}
    return {
        "player": player,
        "moments": [dict(item, label=labels.get(item["swing"], "")) for item in player["moments"]],
        "marks": [dict(item, label_of_swing=labels.get(item["swing"], "")) for item in player["marks"]],
        "voice": [voice_data(note, user) for note in voice],
    }


def pinned_swing(swing: Swing, readout: Readout | None, user: User, *, hand: str, label: str) -> PlayerSwing:
    """A swing with the events and lines of one readout, whatever was measured since."""
    from coachhub.web.media.links import media_link

    entry = _entry(
        swing.clip,
        swing.public_id,
        user,
        hand,
        label=label,
        start_us=round(swing.start_s * 1e6),
        end_us=round(swing.end_s * 1e6),
    )
    entry["in_clip"] = swing.clip.swings.count()
    if readout is not None:
        entry["measured"] = True
        entry["start_us"], entry["end_us"] = span_us(readout, swing)
        entry["events"] = _events(readout, swing)
        if readout.run.result_key:
            entry["tracks"] = media_link("readout.tracks", readout, user)
    return entry


def hand_of(student_id: int) -> str:
    """The declared hand; it wins over the detected one."""
    declared = Intake.objects.filter(user_id=student_id).values_list("handedness", flat=True).first()
    return declared or str(Hand.RIGHT)


def readout_of(swing: Swing) -> Readout | None:
    current = getattr(swing, "current_readouts", None)
    if current is None:
        return swing.readouts.filter(is_current=True).first()
    return current[0] if current else None


def mark_data(mark: Mark) -> PlayerMark:
    return {
        "uid": str(mark.uid),
        "swing": str(mark.swing.public_id),
        "kind": mark.kind,
        "points": mark.points,
        "from_us": mark.from_us,
        "to_us": mark.to_us,
        "label": mark.label,
        "note": mark.note,
        "follows": mark.follows,
        "anchor_us": mark.anchor_us,
        "weight": mark.weight,
        "is_dashed": mark.is_dashed,
    }


def moment_data(moment: Moment) -> PlayerMoment:
    return {
        "uid": str(moment.uid),
        "swing": str(moment.swing.public_id),
        "at_us": moment.at_us,
        "note": moment.note,
    }


def voice_data(note: VoiceNote, user: User) -> dict[str, Any]:
    from coachhub.web.media.links import media_link

    return {
        "id": str(note.public_id),
        "state": note.job_state,
        "error": note.error_text,
        "swing": str(note.swing.public_id) if note.swing else "",
        "at_us": note.at_us,
        "duration_ms": note.duration_ms,
        "caption": note.caption,
        "src": media_link("voice.audio", note, user) if note.audio_key else "",
    }


def _swings_of(clip: Clip, user: User, hand: str) -> list[PlayerSwing]:
    swings = practice_last(clip.swings.all(), readout_of)
    if not swings:
        return [whole_clip(clip, user, hand)]
    return [_measured(clip, swing, user, hand, len(swings)) for swing in swings]


def whole_clip(clip: Clip, user: User, hand: str) -> PlayerSwing:
    end_us = round((clip.duration_s or 0) * 1e6)
    return _entry(clip, clip.public_id, user, hand, label=_label(clip, ""), start_us=0, end_us=end_us)


def _measured(clip: Clip, swing: Swing, user: User, hand: str, in_clip: int) -> PlayerSwing:
    from coachhub.web.media.links import media_link

    readout = readout_of(swing)
    entry = _entry(
        clip,
        swing.public_id,
        user,
        hand,
        label=_label(clip, (f", swing {swing.number}" if in_clip > 1 else "") + name_tail(readout)),
        start_us=round(swing.start_s * 1e6),
        end_us=round(swing.end_s * 1e6),
    )
    entry["in_clip"] = in_clip
    if readout is not None:
        entry["measured"] = True
        entry["start_us"], entry["end_us"] = span_us(readout, swing)
        entry["events"] = _events(readout, swing)
        if readout.run.result_key:
            entry["tracks"] = media_link("readout.tracks", readout, user)
    return entry


def span_us(readout: Readout, swing: Swing) -> tuple[int, int]:
    """First and last microsecond of the swing as this readout has it: a later version may set them elsewhere."""
    start_s, end_s = readout.data.get("start_s", swing.start_s), readout.data.get("end_s", swing.end_s)
    return round(start_s * 1e6), round(end_s * 1e6)


def _entry(
    clip: Clip, ident: UUID, user: User, hand: str, *, label: str, start_us: int, end_us: int
) -> PlayerSwing:
    from coachhub.web.media.links import media_link

    return {
        "id": str(ident),
        "clip": str(clip.public_id),
        "view": clip.view,
        "label": label,
        "hand": hand,
        "src": media_link("clip.rendition", clip, user) if clip.rendition_key else None,
        "poster": media_link("clip.poster", clip, user) if clip.poster_key else "",
        "index": media_link("clip.index", clip, user) if clip.index_key else "",
        "tracks": None,
        "start_us": start_us,
        "end_us": end_us,
        "in_clip": 1,
        "measured": False,
        "width": clip.width or 720,
        "height": clip.height or 1280,
        "events": [],
    }


def _label(clip: Clip, swing: str) -> str:
    if isinstance(clip.home, Reference):
        return f"{clip.home.title}, {say(str(clip.get_view_display()))}{say(swing)}"
    return say(f"Clip {clip.number}, {clip.get_view_display()}{swing}")


def _events(readout: Readout, swing: Swing) -> list[PlayerEvent]:
    corrected = {correction.event for correction in swing.corrections.all()}
    events: list[PlayerEvent] = [
        {
            "name": name,
            "label": say(event_label(name)),
            "t_us": round(found["t"] * 1e6),
            "se_us": round((found.get("se") or 0) * 1e6),
            "corrected": name in corrected,
        }
        for name, found in readout.data.get("events", {}).items()
        if found.get("t") is not None
    ]
    return sorted(events, key=lambda event: event["t_us"])
