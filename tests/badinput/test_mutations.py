"""Ten thousand damaged districts through the readers and the gate, three hundred through whole plans.

Whatever happens to a file, it is refused in words that name a file, or it is read; and where sites are
offered on what was read, a referee that shares no code finds nothing against them. A plain run does a
tenth, the mark ``slow`` the rest.
"""

from __future__ import annotations

import random
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.badinput import district
from tests.badinput.district import CAPTURE, NOW, RELEASE
from tests.badinput.referee import Place, Referee
from tests.badinput.spoil import spoilt
from tussock.errors import TussockError
from tussock.ground.region import forget
from tussock.interval import Verdict
from tussock.maps.plan_files import plan_files
from tussock.planning.inputs import CaptureRow, check_places, read_captures
from tussock.planning.opened import Files, Opened, open_files
from tussock.planning.plan import plan
from tussock.planning.record import Plan
from tussock.planning.search import BoundError
from tussock.species.intake import gate

READ, PLANNED = 100, 10
"""Cases in a block."""
PLAIN_READ, ALL_READ = 10, 100
PLAIN_PLANNED, ALL_PLANNED = 3, 30
"""Blocks of a plain run, and of all."""
_LAYER = re.compile(r" \([a-z_]+\): ")
"""What stands behind the name of a layer's file, whatever region.toml says that it is."""


def _blocks(plain: int, every: int) -> list[object]:
    return [*range(plain), *(pytest.param(b, marks=pytest.mark.slow) for b in range(plain, every))]


@pytest.fixture(scope="module")
def piece(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    yield district.build(tmp_path_factory.mktemp("piece") / "district", whole=False)
    forget()


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    yield district.build(tmp_path_factory.mktemp("whole") / "district", whole=True)
    forget()


def _opened(folder: Path) -> tuple[Opened, tuple[CaptureRow, ...]]:
    files = Files(
        folder, (folder / "permit.toml",), consents=folder / "consents.csv", releases=folder / "releases.csv"
    )
    opened = open_files(files)
    rows = read_captures(folder / "captures.csv", book=opened.book)
    check_places(rows, opened.region)
    return opened, rows


def _read(folder: Path) -> None:
    opened, rows = _opened(folder)
    opened.region.check()
    for row in rows:
        if row.capture is not None:
            gate(row.capture.animal, country=opened.region.file.country)


def _refusal(error: TussockError, names: frozenset[str]) -> None:
    """Hold that a refusal is one: exit 3, a file named, a way on, fit to be printed."""
    said = str(error)
    assert not isinstance(error, BoundError), said
    assert error.exit_code == 3, said
    assert any(name in said for name in names) or _LAYER.search(said), said
    assert "Allowed:" in said or "Do:" in said, said
    assert all(c.isprintable() or c == "\n" for c in said), repr(said)
    assert max(map(len, said.splitlines())) < 3000, said[:4000]


def _case(base: Path, folder: Path, seed: str, *, gently: bool = False) -> str:
    shutil.rmtree(folder, ignore_errors=True)
    return spoilt(district.linked(base, folder), random.Random(seed), gently=gently)


@pytest.mark.parametrize("block", _blocks(PLAIN_READ, ALL_READ))
def test_damaged_districts_are_read_or_refused(piece: Path, tmp_path: Path, block: int) -> None:
    names = frozenset(f.name for f in piece.iterdir())
    refused = 0
    for n in range(block * READ, (block + 1) * READ):
        did = _case(piece, tmp_path / "case", f"read {n}")
        try:
            _read(tmp_path / "case")
        except TussockError as error:
            refused += 1
            _refusal(error, names)
        except Exception as error:
            raise AssertionError(f"case read {n}: {did}") from error
    assert READ // 4 < refused < READ  # most damage is seen, some is none


def _planned(folder: Path) -> tuple[Opened, Plan] | None:
    opened, rows = _opened(folder)
    row = next((r for r in rows if r.id == CAPTURE), None)
    if row is None or row.capture is None:
        return None
    setting = opened.setting(now=NOW, release_at=RELEASE, top=3, captures={CAPTURE})
    return opened, plan(row.capture, setting)


def _hold_sites(made: Plan, folder: Path) -> None:
    referee = Referee(folder)
    for site in made.sites:
        for clause in site.clauses:
            if clause.mandatory and clause.verdict is not None:
                assert clause.verdict is Verdict.MET, (site.rank, clause)
                assert clause.margin is None or clause.margin >= -0.001, (site.rank, clause)
        place = Place(site.longitude, site.latitude)
        assert not list(referee.objections(place, radius_m=made.capture.radius_m)), (site.rank, site)


def test_the_whole_district_is_planned_and_the_referee_agrees(whole: Path) -> None:
    found = _planned(whole)
    assert found is not None and len(found[1].sites) == 3
    _hold_sites(found[1], whole)


def test_the_referee_sees_what_is_wrong(whole: Path) -> None:
    """The capture's own backyard is too near to houses and roads, and no natural ground."""
    lon, lat = Referee(whole).capture()
    said = " ".join(Referee(whole).objections(Place(lon, lat), radius_m=10))
    assert "dwellings" in said and "habitat" in said
    assert "from the capture" in " ".join(Referee(whole).objections(Place(lon + 0.03, lat), radius_m=10))


@pytest.mark.parametrize("block", _blocks(PLAIN_PLANNED, ALL_PLANNED))
def test_damaged_districts_are_planned_or_refused(whole: Path, tmp_path: Path, block: int) -> None:
    names = frozenset(f.name for f in whole.iterdir())
    for n in range(block * PLANNED, (block + 1) * PLANNED):
        folder = tmp_path / "case"
        did = _case(whole, folder, f"plan {n}", gently=True)
        try:
            found = _planned(folder)
            if found is not None:
                plan_files(found[1], found[0].region)
        except TussockError as error:
            _refusal(error, names)
            continue
        except Exception as error:
            raise AssertionError(f"case plan {n}: {did}") from error
        if found is not None:
            try:
                _hold_sites(found[1], folder)
            except Exception as error:
                raise AssertionError(f"case plan {n}: {did}") from error
