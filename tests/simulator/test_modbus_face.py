"""The Modbus TCP face: what each unit holds, how it refuses, and how its faults show on the wire."""

from __future__ import annotations

import asyncio
import socket
import struct
from collections.abc import Awaitable, Callable
from math import isnan

import pytest
from pymodbus.client import AsyncModbusTcpClient
from pymodbus.pdu import ModbusPDU

from controller.clock import ManualClock
from controller.errors import WireError
from controller.simulator import modbus_face
from controller.simulator.faults import FAULTS, Due, number
from controller.simulator.modbus_face import ModbusFace, serve
from controller.simulator.plant import Plant

pytestmark = pytest.mark.wire

READER, HEATER, CONTACTS, PANEL = 1, 2, 3, 99
ILLEGAL_FUNCTION, ILLEGAL_ADDRESS, DEVICE_FAILURE, NO_RESPONSE = (
    1,
    2,
    4,
    11,
)  # Modbus application protocol, section 7


class Wire:
    """A kiln behind a socket, its clock in the test's hand, and a client that asks once."""

    def __init__(self, clock: ManualClock, face: ModbusFace, client: AsyncModbusTcpClient) -> None:
        self.clock, self.face, self.plant, self.client = clock, face, face.plant, client

    async def inputs(self, unit: int, address: int, count: int) -> list[int]:
        return good(await self.client.read_input_registers(address, count=count, device_id=unit)).registers

    async def discretes(self, unit: int, count: int) -> list[bool]:
        return good(await self.client.read_discrete_inputs(0, count=count, device_id=unit)).bits[:count]

    async def coils(self, unit: int, count: int) -> list[bool]:
        return good(await self.client.read_coils(0, count=count, device_id=unit)).bits[:count]

    async def coil(self, unit: int, address: int, on: bool) -> None:
        good(await self.client.write_coil(address, on, device_id=unit))

    async def register(self, unit: int, address: int, value: int) -> None:
        good(await self.client.write_register(address, value, device_id=unit))

    async def fault(self, name: str, on: bool = True) -> None:
        await self.coil(PANEL, number(name), on)


def good(answer: ModbusPDU) -> ModbusPDU:
    assert not answer.isError(), answer
    return answer


def on_the_wire(
    test: Callable[[Wire], Awaitable[None]], *, due: tuple[Due, ...] = (), start_c: float = 20.0
) -> None:
    async def main() -> None:
        clock = ManualClock(now_s=1000.0)
        plant = Plant(start_c=start_c, water_kg=0.0, plastic_kg=0.0, noise_k=0.0)
        face = ModbusFace(plant, clock.now_s, due)
        server, port = await serve(face, 0)
        client = AsyncModbusTcpClient("127.0.0.1", port=port, timeout=5.0, retries=0, reconnect_delay=0)
        try:
            assert await client.connect()
            await test(Wire(clock, face, client))
        finally:
            client.close()
            await server.shutdown()

    asyncio.run(main())


def signed(word: int) -> int:
    return word - 0x10000 if word & 0x8000 else word


def test_the_reader_gives_tenths_of_a_degree() -> None:
    async def test(wire: Wire) -> None:
        assert await wire.inputs(READER, 0, 4) == [2500, 2500, 2500, 430]

    on_the_wire(test, start_c=250.0)


def test_the_reader_gives_floats_in_both_orders_of_their_words() -> None:
    async def test(wire: Wire) -> None:
        big = await wire.inputs(READER, 10, 6)
        assert struct.unpack(">fff", struct.pack(">6H", *big)) == (250.0, 250.0, 250.0)
        swapped = await wire.inputs(READER, 20, 6)
        assert swapped == [big[1], big[0], big[3], big[2], big[5], big[4]]

    on_the_wire(test, start_c=250.0)


