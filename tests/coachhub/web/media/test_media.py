from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit
from uuid import uuid4

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client

from coachhub.camps.enums import MemberState
from coachhub.camps.models import Membership
from coachhub.swings.models import AnalysisRun
from coachhub.videos.models import Clip
from coachhub.web.media import sending
from coachhub.web.media.links import media_link
from tests import factories
from tests.cast import Cast, make_cast
from tests.factories import NOW

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

CONTENT = bytes(range(256)) * 40


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def clip(cast: Cast) -> Clip:
    key = default_storage.save("renditions/ab/f00dfeed.mp4", ContentFile(CONTENT))
    return factories.make_clip(factories.make_submission(cast.student, cast.cohort), rendition_key=key)


def client_of(cast: Cast, name: str) -> Client:
    client = Client()
    if name != "anonymous":
        client.force_login(cast.person(name))  # type: ignore[arg-type]
    return client


def fetch(cast: Cast, clip: Clip, name: str = "student", kind: str = "clip.rendition", **headers: str) -> Any:
    given = {key.replace("_", "-"): value for key, value in headers.items()}
    return client_of(cast, name).get(media_link(kind, clip, cast.person(name)), headers=given)


def body(response: Any) -> bytes:
    return b"".join(response.streaming_content)


def test_the_whole_file(cast: Cast, clip: Clip) -> None:
    answer = fetch(cast, clip)
    assert answer.status_code == 200
    assert body(answer) == CONTENT
    assert answer.headers["Content-Type"] == "video/mp4"
    assert answer.headers["Content-Length"] == str(len(CONTENT))
    assert answer.headers["Accept-Ranges"] == "bytes"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert answer.headers["Cache-Control"].startswith("private, max-age=")


@pytest.mark.parametrize("asked, start, end", [("bytes=100-199", 100, 199), ("bytes=-10", 10230, 10239)])
def test_a_part(cast: Cast, clip: Clip, asked: str, start: int, end: int) -> None:
    answer = fetch(cast, clip, Range=asked)
    assert answer.status_code == 206
    assert body(answer) == CONTENT[start : end + 1]
    assert answer.headers["Content-Range"] == f"bytes {start}-{end}/10240"
    assert answer.headers["Content-Length"] == str(end - start + 1)


def test_a_part_outside_the_file(cast: Cast, clip: Clip) -> None:
    answer = fetch(cast, clip, Range="bytes=10240-")
    assert (answer.status_code, answer.headers["Content-Range"]) == (416, "bytes */10240")


def test_several_parts_get_the_whole(cast: Cast, clip: Clip) -> None:
    answer = fetch(cast, clip, Range="bytes=0-1,5-6")
    assert (answer.status_code, body(answer)) == (200, CONTENT)


def test_a_part_of_another_version_gets_the_whole(cast: Cast, clip: Clip) -> None:
    tag = fetch(cast, clip).headers["ETag"]
    assert fetch(cast, clip, Range="bytes=0-9", If_Range=tag).status_code == 206
    assert fetch(cast, clip, Range="bytes=0-9", If_Range='"other"').status_code == 200


def test_head(cast: Cast, clip: Clip) -> None:
    answer = client_of(cast, "student").head(media_link("clip.rendition", clip, cast.student))
    assert (answer.status_code, answer.headers["Content-Length"], answer.content) == (200, "10240", b"")


@pytest.mark.parametrize("name", ["student", "coach", "organiser"])
def test_those_who_may_see_it(cast: Cast, clip: Clip, name: str) -> None:
    assert fetch(cast, clip, name).status_code == 200


@pytest.mark.parametrize("name", ["cohort_mate", "coach_elsewhere", "organiser_elsewhere", "outsider"])
def test_a_true_signature_does_not_replace_the_permission(cast: Cast, clip: Clip, name: str) -> None:
    assert fetch(cast, clip, name).status_code == 404


def test_anonymous(cast: Cast, clip: Clip) -> None:
    assert fetch(cast, clip, "anonymous").status_code == 403


@pytest.mark.parametrize("name", ["cohort_mate", "coach", "anonymous"])
def test_a_link_passed_on_is_worth_nothing(cast: Cast, clip: Clip, name: str) -> None:
    assert client_of(cast, name).get(media_link("clip.rendition", clip, cast.student)).status_code == 403


def test_the_permission_is_asked_again_each_time(cast: Cast, clip: Clip) -> None:
    link = media_link("clip.rendition", clip, cast.coach)
    client = client_of(cast, "coach")
    assert client.get(link).status_code == 200
    Membership.objects.filter(user=cast.coach).update(state=MemberState.LEFT)
    assert client.get(link).status_code == 404


def test_a_tampered_link(cast: Cast, clip: Clip) -> None:
    link = media_link("clip.rendition", clip, cast.student)
    client = client_of(cast, "student")
    until = parse_qs(urlsplit(link).query)["until"][0]
    other = factories.make_clip(clip.submission, rendition_key=clip.rendition_key)
    for changed in (
        link[:-1] + ("A" if link[-1] != "A" else "B"),
        link.replace(until, str(int(until) + 1)),
        link.replace(until, "9" * 30),
        link.replace(until, "²"),
        link.replace("clip.rendition", "clip.original"),
        link.replace(str(clip.public_id), str(other.public_id)),
        urlsplit(link).path,
        link.split("&")[0],
    ):
        assert client.get(changed).status_code == 403, changed
    assert client.get(link).status_code == 200


