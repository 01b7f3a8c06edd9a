"""Every number that the package names, with its unit and the range in which it makes sense.

A constant typed in the wrong unit, or with a digit too many, is what no other test sees. A new constant
fails here until it is entered.
"""

from __future__ import annotations

import ast
import importlib
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

import tussock

ROOT = Path(tussock.__file__).parent
Range = tuple[str, float, float]
EXPECTED: dict[str, Range] = {
    # what is measured and judged
    "names.ALIKE": ("share of letters", 0.78, 0.93),
    "measure.patches.OVERSHOOT_M": ("m", 0.0005, 0.002),
    "permit.place_kinds.AREA_TOLERANCE_HA": ("ha", 1e-7, 1e-6),
    "permit.plain.second_look.ROUNDED": ("share, above 1.2 % for 40 acres as 16 ha", 0.012, 0.03),
    "interval.TOLERANCE_M": ("m", 0.001, 0.001),
    "geodesy.R95_OVER_R68": ("1", 1.6165, 1.6265),
    "geodesy.ASSUMED_RADIUS_M": ("m, Darwin Core", 30, 30),
    "geodesy.ASSUMED_RADIUS_BEFORE_2000_M": ("m, Darwin Core", 100, 100),
    "geodesy.EARTH_RADIUS_M": ("m, mean radius (IUGG)", 6_371_008.7, 6_371_008.9),
    "geodesy.METRES_PER_DEGREE": ("m, of the equator", 111_319.4, 111_319.6),
    "maps.warp.EARTH_M": ("m, WGS 84", 6_378_137, 6_378_137),
    "measure.patches.SQUARE_METRES_PER_HA": ("m²", 10_000, 10_000),
    "species.traits._SQUARE_METRES_PER_HA": ("m²", 10_000, 10_000),
    "measure.clauses.SAME_HABITAT_M": ("m, design", 50, 50),
    "measure.clauses.UNKNOWN_RANGE_M": ("m, design", 300, 300),
    "ground.region._MOST_LATITUDE": ("degrees, as region.toml takes", 85, 85),
    "measure.scene.SITE_RADIUS_M": ("m, design", 30, 30),
    "measure.scene.DECIMALS": ("digits, 11 mm", 7, 7),
    "measure.between._QUADRANT": ("segments", 8, 64),
    "measure.between.ROUND_OUT": ("1, of a polygon round a circle", 1, 1.005),
    "measure.between._HAIR_M": ("m", 1e-4, 1e-2),
    "position.WIDE_RADIUS_M": ("m", 500, 5000),
    "position.MOST_RADIUS_M": ("m, half the Earth's girth", 2.0e7, 2.01e7),
    # the ground
    "ground.areas.GRID_M": ("m, moves edges by less than 0.1 mm", 1e-5, 1e-4),
    "ground.areas.CRACK_M": ("m", 0.001, 0.1),
    "ground.areas._CHUNK": ("segments", 2, 64),
    "ground.osm.MARGIN_M": ("m", 500, 5000),
    "ground.osm.BESIDE_M": ("m", 10, 50),
    "ground.osm_extent.SQUARE_M": ("m, design", 1000, 1000),
    "ground.osm_extent._STEP_DEG": ("°", 1e-4, 1e-2),
    "ground.osm_frame.WIDEST_M": ("m, design", 150_000, 150_000),
    "ground.osm_frame.CELL_M": ("m, design", 10, 10),
    "ground.reading._APART_M": ("m, more than a region is wide", 150_000, 500_000),
    "ground.reading._MOST_COORDINATE": ("m or °, beyond any grid", 1e8, 1e12),
    "ground.reading._FAR_M": ("m", 500_000, 2_000_000),
    "ground.reading._EDGE_M": ("m, bends by about a millimetre", 50, 200),
    "ground.region.MOST_FROM_CENTRE_M": ("m, half of 150 km across corners", 106_000, 115_000),
    "ground.surfaces.SPACING": ("cells", 0.1, 0.5),
    "ground.surfaces.TRANSFORM_ERROR": ("cells", 1e-4, 0.01),
    "ground.surfaces.SLACK_LOW": ("cells, 1/√2 + spacing/2 + error", 0.7071 + 0.125, 0.86),
    "ground.surfaces.SLACK_HIGH": ("cells, 1/√2 + error", 0.7071, 0.72),
    "measure.screened.GROUND_ERROR_M": ("m", 0.001, 0.01),
    "measure.screened.ROUNDING_M": ("m, 7 decimals of a degree are 8 mm", 0.0079, 0.05),
    # the book
    "records.workbooks.MOST_UNPACKED": ("bytes", 1e8, 4e9),
    "records.workbooks.DECIMALS": ("digits, 11 mm", 7, 9),
    "records.checks._MOST_DECIMALS": ("digits, a tenth of a millimetre", 9, 15),
    "records.exporting._MOST_CHARACTERS": ("characters, of the format", 32_767, 32_767),
    "records.importing.MOST_FAULTS": ("lines", 50, 1000),
    # cells, odds, standby
    "hotspots.counts.LEVEL": ("share of intervals that hold the truth", 0.95, 0.95),
    "hotspots.calls.WITHIN_DAYS": ("d, asked for", 14, 14),
    "hotspots.calls.WITHIN_M": ("m, asked for", 50, 50),
    "hotspots.edges.INSIDE_M": ("m, Darwin Core", 30, 30),
    "hotspots.ring.FALSE_SHARE": ("share of alarms, asked for", 0.05, 0.05),
    "hotspots.circular._KERNEL": ("share of the circle", 0.03, 0.1),
    "hotspots.circular._ERRORS": ("standard errors", 0.5, 3),
    "hotspots.circular._LEVEL": ("share of false alarms", 0.01, 0.05),
    "hotspots.repeats._DAY_S": ("s", 86_400, 86_400),
    "hotspots.windows.ALIKE_M": ("m, far above rounding, far below a cell", 1e-8, 1e-3),
    "hotspots.search.SAME": ("1, far above rounding", 1e-12, 1e-6),
    "hotspots.search._STEPS": ("steps of a table, below 2^16", 64, 4096),
    "hotspots.cells.LEAST_KNOWN": ("share of area, asked for", 0.95, 0.95),
    "hotspots.cells.NOWHERE": ("row of no cell", -1, -1),
    "hotspots.hexagons.LEAST_EXPECTED": ("calls, asked for", 5, 5),
    "hotspots.hexagons.COARSEST": ("H3 resolution, wider than a district", 3, 5),
    "hotspots.hexagons.FINEST": ("H3 resolution, edge above 60 m", 9, 10),
    "records.calls._BEYOND_M": ("m, beyond every region", 1e7, 1e9),
    "hotspots.base_effect._STEPS": ("Newton steps", 20, 200),
    "hotspots.base_effect._NORMAL_975": ("standard deviations", 1.9599639, 1.9599640),
    "hotspots.find_clusters._CORNER_M": ("m", 0.1, 5),
    "hotspots.found.STANDS_OUT": ("p, asked for", 0.05, 0.05),
    "hotspots.finding.LEAST_SCANNED": ("incidents", 3, 5),
    "hotspots.finding.STEPS": ("parts of the job", 8, 8),
    "hotspots.find_edges.LEAST_EDGE_HOMES": ("homes", 10, 100),
    "hotspots.find_clusters.MOST_UNITS": ("cells", 1000, 5000),
    "hotspots.find_clusters.POWER_MAPS": ("maps", 100, 1000),
    "hotspots.find_clusters.RERUN_REPLICATES": ("maps", 99, 999),
    "hotspots.find_times.REPEAT_DAYS": ("d", 30, 366),
    "hotspots.find_times.REPEAT_M": ("m", 20, 200),
    "hotspots.find_times.RELEASE_M": ("m", 100, 1000),
    "hotspots.odds.NONE_MEANS": ("calls, Garwood's end of 0", 3.6888, 3.69),
    "hotspots.odds.LEAST_HOMES": ("homes, asked for", 100, 100),
    "hotspots.odds.WIDEST_EXPOSURE": ("1, asked for", 2, 2),
    "hotspots.odds.LEAST_CALLS": ("calls, asked for", 3, 3),
    "hotspots.odds.LEAST_YEARS": ("years", 1, 1),
    "hotspots.odds.SMALLEST_ODDS": ("homes", 1.5, 5),
    "hotspots.demand.MOST_DEMANDS": ("places", 500, 20_000),
    "hotspots.medians.MOST_TRIED": ("choices", 1000, 1_000_000),
    "hotspots.medians.STARTS": ("starts", 1, 50),
    "hotspots.medians.SAME": ("1, above rounding", 1e-14, 1e-9),
    "hotspots.slices.LEAST_IN_SLICE": ("calls, asked for", 50, 50),
    "hotspots.standby.MOST_POINTS": ("places", 100, 5000),
    "hotspots.standby.LEAST_TRIED_ON": ("calls", 5, 30),
    "hotspots.standby.DRAWS": ("draws", 1000, 20_000),
    "hotspots.surface.ALPHA": ("share of maps", 0.05, 0.05),
    "hotspots.surface.REACH": ("bandwidths", 3, 6),
    "hotspots.surface.STEPS": ("squares to a bandwidth", 3, 8),
    "hotspots.surface.MOST_SQUARES": ("squares", 10_000, 1_000_000),
    "hotspots.surface.LEAST_HOMES": ("homes", 10, 100),
    "hotspots.surface.LEAST_EXPECTED": ("calls", 0.5, 5),
    "hotspots.surface.REPLICATES": ("maps, asked for", 999, 999),
    "hotspots.supplied.TOUCH_M": ("m", 0.01, 10),
    "hotspots.supplied.MOST_OVERLAP": ("share of area", 0.0001, 0.05),
    # the planner
    "planning.weights.FLOOR": ("1, design", 0.01, 0.01),
    "planning.scoring.STEPS": ("per 1, design", 1_000_000, 1_000_000),
    "planning.scoring._PIXEL_ERROR": ("pixels", 0.001, 0.25),
    "planning.setting.SEPARATION_M": ("m, design", 150, 150),
    "planning.setting.DETOUR": ("1, asked for", 1.4, 1.4),
    "planning.setting.DRIVE_KMH": ("km/h, asked for", 40, 40),
    "planning.setting.WALK_M": ("m, asked for", 200, 200),
    "planning.setting.WALK_KMH": ("km/h, asked for", 3, 3),
    "planning.setting.S_PER_KMH": ("s for a metre at 1 km/h", 3.6, 3.6),
    "planning.clockwork.AHEAD_H": ("h", 24, 72),
    "planning.clockwork.HOUR_S": ("s", 3600, 3600),
    "measure.timetable.STAY_S": ("s, design: 45 min", 2700, 2700),
    "measure.timetable.ARRIVAL_ERROR_S": ("s, 25 mm at 0.126 s/m", 0.0032, 0.02),
    "measure.timetable.MINUTE_S": ("s", 60, 60),
    "measure.timetable.EARTH_RADIUS_LOW_M": ("m, below b²/a of WGS 84", 6_335_000, 6_357_000),
    "measure.consent.CRACK_M": ("m, as for gaps between areas", 0.05, 0.05),
    "planning.prepared.NO_CIRCLE_M": ("m, design", 2000, 2000),
    "planning.prepared.LEAST_CIRCLE_M": ("m, design", 1000, 1000),
    "planning.prepared.MOST_CIRCLE_M": ("m, design", 5000, 5000),
    "planning.site_details.COVER_SEARCH_M": ("m", 20, 200),
    "planning.site_details.COVERED": ("fraction", 0.3, 0.8),
    "planning.site_details.AWAY_DEG": ("°", 30, 90),
    "planning.cautions.OLD_GROUND_DAYS": ("d", 365, 3653),
    "planning.plan._EDGE_CELLS": ("cells", 2, 10),
    "planning.plan.MOST_CELLS": ("cells, a circle of 25 km at 10 m", 20_000_000, 100_000_000),
    "cli.job.TOP": ("sites, design", 5, 5),
    "review.spot_hours.AHEAD_S": ("s, two days", 172_800, 172_800),
    "review.bulk_clock.DAY_S": ("s", 86_400, 86_400),
    "review.bulk_clock.SUN_ERROR_DEG": ("°, above the Almanac's 0.01", 0.01, 0.05),
    "review.bulk_clock._NOON_2000": ("POSIX s of J2000.0", 946_728_000, 946_728_000),
    "review.bulk_ground.GUARD_M": ("m, far above rounding, far below a millimetre", 1e-7, 1e-5),
    "review.bulk_screen._ROUNDING_M": ("m", 0.001, 0.05),
    "review.bulk_screen.BEYOND_M": ("m", 1000, 20_000),
    "review.bulk_clauses._GUARD_S": ("s, above rounding of POSIX seconds in 64 bits", 1e-6, 1e-4),
    "review.bulk_times._HOUR_S": ("s", 3600, 3600),
    "review.bulk_times._SLIP_S": ("s, as in TimeCondition.demand", 0.999, 0.999),
    "review.bulk_times._GUARD_S": ("s", 1e-6, 5e-4),
    "review.bulk_times._TURN_DEG": ("°, above a second and a hundredth of the sky's turn", 0.0043, 0.02),
    "review.bulk_times._CHANGE_S": ("s, above a second's slip", 2, 60),
    "review.bulk_times._DAY_LONG_S": ("s, above 25 h", 90_000, 172_800),
    "review.probability.R95_IN_SIGMAS": ("sigmas per axis", 2.44770, 2.44780),
    "cli.check_options.COLDEST_C": ("°C, of the air", -60, -60),
    "cli.check_options.HOTTEST_C": ("°C, of the air", 60, 60),
    "cli.check_show._FAR_M": ("m", 500, 5000),
    "measure.scene._NOWHERE_M": ("m, beyond any plane of a region", 1e7, 1e9),
    # maps
    "maps.hours._MINUTE": ("s", 60, 60),
    "maps.share.MINUTE": ("min", 1, 1),
    "maps.share.COARSE_MINUTES": ("min", 5, 15),
    "maps.timeline.HOURS": ("h, as far as the plan looks ahead", 48, 48),
    "maps.timeline.HOUR_S": ("s", 3600, 3600),
    "maps.timeline.TICK_H": ("h", 3, 12),
    "maps.timeline._NEAR_S": ("s, half a day", 43_200, 43_200),
    "maps.ground_from_region.SIMPLIFIED_M": ("m", 0.05, 2),
    "maps.ground_from_region.AROUND_M": ("m", 200, 5000),
    "maps.ground_sketch.MICRO": ("per °, 6 decimals", 1_000_000, 1_000_000),
    "maps.share.STEP_M": ("m", 50, 1000),
    "maps.words.COARSE_M": ("m", 1, 10),
    "maps.audit_map._LEAST_M": ("m", 100, 1000),
    "maps.audit_sketch._LEAST_REACH_M": ("m", 100, 1000),
    "maps.audit_sketch._CLOSE_REACH_M": ("m", 50, 300),
    "review.release_sites.SAME_SITE_M": ("m", 100, 100),
    # time
    "clock.FIRST_YEAR": ("year", 1900, 1950),
    "clock.LAST_YEAR": ("year", 2050, 2100),
    "permit.permit_file._DAY": ("s", 86_400, 86_400),
    "permit.time_kinds.SECONDS_PER_HOUR": ("s", 3600, 3600),
    "permit.time_kinds.TOLERANCE_H": ("h, one second", 1 / 3600, 1 / 3600),
    "permit.time_kinds.REACH_H": ("h, more than a day", 25, 72),
    "records.remarks.HELD_H": ("h, a day", 24, 24),
    "records.remarks.LATE_H": ("h, a week", 168, 168),
    "records.remarks._LEAST_NUMBERED": ("ids", 3, 3),
    "records.remarks._SECOND": ("s", 1, 1),
    "records.finished_workbook._MOST_CHARACTERS": ("characters of a cell", 32_767, 32_767),
    "records.database.PATIENCE_S": ("s", 5, 60),
    "records.return_periods._DAY": ("s", 86_400, 86_400),
    "records.held._MOST_NAMED": ("captures in a message", 10, 50),
    "records.source.MOST_FAULTS": ("faults listed", 20, 200),
    "measure.exact._PAIRS": ("distances at once", 1000, 10_000_000),
    "review.together.MOST_TOGETHER": ("records", 64, 65_536),
    "review.together._SHARE": ("1, a part of the records", 16, 256),
    "review.auditing._METRES_PER_DEGREE": ("m, less than 110,574 m at the equator", 100_000, 110_574),
    "permit.time_kinds.NEAR_H": ("h, whole steps of 20 min", 6, 12),
    "permit.time_kinds.TWILIGHT_DEG": ("°, nautical twilight", 6, 18),
    "permit.record_hours.TOLERANCE_S": ("s, as for the clauses of time", 1, 1),
    "permit.record_hours._HOUR_S": ("s", 3600, 3600),
    "permit.record_hours._MINUTE_S": ("s", 60, 60),
    "spans._DAY_S": ("s", 86_400, 86_400),
    "spans._STEP_S": ("s", 3600, 518_400),
    "sun.HORIZON_DEG": ("°, 50′", -0.83335, -0.8333),
    "sun._STEP_S": ("s", 60, 3600),
    "sun._FASTEST_DEG_S": ("°/s, a turn in a sidereal day", 360 / 86_164.1, 0.0043),
    "sun._STEP_DEG": ("°, that a step changes the altitude at most", 5, 5.1),
    "sun._ASIDE_S": ("s, well below the sharpness", 0.0005, 0.003),
    "sun._SHARP_S": ("s", 0.001, 0.05),
    "sun._PEAK_S": ("s", 0.1, 5),
    "sun._GOLDEN": ("1, its square is 1 less itself", 0.618033, 0.618034),
    "sun._EPOCH_D": ("d, 1970-01-01 0 h from 1899-12-31 12 h", 25_567.5, 25_567.5),
    # published figures
    "hotspots.public_units.LATTICE_M": ("m", 50, 250),
    "hotspots.public_units.BORDER_M": ("m, whole squares", 500, 2000),
    "hotspots.public_units.LEAST_DWELLINGS": ("dwellings, asked for", 500, 500),
    "hotspots.public_units.FLOOR_DWELLINGS": ("dwellings, asked for", 100, 100),
    "hotspots.public_units.MOST_M": ("m, beyond the corners of 150 km", 106_000, 200_000),
    "hotspots.public_choice.YEAR_MONTHS": ("months", 12, 12),
    "hotspots.public_choice.MOST_SEASONS": ("seasons", 10, 50),
    "hotspots.public_store._KILOMETRE": ("m", 1000, 1000),
    "hotspots.public_store._DEGREE_DECIMALS": ("digits, 11 mm", 7, 7),
    "hotspots.public._MILLIONTHS": ("1, a thousandth of calls per 1,000", 10**6, 10**6),
    # most that a file may say
    "permit.fields.MOST_M": ("m, half a meridian", 2.0003e7, 2.0005e7),
    "permit.fields.MOST_HA": ("ha, the land of the Earth", 1.4e10, 1.6e10),
    "permit.fields.MOST_HOURS": ("h, a leap year", 8784, 8784),
    "permit.fields.MOST_DAYS": ("d, a century", 36_525, 36_525),
}
PLAIN = {
    # counts of characters, bytes, items, codes: a unit of their own each, and no physics
    "cli.app.USAGE_EXIT": (2, 2),
    "cli.batch._MOST_OF_A_NAME": (20, 200),
    "cli.failures.INTERRUPTED": (130, 130),
    "cli.failures.TERMINATED": (143, 143),
    "cli.failures.PIPE_CLOSED": (141, 141),
    "cli.failures.INTERNAL": (70, 70),
    "cli.permit_new._ATTENTION": (1, 1),
    "cli.permit_new._HANGUP": (129, 129),
    "cli.permit_show.NARROWEST": (30, 60),
    "cli.permit_show.WIDEST": (100, 140),
    "cli.permit_show._LABEL": (11, 14),
    "cli.show.WIDE": (80, 300),
    "cli.terminal._DIGITS": (3, 9),
    "ground.osm_geometry._MULTIPOLYGON": (6, 6),
    "ground.osm_geometry._LEAST_RING": (4, 4),
    "ground.osm_pbf._WAY": (1, 1),
    "ground.osm_protobuf.MOST_HEADER": (2**16, 2**16),
    "ground.osm_protobuf.MOST_BLOB": (2**25, 2**25),
    "ground.osm_read.NODE": (0, 0),
    "ground.osm_read.WAY": (1, 1),
    "ground.osm_read.RELATION": (2, 2),
    "ground.osm_report._NAMED": (3, 20),
    "ground.rasters.MOST_PIXELS": (10**8, 10**9),
    "ground.rasters._MOST_VALUE": (1e30, 3.4e38),
    "ground.reading._MOST_EDGES": (10**6, 10**8),
    "ground.reading._MOST_HOMES": (1e4, 1e7),
    "ground.reading._MOST_PRIORITY": (1e6, 2**53),
    "ground.region._MOST_KEPT": (32, 4096),
    "ground.region_file._MOST_NAME": (200, 5000),
    "ground.region_file._MOST_PART": (255, 255),
    "hotspots.bands._PER": (1000, 1000),
    "hotspots.edges.WITHIN": (-1, -1),
    "hotspots.edges.BEYOND": (-2, -2),
    "hotspots.when.MONTHS": (12, 12),
    "hotspots.when.HOURS": (24, 24),
    "hotspots.circular.LEAST": (30, 30),
    "hotspots.circular._STEPS": (96, 1440),
    "hotspots.repeats.REPLICATES": (999, 999),
    "hotspots.public_units._COLUMNS": (0, 0),
    "hotspots.search._MAPS": (16, 256),
    "hotspots.public_units._ROWS": (1, 1),
    "hotspots.public_units._MOST_NAMED": (3, 20),
    "maps.plan_files._HEAD": (1000, 10_000),
    "maps.audit_outputs._HEAD": (1000, 10_000),
    "records.filed_returns._HEAD": (1000, 10_000),
    "cli.check_talk._MOST_WORDS": (100, 5000),
    "maps.ground_from_region.MOST_DATES": (1, 10),
    "maps.audit_findings.MOST_MAPPED": (50, 1000),
    "maps.audit_map.MOST_MARKS": (500, 10_000),
    "maps.audit_map._AIR": (0.01, 0.2),
    "maps.audit_plots.WIDTH": (300, 360),
    "maps.audit_plots.MOST_MONTHS": (24, 48),
    "maps.audit_plots.MOST_INTERVALS": (200, 1000),
    "maps.audit_plots._ROW": (20, 60),
    "maps.audit_plots._BAR": (8, 30),
    "maps.audit_plots._TALL": (80, 300),
    "maps.audit_plots._TOP": (10, 40),
    "maps.audit_plots._FOOT": (10, 40),
    "maps.audit_plots._LEFT": (20, 60),
    "maps.audit_plots._LABELLED": (1, 10),
    "maps.audit_sketch.WIDE": (240, 480),
    "maps.audit_sketch.HIGH": (180, 480),
    "maps.audit_sketch.TENTHS": (10, 10),
    "maps.audit_sketch._AIR": (1.1, 1.6),
    "maps.audit_sketch._FINER_PX": (0.1, 1),
    "maps.audit_sketch._DOT_PX": (1, 4),
    "maps.timeline.WIDTH": (300, 360),
    "maps.timeline._HEAD": (20, 100),
    "maps.timeline._ROW": (20, 60),
    "maps.timeline._BAR": (8, 30),
    "maps.timeline._TEXT": (12, 20),
    "maps.plan_map.SCORE_STEPS": (3, 9),
    "maps.plan_map.SCORE_ALPHA": (64, 255),
    "maps.warp.KNOTS": (5, 100),
    "permit.asking.calendar_answers._NOON": (12, 12),
    "permit.asking.head._MOST_NEAR": (3, 12),
    "permit.explain.MOST_FAULTS": (20, 1000),
    "permit.fields.MOST_COUNT": (10**5, 10**7),
    "permit.fields._SHORT": (100, 500),
    "permit.fields._LONG": (1000, 10_000),
    "permit.plain.trade._SHORTEST": (2, 4),
    "permit.toml_file.MOST_BYTES": (10**6, 10**7),
    "planning.plan.MOST_WAITING": (3, 3),
    "planning.areas_removed.MET": (0, 0),
    "planning.areas_removed.UNDECIDED": (1, 1),
    "planning.areas_removed.RULED_OUT": (2, 2),
    "planning.inputs._MOST_COUNT_DIGITS": (3, 9),
    "planning.obstacles._BATCH": (64, 4096),
    "planning.obstacles._MOST": (4096, 100_000),
    "planning.parallel.WORKERS": (1, 64),
    "planning.search._BATCH": (16, 4096),
    "planning.search._FIRST": (256, 65_536),
    "records.database._WRITERS": (1, 2**63 - 1),
    "records.states._AT_ONCE": (100, 999),
    "review.bulk.BATCH": (1024, 2**20),
    "review.bulk_clauses._KEYS": (13, 100),
    "review.bulk_ground.UNDECIDED": (255, 255),
    "review.bulk_screen.MOST_CELLS": (10**6, 10**7),
    "review.bulk_screen._MOST_KEPT": (20, 100),
    "species.animal.MOST_DIGITS": (3, 9),
    "tables.MAX_CELL": (10**4, 10**7),
}


