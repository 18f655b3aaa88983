"""The door to the network: open only while a device is paired or about to be."""

from __future__ import annotations

import asyncio
import contextlib
import shutil
import socket
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import httpx
import pytest

from controller.errors import RecordError, StokeholdError, UsageError
from controller.pairing.offer import make_offer, take_offer
from controller.record.write_devices import pair_device, revoke_device
from web import door as doors
from web.door import PLAIN, UNPAIRED, WITH_TLS, Door, anyone_to_come
from web.network import Network
from web.outside import Outside, check
from web.serve import bind, settings

# Of the loopback network, but not its usual address: a second place to listen on that every machine has.
OTHER = "127.0.0.2"


async def hello(scope: dict[str, object], receive: object, send: Callable[[object], object]) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": []})  # type: ignore[misc]
    await send({"type": "http.response.body", "body": b"hello"})  # type: ignore[misc]


def answers(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection((OTHER, port), 1):
        return True
    return False


def test_somebody_may_come_while_an_offer_is_open_or_a_device_is_paired(blank_home: Path) -> None:
    record = blank_home / "record.db"
    assert not anyone_to_come(blank_home, record)
    offer, _, _ = make_offer(blank_home, "Ada", "watcher", time.monotonic())
    assert anyone_to_come(blank_home, record)
    take_offer(blank_home, offer)
    assert not anyone_to_come(blank_home, record)
    number = pair_device(record, "Ada", "watcher", "hash", 1.0)
    assert anyone_to_come(blank_home, record)
    revoke_device(record, number, "console", 2.0)
    assert not anyone_to_come(blank_home, record)


@pytest.mark.wire
def test_the_door_opens_and_shuts_and_says_so_and_loopback_stays(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doors, "LOOK_EVERY_S", 0.02)
    said: list[str] = []
    wanted: list[bool | StokeholdError] = [False]
    over: list[bool] = []

    def look() -> bool:
        if isinstance(wanted[-1], StokeholdError):
            raise wanted[-1]
        return wanted[-1]

    async def story() -> None:
        with bind(0) as loopback:
            port = loopback.getsockname()[1]
            door = Door(
                lambda: bind(port, OTHER),
                lambda: settings(hello, lifespan="off"),  # type: ignore[arg-type]
                look,
                False,
                said.append,
            )
            keeping = asyncio.create_task(door.keep(lambda: bool(over)))

            async def becomes(is_open: bool) -> None:
                async with asyncio.timeout(5):
                    while await asyncio.to_thread(answers, port) != is_open:
                        await asyncio.sleep(0.02)

            await asyncio.sleep(0.1)
            assert not answers(port)
            wanted.append(True)
            await becomes(True)
            async with httpx.AsyncClient() as client:
                assert (await client.get(f"http://{OTHER}:{port}/")).text == "hello"
            wanted.append(RecordError("the record is locked"))
            await asyncio.sleep(0.1)
            assert door.is_open
            wanted.append(False)
            await becomes(False)
            wanted.append(True)
            await becomes(True)
            over.append(True)
            await keeping
            assert not answers(port)

    asyncio.run(story())
    assert said == [UNPAIRED, PLAIN, "the record is locked", UNPAIRED, PLAIN]
    assert "WITHOUT TLS" in PLAIN
    assert "stokehold pair NAME" in UNPAIRED


@pytest.mark.wire
def test_a_port_that_is_taken_keeps_the_door_shut_and_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(doors, "LOOK_EVERY_S", 0.02)
    said: list[str] = []
    over: list[bool] = []

    async def story() -> None:
        with socket.socket() as taken:
            taken.bind((OTHER, 0))
            taken.listen()
            port = taken.getsockname()[1]
            door = Door(lambda: bind(port, OTHER), lambda: settings(hello), lambda: True, False, said.append)  # type: ignore[arg-type]
            keeping = asyncio.create_task(door.keep(lambda: bool(over)))
            async with asyncio.timeout(5):
                while not said:
                    await asyncio.sleep(0.02)
            assert not door.is_open
            over.append(True)
            await keeping

    asyncio.run(story())
    assert len(said) == 1
    assert "another program uses it" in said[0]


def certificate(folder: Path) -> tuple[Path, Path]:
    if shutil.which("openssl") is None:
        pytest.skip("no openssl to make a certificate with")
    cert, key = folder / "cert.pem", folder / "key.pem"
    command = [
        "openssl",
        "req",
        "-x509",
        "-newkey",
        "ec",
        "-pkeyopt",
        "ec_paramgen_curve:prime256v1",
        "-nodes",
    ]
    made = subprocess.run(
        [*command, "-days", "2", "-subj", "/CN=kiln.example", "-keyout", key, "-out", cert],
        capture_output=True,
        check=False,
    )
    assert made.returncode == 0, made.stderr
    return cert, key


@pytest.mark.wire
def test_with_the_users_certificate_the_network_speaks_tls(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(doors, "LOOK_EVERY_S", 0.02)
    cert, key = certificate(tmp_path)
    outside = Outside(OTHER, ("kiln.example",), cert=cert, key=key)
    check(outside)
    said: list[str] = []
    over: list[bool] = []

    async def story() -> None:
        with bind(0) as loopback:
            port = loopback.getsockname()[1]
            door = Door(
                lambda: bind(port, OTHER),
                lambda: settings(hello, lifespan="off", **outside.tls()),  # type: ignore[arg-type]
                lambda: True,
                True,
                said.append,
            )
            keeping = asyncio.create_task(door.keep(lambda: bool(over)))
            async with asyncio.timeout(5):
                while not await asyncio.to_thread(answers, port):
                    await asyncio.sleep(0.02)
            async with httpx.AsyncClient(verify=False) as client:
                assert (await client.get(f"https://{OTHER}:{port}/")).text == "hello"
                with pytest.raises(httpx.TransportError):
                    await client.get(f"http://{OTHER}:{port}/")
            over.append(True)
            await keeping

    asyncio.run(story())
    assert said == [WITH_TLS]


def test_what_cannot_work_is_one_line_before_anything_is_served(tmp_path: Path) -> None:
    (tmp_path / "not.pem").write_text("no certificate")
    here = tmp_path / "not.pem"
    cases = {
        "--host: found 'kiln.example'": Outside("kiln.example"),
        "--behind-proxy: found --host as well": Outside("0.0.0.0", ("kiln.example",), True),
        "--behind-proxy: found no --name": Outside(behind_proxy=True),
        "found one of the two": Outside("0.0.0.0", cert=here),
        "expected a certificate": Outside("0.0.0.0", cert=here, key=here),
        "No such file": Outside("0.0.0.0", cert=tmp_path / "gone", key=here),
    }
    for says, outside in cases.items():
        with pytest.raises(UsageError) as caught:
            check(outside)
        assert says in str(caught.value)
        assert "\n" not in str(caught.value)
    check(Outside())
    check(Outside("0.0.0.0", ("kiln.example",)))
    check(Outside(behind_proxy=True, names=("kiln.example",)))


def test_the_server_itself_believes_no_proxy() -> None:
    """What a proxy says is judged in one place; the server would else turn it into the caller's address."""
    assert settings(hello).proxy_headers is False  # type: ignore[arg-type]
    assert Network().behind_proxy is False
