"""Layers and legend in one list: a switch, a swatch and words."""

from __future__ import annotations

from html import escape

from tussock.maps.card_words import NEAREST_SIGN
from tussock.maps.ground_sketch import GroundSketch, by_class, layer_names
from tussock.maps.ground_style import REASON_PATTERNS, Style, layer_words, style_of
from tussock.maps.marks import framed, swatch
from tussock.maps.plan_map import (
    CIVIDIS,
    HATCH,
    REASON,
    SCORE_ALPHA,
    VEIL,
    reason_keys,
    reason_layer,
    shown_sites,
)
from tussock.maps.words import THE_CLOCK, clause_name
from tussock.planning.record import HOUSE_RULE, Plan, Removed

SCORE_WORDS = ("0–0.2", "0.2–0.4", "0.4–0.6", "0.6–0.8", "0.8–1")


def legend(plan: Plan, ground: GroundSketch) -> str:
    """Return the fold-out list of everything on the map; user text escaped."""
    answer = _answer_rows(plan)
    reasons = "".join(_reason_row(k, key, plan) for k, key in enumerate(reason_keys(plan)))
    single = f"<fieldset><legend>Single reasons</legend>{reasons}</fieldset>" if reasons else ""
    land = "".join(ground_rows(name, ground) for name in layer_names(ground))
    return (
        '<details class="legend"><summary>Layers and legend</summary><div class="legend-body">'
        f"<fieldset><legend>The answer</legend>{answer}</fieldset>{single}"
        f"<fieldset><legend>Ground, as mapped</legend>{land}</fieldset></div></details>"
    )


def key_line(plan: Plan) -> str:
    """Return the one line beneath the map that must be read without opening anything."""
    signs = {sign for _, sign, _ in shown_sites(plan)}
    sites = '<span><b class="dot">1</b> site, best first</span>' if plan.sites else ""
    if NEAREST_SIGN in signs:
        sites += f'<span><b class="dot">{NEAREST_SIGN}</b> the nearest place that meets everything</span>'
    if plan.needs_consent:
        sites += '<span><b class="square">A</b> needs consent first</span>'
    veil, hatch = (
        swatch(Style("", VEIL[:2]), "k-veil"),
        swatch(Style("", None, "not known", HATCH), "k-hatch"),
    )
    return (
        f'<p class="key">{sites}'
        '<span><b class="plus">+</b> capture</span>'
        f"<span>{veil} ruled out</span>{_scale_key(plan)}<span>{hatch} not known</span></p>"
    )


def _scale_key(plan: Plan) -> str:
    """Return the five steps of the score side by side; empty where no score is drawn."""
    if plan.rasters is None or not plan.sites:
        return ""
    opaque = SCORE_ALPHA / 255
    steps = "".join(
        f'<rect x="{9 * k}" width="9" height="18" fill="rgb({r},{g},{b})" fill-opacity="{opaque:.2f}"/>'
        for k, (r, g, b) in enumerate(CIVIDIS)
    )
    box = f'<svg class="swatch" viewBox="0 0 45 18" width="45" height="18" aria-hidden="true">{steps}</svg>'
    return f"<span>suits less {box} more</span>"


def _answer_rows(plan: Plan) -> str:
    rows = switch_row(
        "veil", swatch(Style("", VEIL[:2]), "l-veil"), "Ruled out by a clause, or outside the circle"
    )
    rows += switch_row(
        "unknown",
        swatch(Style("", None, "not known", HATCH), "l-hatch"),
        "Not known: unmapped, or beyond the data",
    )
    if plan.rasters is not None:
        rows += switch_row("score", "", "How suitable at best, in five steps")
        rows += f'<p class="steps">{"".join(_step(k) for k in range(len(SCORE_WORDS)))}</p>'
    return rows


def _step(k: int) -> str:
    r, g, b = CIVIDIS[k]
    fill = f'fill="rgb({r},{g},{b})" fill-opacity="{SCORE_ALPHA / 255:.2f}"'
    box = framed(f'<rect width="30" height="18" {fill}/>')
    return f"<span>{box} {SCORE_WORDS[k]}</span>"


def _reason_row(k: int, key: str, plan: Plan) -> str:
    style = Style("", None, REASON_PATTERNS[k % len(REASON_PATTERNS)], REASON)
    return switch_row(reason_layer(key), swatch(style, f"l-reason-{k}"), reason_name(key, plan))


def reason_name(key: str, plan: Plan) -> str:
    """Return a single reason's name: the clause as printed, its text, and whose it is."""
    source, _, clause = key.rpartition("|")
    known: Removed | None = next((r for r in plan.removed if f"{r.source}|{r.id}" == key), None)
    words = f": {known.text}" if known and known.text else ""
    name = clause_name(source, clause)
    return f"{name[0].upper()}{name[1:]}{words}" + (
        "" if source in (HOUSE_RULE, THE_CLOCK) else f" ({source})"
    )


def ground_rows(name: str, ground: GroundSketch) -> str:
    """Return a layer of the ground with the classes drawn of it."""
    groups = list(by_class(ground.layers[name]))
    dates = f": {ground.dates[name]}" if name in ground.dates else ""
    styles = {style_of(name, c).words: (style_of(name, c), c) for c in groups}
    if len(styles) == 1:
        words, (style, _) = next(iter(styles.items()))
        label = (
            layer_words(name)
            if words.lower() in layer_words(name).lower()
            else f"{layer_words(name)}: {words}"
        )
        return switch_row(name, swatch(style, f"g-{_key(name)}"), label + dates)
    parts = "".join(
        f"<li>{swatch(style, f'g-{_key(name)}-{k}')} {escape(words)}</li>"
        for k, (words, (style, _)) in enumerate(styles.items())
    )
    return switch_row(name, "", layer_words(name) + dates) + f'<ul class="classes">{parts}</ul>'


def _key(name: str) -> str:
    """Return an id part without a character that could end an attribute or a url()."""
    return "".join(c if c.isascii() and c.isalnum() else f"-{ord(c):x}" for c in name)


def switch_row(layer: str, picture: str, words: str) -> str:
    """Return a layer's switch with its swatch and words."""
    box = f'<input type="checkbox" data-layer="{escape(layer)}">'
    return f"<label>{box} {picture}<span>{escape(words)}</span></label>"
