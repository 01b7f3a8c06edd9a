"""Everything a plan stands on, opened from its files; all faults of all files are reported at once."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import TypeVar

from tussock.errors import Faults, InputError
from tussock.ground.region import Region, open_region, sha256
from tussock.permit.consents import Consent, read_consents
from tussock.permit.house_rules import HouseRules, read_house_rules
from tussock.permit.layers import check_layers, check_rule_layers
from tussock.permit.permit_file import Permit, read_permit
from tussock.permit.taxon import covers
from tussock.planning.criteria import Weights, read_weights
from tussock.planning.inputs import BookedRelease, earlier, read_releases
from tussock.planning.setting import Setting
from tussock.species.profiles import SpeciesBook, load_profiles

_T = TypeVar("_T")


@dataclass(frozen=True)
class Files:
    """The files to open.

    Attributes
    ----------
    house_rules
        A tussock.toml; ``None`` for the rules that come with Tussock.
    """

    region: Path
    permits: tuple[Path, ...]
    consents: Path | None = None
    releases: Path | None = None
    profiles: Path | None = None
    weights: Path | None = None
    house_rules: Path | None = None


@dataclass(frozen=True)
class Opened:
    """The files as read.

    Attributes
    ----------
    book
        Where the names of species are looked up.
    booked
        Earlier releases, with the captures they belong to; ``None`` where no book of them is given.
    inputs
        Name → SHA-256 of each file read; the record carries it.
    """

    region: Region
    permits: tuple[Permit, ...]
    house_rules: HouseRules
    weights: Weights
    book: SpeciesBook
    consents: tuple[Consent, ...] = ()
    booked: tuple[BookedRelease, ...] | None = None
    inputs: Mapping[str, str] = field(default_factory=dict)

    def setting(
        self,
        *,
        now: datetime,
        release_at: datetime | None = None,
        top: int = 5,
        contacts: Mapping[str, str] | None = None,
        captures: Container[str] = frozenset(),
    ) -> Setting:
        """Return what a plan stands on.

        Parameters
        ----------
        now, release_at, top, contacts
            As in :class:`Setting`.
        captures
            Ids of the captures planned for; releases booked for them are left out.
        """
        return Setting(
            region=self.region,
            permits=self.permits,
            house_rules=self.house_rules.conditions,
            weights=self.weights,
            now=now,
            release_at=release_at,
            consents=self.consents,
            earlier=earlier(self.booked, but_for=captures),
            top=top,
            contacts=contacts or {},
            inputs=self.inputs,
        )


@dataclass(frozen=True)
class Permits:
    """Permits read without ground data: what asks for a layer cannot be checked.

    Attributes
    ----------
    inputs
        Name → SHA-256 of each file read.
    """

    permits: tuple[Permit, ...]
    book: SpeciesBook
    inputs: Mapping[str, str]


def open_permits(paths: tuple[Path, ...], *, profiles: Path | None = None) -> Permits:
    """Return permits alone, checked against the species.

    Raises
    ------
    InputError
        Every fault of every file at once.
    """
    faults = Faults()
    permits = [_try(read_permit, p, faults) for p in paths]
    _check_ids(permits, faults)
    book = _try(load_profiles, profiles, faults)
    for permit in permits:
        _check_names(permit, book, faults) if permit and book else None
    faults.raise_if_any()
    assert book  # no fault
    files = Files(Path(), paths, profiles=profiles)
    return Permits(tuple(p for p in permits if p is not None), book, _hashes(files, {}))


def open_files(files: Files) -> Opened:
    """Return everything read and checked against each other; ground layers are read when asked for.

    Raises
    ------
    InputError
        Every fault of every file at once.
    """
    faults = Faults()
    region = _try(open_region, files.region, faults)
    permits = [_try(read_permit, p, faults) for p in files.permits]
    _check_ids(permits, faults)
    rules = _try(read_house_rules, files.house_rules, faults)
    weights = _try(read_weights, files.weights, faults)
    consents = _try(read_consents, files.consents, faults) if files.consents else ()
    book = _try(load_profiles, files.profiles, faults)
    booked = (
        _try(lambda p: read_releases(p, book=book), files.releases, faults)
        if files.releases and book
        else None
    )
    if region is not None:
        for permit in permits:
            _try(lambda p: check_layers(p, region.layer_names), permit, faults) if permit else None
        where = rules.file if rules else ""
        _try(
            lambda r: check_rule_layers(r.conditions, region.layer_names, where=where), rules, faults
        ) if rules else None
    for permit in permits:
        _check_names(permit, book, faults) if permit and book else None
    faults.raise_if_any()
    assert region and rules and weights and book  # no fault
    assert consents is not None
    held = tuple(p for p in permits if p is not None)
    return Opened(region, held, rules, weights, book, consents, booked, _hashes(files, region.hashes()))


def _check_ids(permits: Iterable[Permit | None], faults: Faults) -> None:
    """Note permits of one id: clauses and answers are told apart by it."""
    files: dict[str, list[str]] = {}
    for permit in permits:
        if permit is not None:
            files.setdefault(permit.id, []).append(permit.file)
    for name, named in files.items():
        if len(named) > 1:
            faults.add(
                f"permit id '{name[:60]}' stands in {' and '.join(named)}",
                allowed="each permit once, and an id of its own",
                fix="name it once, or put the authority before the id",
            )


def _check_names(permit: Permit, book: SpeciesBook, faults: Faults) -> None:
    """Note every species that a clause names by a vernacular name of the book: it would cover no animal."""
    for version in permit.versions:
        for clause in version.conditions:
            own = getattr(clause, "species", None)
            listed = own if isinstance(own, tuple) else ()  # max_releases_near has a word there
            for name in (*listed, *((clause.applies_to and clause.applies_to.species) or ())):
                meant = [p.scientific_name for p in book.candidates(name)]
                if meant and not any(covers(name, m) or covers(m, name) for m in meant):
                    faults.add(
                        f"species holds the common name '{name[:60]}'",
                        where=f"{permit.file}, version {version.name}, clause {clause.id}",
                        allowed="scientific names",
                        fix=f"write {' or '.join(sorted(meant))}",
                    )


def _try(read: Callable[..., _T], given: object, faults: Faults) -> _T | None:
    try:
        return read(given)
    except InputError as error:
        faults.take(error)
        return None


def _hashes(files: Files, ground: Mapping[str, str]) -> dict[str, str]:
    """Return the hash of each file under a name that tells nothing of where it lies."""
    made = {f"region/{name}": digest for name, digest in ground.items()}
    for number, path in enumerate(files.permits, start=1):
        made[f"permit{'' if number == 1 else f' {number}'}/{path.name}"] = sha256(path)
    for kind in ("consents", "releases", "profiles", "weights", "house_rules"):
        path = getattr(files, kind)
        if path is not None:
            made[f"{kind.replace('_', ' ')}/{path.name}"] = sha256(path)
    return made
