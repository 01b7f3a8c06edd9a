"""Whatever happens to a good file, it is either read or refused in words."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from datetime import date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING, Any, cast

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.names import DANGERS, FEATURE_LAYERS
from tussock.permit.consents import read_consents
from tussock.permit.house_rules import SHIPPED, read_house_rules
from tussock.permit.kinds import KINDS
from tussock.permit.layers import check_layers
from tussock.permit.permit_file import read_permit

if TYPE_CHECKING:
    from tests.permit.conftest import Desk

GOOD = Path(__file__).with_name("every_kind.toml").read_bytes()
CONSENTS = (
    b"consentID,parcelID,layer,featureID,tenure,capacity,written,validFrom,validTo,species,number,withdrawnOn\n"
    b"C1,P7,,,private,owner,yes,2026-01-01,2026-12-31,Notechis scutatus|Pseudonaja spp.,5,2026-11-01\n"
    b"C2,,protected,R3,crown,ranger,no,2026-01-01,,,,\n"
)
# one folder serves all examples of a test: each overwrites the file
few = settings(
    max_examples=300,
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
many = settings(few, max_examples=2000)


def _use(path: Path) -> None:
    """Read a permit and do with it what a plan does."""
    permit = read_permit(path)
    check_layers(permit, ["catchments", "ranges"])
    for version in permit.versions:
        permit.version_on(version.valid_from)
        for clause in version.conditions:
            clause.words()
            clause.demands()


def _read_or_refused(use: Callable[[Path], object], path: Path) -> None:
    """Hold the law: any error is an InputError that names the file, and prints on one screen."""
    try:
        use(path)
    except InputError as error:
        assert path.name in str(error)
        assert max(map(len, str(error).splitlines())) < 2000
        assert not any(ord(c) < 32 and c != "\n" for c in str(error)), repr(str(error))


def test_the_good_file_is_good_and_holds_every_kind(desk: Desk) -> None:
    path = desk.write(GOOD)
    permit = read_permit(path)
    assert {c.kind for c in permit.versions[0].conditions} == set(KINDS)
    _use(path)
    assert read_consents(desk.write(CONSENTS, "consents.csv"))


@st.composite
def damaged(draw: st.DrawFn, good: bytes) -> bytes:
    """Return a file with bytes changed, cut out or put in twice."""
    data = bytearray(good)
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(data) - 1))
        length = draw(st.integers(1, 60))
        piece = data[start : start + length]
        match draw(st.integers(0, 3)):
            case 0:
                data[start] = draw(st.integers(0, 255))
            case 1 if len(data) > length + 1:
                del data[start : start + length]
            case 2:
                data[start:start] = piece
            case _:
                data[start:start] = draw(st.binary(min_size=1, max_size=8))
    return bytes(data)


@few
@given(data=damaged(GOOD))
def test_damaged_bytes(desk: Desk, data: bytes) -> None:
    _read_or_refused(_use, desk.write(data))


@pytest.mark.slow
@many
@given(data=damaged(GOOD))
def test_damaged_bytes_in_full(desk: Desk, data: bytes) -> None:
    _read_or_refused(_use, desk.write(data))


@few
@given(data=damaged(CONSENTS))
def test_damaged_consents(desk: Desk, data: bytes) -> None:
    _read_or_refused(read_consents, desk.write(data, "consents.csv"))


@few
@given(data=damaged(SHIPPED.read_bytes()))
def test_damaged_house_rules(desk: Desk, data: bytes) -> None:
    _read_or_refused(read_house_rules, desk.write(data, "tussock.toml"))


WORDS = st.sampled_from(
    [*KINDS, *FEATURE_LAYERS, *DANGERS, "", " ", "both", "limit_m", "from", "22:00", "02-30", "2026-01-01"]
)
TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=30) | st.just("x" * 5000)
SCALARS = (
    st.booleans()
    | st.integers(-3, 3)
    | st.sampled_from([10**30, -(10**400), 2**63])
    | st.floats()
    | st.dates(date(1, 1, 1), date(9999, 12, 31))
    | st.just(datetime(2026, 1, 1, 12))
    | st.just(time(22, 0))
    | WORDS
    | TEXT
)
JUNK = st.recursive(
    SCALARS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(WORDS | TEXT, inner, max_size=3),
    max_leaves=6,
)


def _places(value: Any, path: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return [(*path, key) for key, _ in items] + [p for key, one in items for p in _places(one, (*path, key))]


@st.composite
def altered(draw: st.DrawFn) -> dict[str, Any]:
    """Return the good permit with values replaced, keys dropped, renamed or added, items repeated."""
    raw = tomllib.loads(GOOD.decode())
    for _ in range(draw(st.integers(1, 4))):
        places = _places(raw)
        if not places:
            break
        place = draw(st.sampled_from(places))
        way, last = place[:-1], cast(Any, place[-1])
        table: Any = raw
        for step in way:
            table = table[step]
        match draw(st.integers(0, 3)):
            case 0:
                del table[last]
            case 1 if isinstance(table, dict):
                table[draw(WORDS | TEXT)] = table.pop(last)
            case 2 if isinstance(table, list):
                table.append(table[last])
            case _:
                table[last] = draw(JUNK)
    return raw


@few
@given(raw=altered())
def test_altered_values(desk: Desk, raw: dict[str, Any]) -> None:
    _read_or_refused(_use, desk.write(desk.whole(raw)))


@pytest.mark.slow
@many
@given(raw=altered())
def test_altered_values_in_full(desk: Desk, raw: dict[str, Any]) -> None:
    _read_or_refused(_use, desk.write(desk.whole(raw)))
