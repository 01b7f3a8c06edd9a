"""The crosswalks from other people's map classes to ours, read from the data files beside this module."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
import numpy.typing as npt

Texts = npt.NDArray[np.object_]
Tags = Mapping[str, Texts]
"""Key → one value (or ``None``) per feature."""
SHAPES = ("points", "lines", "areas", "routes")
_RESERVED = frozenset({"class", "priority", "shapes", "unless"})
_LAYER_WORDS = frozenset({"shapes", "otherwise", "left_out", "whole_only", "fields", "rules"})


@dataclass(frozen=True)
class TagSet:
    """Tags of which a feature needs to carry one; the value ``*`` is any but ``no``."""

    values: Mapping[str, frozenset[str]]

    def carried(self, tags: Tags, n: int) -> npt.NDArray[np.bool_]:
        """Return which of ``n`` features carry one of the tags."""
        found = np.zeros(n, dtype=bool)
        for key, wanted in self.values.items():
            column = tags.get(key)
            if column is None:
                continue
            if "*" in wanted:
                found |= np.fromiter((v is not None and v != "no" for v in column), bool, n)
            else:
                found |= np.fromiter((v in wanted for v in column), bool, n)
        return found


@dataclass(frozen=True)
class Rule:
    """One class and the tags that lead to it."""

    klass: str
    tags: TagSet
    unless: TagSet
    shapes: frozenset[str]
    priority: int


@dataclass(frozen=True)
class LayerRules:
    """How one layer is made: see the head of osm_crosswalk.toml."""

    name: str
    rules: tuple[Rule, ...]
    shapes: frozenset[str]
    otherwise: Mapping[str, str]
    left_out: TagSet
    whole_only: frozenset[str]
    fields: tuple[str, ...]

    def classified(self, tags: Tags, n: int, *, shape: str) -> tuple[Texts, npt.NDArray[np.int64]]:
        """Return class (``None``: not in this layer) and priority of ``n`` features of one shape."""
        klass: Texts = np.full(n, None, dtype=object)
        priority = np.zeros(n, dtype=np.int64)
        for key, name in self.otherwise.items():
            if key in tags:
                klass[np.fromiter((v is not None for v in tags[key]), bool, n)] = name
        for rule in self.rules:
            if shape in rule.shapes:
                hit = rule.tags.carried(tags, n) & ~rule.unless.carried(tags, n)
                klass[hit], priority[hit] = rule.klass, rule.priority
        klass[self.left_out.carried(tags, n)] = None
        return klass, priority

    def keys(self) -> set[str]:
        """Return the tag keys the layer looks at."""
        sets = [self.left_out, *(r.tags for r in self.rules), *(r.unless for r in self.rules)]
        return {k for s in sets for k in s.values} | set(self.otherwise) | set(self.fields)

    def classes(self) -> set[str]:
        """Return the classes the layer can hold."""
        return {r.klass for r in self.rules} | set(self.otherwise.values())


@dataclass(frozen=True)
class OsmCrosswalk:
    """The whole crosswalk: layers in the order of the file, and which closed ways are areas."""

    layers: tuple[LayerRules, ...]
    area_keys: tuple[str, ...] = field(default=())

    def keys(self, shape: str) -> tuple[str, ...]:
        """Return the tag keys that matter to features of one shape, sorted."""
        return tuple(sorted(set[str]().union(*(r.keys() for r in self.layers if shape in r.shapes))))

    def layer(self, name: str) -> LayerRules:
        """Return the rules of a layer."""
        return next(r for r in self.layers if r.name == name)


@cache
def osm_crosswalk() -> OsmCrosswalk:
    """Return the crosswalk for OpenStreetMap tags (osm_crosswalk.toml)."""
    raw = _data("osm_crosswalk.toml")
    keys = raw.pop("area_keys")
    layers = tuple(_layer(name, spec) for name, spec in raw.items())
    natural = {
        f"natural={v}"
        for r in layers
        for rule in r.rules
        if "areas" in rule.shapes
        for v in rule.tags.values.get("natural", ())
    }
    return OsmCrosswalk(layers, (*keys, *sorted(natural)))


@cache
def worldcover_crosswalk() -> dict[int, str]:
    """Return the habitat class of each ESA WorldCover code (worldcover_crosswalk.toml)."""
    return {int(c["code"]): str(c["class"]) for c in _data("worldcover_crosswalk.toml")["codes"]}


def _data(name: str) -> dict[str, Any]:
    return tomllib.loads((files("tussock.ground") / name).read_text(encoding="utf-8"))


def _layer(name: str, spec: Mapping[str, Any]) -> LayerRules:
    unknown = set(spec) - _LAYER_WORDS
    if unknown:
        raise ValueError(f"osm_crosswalk.toml, {name}: {', '.join(sorted(unknown))}")
    shapes = _shapes(spec["shapes"])
    return LayerRules(
        name=name,
        rules=tuple(_rule(r, shapes) for r in spec["rules"]),
        shapes=shapes,
        otherwise=dict(spec.get("otherwise", {})),
        left_out=_tag_set(spec.get("left_out", {})),
        whole_only=frozenset(spec.get("whole_only", ())),
        fields=tuple(spec.get("fields", ())),
    )


def _rule(spec: Mapping[str, Any], shapes: frozenset[str]) -> Rule:
    return Rule(
        klass=str(spec["class"]),
        tags=_tag_set({k: v for k, v in spec.items() if k not in _RESERVED}),
        unless=_tag_set(spec.get("unless", {})),
        shapes=_shapes(spec["shapes"]) if "shapes" in spec else shapes,
        priority=int(spec.get("priority", 0)),
    )


def _tag_set(spec: Mapping[str, Iterable[str]]) -> TagSet:
    return TagSet({key: frozenset(values) for key, values in spec.items()})


def _shapes(names: Iterable[str]) -> frozenset[str]:
    wrong = set(names) - set(SHAPES)
    if wrong:
        raise ValueError(f"osm_crosswalk.toml: shapes {', '.join(sorted(wrong))}")
    return frozenset(names)
