"""What the hotspots' page says: of what does not stand out, of shares, areas, odds, the surface."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
import shapely
from scipy import stats

from tests.maps.test_audit_report import Reader
from tests.support.hotspots import made_hotspots
from tussock.hotspots.calls import incidents
from tussock.hotspots.found import Hotspots, Rates, Rerun
from tussock.hotspots.odds import Area, odds
from tussock.hotspots.repeats import Repeats
from tussock.hotspots.surface import Points, Surface, relative_risk
from tussock.maps.hotspots_clusters import base_lead, base_words, clusters
from tussock.maps.hotspots_edges import claim, counted_lines, edge_drawings, rough_words
from tussock.maps.hotspots_page import hotspots_page
from tussock.maps.hotspots_parts import fold, reruns
from tussock.maps.hotspots_plots import edges_plot
from tussock.maps.hotspots_rates import in_order, rates_lines, repeats, size_words
from tussock.maps.hotspots_surface import LINE_WORDS, merged, surface_lead, surface_words
from tussock.maps.hotspots_told import cell_told, edge_told, untested_because
from tussock.maps.hotspots_words import figure, odds_words, ratio_words
from tussock.maps.words import THIN

NAN = math.nan


@pytest.fixture(scope="module")
def found() -> Hotspots:
    return made_hotspots()[0]


@pytest.fixture(scope="module")
def rates(found: Hotspots) -> Rates:
    assert found.rates is not None
    return found.rates


def text_of(html: str) -> str:
    """Return the text that is read; thin spaces are spaces."""
    return " ".join(Reader(html).text.split())


def surface(above: str = "some") -> Surface:
    """Return a grid of 4 by 5 squares of 50 m whose ratio is known only in the middle."""
    ratio = np.full((4, 5), NAN)
    ratio[1:3, 1:4] = [[1.0, 2.5, 0.7], [0.4, 3.0, 1.5]]
    upper = np.where(np.isnan(ratio), NAN, 2.0)
    over = np.asarray(ratio > upper) & (above == "some")
    if above == "empty":
        ratio, upper = np.full((4, 5), NAN), np.full((4, 5), NAN)
    return Surface(-100.0, -100.0, 50.0, ratio, upper, over, 0.01 if above == "some" else 0.4, 150.0, 999)


def asked_for(found: Hotspots, told: Surface | None) -> Hotspots:
    return replace(found, surface=told, asked=replace(found.asked, surface=True))


# what does not stand out


def test_calls_again_that_do_not_stand_out_from_chance_say_so(found: Hotspots) -> None:
    assert found.repeats is not None
    few = replace(found.repeats, at_place=Repeats(433, 38, 35.3, 31, 39, 0.16, 0, 424))
    said = text_of(repeats(replace(found, repeats=few)))
    assert "38 of 433 incidents; by chance 35 (31–39), p = 0.16: does not stand out from chance." in said
    assert "more than chance" not in said
    many = text_of(repeats(found))  # 19 where 8.4 are due, p = 0.002
    assert "19 of" in many and "p = 0.002: more than chance." in many


def test_nothing_stands_out_comes_with_what_the_map_could_not_have_seen() -> None:
    made = made_hotspots(nothing=True)[0]
    lead = re.search(r'<p class="lead">(.*?)</p>', clusters(made))
    assert lead is not None
    assert made.clusters is not None
    n = made.clusters.scan.calls
    assert lead[1].startswith("Nothing stands out: no circle")
    said = "would have missed a place with 5 % of the calls expected and less than 4 times the usual rate"
    assert f"with {n} incidents this map {said} more than one time in five." in text_of(lead[0])


def test_a_step_that_could_not_be_rerun_says_why(found: Hotspots) -> None:
    none = Rerun("clusters", "finer", "H3 resolution 11", "under 3 incidents in cells that are tested", None)
    said = text_of(reruns(replace(found, reruns=(none,)), "clusters"))
    assert "not rerun one step finer (H3 resolution 11): under 3 incidents" in said
    assert "stands" not in said.replace("not rerun", "")


def test_clusters_are_told_with_and_without_the_base(found: Hotspots) -> None:
    told = found.clusters
    assert told is not None and told.base is not None
    assert base_lead(told) == (
        "With it allowed for, 1 circle stands out; without, 1 circle stands out: all the same places."
    )
    gone = replace(told, told_with_base=())
    assert base_lead(gone) == "With it allowed for, nothing stands out; without, 1 circle stands out."
    other = replace(told.told[0], most=replace(told.told[0].most, units=np.array([7])))
    assert base_lead(replace(told, told_with_base=(other,))).endswith("0 of them the same places.")
    # 0.93 (0.84–1.03): the interval holds 1
    assert "That is not shown to differ from 1." in base_words(told.base)
    sure = replace(told.base, per_km=replace(told.base.per_km, high=0.97))
    assert "not shown" not in base_words(sure)


def test_places_known_roughly_are_said_with_their_numbers(found: Hotspots) -> None:
    def told(by_radius: int, rough: int) -> str:
        return rough_words(
            replace(found, incidents=replace(found.incidents, by_radius=by_radius, rough=rough))
        )

    assert told(0, 0) == "None was joined by its radius alone."
    assert told(1, 1).startswith("1 was joined by its radius alone. 1 call is placed no better ")
    assert "3 were joined by their radius alone." in told(3, 286)
    assert "286 calls are placed no better than to 100 m: each an incident" in text_of(told(3, 286))
    assert rough_words(found) in " ".join(counted_lines(found))


def test_most_places_known_roughly_is_no_finding_about_edges(found: Hotspots) -> None:
    """938 calls at 5 km once gave: at none of 4 edges is it shown that homes nearby called more often."""
    n = found.counted.incidents
    quiet = [replace(e, p_more_adjusted=1.0, p_adjusted=1.0) for e in found.edges]
    half = replace(found, edges=tuple(replace(e, vague=n // 2) for e in quiet))
    most = replace(found, edges=tuple(replace(e, vague=n // 2 + 1) for e in quiet))
    assert "not shown" in claim(half) or "is it shown" in claim(half)
    assert edge_drawings(half) and not edge_drawings(most), "no rate of 0 where no call could be placed"
    assert "cannot be asked" in claim(most) and f"{n // 2 + 1} of {n} incidents" in text_of(claim(most))


def test_without_a_call_no_edge_is_drawn_and_parts_say_why_they_were_not_looked_for(found: Hotspots) -> None:
    none = replace(
        found,
        calls=(),
        incidents=incidents(()),
        clusters=None,
        when=None,
        missing={"clusters": "0 incidents; it takes 3"},
    )
    assert edge_drawings(none) == ""
    assert "Not looked for: 0 incidents; it takes 3." in text_of(clusters(none))


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (1.04, 4.4, "(1.04–4.4)"),
        (0.2, 0.997, "(0.20–0.997)"),
        (1.06, 10, "(1.1–10)"),
        (1.0, 2.0, "(1.0–2.0)"),
    ],
)
def test_an_interval_that_leaves_out_one_does_not_read_as_if_it_held_it(
    found: Hotspots, low: float, high: float, words: str
) -> None:
    """More often stood beside 2.1 (1.0–4.4)."""
    hull = found.edges[0].ratio
    ratio = replace(hull.least, low=low, high=high)
    assert ratio_words(replace(hull, least=ratio, most=ratio)).endswith(words)


def test_an_edge_without_a_ratio_is_named_and_not_drawn(found: Hotspots) -> None:
    first, *rest = [e for e in found.edges if e.tested]
    nan = replace(first.ratio.least, ratio=NAN, low=0.0, high=math.inf)
    bare = replace(
        first, ratio=replace(first.ratio, least=nan, most=nan), p_more_adjusted=1.0, p_adjusted=1.0
    )
    drawn = edges_plot([bare, *rest])
    said = text_of(drawn)
    assert f"Without a ratio, since no call came from near or far: {first.edge.name}." in said
    assert "not known" not in said
    assert drawn.count("<circle") == len(rest)
    assert edges_plot([bare]) == ""


# of what a share is one, and how large cells are


def test_the_share_captured_says_of_what_and_what_counts_as_not_captured(found: Hotspots) -> None:
    said = text_of(hotspots_page(found, made_hotspots()[1]))
    attempts = [i for i in found.incidents.items if i.captured or i.told.outcome != "advice_only"]
    captured = sum(i.captured for i in attempts)
    missed = sum(i.told.outcome == "not_found" for i in attempts if not i.captured)
    assert f"{captured} of {len(attempts)}, with the exact 95 % interval." in said
    assert "One without a capture on record, neither in its outcome nor in the table of captures" in said
    assert "which leaves out advice only" in said
    assert f"The others ended as: not found {missed}." in said
    share = 100 * captured / len(attempts)
    assert re.search(rf"{share:.0f} % [^.]*of {len(attempts)} attempts have a capture on record", said)


def test_the_size_of_cells_is_said_with_its_reason(rates: Rates) -> None:
    assert size_words(rates) == (
        "H3 cells of resolution 8: the finest in which a home's cell expects 5 incidents or more, here 6.1; "
        "one step finer it would be 1.2."
    )


def test_a_map_of_calls_that_are_mostly_placed_roughly_finds_nothing_and_says_why(rates: Rates) -> None:
    """It once said of 932 calls, all known to 5 km: none of 144 cells is above the district, a result."""
    tally = rates.cells.incident_tally
    n = tally.read // 2 + 1
    vague = replace(tally, in_cells=tally.read - n, too_vague=n)
    said = " ".join(rates_lines(replace(rates, cells=replace(rates.cells, incident_tally=vague))))
    assert "most incidents are placed too roughly for cells" in said and f"{n} known to a circle" in said
    assert "that is a result" not in said and "Ring test" not in said


def test_areas_as_supplied_are_named_and_nowhere_called_cells_of_h3(found: Hotspots, rates: Rates) -> None:
    names = tuple(f"Ward {k}" for k in range(len(rates.cells.names)))
    drawn = replace(rates, choice=None, cells=replace(rates.cells, names=names, resolution=None))
    page = hotspots_page(replace(found, rates=drawn), made_hotspots()[1])
    said = text_of(page)
    assert f"{len(names)} areas as supplied, not H3 cells: Ward 0, Ward 1" in said
    assert "H3 cells of resolution" not in said
    part = text_of(page[page.index('<section id="rates"') : page.index('<section id="repeats"')])
    part = part.replace("not H3 cells", "").replace("H3 resolution 9): 3 cells probably above", "")
    assert "cell" not in part.lower().replace("larger cell around", "")
    title, _ = cell_told(found, drawn, 3, in_order(drawn)[2])
    assert title == f"Area 3: {names[in_order(drawn)[2]]}"


# what a tap tells


def test_a_cell_is_told_with_the_posterior_of_the_gamma_poisson_model(found: Hotspots, rates: Rates) -> None:
    i = in_order(rates)[0]
    cells, model = rates.cells, rates.smoothed.model
    used = float(cells.homes_high[i]) * 1.0  # homes over all the time observed
    # Clayton & Kaldor 1987: the posterior is gamma with shape ν + y and rate α + e; by scipy
    posterior = stats.gamma(
        model.shape + int(cells.incidents[i]), scale=1 / (model.shape / model.level + used)
    )
    title, lines = cell_told(found, rates, 1, i)
    said = " ".join(lines)
    given = re.search(
        r"Smoothed rate ([\d.\u202f\u2009]+) \(([\d.\u202f\u2009]+)–([\d.\u202f\u2009]+)\)", said
    )
    assert given is not None
    shown = [float(re.sub(r"[^\d.]", "", g)) for g in given.groups()]
    assert shown == pytest.approx([500 * v for v in (posterior.mean(), *posterior.interval(0.95))], rel=0.05)
    assert title.startswith("Cell 1: round ")
    assert "Ring test:" in said and "Odds" in said and "P(RR>1)" in said


def test_a_cell_that_is_not_tested_says_why_and_gives_no_rate(found: Hotspots, rates: Rates) -> None:
    i = int(np.flatnonzero(~rates.cells.tested & (rates.cells.homes_high > 0))[0])
    _, lines = cell_told(found, rates, 9, i)
    known = 100 * rates.cells.known[i]
    assert lines[-1] == f"Not tested: homes are known in only {known:.0f}{THIN}% of it, less than 95{THIN}%."
    assert not any("rate" in line for line in lines)
    high = rates.cells.homes_high.copy()
    high[i] = 0.0
    bare = replace(
        rates, cells=replace(rates.cells, homes_high=high, homes_low=np.minimum(high, rates.cells.homes_low))
    )
    assert untested_because(bare, i) == "no home stands in it"


def test_an_edge_is_told_with_every_band(found: Hotspots) -> None:
    effect = found.headline
    assert effect is not None
    lines = edge_told(effect)
    assert len(lines) == 2 + len(effect.bands)
    for line, band in zip(lines[2:], effect.bands, strict=True):
        assert f"{band.incidents} incident" in line
    assert lines[2].startswith("Within 100")


def test_odds_are_two_figures_and_rest_on_incidents() -> None:
    # Garwood's 95 % interval of 85 (67.9 to 105.1, scipy) over 563 homes and 1.21 years
    low, high = stats.chi2.ppf(0.025, 170) / 2, stats.chi2.ppf(0.975, 172) / 2
    said = odds_words(odds(Area("x", 85, 563.0, 563.0), years=1.21))
    two = re.match(r"between one home in ([\d.]+) and one in ([\d.]+) a year \((.*)\)$", said)
    assert two is not None
    near, far = 563 * 1.21 / high, 563 * 1.21 / low
    assert float(two[1]) <= near < float(two[1]) + 0.1
    assert far <= float(two[2]) < far + 1
    assert two[3] == "85 incidents from 563 homes in 1.21 years"
    none = odds_words(odds(Area("x", 0, 5000.0, 6090.0), years=2.0))
    assert none == f"none from 5{THIN}000 homes in 2 years: fewer than one home in 2{THIN}700 a year"
    assert odds_words(odds(Area("x", 2, 5000.0, 5000.0), years=2.0)).startswith("none given: 2 calls")


# snakes are not what is counted

SNAKES = (
    "Calls to this logbook, not snakes.",
    "How many snakes there are: who sees none, knows nobody to call or calls another is not here.",
    "Only licensed, trained people handle snakes.",
    "Odds are of a call to this logbook, not of a snake at a home; a home that calls twice counts twice.",
)


@pytest.mark.parametrize("made", [{}, {"nothing": True}])
def test_no_sentence_says_snakes_where_it_means_calls(made: dict[str, Any]) -> None:
    found, region = made_hotspots(**made)
    said = text_of(hotspots_page(asked_for(found, surface()), region))
    for sentence in SNAKES:
        assert sentence in said
        said = said.replace(sentence, "")
    assert "snake" not in said.lower().replace("not a snake", "").replace("not of a snake", "")


# the surface


@pytest.mark.parametrize("seed", range(5))
def test_merged_squares_have_the_area_of_the_squares_and_hold_their_centres(seed: int) -> None:
    rng = np.random.Generator(np.random.PCG64(seed))
    chosen = rng.random((17, 23)) < 0.5
    empty = np.full((17, 23), NAN)
    grid = Surface(-1234.5, 678.9, 41.7, empty, empty, chosen, 1.0, 120.0, 99)
    area = merged(grid, chosen)
    assert area.area == pytest.approx(chosen.sum() * 41.7**2, rel=1e-6)
    line, column = np.indices(chosen.shape)
    x, y = -1234.5 + (column + 0.5) * 41.7, 678.9 + (line + 0.5) * 41.7
    assert (shapely.contains_xy(area, x, y) == chosen).all()
    assert merged(grid, np.zeros_like(chosen)).is_empty


def test_the_surface_says_how_much_lies_above_the_line_and_what_it_is_not(found: Hotspots) -> None:
    told = surface()
    said = text_of(surface_words(asked_for(found, told)))
    # two squares of 50 m above 2.0, side by side up and down: half a hectare, one place, the top at 3.0
    assert (
        surface_lead(told) == f"1 place, together 0.50 ha, above {LINE_WORDS} (p = 0.010, 999 made-up maps)."
    )
    assert LINE_WORDS == "the line that chance alone crosses anywhere on the map in one of twenty"
    assert "Up to 3.0 times the district's rate round" in said and "the line there: 2.0." in said
    assert "stay empty: 70 % of them. Nothing is said of those." in said  # 14 of 20
    assert "What it is not: a map of animals" in said and "off at first" in said


def test_nothing_above_the_line_is_a_result_and_no_ratio_anywhere_is_said(found: Hotspots) -> None:
    flat = text_of(surface_words(asked_for(found, surface("none"))))
    assert f"Nowhere above {LINE_WORDS}: nothing stands out, and that is a result (p = 0.40" in flat
    assert "Up to" not in flat
    assert "The surface is empty" in text_of(surface_words(asked_for(found, surface("empty"))))
    page = hotspots_page(asked_for(found, surface("none")), made_hotspots()[1])
    assert "nowhere above the line" in text_of(page) and 'data-layer="surface line"' not in page
    why = replace(asked_for(found, None), missing={"surface": "2 incidents; it takes 3"})
    assert "2 incidents; it takes 3." in text_of(surface_words(why))


def test_without_a_surface_asked_for_there_is_no_word_of_it(found: Hotspots) -> None:
    assert surface_words(found) == ""
    page = hotspots_page(found, made_hotspots()[1])
    assert 'data-layer="surface"' not in page and "Smooth surface" not in page


def test_the_surface_is_drawn_off_at_first_and_its_line_outlines_what_is_above(found: Hotspots) -> None:
    page = hotspots_page(asked_for(found, surface()), made_hotspots()[1])
    drawn = re.findall(r'tussock\.draw\("(disc|line)",\{"layer":"(surface(?: line)?)","on":(\w+)', page)
    assert drawn and all(on == "false" for _, _, on in drawn)
    # ratios 0.4, 0.7, 1.0, 1.5, 2.5 and 3.0 lie in all five steps; one outline
    assert [kind for kind, layer, _ in drawn if layer == "surface"] == ["disc"] * 5
    assert ("line", "surface line", "false") in drawn
    assert page.index('data-layer="rates"') < page.index('data-layer="surface"')


def test_a_surface_gives_the_same_bytes_each_time(found: Hotspots) -> None:
    homes = Points(found.exposure.x, found.exposure.y, found.exposure.high)
    calls = Points(found.incidents.x, found.incidents.y, np.ones(len(found.incidents)))
    made = [
        hotspots_page(
            asked_for(found, relative_risk(calls, homes, bandwidth_m=350.0, seed=3, replicates=99)),
            made_hotspots()[1],
        )
        for _ in range(2)
    ]
    assert made[0] == made[1]


# what folds, and who hears it


def test_what_folds_is_open_in_the_file_and_empty_without_content() -> None:
    assert (
        fold("A <b>", "<p>x</p>")
        == '<details class="fold" open><summary>A &lt;b&gt;</summary><p>x</p></details>'
    )
    assert fold("A", "") == ""


def test_every_drawing_says_its_figures_to_those_who_hear_the_page(found: Hotspots) -> None:
    page = hotspots_page(found, made_hotspots()[1])
    heard = re.findall(r'<svg [^>]*role="img" aria-label="([^"]*)"', page)
    drawings = [h for h in heard if h != "north is up"]
    assert len(drawings) == page.count('<figure class="plot">') >= 7
    assert all(re.search(r"\d", h) for h in drawings)
    when = found.when
    assert when is not None
    january = figure(30 / 62 * int(when.calendars[""].months[0]))  # two Januaries, told for 30 days
    assert any(f"January {january}" in h for h in drawings)
    assert not re.findall(r"<svg (?![^>]*(?:aria-hidden|aria-label))[^>]*>", page)


def test_layers_stand_in_the_order_of_their_weight(found: Hotspots) -> None:
    page = hotspots_page(asked_for(found, surface()), made_hotspots()[1])
    order = ["edges", "other edges", "clusters", "months", "rates", "flagged", "surface", "standby", "base"]
    at = [page.index(f'data-layer="{name}"') for name in order]
    assert at == sorted(at)