@pytest.mark.parametrize(
    ("fault", "code"), [("air_open", 32767), ("air_short", -32768), ("air_reversed", -32768)]
)
def test_a_thermocouple_without_a_reading_gives_its_code_and_no_number(fault: str, code: int) -> None:
    async def test(wire: Wire) -> None:
        await wire.fault(fault)
        tenths = [signed(word) for word in await wire.inputs(READER, 0, 3)]
        assert tenths == [code, 4000, 4000]
        air, load = struct.unpack(">ff", struct.pack(">4H", *await wire.inputs(READER, 10, 4)))
        assert isnan(air)
        assert load == 400.0

    on_the_wire(test, start_c=400.0)


def test_below_freezing_is_two_s_complement() -> None:
    async def test(wire: Wire) -> None:
        await wire.fault("air_reversed")
        assert [signed(word) for word in await wire.inputs(READER, 0, 1)] == [-440]

    on_the_wire(test, start_c=100.0)


def test_heat_and_main_contactor_are_coils_that_read_back() -> None:
    async def test(wire: Wire) -> None:
        assert await wire.coils(HEATER, 2) == [False, False]
        await wire.coil(HEATER, 0, True)
        assert await wire.discretes(HEATER, 2) == [True, False]
        await wire.coil(HEATER, 1, True)
        assert await wire.coils(HEATER, 2) == [True, True]
        assert wire.plant.power_w == 6500.0
        await wire.coil(HEATER, 0, False)
        assert await wire.discretes(HEATER, 2) == [False, True]
        assert wire.plant.power_w == 0.0

    on_the_wire(test)


def test_several_coils_are_written_at_once() -> None:
    async def test(wire: Wire) -> None:
        good(await wire.client.write_coils(0, [True, True], device_id=HEATER))
        assert wire.plant.power_w == 6500.0

    on_the_wire(test)


def test_the_lease_lives_behind_the_wire() -> None:
    async def test(wire: Wire) -> None:
        await wire.register(HEATER, 0, 6000)
        await wire.coil(HEATER, 1, True)
        await wire.coil(HEATER, 0, True)
        wire.clock.advance(5.0)
        await wire.coil(HEATER, 0, True)
        wire.clock.advance(5.0)
        assert await wire.coils(HEATER, 2) == [True, True]
        wire.clock.advance(1.5)
        assert await wire.coils(HEATER, 2) == [False, True]
        assert await wire.discretes(HEATER, 2) == [False, True]
        assert (await wire.inputs(PANEL, 4, 2)) == [1, 1]  # leases ended, relay cycles

    on_the_wire(test)


def test_a_lease_register_of_zero_is_without_end_and_reads_back() -> None:
    async def test(wire: Wire) -> None:
        await wire.register(HEATER, 0, 500)
        assert good(await wire.client.read_holding_registers(0, count=1, device_id=HEATER)).registers == [500]
        await wire.register(HEATER, 0, 0)
        await wire.coil(HEATER, 0, True)
        wire.clock.advance(600.0)
        assert await wire.coils(HEATER, 1) == [True]

    on_the_wire(test)


def test_a_heater_that_refuses_takes_everything_but_the_order_to_heat() -> None:
    async def test(wire: Wire) -> None:
        await wire.fault("heater_refuses")
        await wire.register(HEATER, 0, 500)
        await wire.coil(HEATER, 1, True)
        await wire.coil(HEATER, 0, False)
        refused = await wire.client.write_coil(0, True, device_id=HEATER)
        assert (refused.isError(), refused.exception_code) == (True, DEVICE_FAILURE)
        assert await wire.coils(HEATER, 2) == [False, True]

    on_the_wire(test)


def test_the_contacts_are_one_when_all_is_well() -> None:
    async def test(wire: Wire) -> None:
        assert await wire.discretes(CONTACTS, 5) == [True] * 5
        names = ("door_opened", "emergency_stop_pressed", "extraction_lost", "nobody_present", "key_removed")
        for place, name in enumerate(names):
            await wire.fault(name)
            assert await wire.discretes(CONTACTS, 5) == [i != place for i in range(5)]
            await wire.fault(name, on=False)

    on_the_wire(test)


