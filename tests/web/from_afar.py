"""Calls to the application from another machine, and devices that are paired with it."""

from __future__ import annotations

import asyncio
import itertools
import time
from collections.abc import AsyncIterator
from pathlib import Path
from typing import Any

import httpx
from fastapi import FastAPI

from controller.pairing.offer import Role, make_offer
from controller.pairing.secret import hash_of, new_token
from controller.record.write_devices import pair_device

HERE = "http://192.0.2.1:8321"  # the kiln's computer on its network (an address of documentation, RFC 5737)
PHONE = "192.0.2.7"
JSON = {"Content-Type": "application/json"}
_numbers = itertools.count(1)


class Afar:
    """A browser on another machine: it keeps cookies, and sends what a browser sends."""

    def __init__(self, app: FastAPI, address: str = PHONE, url: str = HERE, token: str = "") -> None:
        self.app = app
        self.address = address
        self.url = url
        self.cookies = httpx.Cookies()
        self.own = {"Origin": url, "Sec-Fetch-Site": "same-origin", **JSON}
        if token:
            self.cookies.set(cookie_name(url), token)

    def get(self, path: str, **headers: str) -> httpx.Response:
        return self.send("GET", path, headers)

    def post(self, path: str, body: Any = None) -> httpx.Response:
        return self.send("POST", path, self.own, json=body or {})

    def send(self, method: str, path: str, headers: dict[str, str], **more: Any) -> httpx.Response:
        async def story() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app, client=(self.address, 50000))
            async with httpx.AsyncClient(
                transport=transport, base_url=self.url, cookies=self.cookies
            ) as client:
                answer = await client.request(method, path, headers=headers, **more)
                self.cookies = client.cookies
                return answer

        return asyncio.run(story())


def cookie_name(url: str) -> str:
    found = httpx.URL(url)
    return f"{'__Host-' if found.scheme == 'https' else ''}stokehold-{found.port or 0}"


def paired(app: FastAPI, role: Role, name: str = "", address: str = PHONE) -> Afar:
    """Return a device that is paired already."""
    token = new_token()
    name = name or f"{role} {next(_numbers)}"
    pair_device(app.state.record, name, role, hash_of(token), time.time())
    return Afar(app, address, token=token)


def offered(app: FastAPI, name: str = "Ada's phone", role: Role = "operator") -> tuple[str, str]:
    """Make an offer at the console; return its code and its link's secret."""
    record: Path = app.state.record
    _, code, link = make_offer(record.parent, name, role, time.monotonic())
    return code, link


def wrong(code: str) -> str:
    return f"{(int(code) + 1) % 10**8:08d}"


async def pieces(size: int, each: int = 5000) -> AsyncIterator[bytes]:
    for start in range(0, size, each):
        yield b" " * min(each, size - start)
