"""Asking for the upgrade: the answer of the command, and what every sum buys."""

import re
import time

from desk_at_work import AtWork, Reply

RIG = "/ask/parts_demo/rigs/nano_60.toml"
WAIT_S = 60.0


def answered(desk: AtWork, path: str) -> Reply:
    """What a page holds once nothing on it is being worked out any more."""
    end = time.monotonic() + WAIT_S
    while time.monotonic() < end:
        reply = desk.get(path)
        if 'class="far"' not in reply.text and 'class="later" data-from' not in reply.text:
            return reply
        time.sleep(0.2)
    raise AssertionError(f"{path} is not answered")


def values(text: str) -> list[float]:
    """The stored values of all numbers in a piece of a page."""
    return [float(each) for each in re.findall(r'<data value="([^"]+)">', text)]


def test_an_amount_that_is_none_is_told_beside_its_field(desk: AtWork) -> None:
    """What was typed stays, and nothing is asked."""
    reply = desk.get(f"{RIG}?budget=much")
    assert reply.status == 422
    assert 'value="much"' in reply.text
    assert "is not an amount of money" in reply.text


def test_the_answer_holds_every_sum_of_the_front(desk: AtWork) -> None:
    """Prices rise from row to row, and one is the advised step."""
    text = answered(desk, f"{RIG}?budget=100").text
    table = text.partition('id="sum-rows"')[2].partition("</table>")[0]
    prices = [values(row)[0] for row in table.split("<tr data-x")[1:]]
    assert prices == sorted(prices)
    assert len(prices) > 10
    assert table.count("advised") == 1
