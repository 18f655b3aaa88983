"""The addresses of pairing.

    GET  /pair                          where the code is typed, or comes with the QR picture's link
    POST /api/pair                      a code, or the link's secret, for a token in a cookie
    GET  /api/device                    what this device is: {"name", "role", "own_computer"}
    GET  /devices  /api/devices         the paired devices (operators)
    POST /api/devices/{number}/revoke   end a device's pairing (operators)

An offer is made on the kiln's own console only (`stokehold pair`); the page can but take it. The name and the
role come from there, never from the device.
"""

from __future__ import annotations

import contextlib
import threading
import time
from pathlib import Path
from typing import Annotated

import fastapi
from fastapi import FastAPI, Response
from fastapi.responses import JSONResponse
from pydantic import BaseModel, ConfigDict, StringConstraints
from starlette.requests import Request as HttpRequest

from controller.errors import RecordError, UsageError
from controller.pairing.offer import Offer, open_offer, take_offer
from controller.pairing.secret import hash_of, new_token
from controller.record.devices import devices
from controller.record.write_devices import pair_device, pairing_refused, revoke_device
from web.answers import says
from web.network import Network
from web.pages import page_answer
from web.pairing.caller import Caller, by
from web.pairing.cookie import give_token
from web.pairing.tries import Tries

NO_OFFER = "no pairing is open: run `stokehold pair NAME` on the kiln's own console"
Number = Annotated[int, fastapi.Path(ge=1, le=10**9)]


class PairBody(BaseModel):
    """The eight digits that a person typed, or the secret of the QR picture's link."""

    model_config = ConfigDict(extra="forbid")
    code: Annotated[str, StringConstraints(max_length=16)] = ""
    link: Annotated[str, StringConstraints(max_length=64)] = ""


def add_pairing(app: FastAPI, record: Path, network: Network) -> None:
    """Add the pages and the addresses of pairing, for the record's own home folder."""
    _add_pages(app)
    _add_pair(app, record, network)
    _add_devices(app, record)


def _add_pages(app: FastAPI) -> None:
    @app.get("/pair", include_in_schema=False)
    def pair_page(request: HttpRequest) -> Response:
        return page_answer("pair", request)

    @app.get("/devices", include_in_schema=False)
    def devices_page(request: HttpRequest) -> Response:
        return page_answer("devices", request)

    @app.get("/api/device")
    async def device(request: HttpRequest) -> JSONResponse:
        caller: Caller = request.scope["caller"]
        own = caller.number is None and caller.role != "anyone"
        return JSONResponse({"name": caller.name, "role": caller.role, "own_computer": own})


def _add_pair(app: FastAPI, record: Path, network: Network) -> None:
    tries = Tries()
    one_at_a_time = threading.Lock()  # an offer counts once, and so does each try at it

    @app.post("/api/pair")
    def pair(body: PairBody, request: HttpRequest) -> JSONResponse:
        with one_at_a_time:
            return _pair(record, network, tries, body, request)


def _pair(record: Path, network: Network, tries: Tries, body: PairBody, request: HttpRequest) -> JSONResponse:
    offer = open_offer(record.parent, time.monotonic())
    if offer is None:
        return says(409, NO_OFFER)
    if body.link:
        if not offer.is_link(body.link):
            return says(409, "this link is over: run `stokehold pair NAME` again, and scan the new picture")
    elif no := _no_code(record, tries, offer, body.code, str(request.scope["address"])):
        return no
    token = new_token()
    try:  # first the device, then the offer's end: who watches for either finds the device
        pair_device(record, offer.name, offer.role, hash_of(token), time.time())
    except UsageError as error:  # the name is taken: also by whoever was quicker with the same offer
        return says(409, str(error))
    take_offer(record.parent, offer)
    answer = JSONResponse({"ok": True, "says": f"paired as {offer.name}", "role": offer.role})
    give_token(answer, request.scope, network, token)
    return answer


def _no_code(record: Path, tries: Tries, offer: Offer, code: str, address: str) -> JSONResponse | None:
    """Return the answer to a code that is not taken; None when it is right."""
    now_s = time.monotonic()
    if why := tries.why_not(offer.id, address, now_s):
        return says(429, why)
    if offer.is_code(code):
        return None
    told = tries.wrong(address, now_s)
    with contextlib.suppress(RecordError):  # a full disk must not give another try
        pairing_refused(record, address, offer.name, time.time())
    return says(409, told)


def _add_devices(app: FastAPI, record: Path) -> None:
    @app.get("/api/devices")
    def listed(request: HttpRequest) -> JSONResponse:
        mine = request.scope["caller"].number
        return JSONResponse(
            [
                {
                    "number": each.number,
                    "name": each.name,
                    "role": each.role,
                    "paired_utc_s": each.paired_utc_s,
                    "seen_utc_s": each.seen_utc_s,
                    "this_one": each.number == mine,
                }
                for each in devices(record)
                if each.paired
            ]
        )

    @app.post("/api/devices/{number}/revoke")
    def revoke(number: Number, request: HttpRequest) -> JSONResponse:
        try:
            name = revoke_device(record, number, by(request), time.time())
        except RecordError as error:
            if "found no paired device" not in str(error):
                raise
            return says(404, f"there is no paired device {number}")
        return JSONResponse({"ok": True, "says": f"{name} is no longer paired"})
