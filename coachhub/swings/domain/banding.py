"""Signs judged with a camp's bands, from the stored numbers alone."""

from __future__ import annotations

from typing import Any

from django.db import transaction
from django.db.models import Max, Q, QuerySet

from analysis.signs.bands import Bands
from analysis.signs.stored import judge_stored
from coachhub.camps.domain.bands import bands_of
from coachhub.camps.models import Camp, SignBands
from coachhub.swings.models import Readout, SignFlag

AT_ONCE = 50


def judged_for(camp: Camp, data: dict[str, Any]) -> tuple[dict[str, Any], int]:
    """Readout data with the camp's signs, and the number of the bands that gave them."""
    number, bands = bands_of(camp)
    return (judged_with(data, bands) if number else data), number


def judged_with(data: dict[str, Any], bands: Bands) -> dict[str, Any]:
    return {**data, "signs": judge_stored(data, bands)}


def judge_camp_anew(camp: Camp) -> int:
    """Bring every current readout of the camp to the bands that hold. Safe to repeat; returns how many changed."""
    changed = 0
    while batch := list(_behind(camp.pk).values_list("pk", flat=True)[:AT_ONCE]):
        changed += sum(_judge_anew(pk, camp) for pk in batch)
    return changed


def camps_behind() -> list[int]:
    """Camps with readouts that were judged with bands which hold no more."""
    set_ever = Camp.objects.filter(sign_bands__isnull=False).distinct()
    return [camp.pk for camp in set_ever if _behind(camp.pk).exists()]


def _behind(camp_id: int) -> QuerySet[Readout]:
    """The camp's current readouts that were not judged with its latest bands."""
    latest = SignBands.objects.filter(camp_id=camp_id).aggregate(latest=Max("number"))["latest"] or 0
    here = Q(swing__clip__submission__camp_id=camp_id) | Q(swing__clip__reference__camp_id=camp_id)
    return Readout.objects.filter(here, is_current=True).exclude(bands_number=latest).order_by("pk")


@transaction.atomic
def _judge_anew(pk: int, camp: Camp) -> bool:
    readout = Readout.objects.select_for_update().filter(pk=pk, is_current=True).first()
    if readout is None:
        return False
    number, bands = bands_of(camp)
    readout.data = judged_with(readout.data, bands)
    readout.bands_number = number
    readout.save(update_fields=["data", "bands_number"])
    readout.flags.all().delete()
    write_flags(readout)
    return True


def write_flags(readout: Readout) -> None:
    SignFlag.objects.bulk_create(
        SignFlag(readout=readout, sign=name, level=sign["level"], probability=sign["p"])
        for name, sign in readout.data["signs"].items()
    )
