"""pyogrio without pandas: nothing of it is imported, and who wants it later gets the real library."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

DATA = Path(__file__).resolve().parents[2] / "data-demo"


def _said(code: str) -> str:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    ran = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        text=True,
        capture_output=True,
        check=False,
        timeout=120,
    )
    assert ran.returncode == 0, ran.stderr[-2000:]
    return ran.stdout.strip()


def test_reading_arrays_imports_no_table_library() -> None:
    code = f"""
import sys
import tussock.ground.gdal_alone
import pyogrio.raw
meta, _, shapes, _ = pyogrio.raw.read({str(DATA / "ground.gpkg")!r}, layer="roads")
print(len(shapes) > 0, [name for name in ("pandas", "geopandas") if name in sys.modules])
"""
    assert _said(code) == "True []"


def test_tables_are_read_afterwards_by_the_real_libraries() -> None:
    code = f"""
import tussock.ground.gdal_alone
import pyogrio, geopandas, pandas
file = {str(DATA / "ground.gpkg")!r}
one, two = pyogrio.read_dataframe(file, layer="roads"), geopandas.read_file(file, layer="roads")
print(isinstance(one, pandas.DataFrame), one.equals(two), len(one) > 0)
"""
    assert _said(code) == "True True True"


def test_a_library_imported_before_stays_what_it_is() -> None:
    code = """
import pandas
import tussock.ground.gdal_alone
import sys
print(sys.modules["pandas"] is pandas, pandas.DataFrame([1]).shape)
"""
    assert _said(code) == "True (1, 1)"
