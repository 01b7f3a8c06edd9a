"""Columns of a layer as text: what numpy's own conversion gives, but for what a Ctrl-C becomes."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from tests.support.regions import Thing, features_of


class Interrupted:
    """Stands for a Ctrl-C that falls into the conversion of one value."""

    def __str__(self) -> str:
        raise KeyboardInterrupt


def test_text_is_what_numpy_makes_of_it() -> None:
    layer = replace(features_of("roads", _things()), ids=np.array(["a", 7, ""], dtype=object))
    assert layer.text("ids").tolist() == layer.ids.astype(str).tolist() == ["a", "7", ""]
    assert layer.text("ids") is layer.text("ids")
    assert len(layer.taken(np.zeros(3, dtype=bool)).text("ids")) == 0


def test_an_interrupt_is_not_lost() -> None:
    layer = replace(features_of("roads", _things()), ids=np.array(["a", Interrupted(), ""], dtype=object))
    with pytest.raises(KeyboardInterrupt):
        layer.text("ids")


def _things() -> list[Thing]:
    return [Thing(shapely.Point(float(n), 0.0), "track") for n in range(3)]
