"""Possible roots of one submission, ranked by the cause map, as the coach reads them. Nothing here is ever sent."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from analysis.causes import Case, CauseMap, Miss, Ranking, Root, SeenSign, rank
from analysis.causes.care import BODY
from analysis.causes.evidence import SIGN_NODES
from analysis.causes.paths import Path
from coachhub.accounts.models import Intake
from coachhub.feedback.domain.camp_map import MapInUse, map_of
from coachhub.feedback.domain.causes import MECHANISM_KINDS
from coachhub.feedback.domain.eye import so_and_not_so
from coachhub.feedback.domain.health import health_of, latest_intake
from coachhub.feedback.enums import Reading, RootKind
from coachhub.feedback.models import Question, Review
from coachhub.swings.enums import SignLevel, Verdict
from coachhub.swings.models import SignFlag, SignJudgement
from coachhub.videos.enums import ClipState
from coachhub.videos.models import Submission

RIGHT = "right"


@dataclass(frozen=True)
class Reason:
    """One summand of a path's rank: what speaks for it, where that comes from, and over which links."""

    text: str
    source: str
    via: str
    grades: str
    amount: float


@dataclass(frozen=True)
class Suggestion:
    place: int
    root: Root
    kind_label: str
    reasons: tuple[Reason, ...]
    more_reasons: int
    mechanism_node: str
    mechanism: str
    # What finds it out: the question, and what it would do to the order.
    step: str
    step_words: str
    # The same as a sentence to the student; empty where the coach looks alone.
    ask_text: str
    if_so: str
    clue: str
    clue_how: str
    taught: str


@dataclass(frozen=True)
class Suggested:
    suggestions: tuple[Suggestion, ...]
    further: int
    unexplained: tuple[str, ...]
    set_aside: tuple[tuple[str, str], ...]
    map_name: str

    @property
    def roots(self) -> list[str]:
        return [each.root.key for each in self.suggestions]


def suggest_roots(review: Review, in_use: MapInUse | None = None) -> Suggested:
    """At most three, each with why it ranks there and what would change that."""
    in_use = in_use or map_of(review.submission.camp)
    ranking = rank(case_of(review, in_use.found), found=in_use.found)
    return _in_words(ranking, in_use)


def case_of(review: Review, found: CauseMap) -> Case:
    """All that is known: signs, eye, report, idea, club, and whether something hurts."""
    submission = review.submission
    intake = latest_intake(submission.student_id)
    observed, ruled_out = so_and_not_so(review.observations.all())
    said, denied = beliefs_of(review)
    on_map = found.nodes
    beliefs = tuple(key for key in said if key in on_map and on_map[key].kind == "belief")
    return Case(
        club_class=submission.club_class,
        handedness=intake.handedness if intake else RIGHT,
        signs=tuple(_signs(submission)),
        observations=tuple(key for key in observed if key in on_map),
        ruled_out=tuple(key for key in (*ruled_out, *denied) if key in on_map and key not in beliefs),
        miss=miss_of(submission),
        beliefs=beliefs,
        views=_views(submission),
        pain=_pain(review, intake),
    )


def miss_of(submission: Submission) -> Miss:
    return Miss(
        submission.miss_start or None,
        submission.miss_curve or None,
        submission.miss_strike or None,
        submission.miss_height or None,
    )


