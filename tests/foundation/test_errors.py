"""Errors: what was found, where, what is allowed, what to do; all faults of an input in one list."""

from __future__ import annotations

import unicodedata

import hypothesis.strategies as st
import pytest
from hypothesis import given

from tests.support.profiles import examples
from tussock.errors import Faults, InputError, MissingDataError, TussockError, UsageError, together


def collected(*found: str) -> Faults:
    faults = Faults()
    for text in found:
        faults.add(text, where="captures.csv, row 3", allowed="a date", fix="write it so")
    return faults


def raised(faults: Faults, *, most: int = 20) -> InputError:
    with pytest.raises(InputError) as error:
        faults.raise_if_any(most=most)
    return error.value


def test_the_four_parts_in_their_order() -> None:
    error = InputError("'x' is not a date", where="a.csv, row 3", allowed="yyyy-mm-dd", fix="write it so")
    assert str(error) == "a.csv, row 3: 'x' is not a date. Allowed: yyyy-mm-dd. Do: write it so."
    facts = (error.found, error.where, error.allowed, error.fix)
    assert facts == ("'x' is not a date", "a.csv, row 3", "yyyy-mm-dd", "write it so")


def test_parts_that_are_not_given_leave_no_trace_and_full_stops_stand_once() -> None:
    assert str(InputError("it is empty")) == "it is empty."
    assert str(InputError("it is empty.", fix="fill it in.")) == "it is empty. Do: fill it in."
    assert str(InputError("it is empty", allowed="rows")) == "it is empty. Allowed: rows."


@pytest.mark.parametrize(
    ("kind", "builtin", "code"),
    [(InputError, ValueError, 3), (UsageError, ValueError, 2), (MissingDataError, LookupError, 4)],
)
def test_one_root_and_an_exit_code_each(
    kind: type[TussockError], builtin: type[Exception], code: int
) -> None:
    with pytest.raises(builtin) as error:
        raise kind("found")
    assert isinstance(error.value, TussockError)
    assert error.value.exit_code == code


def test_without_a_fault_nothing_is_raised() -> None:
    Faults().raise_if_any()


def test_one_fault_is_raised_as_it_is() -> None:
    faults = collected("it is empty")
    error = raised(faults)
    assert error is faults.items[0]
    assert error.parts == ()


def test_several_faults_are_one_list_in_the_order_found() -> None:
    error = raised(collected("first", "second", "third"))
    tail = ". Allowed: a date. Do: write it so."
    assert str(error).splitlines() == [
        "3 faults",
        *(f"  - captures.csv, row 3: {word}{tail}" for word in ("first", "second")),
        f"  - captures.csv, row 3: third{tail}",
    ]
    assert [p.found for p in error.parts] == ["first", "second", "third"]


@pytest.mark.parametrize(("count", "most"), [(20, 20), (21, 20), (3, 2), (500, 20)])
def test_what_is_not_printed_is_counted_and_kept(count: int, most: int) -> None:
    words = [f"fault {k}" for k in range(count)]
    error = raised(collected(*words), most=most)
    lines = str(error).splitlines()
    assert lines[0] == f"{count} faults"
    printed = lines[1 : 1 + most]
    assert all(f": fault {k}. " in line for k, line in enumerate(printed))
    rest = [f"  - and {count - most} more."] if count > most else []
    assert (len(printed), lines[1 + most :]) == (min(count, most), rest)
    assert [p.found for p in error.parts] == words


def test_a_list_taken_into_a_list_is_flat() -> None:
    inner, outer, whole = collected("a", "b"), collected("c"), collected("e")
    outer.take(raised(inner))
    outer.take(raised(collected("d")))
    whole.take(raised(outer))
    error = raised(whole)
    assert [p.found for p in error.parts] == ["e", "c", "a", "b", "d"]
    assert all(p.parts == () for p in error.parts)
    assert str(error).count("faults") == 1
    assert len(str(error).splitlines()) == 6


def test_faults_beyond_the_printed_ones_are_taken_too() -> None:
    outer = collected("first")
    outer.take(raised(collected(*(f"fault {k}" for k in range(50))), most=1))
    assert str(raised(outer)).splitlines()[0] == "51 faults"


@pytest.mark.parametrize(
    "hidden",
    [
        "\x1b",
        "\x00",
        "\x07",
        "\b",
        "\n",
        "\r",
        "\t",
        "\x7f",
        "\x9b",
        "\u200b",
        "\u202e",
        "\u2066",
        "\u2028",
        "\ufeff",
    ],
)
def test_what_steers_a_terminal_becomes_a_space(hidden: str) -> None:
    error = InputError(f"a{hidden}b", where=f"c{hidden}d", allowed=f"e{hidden}f", fix=f"g{hidden}h")
    assert str(error) == "c d: a b. Allowed: e f. Do: g h."
    assert error.found == f"a{hidden}b"


@examples(200)
@given(texts=st.lists(st.text(max_size=20), min_size=2, max_size=5))
def test_no_printed_list_holds_a_control_character_or_a_line_of_anothers(texts: list[str]) -> None:
    """Unicode's categories: Cc, Cf, Cs, Co, Cn, Zl, Zp; only the ends of lines are left."""
    text = str(raised(collected(*texts)))
    steering = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}
    assert [c for c in text if c != "\n" and unicodedata.category(c) in steering] == []
    head, *lines = text.split("\n")
    assert head == f"{len(texts)} faults"
    assert len(lines) == len(texts)
    assert all(line.startswith("  - captures.csv, row 3: ") for line in lines)


def test_a_line_break_in_a_cell_forges_no_line() -> None:
    forged = "'2026\n  - captures.csv, row 9: all is well' is not a date"
    lines = str(raised(collected(forged, "second"))).splitlines()
    assert len(lines) == 3
    assert lines[1].startswith("  - captures.csv, row 3: '2026   - captures.csv, row 9: all is well' is not")


def test_usage_errors_are_listed_too() -> None:
    error = together([UsageError("one", where="--at"), UsageError("two", where="--now")])
    assert isinstance(error, UsageError)
    assert (error.exit_code, str(error)) == (2, "2 faults\n  - --at: one.\n  - --now: two.")
    alone = UsageError("one")
    assert together([alone]) is alone


@pytest.mark.parametrize("name", ["Żółw", "蛇", "Köhler’s", "A\u0301", "−42.1°", "🐍"])
def test_letters_of_any_script_are_left_as_they_are(name: str) -> None:
    assert str(InputError(name)) == f"{name}."
