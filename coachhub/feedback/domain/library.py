"""The drill library, and which of its drills may be offered for a review. Nothing here is ever chosen by itself."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.db import transaction
from django.db.models import Q

from coachhub.accounts.enums import PainSite
from coachhub.feedback.domain.camp_map import map_of
from coachhub.feedback.domain.health import Health, health_of
from coachhub.feedback.domain.practice import drills_that_hurt
from coachhub.feedback.domain.ranking import body_care
from coachhub.feedback.models import Drill, Finding, Review
from coachhub.swings.enums import SignKey, SignLevel, Verdict
from coachhub.swings.models import SignFlag, SignJudgement

SHIPPED = Path(__file__).resolve().parent.parent / "library" / "drills.csv"
COLUMNS = (
    "node",
    "sign",
    "name",
    "how",
    "cue",
    "club_and_speed",
    "dose",
    "per_week",
    "progression",
    "video_check",
    "stop_rule",
    "evidence",
)
STOP = "This student has a pain alert. No drill is offered: advise to stop and to see a clinician first."
BACK_QUESTION = (
    "Before I suggest anything: do you have, or did you ever have, pain in your lower back? "
    "Where, when, and does it hurt during or after swinging?"
)
ASK_FIRST = (
    "Ask about the back first: the spine leans to the target at the top, and the pain answer is missing."
)

SAID_TO_HURT = "the student said that it hurts"


def shipped_names() -> dict[str, str]:
    """Key to name of the shipped drills."""
    return {row["key"].strip(): row["name"].strip() for row in _rows(SHIPPED)}


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@transaction.atomic
def load_library(path: Path = SHIPPED, *, now: datetime) -> int:
    """Put the drills of a CSV file into the shared library; a key that is there gets the file's words."""
    rows = _rows(path)
    for row in rows:
        fields = {name: row[name].strip() for name in COLUMNS}
        Drill.objects.update_or_create(
            key=row["key"].strip(),
            camp=None,
            defaults={**fields, "avoid_sites": _sites(row["avoid_sites"])},
            create_defaults={**fields, "avoid_sites": _sites(row["avoid_sites"]), "created_at": now},
        )
    return len(rows)


def _sites(text: str) -> list[str]:
    sites = [part.strip() for part in text.split(";") if part.strip()]
    unknown = set(sites) - set(PainSite.values)
    if unknown:
        raise ValueError(f"avoid_sites must be among {PainSite.values}, not {sorted(unknown)}")
    return sites


@dataclass(frozen=True)
class Offer:
    drill: Drill
    # Why it is offered ("early release: confirmed"), and what to mind ("had pain before: lower back").
    reason: str
    caution: str = ""


@dataclass(frozen=True)
class HeldBack:
    drill: Drill
    reason: str


@dataclass(frozen=True)
class Suggestions:
    offered: tuple[Offer, ...] = ()
    held_back: tuple[HeldBack, ...] = ()
    # Set: no drill at all may be offered, and this sentence says why.
    stop: str = ""
    ask: str = ""
    # Set: the coach's root is the body, for which nothing is suggested; the library stays open.
    care: str = ""


def suggest(review: Review) -> Suggestions:
    """Drills for the confirmed and likely signs and the chosen causes, the student's pain minded."""
    health = health_of(review.submission)
    if review.has_red_flag or health.has_red_flag:
        return Suggestions(stop=STOP)
    reasons = sign_reasons(review)
    if SignKey.REVERSE_SPINE_TILT in reasons and not health.back_answered:
        return Suggestions(stop=ASK_FIRST, ask=BACK_QUESTION)
    care = _care(review)
    if care:
        return Suggestions(care=care)
    offered, held_back = [], []
    hurt = drills_that_hurt(review.submission.student_id, review.submission.camp_id)
    for drill, reason in _candidates(review, reasons):
        objection = SAID_TO_HURT if drill.pk in hurt else _objection(drill, health, review.has_pain)
        if objection:
            held_back.append(HeldBack(drill, objection))
        else:
            offered.append(Offer(drill, reason, _caution(drill, health)))
    return Suggestions(tuple(offered), tuple(held_back))


def _care(review: Review) -> str:
    finding = Finding.objects.filter(review=review).first()
    if finding is None:
        return ""
    return body_care(finding.root_kind, finding.root_node, map_of(review.submission.camp).found)


def sign_reasons(review: Review) -> dict[str, str]:
    """Sign names that count, with the word that makes them count; what a coach dismissed does not."""
    verdicts: dict[str, set[str]] = {}
    judged = SignJudgement.objects.filter(swing__clip__submission=review.submission_id)
    for sign, verdict in judged.values_list("sign", "verdict"):
        verdicts.setdefault(sign, set()).add(verdict)
    likely = SignFlag.objects.filter(
        readout__is_current=True,
        readout__swing__clip__submission=review.submission_id,
        level=SignLevel.LIKELY,
    ).values_list("sign", flat=True)
    confirmed = {sign for sign, said in verdicts.items() if Verdict.AGREE in said}
    open_still = {sign for sign in likely if Verdict.NOT_THIS not in verdicts.get(sign, set())}
    return dict.fromkeys(sorted(open_still), "likely") | dict.fromkeys(sorted(confirmed), "confirmed")


def _candidates(review: Review, reasons: dict[str, str]) -> list[tuple[Drill, str]]:
    """Each drill once: chosen causes first, then confirmed signs, then likely ones."""
    finding = Finding.objects.filter(review=review).first()
    chosen = [key for key in (finding.root_node, finding.mechanism_node) if key] if finding else []
    wanted = Q(sign__in=reasons) | Q(node__in=chosen)
    ranked = []
    for drill in Drill.objects.in_reach(review.submission.camp_id).filter(wanted):
        if drill.node and drill.node in chosen:
            ranked.append((chosen.index(drill.node), drill, "for the cause you chose"))
        else:
            word = reasons[drill.sign]
            rank = 2 if word == "confirmed" else 3
            ranked.append((rank, drill, f"{SignKey(drill.sign).label}: {word}"))
    return [(drill, reason) for _, drill, reason in sorted(ranked, key=lambda row: (row[0], row[1].name))]


def _objection(drill: Drill, health: Health, pain_noted: bool) -> str:
    hits = sorted(health.sites_now & set(drill.avoid_sites))
    if hits:
        return f"pain now: {', '.join(str(PainSite(site).label) for site in hits)}"
    somewhere = health.site_unknown or (pain_noted and not health.pain_now)
    unclear = somewhere or PainSite.OTHER in health.sites_now
    if unclear and drill.avoid_sites:
        return "pain was reported, but not where: ask first"
    return ""


def _caution(drill: Drill, health: Health) -> str:
    hits = sorted(health.sites_past & set(drill.avoid_sites))
    if hits:
        return f"had pain before: {', '.join(str(PainSite(site).label) for site in hits)}"
    if health.pain_now:
        return "has pain now; say when to stop"
    return ""


def allowed_drills(review: Review) -> list[Drill]:
    """Every drill in reach that the student's pain does not forbid; none while ``suggest`` says stop.

    One that the student said hurts stays open to a coach who has asked; it is never suggested.
    """
    if suggest(review).stop:
        return []
    health = health_of(review.submission)
    in_reach = Drill.objects.in_reach(review.submission.camp_id)
    return [drill for drill in in_reach if not _objection(drill, health, review.has_pain)]
