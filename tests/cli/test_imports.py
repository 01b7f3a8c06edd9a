"""What a plan never loads: web servers, databases, statistics, plotting, compilers."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import DATA, typed

WEB = {
    "fastapi",
    "starlette",
    "uvicorn",
    "hypercorn",
    "flask",
    "werkzeug",
    "django",
    "aiohttp",
    "tornado",
    "bottle",
    "gunicorn",
    "waitress",
    "httpx",
    "websockets",
    "anyio",
}
DATABASE = {
    "sqlalchemy",
    "sqlite3",
    "_sqlite3",
    "duckdb",
    "psycopg",
    "psycopg2",
    "asyncpg",
    "pymysql",
    "pymongo",
    "geoalchemy2",
    "alembic",
    "peewee",
}
STATISTICS = {
    "statsmodels",
    "esda",
    "libpysal",
    "spreg",
    "pointpats",
    "sklearn",
    "scipy.stats",
    "matplotlib",
    "seaborn",
    "numba",
    "llvmlite",
    "torch",
    "xarray",
    "dask",
    "polars",
    "networkx",
    "openpyxl",
    "IPython",
    "ipywidgets",
}
NEVER = WEB | DATABASE | STATISTICS
HEAVY = {
    "numpy",
    "shapely",
    "pyproj",
    "pandas",
    "geopandas",
    "folium",
    "rasterio",
    "cv2",
    "pyogrio",
    "scipy",
    "rich.table",
}
"""Not loaded either where only help is asked for."""


def _loaded(folder: Path, *arguments: str) -> set[str]:
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    ran = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "tussock.cli", *arguments],
        cwd=folder,
        env=environment,
        text=True,
        capture_output=True,
        check=False,
        timeout=120,
    )
    assert ran.returncode == 0, ran.stderr[-2000:]
    names = {
        line.rpartition("|")[2].strip() for line in ran.stderr.splitlines() if line.startswith("import time:")
    }
    assert "tussock.cli.app" in names, "the trace was read"
    return names


def _among(names: set[str], packages: set[str]) -> set[str]:
    return {p for p in packages if p in names or any(n.startswith(p + ".") for n in names)}


def test_help_loads_nothing_heavy(tmp_path: Path) -> None:
    names = _loaded(tmp_path, "plan", "--help")
    assert _among(names, NEVER | HEAVY) == set()


@pytest.mark.parametrize("output", ["table", "json"])
def test_a_whole_plan_loads_no_web_database_or_statistics_package(output: str, tmp_path: Path) -> None:
    files = ["--releases", str(DATA / "releases.csv"), "--consents", str(DATA / "consents.csv")]
    names = _loaded(tmp_path, "plan", *typed(), *files, "--out", "today", "--format", output)
    assert _among(names, NEVER) == set()
    assert {"shapely", "folium"} <= names, "the plan was made and drawn"