def test_the_panel_shows_faults_and_what_is_true() -> None:
    async def test(wire: Wire) -> None:
        await wire.fault("relay_welded")
        standing = await wire.coils(PANEL, len(FAULTS))
        assert [fault.name for fault, on in zip(FAULTS, standing, strict=True) if on] == ["relay_welded"]
        await wire.coil(HEATER, 1, True)
        wire.clock.advance(65540.0)
        seen = await wire.inputs(PANEL, 0, 11)
        state = wire.plant.state
        assert seen[0] == round(state.air_c * 10.0)
        assert seen[1] == round(state.load_core_c * 10.0)
        assert seen[2] == round(state.load_outer_c * 10.0)
        assert seen[3] == round(state.lining_hot_c * 10.0)
        assert seen[8] == 6500
        assert seen[9:] == [1, 4]

    on_the_wire(test)


def test_the_panel_tells_water_and_plastic_in_grams() -> None:
    async def test(wire: Wire) -> None:
        wire.plant.state = wire.plant.state._replace(water_kg=0.6, solid_kg=0.3, melt_kg=0.2)
        assert await wire.inputs(PANEL, 6, 2) == [600, 500]

    on_the_wire(test)


def test_the_panel_s_register_draws_the_noise_anew() -> None:
    async def test(wire: Wire) -> None:
        await wire.register(PANEL, 0, 17)
        assert good(await wire.client.read_holding_registers(0, count=1, device_id=PANEL)).registers == [17]
        assert wire.plant.seed == 17

    on_the_wire(test)


def test_the_kiln_is_moved_on_to_the_moment_of_the_question() -> None:
    async def test(wire: Wire) -> None:
        wire.clock.advance(123.0)
        await wire.inputs(READER, 0, 1)
        assert wire.plant.now_s == pytest.approx(123.0)

    on_the_wire(test)


def test_a_fault_that_is_due_sets_in_at_its_moment() -> None:
    async def test(wire: Wire) -> None:
        wire.clock.advance(59.0)
        assert await wire.discretes(CONTACTS, 1) == [True]
        wire.clock.advance(2.0)
        assert await wire.discretes(CONTACTS, 1) == [False]
        assert wire.plant.now_s == pytest.approx(61.0)

    on_the_wire(test, due=(Due(90.0, "air_open"), Due(60.0, "door_opened")))


@pytest.mark.parametrize(
    ("unit", "address", "count"),
    [(READER, 3, 2), (READER, 4, 1), (READER, 26, 1), (HEATER, 0, 1), (PANEL, 11, 1)],
)
def test_registers_that_are_not_there_are_refused(unit: int, address: int, count: int) -> None:
    async def test(wire: Wire) -> None:
        answer = await wire.client.read_input_registers(address, count=count, device_id=unit)
        assert (answer.isError(), answer.exception_code) == (True, ILLEGAL_ADDRESS)

    on_the_wire(test)


def test_bits_that_are_not_there_are_refused() -> None:
    async def test(wire: Wire) -> None:
        for answer in (
            await wire.client.read_coils(0, count=3, device_id=HEATER),
            await wire.client.read_discrete_inputs(0, count=6, device_id=CONTACTS),
            await wire.client.read_coils(len(FAULTS), count=1, device_id=PANEL),
            await wire.client.write_coil(2, True, device_id=HEATER),
            await wire.client.write_coils(1, [True, True], device_id=HEATER),
            await wire.client.write_register(0, 1, device_id=READER),
        ):
            assert (answer.isError(), answer.exception_code) == (True, ILLEGAL_ADDRESS)
        assert await wire.coils(HEATER, 2) == [False, False]  # and nothing was written in part

    on_the_wire(test)


def test_a_unit_that_is_not_there_gets_the_gateway_s_exception() -> None:
    async def test(wire: Wire) -> None:
        for answer in (
            await wire.client.read_input_registers(0, count=1, device_id=42),
            await wire.client.write_coil(0, True, device_id=42),
        ):
            assert (answer.isError(), answer.exception_code) == (True, NO_RESPONSE)

    on_the_wire(test)


