"""House rules at first use: confirmed on a terminal, said in a script."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from tussock.cli import terminal
from tussock.cli.failures import say
from tussock.cli.settings import NAME, Settings
from tussock.files import Outbox
from tussock.permit.condition import Condition
from tussock.permit.house_rules import SHIPPED, HouseRules


def settled(rules: HouseRules, settings: Settings) -> Settings:
    """Return the settings after the shipped rules were confirmed, or said to apply.

    On a terminal the user is asked once; yes writes them into tussock.toml. They apply either way: a
    stricter condition that nobody has refused stays.
    """
    if not rules.shipped:
        return settings
    if not terminal.interactive():
        head = f"House rules (shipped, a judgement and not law; put your own into {NAME})"
        say(f"{head}: {summary(rules.conditions)}.")
        return settings
    say("House rules, stricter than any permit, a judgement and not law:")
    for rule in rules.conditions:
        say(f"  - {line(rule)}")
    if not terminal.confirm(f"Keep them as yours and write them into {NAME}?"):
        say(f"They apply to this plan and nothing was written. To change them, put your own into {NAME}.")
        return settings
    path = settings.path or Path.cwd() / NAME
    _add(path)
    say(f"Written: {path}")
    return replace(settings, path=path, has_house_rules=True)


def line(rule: Condition) -> str:
    """Return a rule as its name, its limit and its words."""
    return f"{_short(rule)}: {rule.text or rule.words()}"


def summary(rules: tuple[Condition, ...]) -> str:
    """Return all rules in one line."""
    return "; ".join(_short(rule) for rule in rules) or "none"


def _short(rule: Condition) -> str:
    limit = getattr(rule, "limit_m", None)
    name = rule.id.removeprefix("house:").strip()
    return name if limit is None else f"{name} {limit:g} m"


def _add(path: Path) -> None:
    """Write the shipped rules below what tussock.toml holds."""
    before = path.read_text(encoding="utf-8-sig") if path.exists() else ""
    with Outbox(lambda _: True) as outbox:
        outbox.stage(path, f"{before.rstrip()}\n\n{SHIPPED.read_text(encoding='utf-8')}".lstrip())
        outbox.send()
