from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coachhub.camps.domain.people_list import MOST_BYTES, read_people
from coachhub.common.domain.errors import RuleBroken

pytestmark = pytest.mark.unit

EXPECTED = [("ada@example.org", "Ada Nørgård"), ("bo@example.org", "Bo"), ("cy@example.org", "")]
LINES = {
    "comma": "ada@example.org,Ada Nørgård\nbo@example.org,Bo\ncy@example.org\n",
    "semicolon": "email;name\nada@example.org;Ada Nørgård\nbo@example.org;Bo\ncy@example.org;\n",
    "tab, name first": "Name\tE-mail\nAda Nørgård\tada@example.org\nBo\tbo@example.org\n\tcy@example.org\n",
    "quoted": '"ada@example.org","Ada Nørgård"\n"bo@example.org","Bo"\n"cy@example.org",""\n',
    "windows ends and gaps": "ada@example.org, Ada  Nørgård \r\n\r\n;;\r\nbo@example.org,Bo\r\n cy@example.org \r\n",
    "first and last name": "ada@example.org;Ada;Nørgård\nbo@example.org;Bo;\ncy@example.org;;\n",
    "capitals": "ADA@Example.org,Ada Nørgård\nbo@EXAMPLE.org,Bo\ncy@example.org\n",
}


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16"])
@pytest.mark.parametrize("lines", LINES.values(), ids=LINES.keys())
def test_lists_as_spreadsheets_write_them(lines: str, encoding: str) -> None:
    found = read_people(lines.encode(encoding))
    assert [(person.email, person.name) for person in found.people] == EXPECTED
    assert found.bad == []


def test_each_bad_line_has_its_number_and_its_reason() -> None:
    raw = (
        "ada@example.org,Ada\nno address here\nbo@,Bo\nADA@example.org\n"
        + f"x@example.org,{'n' * 81}\nok@example.org"
    )
    found = read_people(raw.encode())
    assert [(line.line, line.sentence.split(".")[0]) for line in found.bad] == [
        (2, "No e-mail address in this line"),
        (3, "This is not a complete e-mail address"),
        (4, "The same address as in line 1"),
        (5, "The name is longer than 80 characters"),
    ]
    assert [person.email for person in found.people] == ["ada@example.org", "ok@example.org"]


def test_an_unclosed_quote_spoils_its_own_line_only() -> None:
    found = read_people(b'"ada@example.org,Ada\nbo@example.org,Bo\n')
    assert [person.email for person in found.people] == ["bo@example.org"]
    assert [line.line for line in found.bad] == [1]


def test_who_needs_no_invitation_is_told_apart() -> None:
    found = read_people(b"ada@example.org\nbo@example.org", at_hand={"bo@example.org"})
    assert [person.email for person in found.people] == ["ada@example.org"]
    assert [line.line for line in found.known] == [2]


@pytest.mark.parametrize(
    ("raw", "code"),
    [
        (b"", "empty"),
        (b" \n;;\n", "empty"),
        (b"email,name\n", "empty"),
        (b"x" * (MOST_BYTES + 1), "too_big"),
        (b"a@example.org\n" * 501, "too_long"),
        (b"\xff\xfe\x00\xd8", "not_text"),
    ],
)
def test_lists_that_cannot_be_used_say_why(raw: bytes, code: str) -> None:
    with pytest.raises(RuleBroken) as caught:
        read_people(raw)
    assert caught.value.code == code


@given(st.binary(max_size=3000))
def test_no_bytes_crash_it_and_only_valid_addresses_come_out(raw: bytes) -> None:
    try:
        found = read_people(raw)
    except RuleBroken:
        return
    for person in found.people:
        assert person.email.count("@") >= 1
        assert person.email == person.email.lower()
        assert person.name.isprintable()