def test_a_function_that_is_not_known_is_refused() -> None:
    async def test(wire: Wire) -> None:
        reader, writer = await asyncio.open_connection("127.0.0.1", wire.client.comm_params.port)
        writer.write(bytes.fromhex("0001 0000 0003 01 65 00"))  # function 101 to unit 1
        answer = await asyncio.wait_for(reader.read(64), 1.0)
        writer.close()
        await writer.wait_closed()
        assert answer[:7] == bytes([0, 1, 0, 0, 0, 3, 1])
        assert answer[7] & 0x80  # the library forgets which function it was
        assert answer[8] == ILLEGAL_FUNCTION

    on_the_wire(test)


@pytest.mark.parametrize(
    ("fault", "silent", "others"),
    [("reader_silent", 1, (2, 3)), ("heater_silent", 2, (1, 3)), ("contacts_silent", 3, (1, 2))],
)
def test_a_silent_unit_answers_nothing_while_the_others_do(
    fault: str, silent: int, others: tuple[int, ...]
) -> None:
    async def ask(wire: Wire, unit: int) -> None:
        if unit == READER:
            await wire.inputs(unit, 0, 1)
        else:
            await wire.discretes(unit, 1)

    async def test(wire: Wire) -> None:
        await wire.fault(fault)
        for unit in others:
            await ask(wire, unit)
        with pytest.raises(TimeoutError):
            await asyncio.wait_for(ask(wire, silent), 0.2)
        await wire.fault(fault, on=False)
        await ask(wire, silent)

    on_the_wire(test)


def test_a_silent_heater_still_drops_the_heat_when_its_lease_ends() -> None:
    async def test(wire: Wire) -> None:
        await wire.register(HEATER, 0, 3000)
        await wire.coil(HEATER, 1, True)
        await wire.coil(HEATER, 0, True)
        await wire.fault("heater_silent")
        wire.clock.advance(2.9)
        assert (await wire.inputs(PANEL, 8, 1)) == [6500]
        wire.clock.advance(0.2)
        assert (await wire.inputs(PANEL, 8, 1)) == [0]

    on_the_wire(test)


def test_a_slow_reader_takes_its_time_and_answers_with_the_present(monkeypatch: pytest.MonkeyPatch) -> None:
    slept_s: list[float] = []

    async def test(wire: Wire) -> None:
        def sleep(seconds: float) -> None:
            slept_s.append(seconds)
            wire.clock.advance(seconds)

        monkeypatch.setattr(modbus_face.time, "sleep", sleep)
        await wire.fault("reader_slow")
        await wire.inputs(READER, 0, 1)
        assert wire.plant.now_s == pytest.approx(modbus_face.SLOW_S)
        await wire.discretes(CONTACTS, 1)
        assert slept_s == [modbus_face.SLOW_S]

    on_the_wire(test)


def test_a_misnamed_reader_answers_in_another_unit_s_name() -> None:
    async def test(wire: Wire) -> None:
        await wire.fault("reader_misnamed")
        port = wire.client.comm_params.port
        reader, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(bytes.fromhex("0007 0000 0006 01 04 0000 0001"))  # unit 1, input register 0
        answer = await asyncio.wait_for(reader.read(64), 1.0)
        writer.close()
        await writer.wait_closed()
        assert answer[:7] == bytes([0, 7, 0, 0, 0, 5, modbus_face.MISNAMED])

    on_the_wire(test)


def test_a_port_in_use_is_one_clear_line() -> None:
    async def main() -> None:
        with socket.create_server(("127.0.0.1", 0)) as taken:
            port = taken.getsockname()[1]
            line = f"port {port}: found another program on it, expected a free port on 127.0.0.1"
            with pytest.raises(WireError, match=f"^{line}$"):
                await serve(ModbusFace(Plant(), ManualClock().now_s), port)

    asyncio.run(main())
