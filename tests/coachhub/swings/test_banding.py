"""Signs of stored readouts under a camp's bands; the numbers come from the real measuring of a truth file."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from pytest_django import DjangoCaptureOnCommitCallbacks

from analysis.cli import truth_readout
from analysis.signs.bands import SHIPPED, Bands
from coachhub.camps.domain.bands import set_bands
from coachhub.swings.domain import banding
from coachhub.swings.domain.readouts import save_readout
from coachhub.swings.models import Readout, SignFlag, Swing
from coachhub.swings.tasks import send_camps_behind
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.integration, pytest.mark.django_db]
LATER = NOW + timedelta(hours=1)
TRUTH = Path(__file__).resolve().parents[3] / "fixtures" / "clips" / "fo_sway.json.gz"
# Farther than this golfer sways; and a camp that does not look for it.
FARTHER = Bands({("sway", "pelvis_shift_top"): (-32.0, -34.0)})
NOT_LOOKED_FOR = Bands(off=frozenset({"sway"}))


@pytest.fixture(scope="module")
def measured() -> dict[str, Any]:
    return {**truth_readout(TRUTH), "start_s": 0.1, "end_s": 2.4, "run_swing": 1}


@pytest.fixture
def cast() -> Cast:
    return make_cast()


def make_measured(cast: Cast, data: dict[str, Any]) -> Swing:
    clip = factories.make_clip(factories.make_submission(cast.student, cast.cohort))
    run = factories.make_run(clip)
    swing = Swing.objects.create(clip=clip, number=1, start_s=0.1, end_s=2.4, created_at=NOW)
    save_readout(swing, run, data, now=NOW)
    return swing


def current(swing: Swing) -> Readout:
    return swing.readouts.get(is_current=True)


def flag(swing: Swing) -> SignFlag:
    return SignFlag.objects.get(readout__swing=swing, readout__is_current=True, sign="sway")


def test_without_bands_of_the_camp_the_measured_signs_stand(cast: Cast, measured: dict[str, Any]) -> None:
    swing = make_measured(cast, measured)
    assert current(swing).data == measured
    assert current(swing).bands_number == 0
    assert flag(swing).level == "likely"


def test_new_bands_judge_what_was_measured_before_and_back_again(
    cast: Cast,
    measured: dict[str, Any],
    django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks,
) -> None:
    swing = make_measured(cast, measured)
    before = current(swing)
    assert measured["metrics"]["pelvis_shift_top"]["value"] > -45
    with django_capture_on_commit_callbacks(execute=False) as calls:
        set_bands(cast.camp, NOT_LOOKED_FOR, based_on=0, by=cast.coach, now=LATER)
    assert len(calls) == 1
    assert banding.judge_camp_anew(cast.camp) == 1
    after = current(swing)
    assert (after.pk, after.revision, after.bands_number) == (before.pk, before.revision, 1)
    assert after.data["signs"]["sway"]["note"] == "this camp does not look for it"
    assert after.data["signs"]["sway"]["bands"] == "camp"
    assert (flag(swing).level, flag(swing).probability) == ("cant_tell", None)
    assert {**after.data, "signs": 0} == {**measured, "signs": 0}
    set_bands(cast.camp, SHIPPED, based_on=1, by=cast.coach, now=LATER)
    banding.judge_camp_anew(cast.camp)
    again = current(swing).data["signs"]
    assert {key: sign["level"] for key, sign in again.items()} == {
        key: sign["level"] for key, sign in measured["signs"].items()
    }
    assert again["sway"]["p"] == pytest.approx(measured["signs"]["sway"]["p"], abs=2e-3)


def test_a_swing_measured_later_is_judged_by_the_camps_bands(cast: Cast, measured: dict[str, Any]) -> None:
    set_bands(cast.camp, FARTHER, based_on=0, by=cast.coach, now=NOW)
    swing = make_measured(cast, measured)
    sway = current(swing).data["signs"]["sway"]
    assert current(swing).bands_number == 1
    assert sway["p"] < measured["signs"]["sway"]["p"]
    assert sway["evidence"][0]["grey"] == [-32.0, -34.0]
    assert flag(swing).probability == sway["p"]


def test_another_camp_keeps_its_own(cast: Cast, measured: dict[str, Any]) -> None:
    swing = make_measured(cast, measured)
    elsewhere = factories.make_camp()
    factories.join(cast.coach, factories.make_cohort(elsewhere), "coach")
    set_bands(elsewhere, NOT_LOOKED_FOR, based_on=0, by=cast.coach, now=NOW)
    assert banding.camps_behind() == []
    banding.judge_camp_anew(elsewhere)
    assert current(swing).data == measured


def test_twice_is_once_and_the_sweep_finds_who_was_missed(
    cast: Cast, measured: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    make_measured(cast, measured)
    set_bands(cast.camp, NOT_LOOKED_FOR, based_on=0, by=cast.coach, now=NOW)
    assert banding.camps_behind() == [cast.camp.pk]
    sent: list[int] = []
    monkeypatch.setattr("coachhub.swings.tasks.judge_anew.delay", sent.append)
    assert send_camps_behind(LATER) == 1
    assert sent == [cast.camp.pk]
    assert banding.judge_camp_anew(cast.camp) == 1
    assert banding.judge_camp_anew(cast.camp) == 0
    assert send_camps_behind(LATER) == 0
