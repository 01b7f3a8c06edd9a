"""The weights of the criteria and the numbers of their shapes, as a file gives them."""

from __future__ import annotations

import tomllib
from pathlib import Path

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from tussock.errors import InputError
from tussock.ground.region_file import as_input_error
from tussock.tables import read_bytes

FLOOR = 0.01
"""Least suitability: nothing is worth less than a hundredth of the best (design choice)."""
SHIPPED = Path(__file__).with_name("weights.toml")


class Weight(BaseModel):
    """One criterion's weight and the numbers of its shape."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    weight: float = Field(ge=0, le=1000, allow_inf_nan=False)
    full_m: float = Field(200.0, gt=0)
    at_rim: float = Field(0.3, ge=FLOOR, le=1)
    bound_weight: float = Field(2.0, ge=1, le=100)
    full_home_ranges: float = Field(5.0, gt=0)
    gone_m: float = Field(1000.0, gt=0)
    within_m: float = Field(300.0, gt=0)
    within_days: float = Field(365.0, gt=0)


class _Unknown(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)
    home_range_ha: float = Field(gt=0)


class Weights(BaseModel):
    """weights.toml as read."""

    model_config = ConfigDict(extra="forbid", frozen=True)
    habitat: Weight
    cover: Weight
    dwellings: Weight
    peopled_places: Weight
    roads: Weight
    closeness: Weight
    patch: Weight
    water: Weight
    recent_releases: Weight
    unknown: _Unknown


def read_weights(path: Path | None = None) -> Weights:
    """Return the weights of a file, the shipped ones when none is named.

    Raises
    ------
    InputError
        When it is no TOML, or lacks or misspells a criterion.
    """
    path = path or SHIPPED
    try:
        return Weights.model_validate(tomllib.loads(read_bytes(path).decode("utf-8-sig")))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise InputError(f"it is not TOML ({error})", where=str(path)) from None
    except ValidationError as error:
        raise as_input_error(error, where=path.name) from None
