"""The upload protocol tus 1.0.0 by the letter: https://tus.io/protocols/resumable-upload (core and extensions)."""

from __future__ import annotations

import base64
import hashlib
import json
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4

import pytest
from django.test import Client
from django.utils import timezone

from coachhub.accounts.domain.limits import PER_PERSON, spend
from coachhub.accounts.enums import AttemptKind
from coachhub.videos.domain import pieces
from coachhub.videos.enums import SubmissionState, UploadState
from coachhub.videos.models import Submission, Upload
from coachhub.videos.tasks import check
from tests import factories
from tests.cast import Cast, make_cast

pytestmark = [pytest.mark.unit, pytest.mark.django_db]

CONTENT = bytes(range(256)) * 4


@pytest.fixture(autouse=True)
def no_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(check, "delay", lambda job_id: None)


@pytest.fixture
def cast() -> Cast:
    return make_cast()


@pytest.fixture
def submission(cast: Cast) -> Submission:
    return factories.make_submission(cast.student, cast.cohort, state=SubmissionState.OPEN, sent_at=None)


@pytest.fixture
def client(cast: Cast) -> Client:
    # The token of forms is checked as in real life.
    client = Client(enforce_csrf_checks=True)
    client.force_login(cast.student)
    return client


def pairs(**values: str) -> str:
    return ",".join(f"{name} {base64.b64encode(value.encode()).decode()}" for name, value in values.items())


def create(client: Client, submission: Submission, length: int | str = len(CONTENT), **given: str) -> Any:
    values = {"submission": str(submission.public_id), "view": "dtl", "filename": "a.mov"} | given
    headers = {"Tus-Resumable": "1.0.0", "Upload-Length": str(length), "Upload-Metadata": pairs(**values)}
    return client.post("/uploads/", headers=headers)


def patch(client: Client, address: str, data: bytes, offset: int | str = 0, **headers: str) -> Any:
    given = {"Tus-Resumable": "1.0.0", "Upload-Offset": str(offset)} | {
        name.replace("_", "-"): value for name, value in headers.items()
    }
    kind = given.pop("Content-Type", "application/offset+octet-stream")
    return client.patch(address, data, content_type=kind, headers=given)


def head(client: Client, address: str) -> Any:
    return client.head(address, headers={"Tus-Resumable": "1.0.0"})


def test_options_tells_what_the_server_can(client: Client, settings: Any) -> None:
    answer = Client().options("/uploads/")
    assert answer.status_code == 204
    assert answer.headers["Tus-Version"] == "1.0.0"
    assert answer.headers["Tus-Extension"] == "creation,expiration,termination,checksum"
    assert answer.headers["Tus-Max-Size"] == str(500 * 1024 * 1024)
    assert answer.headers["Tus-Checksum-Algorithm"] == "sha1,sha256"


def test_creation_names_a_place_of_our_own(client: Client, submission: Submission) -> None:
    answer = create(client, submission, filename="../../evil.mov")
    assert answer.status_code == 201
    upload = Upload.objects.get()
    assert answer.headers["Location"] == f"/uploads/{upload.public_id}/"
    assert answer.headers["Tus-Resumable"] == "1.0.0"
    assert answer.headers["Upload-Offset"] == "0"
    expires = datetime.strptime(answer.headers["Upload-Expires"], "%a, %d %b %Y %H:%M:%S GMT").replace(
        tzinfo=UTC
    )
    assert expires - timezone.now() > timedelta(hours=47)
    assert (upload.file_name, upload.view) == ("evil.mov", "dtl")