def test_a_link_runs_out(cast: Cast, clip: Clip, settings: Any) -> None:
    import time

    settings.MEDIA_LINK_SECONDS = 60
    client = client_of(cast, "student")
    fresh = media_link("clip.rendition", clip, cast.student, now_s=time.time() - 60)
    stale = media_link("clip.rendition", clip, cast.student, now_s=time.time() - 121)
    assert client.get(fresh).status_code in (200, 403)
    over = client.get(stale)
    assert over.status_code == 403
    assert "open the page it stands on again" in over.content.decode()
    assert media_link("clip.rendition", clip, cast.student, now_s=600) == media_link(
        "clip.rendition", clip, cast.student, now_s=659
    ), "a page loaded twice gives the same address"


def test_what_is_not_there(cast: Cast, clip: Clip) -> None:
    assert fetch(cast, clip, kind="clip.poster").status_code == 404
    assert fetch(cast, clip, kind="clip.secret").status_code == 404
    Clip.objects.update(rendition_key="renditions/ab/lost.mp4")
    assert fetch(cast, clip).status_code == 404
    assert fetch(cast, Clip(public_id=uuid4())).status_code == 404


def test_the_original_is_saved_and_never_shown(cast: Cast, clip: Clip) -> None:
    key = default_storage.save("originals/ab/x", ContentFile(b"<html><script>"))
    Clip.objects.update(original_key=key, file_name='"; evil.html')
    answer = fetch(cast, clip, kind="clip.original")
    assert answer.status_code == 200
    assert answer.headers["Content-Type"] == "application/octet-stream"
    assert answer.headers["Content-Disposition"] == f'attachment; filename="clip-1-{clip.public_id}.mp4"'
    Clip.objects.update(original_deleted_at=NOW)
    assert fetch(cast, clip, kind="clip.original").status_code == 404


def test_the_lines_of_one_swing(cast: Cast, clip: Clip) -> None:
    swing = factories.make_swing(clip)
    readout = swing.readouts.get()
    link = media_link("swing.tracks", swing, cast.coach)
    coach = client_of(cast, "coach")
    assert coach.get(link).status_code == 404, "not measured yet"
    tracks = {"swings": [{"t_us": [0]}, {"t_us": [7]}]}
    default_storage.save("measured/1/tracks.json", ContentFile(json.dumps(tracks).encode()))
    AnalysisRun.objects.filter(pk=readout.run_id).update(result_key="measured/1")
    readout.data["run_swing"] = 2
    readout.save()
    assert coach.get(link).json() == {"t_us": [7]}
    assert (
        client_of(cast, "outsider").get(media_link("swing.tracks", swing, cast.outsider)).status_code == 404
    )


def test_the_proxy_sends_the_bytes_where_there_is_one(cast: Cast, clip: Clip, settings: Any) -> None:
    settings.MEDIA_ACCEL_PREFIX = "/protected/"
    answer = fetch(cast, clip)
    assert answer.headers["X-Accel-Redirect"] == f"/protected/{clip.rendition_key}"
    assert answer.content == b""
    assert fetch(cast, clip, "outsider").status_code == 404


def test_the_proxy_gets_the_stores_signature(
    cast: Cast, clip: Clip, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Store:
        def path(self, key: str) -> str:
            raise NotImplementedError

        def url(self, key: str) -> str:
            return f"http://store:9000/bucket/{key}?X-Amz-Signature=abc"

    settings.MEDIA_ACCEL_PREFIX = "/protected/"
    monkeypatch.setattr(sending, "default_storage", Store())
    answer = fetch(cast, clip)
    assert answer.headers["X-Accel-Redirect"] == f"/protected/bucket/{clip.rendition_key}?X-Amz-Signature=abc"


def test_a_store_without_paths_sends_only_the_part(
    cast: Cast, clip: Clip, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []

    class Body:
        def __init__(self, data: bytes) -> None:
            self.data = data

        def iter_chunks(self, size: int) -> Any:
            yield self.data

    class Handle:
        content_length = len(CONTENT)

        def get(self, Range: str) -> dict[str, Body]:
            asked.append(Range)
            start, end = map(int, Range.removeprefix("bytes=").split("-"))
            return {"Body": Body(CONTENT[start : end + 1])}

    class Store:
        bucket = type("Bucket", (), {"Object": staticmethod(lambda key: Handle())})

        def path(self, key: str) -> str:
            raise NotImplementedError

        def exists(self, key: str) -> bool:
            return True

    monkeypatch.setattr(sending, "default_storage", Store())
    answer = fetch(cast, clip, Range="bytes=5-9")
    assert (answer.status_code, body(answer), asked) == (206, CONTENT[5:10], ["bytes=5-9"])


def test_the_template_tag_signs_for_the_reader(cast: Cast, clip: Clip, rf: Any) -> None:
    from django.template import Context, Template

    request = rf.get("/")
    request.user = cast.coach
    written = Template('{% media_link "clip.rendition" clip %}').render(
        Context({"request": request, "clip": clip})
    )
    address = written.replace("&amp;", "&")
    assert client_of(cast, "coach").get(address).status_code == 200
    assert client_of(cast, "student").get(address).status_code == 403


def test_the_key_stays_inside(cast: Cast, clip: Clip) -> None:
    answer = fetch(cast, clip)
    assert clip.rendition_key not in str(answer.headers)
    assert Path(clip.rendition_key).stem not in media_link("clip.rendition", clip, cast.student)
