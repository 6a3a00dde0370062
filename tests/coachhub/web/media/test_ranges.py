"""RFC 9110, section 14: the examples of 14.1.2 are for a file of 10,000 bytes."""

from __future__ import annotations

import pytest

from coachhub.web.media.ranges import Part, Unsatisfiable, asked_part

pytestmark = pytest.mark.unit


@pytest.mark.parametrize(
    "header, part",
    [
        ("bytes=0-499", Part(0, 499)),
        ("bytes=500-999", Part(500, 999)),
        ("bytes=-500", Part(9500, 9999)),
        ("bytes=9500-", Part(9500, 9999)),
        ("bytes=0-99999", Part(0, 9999)),
        ("bytes=-99999", Part(0, 9999)),
        ("bytes=9999-9999", Part(9999, 9999)),
    ],
)
def test_the_standards_examples(header: str, part: Part) -> None:
    assert asked_part(header, 10_000) == part


@pytest.mark.parametrize(
    "header",
    ["", "bytes=0-0,-1", "bytes= 0-999, 4500-5499, -1000", "lines=1-2", "bytes=9-3", "bytes=a-b", "bytes=-"],
)
def test_several_ranges_and_nonsense_get_the_whole_file(header: str) -> None:
    assert asked_part(header, 10_000) is None


@pytest.mark.parametrize("header", ["bytes=10000-", "bytes=10000-10001", "bytes=-0"])
def test_outside_the_file(header: str) -> None:
    with pytest.raises(Unsatisfiable):
        asked_part(header, 10_000)