def beliefs_of(review: Review) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Ideas that the student's words stand for, and those that the coach reads out of an answer as not theirs.

    A later word on an idea takes the place of an earlier one.
    """
    said: dict[str, bool] = dict.fromkeys(review.submission.intents, True)
    for question in Question.objects.filter(review=review).order_by("id"):
        said |= dict.fromkeys(question.chosen, True)
        if question.node and question.reading in (Reading.SHOWS, Reading.NOT_SO):
            said[question.node] = question.reading == Reading.SHOWS
    return tuple(key for key, so in said.items() if so), tuple(key for key, so in said.items() if not so)


def _signs(submission: Submission) -> Iterable[SeenSign]:
    said = SignJudgement.objects.filter(swing__clip__submission=submission).order_by("id")
    judged = list(said.values_list("swing_id", "sign", "verdict"))
    words = {Verdict.AGREE: "confirmed", Verdict.NOT_THIS: "dismissed", Verdict.CANT_TELL: "cant_tell"}
    for _, sign, verdict in judged:
        if sign in SIGN_NODES:
            yield SeenSign(sign, words[Verdict(verdict)])
    spoken = {(swing, sign) for swing, sign, _ in judged}
    flags = SignFlag.objects.filter(readout__is_current=True, readout__swing__clip__submission=submission)
    for swing, sign, level, p in flags.order_by("id").values_list(
        "readout__swing_id", "sign", "level", "probability"
    ):
        if sign not in SIGN_NODES or (swing, sign) in spoken:
            continue
        if level in (SignLevel.LIKELY, SignLevel.POSSIBLE) and p is None:
            continue
        yield SeenSign(sign, level, p)


def _views(submission: Submission) -> tuple[str, ...]:
    clips = submission.clips.exclude(state=ClipState.REFUSED)
    return tuple(dict.fromkeys(clips.order_by("number").values_list("view", flat=True)))


def _pain(review: Review, intake: Intake | None) -> bool | None:
    """True where anything hurts; None while nobody said where it hurts or hurt, or that nothing does."""
    health = health_of(review.submission, intake)
    if health.pain_now or review.has_pain or review.has_red_flag:
        return True
    return False if health.back_answered else None


def _in_words(ranking: Ranking, in_use: MapInUse) -> Suggested:
    labels = {key: node.label for key, node in in_use.found.nodes.items()}
    return Suggested(
        suggestions=tuple(
            _suggestion(place, root, in_use.found, labels)
            for place, root in enumerate(ranking.roots, start=1)
        ),
        further=ranking.further,
        unexplained=tuple(labels[key] for key in ranking.unexplained),
        set_aside=tuple((labels[each.node], each.reason) for each in ranking.set_aside),
        map_name=in_use.name,
    )


SHOWN_REASONS = 3
STEP_WORDS = {
    "ask": "Ask this",
    "film": "Film that view",
    "look": "Look",
    "photo": "Ask for a photo",
    "test": "For a qualified person",
}


def _suggestion(place: int, root: Root, found: CauseMap, labels: dict[str, str]) -> Suggestion:
    reasons = tuple(
        Reason(
            text=labels[part.observed.node],
            source=part.observed.source,
            via=" → ".join(labels[key] for key in part.path.nodes),
            grades=", ".join(part.path.grades),
            amount=part.amount,
        )
        for part in root.contributions
    )
    mechanism = _mechanism(root, found)
    return Suggestion(
        place=place,
        root=root,
        kind_label=str(RootKind(root.kind).label),
        reasons=reasons[:SHOWN_REASONS],
        more_reasons=max(0, len(reasons) - SHOWN_REASONS),
        mechanism_node=mechanism,
        mechanism=labels.get(mechanism, ""),
        step=root.question.text,
        step_words=STEP_WORDS.get(root.question.how, "Look"),
        ask_text=_ask_text(root, found),
        if_so=_if_so(place, root.rank_if_so),
        clue=root.clue.text if root.clue else "",
        clue_how=STEP_WORDS.get(root.clue.how, "Look") if root.clue else "",
        taught="; ".join(edge.how for edge in root.taught_by),
    )


def _ask_text(root: Root, found: CauseMap) -> str:
    """Only films can be sent, so a grip is asked for as a short one."""
    question, node = root.question, found.nodes[root.question.node]
    if question.how == "ask":
        return question.text
    if question.how == "film":
        view = "face-on" if node.view == "face_on" else "down-the-line"
        return f"Please film your next swings {view}, too: what I want to look at can't be seen from the other side."
    if question.how == "photo":
        return "Please film your hands on the club from close by, at address, for two seconds, and send that too."
    return ""


def _if_so(place: int, then: int) -> str:
    if then < place:
        return f"if so, it moves up to place {then}"
    return "if so, it stays first" if place == 1 else f"even so, it stays at place {then}"


def _mechanism(root: Root, found: CauseMap) -> str:
    """What the club does on this path: the thing seen that counts most, else the first on the way to the ball."""
    for part in root.contributions:
        for key in reversed(part.path.nodes[1:]):
            if key == part.observed.node and found.nodes[key].kind in MECHANISM_KINDS:
                return key
    ways: list[Path] = list(root.paths)
    on_the_way = (key for way in ways for key in way.nodes[1:] if found.nodes[key].kind in MECHANISM_KINDS)
    return next(on_the_way, "")


def body_care(root_kind: str, root_node: str, found: CauseMap) -> str:
    """The safety sentence for a root that no drill is suggested for; empty for any other."""
    node = found.nodes.get(root_node)
    is_body = root_kind == RootKind.BODY or (node is not None and node.kind in ("body limit", "health"))
    return BODY if is_body else ""