def constants() -> Iterator[tuple[str, float]]:
    """Yield every number, or span of time in seconds, that a module of the package names in capitals."""
    for path in sorted(ROOT.rglob("*.py")):
        parts = path.relative_to(ROOT).with_suffix("").parts
        if parts[-1] in ("__main__", "__init__"):
            continue
        module = importlib.import_module(".".join(("tussock", *parts)))
        for name in _named(path):
            value = getattr(module, name)
            if isinstance(value, timedelta):
                value = value.total_seconds()
            if isinstance(value, int | float) and not isinstance(value, bool):
                yield ".".join((*parts, name)), float(value)


def _named(path: Path) -> Iterator[str]:
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        targets = (
            node.targets
            if isinstance(node, ast.Assign)
            else [node.target]
            if isinstance(node, ast.AnnAssign)
            else []
        )
        for target in targets:
            for element in target.elts if isinstance(target, ast.Tuple) else [target]:
                if isinstance(element, ast.Name) and element.id.isupper():
                    yield element.id


FOUND = dict(constants())


@pytest.mark.parametrize("name", FOUND)
def test_a_constant_is_in_its_range(name: str) -> None:
    assert name in EXPECTED or name in PLAIN, f"{name} = {FOUND[name]}: enter it here with its unit and range"
    low, high = EXPECTED[name][1:] if name in EXPECTED else PLAIN[name]
    assert low <= FOUND[name] <= high


def test_no_constant_is_entered_that_is_not_there() -> None:
    assert (EXPECTED.keys() | PLAIN.keys()) - FOUND.keys() == set()
