"""A reader that answers late, garbled, in another's name or with another count: no heat, no wrong number."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.processes.conftest import House, until
from tests.survival.help import alarms, frame, heat_is_on
from tests.survival.proxy import SPOILT, Proxy, Spoil

pytestmark = [pytest.mark.wire, pytest.mark.timeout(120)]


@pytest.fixture
def between(slow_house: House) -> Iterator[Proxy]:
    """A proxy between the controller and the kiln of `slow_house`."""
    proxy = Proxy(slow_house.kiln_port)
    text = slow_house.config.read_text()
    slow_house.config.write_text(text.replace(f"port = {slow_house.kiln_port} ", f"port = {proxy.port} "))
    try:
        yield proxy
    finally:
        slow_house.end()  # first, while its controller can still take the heat off through the proxy
        proxy.close()


@pytest.mark.parametrize("spoil", SPOILT.values(), ids=SPOILT.keys())
def test_what_cannot_be_believed_ends_the_heat_and_the_firing_goes_on_afterwards(
    slow_house: House, between: Proxy, spoil: Spoil
) -> None:
    house = slow_house
    house.start()
    until(lambda: frame(house)["air"]["c"] is not None)
    house.fire()
    until(lambda: heat_is_on(house))
    between.spoil = spoil
    until(lambda: alarms(house) & {"sensor_bad", "reading_stale"})
    assert between.spoilt > 0
    assert frame(house)["air"]["c"] is None
    until(lambda: not heat_is_on(house))
    between.spoil = None
    until(lambda: not alarms(house) & {"sensor_bad", "reading_stale"})
    assert frame(house)["state"] == "running"
    until(lambda: heat_is_on(house))
    # Whatever was spoilt, no number that the kiln had not is in the record.
    measured = [row.air_c for _, row in house.record.rows(1) if row.air_c is not None]
    assert all(15.0 < c < 60.0 for c in measured)
    assert any(row.air_c is None for _, row in house.record.rows(1))
