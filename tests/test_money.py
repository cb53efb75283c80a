"""Prices are read exactly into minor units, and everything doubtful is refused with a cure."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimizer.money import MoneyError, parse_money, show_money


def _outcome(value: object) -> int | MoneyError:
    try:
        return parse_money(value)
    except MoneyError as error:
        return error


LIKE = 'Write for example "12.50".'


@pytest.mark.parametrize(
    ("value", "minor"),
    [
        ("12.50", 1250),
        ("12.5", 1250),
        ("12", 1200),
        ("12,50", 1250),
        ("12,5", 1250),
        (" 12.50 ", 1250),
        ("0", 0),
        ("-0", 0),
        ("+3.20", 320),
        ("0,12", 12),
        ("007.10", 710),
        (12, 1200),
        (0, 0),
        (12.5, 1250),
        (0.1, 10),
        (19.99, 1999),
        (1.15, 115),
        (-0.0, 0),
        ("1000000000", 100_000_000_000),
        (10**9, 100_000_000_000),
    ],
)
def test_amounts_are_read_exactly(value: object, minor: int) -> None:
    result = parse_money(value)
    assert result == minor
    assert type(result) is int


@pytest.mark.parametrize(
    ("value", "message"),
    [
        ("-1", '"-1" is negative. Write 0 or more, for example "12.50".'),
        (-0.5, '"-0.5" is negative. Write 0 or more, for example "12.50".'),
        ("12.505", '"12.505" has more than two decimals. Write at most two, for example "12.50".'),
        (
            0.1 + 0.2,
            '"0.30000000000000004" has more than two decimals. Write at most two, for example "12.50".',
        ),
        (1e-7, '"1e-07" has more than two decimals. Write at most two, for example "12.50".'),
        ("0,125", '"0,125" has more than two decimals. Write at most two, for example "12.50".'),
        (
            "1,200",
            '"1,200" can be read with a thousands comma or with a decimal comma. Write "1200" or "1.20".',
        ),
        ("1000000000.01", f'"1000000000.01" is more than 1000000000. {LIKE}'),
        (1e22, f'"1e+22" is more than 1000000000. {LIKE}'),
        (10**5000, f"the amount is more than 1000000000. {LIKE}"),
        (-(10**5000), f"the amount is negative. {LIKE}"),
        ("nan", f'"nan" is not a finite number. {LIKE}'),
        (float("nan"), f'"nan" is not a finite number. {LIKE}'),
        (float("-inf"), f'"-inf" is not a finite number. {LIKE}'),
        ("$12", '"$12" names a currency. Write the number alone, for example "12.50".'),
        ("12.50 EUR", '"12.50 EUR" names a currency. Write the number alone, for example "12.50".'),
        ("€ 12,50", '"€ 12,50" names a currency. Write the number alone, for example "12.50".'),
        ("", f"the amount is empty. {LIKE}"),
        ("  ", f"the amount is empty. {LIKE}"),
        ("free", f'"free" is not an amount of money. {LIKE}'),
        ("12.", f'"12." is not an amount of money. {LIKE}'),
        ("1 200", f'"1 200" is not an amount of money. {LIKE}'),
        ("1.200,50", f'"1.200,50" is not an amount of money. {LIKE}'),
        ("٣", f'"٣" is not an amount of money. {LIKE}'),
        ("1" * 41, f'"{"1" * 41}" is longer than 40 characters. {LIKE}'),
        (True, f"this is not an amount of money. {LIKE}"),
        (None, f"this is not an amount of money. {LIKE}"),
        ([12], f"this is not an amount of money. {LIKE}"),
    ],
    ids=itertools.count(),
)
def test_doubtful_amounts_are_refused_with_a_cure(value: object, message: str) -> None:
    with pytest.raises(MoneyError) as caught:
        parse_money(value)
    assert str(caught.value) == message
    assert f"{caught.value.what} {caught.value.cure}" == message


@pytest.mark.parametrize(("minor", "text"), [(1250, "12.50"), (5, "0.05"), (0, "0.00"), (-1250, "-12.50"), (-5, "-0.05")])
def test_amounts_are_shown_with_two_decimals(minor: int, text: str) -> None:
    assert show_money(minor) == text


@given(st.integers(min_value=0, max_value=10**11))
def test_what_is_shown_is_read_back(minor: int) -> None:
    assert parse_money(show_money(minor)) == minor
    assert parse_money(show_money(minor).replace(".", ",")) == minor


@given(st.integers(min_value=0, max_value=10**9))
def test_a_float_price_is_taken_at_the_decimal_it_was_written_as(minor: int) -> None:
    assert parse_money(minor / 100) == minor


@given(st.one_of(st.text(), st.integers(), st.floats(), st.text("0123456789.,-+ e€", max_size=12)))
def test_any_value_gives_an_amount_or_a_money_error(value: object) -> None:
    outcome = _outcome(value)
    if isinstance(outcome, MoneyError):
        assert outcome.what.endswith(".")
        assert outcome.cure.startswith("Write ")
    else:
        assert 0 <= outcome <= 10**11