def test_head_says_how_far_it_is(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    answer = patch(client, address, CONTENT[:100])
    assert (answer.status_code, answer.headers["Upload-Offset"]) == (204, "100")
    answer = head(client, address)
    assert answer.status_code == 200
    assert answer.headers["Upload-Offset"] == "100"
    assert answer.headers["Upload-Length"] == str(len(CONTENT))
    assert answer.headers["Cache-Control"] == "no-store"


def test_the_last_piece_makes_the_clip(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    patch(client, address, CONTENT[:600])
    answer = patch(client, address, CONTENT[600:], offset=600)
    assert (answer.status_code, answer.headers["Upload-Offset"]) == (204, str(len(CONTENT)))
    clip = submission.clips.get()
    assert clip.sha256 == hashlib.sha256(CONTENT).hexdigest()
    assert head(client, address).headers["Upload-Offset"] == str(len(CONTENT))
    # The test client leaves these two out when there is no body; real ones don't.
    bare = {"CONTENT_TYPE": "application/offset+octet-stream", "CONTENT_LENGTH": "0"}
    again = client.patch(
        address, headers={"Tus-Resumable": "1.0.0", "Upload-Offset": str(len(CONTENT))}, **bare
    )
    assert again.status_code == 204
    assert submission.clips.count() == 1


def test_a_method_may_stand_in_a_header(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    answer = client.post(
        address,
        CONTENT,
        content_type="application/offset+octet-stream",
        headers={"Tus-Resumable": "1.0.0", "Upload-Offset": "0", "X-HTTP-Method-Override": "PATCH"},
    )
    assert answer.status_code == 204


def test_the_same_video_twice_is_said_on_the_page(client: Client, submission: Submission) -> None:
    for _ in range(2):
        patch(client, create(client, submission)["Location"], CONTENT)
    page = client.get(f"/my/submissions/{submission.public_id}/", follow=True)
    assert submission.clips.count() == 1
    assert "the same video as clip 1" in Upload.objects.latest("pk").refused_text
    assert page.status_code in (200, 404)


@pytest.mark.parametrize("method", ["post", "head", "patch", "delete"])
@pytest.mark.parametrize("version", [None, "0.9", "1.0.1"])
def test_another_version_is_412(
    client: Client, submission: Submission, method: str, version: str | None
) -> None:
    address = "/uploads/" if method == "post" else create(client, submission)["Location"]
    headers = {"Tus-Resumable": version} if version else {}
    answer = getattr(client, method)(address, headers=headers)
    assert answer.status_code == 412
    assert answer.headers["Tus-Version"] == "1.0.0"


def test_a_foreign_page_can_send_nothing(client: Client, submission: Submission) -> None:
    """A form on another site can't set the protocol's header; without it nothing happens."""
    assert client.post("/uploads/", {"x": "y"}).status_code == 412
    assert not Upload.objects.exists()


def test_signed_out_is_401_not_a_page(submission: Submission) -> None:
    assert create(Client(), submission).status_code == 401


@pytest.mark.parametrize(
    "length, status",
    [("", 400), ("-1", 400), ("ten", 400), ("1" * 16, 400), ("0", 403), (500 * 1024**2 + 1, 413)],
)
def test_odd_lengths(client: Client, submission: Submission, length: int | str, status: int) -> None:
    answer = create(client, submission, length)
    assert answer.status_code == status
    assert answer.json()["sentence"].endswith(".")
    assert not Upload.objects.exists()


def test_quota_is_413(client: Client, submission: Submission, settings: Any) -> None:
    settings.UPLOAD_QUOTA_BYTES = 10
    assert create(client, submission).status_code == 413


@pytest.mark.parametrize(
    "text", ["view", "view not-base64!", "view " + base64.b64encode(b"\xff\xfe").decode(), "x " * 6000]
)
def test_odd_metadata_is_400(client: Client, submission: Submission, text: str) -> None:
    headers = {"Tus-Resumable": "1.0.0", "Upload-Length": "10", "Upload-Metadata": text}
    assert client.post("/uploads/", headers=headers).status_code in (400, 404)
    assert not Upload.objects.exists()


def test_an_unknown_view_is_400(client: Client, submission: Submission) -> None:
    assert create(client, submission, view="from_above").status_code == 400


def test_the_phones_report_is_kept_if_it_is_one(client: Client, submission: Submission) -> None:
    create(client, submission, report=json.dumps({"fps": 60}))
    create(client, submission, report="[1, 2")
    create(client, submission, report='{"fps": NaN}')
    create(client, submission, report="[" * 3000)
    reports = Upload.objects.order_by("pk").values_list("phone_report", flat=True)
    assert list(reports) == [{"fps": 60}, {}, {"fps": "NaN"}, {}]


@pytest.mark.parametrize("name", ["cohort_mate", "coach_elsewhere", "organiser_elsewhere", "outsider"])
def test_anothers_submission_is_out_of_sight(cast: Cast, submission: Submission, name: str) -> None:
    client = Client()
    client.force_login(cast.person(name))  # type: ignore[arg-type]
    assert create(client, submission).status_code == 404
    assert create(client, factories.Submission(public_id=uuid4())).status_code == 404


def test_a_coach_adds_nothing_for_a_student(cast: Cast, client: Client, submission: Submission) -> None:
    Submission.objects.filter(pk=submission.pk).update(state=SubmissionState.SENT)
    coach = Client()
    coach.force_login(cast.coach)
    assert create(coach, submission).status_code == 403


@pytest.mark.parametrize("name", ["cohort_mate", "coach", "organiser", "outsider"])
@pytest.mark.parametrize("method", ["head", "patch", "delete"])
def test_anothers_upload_is_out_of_sight(
    cast: Cast, client: Client, submission: Submission, name: str, method: str
) -> None:
    address = create(client, submission)["Location"]
    other = Client()
    other.force_login(cast.person(name))  # type: ignore[arg-type]
    assert getattr(other, method)(address, headers={"Tus-Resumable": "1.0.0"}).status_code == 404
    assert Upload.objects.get().state == UploadState.GROWING


def test_a_wrong_offset_is_409(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    answer = patch(client, address, CONTENT[:10], offset=5)
    assert (answer.status_code, answer.headers["Upload-Offset"]) == (409, "0")


def test_another_type_is_415(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    assert patch(client, address, CONTENT, **{"Content-Type": "video/mp4"}).status_code == 415


def test_an_odd_offset_is_400(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    assert patch(client, address, CONTENT, offset="-3").status_code == 400


def test_more_than_announced_is_413(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    assert patch(client, address, CONTENT + b"x").status_code == 413
    assert head(client, address).headers["Upload-Offset"] == "0"


def summed(algorithm: str, data: bytes) -> str:
    return f"{algorithm} {base64.b64encode(hashlib.new(algorithm, data).digest()).decode()}"


@pytest.mark.parametrize("algorithm", ["sha1", "sha256"])
def test_checksums(client: Client, submission: Submission, algorithm: str) -> None:
    address = create(client, submission)["Location"]
    bad = patch(client, address, CONTENT[:100], Upload_Checksum=summed(algorithm, b"other"))
    assert bad.status_code == 460
    assert head(client, address).headers["Upload-Offset"] == "0"
    good = patch(client, address, CONTENT[:100], Upload_Checksum=summed(algorithm, CONTENT[:100]))
    assert (good.status_code, good.headers["Upload-Offset"]) == (204, "100")


def test_the_protocols_own_checksum_example(client: Client, submission: Submission) -> None:
    """From the protocol's text: the 11 bytes `hello world` have sha1 Kq5sNclPz7QV2+lfQIuc6R7oRu0=."""
    address = create(client, submission, 11)["Location"]
    answer = patch(client, address, b"hello world", Upload_Checksum="sha1 Kq5sNclPz7QV2+lfQIuc6R7oRu0=")
    assert (answer.status_code, answer.headers["Upload-Offset"]) == (204, "11")


@pytest.mark.parametrize("text", ["md5 abcd", "sha1", "sha1 ???"])
def test_odd_checksums_are_refused(client: Client, submission: Submission, text: str) -> None:
    address = create(client, submission)["Location"]
    assert patch(client, address, CONTENT, Upload_Checksum=text).status_code in (400, 460)
    assert head(client, address).headers["Upload-Offset"] == "0"


def test_termination(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    patch(client, address, CONTENT[:100])
    upload = Upload.objects.get()
    assert pieces.part_path(upload).exists()
    assert client.delete(address, headers={"Tus-Resumable": "1.0.0"}).status_code == 204
    assert not pieces.part_path(upload).exists()
    assert head(client, address).status_code == 410
    assert patch(client, address, CONTENT[100:], offset=100).status_code == 410


def test_expiration(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    Upload.objects.update(expires_at=timezone.now() - timedelta(seconds=1))
    assert head(client, address).status_code == 410
    assert patch(client, address, CONTENT).status_code == 410


def test_an_unknown_upload_is_404(client: Client) -> None:
    assert head(client, f"/uploads/{uuid4()}/").status_code == 404


def test_two_writers_are_423(client: Client, submission: Submission) -> None:
    address = create(client, submission)["Location"]
    Upload.objects.update(locked_until=timezone.now() + timedelta(seconds=10))
    assert patch(client, address, CONTENT).status_code == 423


def test_a_full_disk_is_507_and_nothing_is_lost(
    client: Client, submission: Submission, monkeypatch: pytest.MonkeyPatch
) -> None:
    import errno

    address = create(client, submission)["Location"]
    patch(client, address, CONTENT[:100])

    def full(file: Any, block: bytes) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as patched:
        patched.setattr(pieces, "write_all", full)
        answer = patch(client, address, CONTENT[100:], offset=100)
    assert answer.status_code == 507
    assert "is kept" in answer.json()["sentence"]
    assert head(client, address).headers["Upload-Offset"] == "100"
    assert patch(client, address, CONTENT[100:], offset=100).status_code == 204
    assert submission.clips.get().sha256 == hashlib.sha256(CONTENT).hexdigest()


@pytest.mark.parametrize("address, allowed", [("/uploads/", "OPTIONS, POST")])
def test_other_methods_are_405(client: Client, address: str, allowed: str) -> None:
    answer = client.get(address, headers={"Tus-Resumable": "1.0.0"})
    assert (answer.status_code, answer.headers["Allow"]) == (405, allowed)


def test_too_many_begun_uploads_an_hour_are_refused_with_a_sentence(
    client: Client, cast: Cast, submission: Submission
) -> None:
    most = PER_PERSON[AttemptKind.UPLOAD].most
    spend(AttemptKind.UPLOAD, person=cast.student, now=timezone.now(), times=most - 1)
    assert create(client, submission).status_code == 201
    refused = create(client, submission)
    # RFC 6585, section 4: 429 Too Many Requests.
    assert refused.status_code == 429 and "within an hour" in refused.content.decode()
    assert Upload.objects.count() == 1
